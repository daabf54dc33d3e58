"""The app: one shared state, eight screens, work in the background, and the keys that concern all of them."""

from __future__ import annotations

import asyncio
import os
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
from textual.app import App
from textual.binding import Binding, BindingType
from textual.screen import Screen

from propagation.errors import BandwhenError, InputError
from tui import clock, settings, words
from tui.desk import Desk
from tui.jobs import Abandoned, Cancelled, failure_of, in_thread
from tui.messages import Done
from tui.palette import Entries
from tui.screens.bench import BenchPage
from tui.screens.day import DayPage
from tui.screens.form import Form
from tui.screens.overlays import Ask, HelpSheet, Pick, WordsSheet
from tui.screens.page import PLACES, Page
from tui.screens.plan import PlanPage
from tui.screens.reach import ReachPage
from tui.screens.sked import SkedPage
from tui.screens.sky import SkyPage
from tui.screens.station import StationPage
from tui.screens.why import WhyPage
from tui.state import Choice, Cursor, FriendCard, PlanWish, Shared
from tui.theme import TEXTUAL_THEMES, THEME_NAMES, THEME_SAYS
from tui.views import FormField
from tui.widgets.drawn import Drawn
from tui.widgets.key_line import key_sign

HOUR = np.timedelta64(3600, "s")
DAY = np.timedelta64(86400, "s")
LOOK_BACK = 2 * HOUR  # today's lanes begin this long before now
SETTLE_S = 0.12  # s, a cursor held down asks for slow results only when it comes to rest
TICK_S = 15.0  # s between looks at the clock


class BandwhenApp(App[None]):
    """The screens of bandwhen."""

    CSS_PATH = "bandwhen.tcss"
    TITLE = "bandwhen"
    ENABLE_COMMAND_PALETTE = True
    COMMANDS = {Entries}
    MODES: ClassVar[dict[str, str | Callable[[], Screen[Any]]]] = {
        "day": DayPage,
        "why": WhyPage,
        "reach": ReachPage,
        "bench": BenchPage,
        "sky": SkyPage,
        "plan": PlanPage,
        "sked": SkedPage,
        "station": StationPage,
    }
    DEFAULT_MODE = "day"

    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(key, f"go('{mode}')", label, show=False) for key, label, mode in PLACES),
        Binding("w", "words", "words", show=False, tooltip="this screen in plain sentences"),
        Binding("y", "copy", "copy", show=False, tooltip="this screen's words to the clipboard"),
        Binding("question_mark", "help", "help", show=False),
        Binding("slash", "command_palette", "find a command", show=False),
        Binding("v", "look", "look", show=False, tooltip="dark, light, sunlight, night, ansi"),
        Binding("g", "glyphs", "signs", show=False, tooltip="plain ASCII signs, or all of them"),
        Binding("q", "quit", "quit", show=False, tooltip="leave the program"),
    ]

    def __init__(
        self,
        desk: Callable[[], Desk],
        *,
        station: str = "",
        chosen: settings.Settings | None = None,
        note: str = "",
        now: Callable[[], np.datetime64] = clock.now,
        settings_file: Path | None = None,
    ) -> None:
        super().__init__()
        self._make_desk, self._now, self._settings_file = desk, now, settings_file
        self.desk: Desk | None = None
        self.chosen = chosen or settings.Settings()
        self.station_wish = station or self.chosen.station
        self.plain_glyphs = self.chosen.glyphs == "ascii"
        self.shared = Shared(now=now(), notice=note)
        self.following = True  # the cursor moves along with the clock
        self._numbers: Counter[str] = Counter()
        self._busy: Counter[str] = Counter()
        self._delivered: dict[str, object] = {}  # what each result was worked out for
        for theme in TEXTUAL_THEMES:
            self.register_theme(theme)
        self.theme = "ansi" if self.no_color else self.chosen.theme

    # -- beginning ------------------------------------------------------------------------------------------------

    def on_mount(self) -> None:
        """First paint, then read the station, then the forecast."""
        self.set_class(self.plain_glyphs, "-ascii")
        self.set_interval(TICK_S, self._tick)
        self.call_after_refresh(self._open)

    def _open(self) -> None:
        wish, target = self.station_wish, self.chosen.target

        def work(cancelled: Cancelled) -> object:
            if self.desk is None:
                self.desk = self._make_desk()
            return self.desk.open(wish, target)

        self.ask("opening", work, None)

    def _tick(self) -> None:
        now = self._now()
        if words.clock(now) == words.clock(self.shared.now):
            return
        self.shared.now = now
        choice, cursor = self.shared.choice, self.shared.cursor
        if choice is not None and cursor is not None and self.following:
            start = self._start_for(now)
            if start != choice.start and now >= choice.start + 2 * LOOK_BACK:
                self._choose(replace(choice, start=start))
            self._look_at(replace(cursor, time=_grid(now)))
        self.refresh_page()

    @staticmethod
    def _start_for(now: np.datetime64) -> np.datetime64:
        hour: np.datetime64 = now.astype("datetime64[h]").astype("datetime64[s]") - LOOK_BACK
        return hour

    # -- background work ----------------------------------------------------------------------------------------------

    def ask(self, what: str, work: Callable[[Cancelled], object], key: object, delay_s: float = 0.0) -> None:
        """Have something worked out in the background; only the latest request of a kind is ever shown."""
        self._numbers[what] += 1
        number = self._numbers[what]
        self._delivered.pop(what, None)

        async def carry_out() -> None:
            if delay_s:
                await asyncio.sleep(delay_s)
            self._busy[what] += 1
            self._show_busy()
            try:
                result = await in_thread(lambda: work(lambda: self._numbers[what] != number))
            except Abandoned:
                return
            except asyncio.CancelledError:
                raise
            except BaseException as error:
                result = failure_of(error, words.JOB_NAMES.get(what, what))
            finally:
                self._busy[what] -= 1
                self._show_busy()
            if self._numbers[what] == number:
                self._delivered[what] = key
                self.post_message(Done(what, number, result))

        self.run_worker(carry_out(), group=what, exclusive=True, exit_on_error=False)

    def _show_busy(self) -> None:
        busy = frozenset(what for what, count in self._busy.items() if count > 0)
        if busy != self.shared.busy:
            self.shared.busy = busy
            if self.is_running:
                self.refresh_page()

    def on_done(self, message: Done) -> None:
        """Take a result, unless a later request has overtaken it."""
        if message.number != self._numbers[message.what]:
            return
        if message.failure is not None:
            self.say(message.failure.sentence, fault=True)
            return
        if self.shared.notice_is_fault:
            self.say("", refresh=False)
        getattr(self, f"_take_{message.what}")(message.result)
        self.refresh_page()

    def say(self, sentence: str, *, fault: bool = False, refresh: bool = True) -> None:
        """One sentence for the operator, above the keys."""
        self.shared.notice, self.shared.notice_is_fault = sentence, fault
        if refresh:
            self.refresh_page()

    # -- results --------------------------------------------------------------------------------------------------

    def _take_opening(self, opening: Any) -> None:
        shared = self.shared
        shared.opening = opening
        if opening.note or opening.station.demo:
            self.say(opening.note or words.DEMO_SHORT, refresh=False)
        start = shared.choice.start if shared.choice is not None else self._start_for(shared.now)
        mode = self.chosen.mode if self.chosen.mode in opening.modes else opening.mode
        power = self.chosen.power_w or opening.power_w
        bench = shared.choice.bench + 1 if shared.choice is not None else 0
        sky = shared.choice.sky if shared.choice is not None else 0
        if shared.cursor is None:
            band = "20m" if "20m" in opening.bands else (opening.bands[0] if opening.bands else "")
            shared.cursor = Cursor(_grid(shared.now), band)
        self._choose(Choice(opening.station.path, opening.target, start, mode, power, sky, bench))

    def _take_day(self, result: Any) -> None:
        shared = self.shared
        first = shared.day is None
        shared.day, shared.day_result = result
        if shared.day is not None and shared.cursor is not None:
            if first:
                best = words.best_band(shared.day, shared.time_index)
                if best is not None:
                    shared.cursor = replace(shared.cursor, band=shared.day.bands[best])
            if shared.cursor.band not in shared.day.bands and shared.day.bands:
                shared.cursor = replace(shared.cursor, band=shared.day.bands[0])
        self._draw_hop()
        self._want(0.0)

    def _take_why(self, view: Any) -> None:
        self.shared.why = view

    def _take_rulers(self, view: Any) -> None:
        self.shared.reach = view
        self._want(0.0)

    def _take_footprint(self, view: Any) -> None:
        self.shared.reach = view

    def _take_bench(self, view: Any) -> None:
        self.shared.bench = view

    def _take_sky(self, view: Any) -> None:
        self.shared.sky = view

    def _take_plan(self, view: Any) -> None:
        self.shared.plan = view

    def _take_sked(self, view: Any) -> None:
        self.shared.sked = view

    def _take_saying(self, sentence: Any) -> None:
        self.say(sentence, refresh=False)

    def _take_conditions(self, sentence: Any) -> None:
        """The conditions changed: everything that depends on them is worked out again."""
        self.say(sentence, refresh=False)
        self.shared.sky = None
        if self.shared.choice is not None:
            self._choose(replace(self.shared.choice, sky=self.shared.choice.sky + 1))
        self._want(0.0)

    def _take_stations(self, result: Any) -> None:
        """The lists on file changed."""
        sentence, use = result
        self.say(sentence, refresh=False)
        if use is not None:
            self.station_wish = use
            self._keep(station=use, power_w=0.0, mode="")
        self._open()

    # -- what depends on what ---------------------------------------------------------------------------------------

    def _choose(self, choice: Choice) -> None:
        shared = self.shared
        if choice == shared.choice:
            return
        before, shared.choice = shared.choice, choice
        desk = self.desk
        if desk is None:
            return
        if before is not None and (before.station, before.bench, before.mode, before.power_w) != (
            choice.station, choice.bench, choice.mode, choice.power_w,
        ):  # fmt: skip
            shared.bench = None
        if before is not None and before.target != choice.target:
            shared.sked = None
        shared.why, shared.plan = None, None
        self.ask("day", lambda cancelled: desk.day(choice, cancelled), choice)
        self.refresh_page()

    def _look_at(self, cursor: Cursor) -> None:
        if cursor == self.shared.cursor:
            return
        self.shared.cursor = cursor
        self.shared.why = None
        self._draw_hop()
        self._want(SETTLE_S)
        self.refresh_page()

    def _draw_hop(self) -> None:
        shared = self.shared
        if self.desk is None or shared.day_result is None or shared.cursor is None:
            return
        try:
            shared.hop = self.desk.hop(shared.day_result, shared.cursor)
        except Exception as error:
            shared.hop = None
            self.say(failure_of(error, "hop picture").sentence, fault=True, refresh=False)

    def _want(self, delay_s: float) -> None:
        """Ask for what the screen now shown needs and does not have."""
        shared, desk = self.shared, self.desk
        choice, cursor, result = shared.choice, shared.cursor, shared.day_result
        if desk is None or choice is None or cursor is None:
            return
        now = shared.now
        place = self.current_mode
        if place == "sky":
            self._unless("sky", (choice.sky, choice.start), lambda cancelled: desk.sky(choice, now))
        elif place == "bench":
            key = (choice.station, choice.bench, choice.mode, choice.power_w)
            self._unless("bench", key, lambda cancelled: desk.bench(choice, cancelled))
        elif place == "sked":
            self._unless("sked", choice, lambda cancelled: desk.sked(choice, cancelled))
        elif place == "plan":
            wish = shared.plan_wish or PlanWish(max(_grid(now), choice.start), 6.0)
            shared.plan_wish = wish
            self._unless("plan", (choice, wish), lambda cancelled: desk.plan(choice, wish, cancelled))
        elif result is not None and place == "why":
            self._unless("why", (choice, cursor), lambda cancelled: desk.why(choice, result, cursor, cancelled), delay_s)
        elif result is not None and place == "reach":
            self._want_reach(desk, choice, cursor, result, delay_s)

    def _want_reach(self, desk: Desk, choice: Choice, cursor: Cursor, result: Any, delay_s: float) -> None:
        key = (choice, cursor.time, cursor.long)
        whole = (choice, cursor)
        reach = self.shared.reach
        if self._delivered.get("rulers") != key or reach is None:
            self._unless("rulers", key, lambda cancelled: desk.rulers(choice, result, cursor, cancelled), delay_s)
        else:
            shown = reach
            self._unless("footprint", whole, lambda cancelled: desk.footprint(choice, result, shown, cursor, cancelled), delay_s)

    def _unless(self, what: str, key: object, work: Callable[[Cancelled], object], delay_s: float = 0.0) -> None:
        if self._delivered.get(what) != key and self._pending.get(what) != (key, self._numbers[what]):
            self.ask(what, work, key, delay_s)
            self._pending[what] = (key, self._numbers[what])

    @property
    def _pending(self) -> dict[str, tuple[object, int]]:
        return self.__dict__.setdefault("_pending_requests", {})

    def refresh_page(self) -> None:
        """Let the screen show the latest; screens not shown catch up when they are."""
        for screen in reversed(self.screen_stack if self._screen_stacks.get(self.current_mode) else []):
            if isinstance(screen, Page):
                if screen.is_mounted and screen.query("#places"):
                    screen.take(self.shared)
                break

    @property
    def page(self) -> Page | None:
        """The page under whatever sheet is open."""
        return next((screen for screen in reversed(self.screen_stack) if isinstance(screen, Page)), None)

    # -- keys: going and looking ----------------------------------------------------------------------------------

    async def action_go(self, mode: str) -> None:
        """Go to a screen."""
        await self.switch_mode(mode)
        self._want(0.0)
        self.refresh_page()

    def action_step(self, minutes: int) -> None:
        """Move the time cursor."""
        cursor, choice = self.shared.cursor, self.shared.choice
        if cursor is None or choice is None:
            return
        self.following = False
        time = cursor.time + np.timedelta64(minutes * 60, "s")
        last = choice.start + DAY - np.timedelta64(600, "s")
        self._look_at(replace(cursor, time=min(max(time, choice.start), last)))

    def action_band(self, by: int) -> None:
        """Move the band cursor."""
        day, cursor = self.shared.day, self.shared.cursor
        if day is not None and cursor is not None and day.bands:
            at = min(max(self.shared.band_index + by, 0), len(day.bands) - 1)
            self._look_at(replace(cursor, band=day.bands[at]))

    def choose_band(self, band: str) -> None:
        """Look at a band."""
        if self.shared.cursor is not None:
            self._look_at(replace(self.shared.cursor, band=band))

    def action_way(self) -> None:
        """The other way round the world."""
        if self.shared.cursor is not None:
            self._look_at(replace(self.shared.cursor, long=not self.shared.cursor.long))

    def action_to_now(self) -> None:
        """Back to the present time."""
        shared = self.shared
        shared.now = self._now()
        self.following = True
        if shared.choice is not None and shared.cursor is not None:
            self._choose(replace(shared.choice, start=self._start_for(shared.now)))
            self._look_at(replace(shared.cursor, time=_grid(shared.now)))
        self.say("")

    def action_day(self, by: int) -> None:
        """The day before or after."""
        if self.shared.choice is not None:
            day = self.shared.choice.start.astype("datetime64[D]") + np.timedelta64(by, "D")
            self._go_to_day(day.astype("datetime64[s]"))

    def _go_to_day(self, start: np.datetime64) -> None:
        choice, cursor = self.shared.choice, self.shared.cursor
        if choice is None or cursor is None:
            return
        self.following = False
        clock_time = cursor.time - cursor.time.astype("datetime64[D]").astype("datetime64[s]")
        self.shared.cursor = replace(cursor, time=start + clock_time)
        self._choose(replace(choice, start=start))

    # -- keys: choosing ---------------------------------------------------------------------------------------------

    def action_target(self) -> None:
        """Ask whom to reach."""
        desk, choice = self.desk, self.shared.choice
        if desk is None or choice is None:
            return
        question = "Whom to reach: a friend, a locator, a town, a country, a continent, within 500 km, anyone"
        self.push_screen(Ask(question, choice.target, desk.check_target, desk.suggest), self._target_chosen)

    def _target_chosen(self, text: str | None) -> None:
        if text:
            self.set_target(text)

    def set_target(self, text: str) -> None:
        """Aim at a target."""
        if self.shared.choice is not None:
            self._keep(target=text)
            self._choose(replace(self.shared.choice, target=text))

    def action_date(self) -> None:
        """Ask for a date."""
        choice = self.shared.choice
        if choice is None:
            return

        def check(text: str) -> str:
            return _fault(lambda: clock.parse_date(text))

        def take(text: str | None) -> None:
            if text:
                self._go_to_day(clock.parse_date(text).astype("datetime64[s]"))

        self.push_screen(Ask("Date, as 2026-03-20, today or tomorrow (UTC)", words.date(choice.start + LOOK_BACK), check), take)

    def action_mode(self) -> None:
        """Pick a mode."""
        opening, choice = self.shared.opening, self.shared.choice
        if opening is None or choice is None:
            return
        options = [(mode, words.MODE_SAYS.get(mode, "")) for mode in opening.modes]
        self.push_screen(Pick("Mode", options, choice.mode), lambda mode: self.set_mode(mode) if mode else None)

    def set_mode(self, mode: str) -> None:
        """Work out the day for a mode."""
        if self.shared.choice is not None:
            self._keep(mode=mode)
            self._choose(replace(self.shared.choice, mode=mode))

    def action_power(self) -> None:
        """Ask for the power."""
        choice = self.shared.choice
        if choice is None:
            return

        def take(text: str | None) -> None:
            if text:
                power = _power(text)
                self._keep(power_w=power)
                if self.shared.choice is not None:
                    self._choose(replace(self.shared.choice, power_w=power))

        self.push_screen(Ask("Power at the rig, in watts", f"{choice.power_w:g}", lambda text: _fault(lambda: _power(text))), take)

    def action_look(self) -> None:
        """Pick a look."""
        options = [(name, THEME_SAYS[name]) for name in THEME_NAMES]
        self.push_screen(Pick("Look", options, self.theme), lambda name: self.set_look(name) if name else None)

    def set_look(self, name: str) -> None:
        """Take a look into use."""
        self.theme = name
        self._keep(theme=name)

    def action_glyphs(self) -> None:
        """Plain ASCII signs, or all of them."""
        self.plain_glyphs = not self.plain_glyphs
        self.set_class(self.plain_glyphs, "-ascii")
        self._keep(glyphs="ascii" if self.plain_glyphs else "full")
        for screen in self.screen_stack:
            for widget in screen.query(Drawn):
                widget.redraw()

    def _keep(self, **changes: Any) -> None:
        """Remember a choice for the next time."""
        self.chosen = replace(self.chosen, **changes)
        try:
            settings.save(self.chosen, self._settings_file)
        except InputError as error:
            self.say(error.message)

    # -- keys: words, help, export -------------------------------------------------------------------------------

    def action_words(self) -> None:
        """This screen in plain sentences."""
        page = self.page
        if page is not None:
            self.push_screen(WordsSheet("In words", page.sentences(self.shared), self._write_words))

    def action_copy(self) -> None:
        """This screen's words to the terminal's clipboard."""
        page = self.page
        if page is not None:
            self.copy_to_clipboard("\n".join(page.sentences(self.shared)) + "\n")
            self.say("This screen's words were handed to the terminal's clipboard; w then e writes them to a file.")

    def _write_words(self, text: str) -> str:
        from propagation.strict_toml import write_atomically

        name = f"bandwhen-{self.current_mode}-{words.date(self.shared.now)}-{words.clock(self.shared.now).replace(':', '')}.txt"
        file = Path.cwd() / name
        try:
            write_atomically(file, text)
        except (OSError, BandwhenError) as error:
            return f"The file {file} could not be written: {error}."
        return f"Written to {file}."

    def action_help(self) -> None:
        """What one sees here, and the keys."""
        page = self.page
        if page is not None:
            self.push_screen(HelpSheet("Help", self.help_sentences(page), self._write_words))

    def help_sentences(self, page: Page) -> list[str]:
        """Help made from the screen's own words and bindings, so that it is always true."""
        out = [page.about]
        out += [f"{widget.about}" for widget in page.drawn()]
        out.append("")
        for binding in [*page.BINDINGS, *self.BINDINGS]:
            if isinstance(binding, Binding):
                keys = " or ".join(key_sign(key) for key in binding.key.split(","))
                says = binding.tooltip or binding.description
                out.append(f"{keys}: {says}")
        out.append(f"{key_sign('ctrl+p')}: find any command, target, band or screen by its name")
        return out

    def action_export(self, kind: str) -> None:
        """Write a plan or an appointment to a file."""
        desk = self.desk
        view = self.shared.plan if kind == "plan" else self.shared.sked
        if desk is None or view is None:
            self.say("There is nothing to write yet.")
            return
        self.ask("saying", lambda cancelled: desk.export(kind, view), kind)

    # -- keys: bench ------------------------------------------------------------------------------------------------

    def action_analyser(self) -> None:
        """Type in what the analyser showed on the chosen band."""
        desk, choice, cursor = self.desk, self.shared.choice, self.shared.cursor
        if desk is None or choice is None or cursor is None:
            return
        band = cursor.band

        def check(entries: Mapping[str, str]) -> list[str]:
            try:
                return list(desk.measure(choice, band, entries).sentences)
            except BandwhenError as error:
                return [error.message]

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                self.ask("stations", lambda cancelled: (desk.keep_measure(choice, band, entries), None), band)

        title = f"Analyser on {words.band_name(band)}: the result follows the typing"
        self.push_screen(Form(title, desk.reading_fields(choice, band), check, judge_only=True), take)

    def action_touchstone(self) -> None:
        """Open a Touchstone file for the chosen band."""
        desk, choice, cursor = self.desk, self.shared.choice, self.shared.cursor
        if desk is None or choice is None or cursor is None:
            return
        band = cursor.band

        def take(file: str | None) -> None:
            if file:
                self.ask("reading", lambda cancelled: desk.touchstone(choice, band, file), file)

        self.push_screen(Ask(f"Touchstone one-port file (.s1p) for {words.band_name(band)}", "", None, _files), take)

    def _take_reading(self, reading: Any) -> None:
        self.push_screen(WordsSheet(f"From the file, {words.band_name(reading.band)}", reading.sentences, self._write_words))

    # -- keys: sky ----------------------------------------------------------------------------------------------------

    def action_fetch(self) -> None:
        """Get the space weather."""
        desk, choice, now = self.desk, self.shared.choice, self._now()
        if desk is not None and choice is not None:
            self.say("Fetching the space weather ...")
            self.ask("conditions", lambda cancelled: desk.fetch(choice, now, cancelled), now)

    def action_type_in(self) -> None:
        """Type in flux and K."""
        desk, now = self.desk, self._now()
        if desk is None:
            return

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                self.ask("conditions", lambda cancelled: desk.type_in(entries, now), now)

        note = "Leave an entry empty to go by what is stored."
        self.push_screen(Form("The sun and the field, as heard or remembered", desk.sky_fields(now), _numbers_fault, note=note), take)

    def action_heard(self) -> None:
        """Say what is heard, or not."""
        desk, choice, cursor, now = self.desk, self.shared.choice, self.shared.cursor, self._now()
        if desk is None or choice is None or cursor is None:
            return
        fields = [
            FormField("band", "Band", cursor.band, choices=self.shared.opening.bands if self.shared.opening else ()),
            FormField("from", "From", choice.target, place=True, hint="where the stations are that you hear, or should"),
            FormField("heard", "Heard", "yes", choices=("yes", "no")),
        ]

        def check(entries: Mapping[str, str]) -> str:
            if entries["heard"].lower() not in ("yes", "no"):
                return "Heard: yes or no."
            return desk.check_target(entries["from"])

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                self.ask("conditions", lambda cancelled: desk.heard(choice, entries, now, cancelled), now)

        self.push_screen(Form("Heard on the air just now", fields, check, suggest=desk.suggest), take)

    # -- keys: plan -----------------------------------------------------------------------------------------------------

    def action_plan_hours(self) -> None:
        """Ask for the hours on air."""
        wish, choice, desk = self.shared.plan_wish, self.shared.choice, self.desk
        if wish is None or choice is None or desk is None:
            return
        fields = [
            FormField("start", "From (UTC)", words.clock(wish.start), "HH:MM"),
            FormField("hours", "For", f"{wish.hours:g}", "hours"),
            FormField("target", "Whom", wish.target, place=True, hint="often: anyone"),
        ]

        def check(entries: Mapping[str, str]) -> str:
            fault = _fault(lambda: clock.parse_hour(entries["start"])) or _fault(lambda: _hours(entries["hours"]))
            return fault or desk.check_target(entries["target"])

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                start = choice.start.astype("datetime64[D]").astype("datetime64[s]") + clock.parse_hour(entries["start"])
                start = start + DAY if start < choice.start else start
                self._plan_for(PlanWish(start, _hours(entries["hours"]), entries["target"]))

        self.push_screen(Form("Hours on air", fields, check, suggest=desk.suggest), take)

    def _plan_for(self, wish: PlanWish) -> None:
        self.shared.plan_wish, self.shared.plan = wish, None
        self._want(0.0)
        self.refresh_page()

    def action_dead(self) -> None:
        """The band of the chosen step is dead: plan again from now without it."""
        page, wish, choice = self.page, self.shared.plan_wish, self.shared.choice
        if not isinstance(page, PlanPage) or wish is None or choice is None or not page.chosen_band:
            return
        now = max(_grid(self._now()), wish.start)
        end = wish.start + np.timedelta64(int(wish.hours * 3600), "s")
        if now >= end:
            self.say("The hours of this plan are over; h asks for new ones.")
            return
        hours = float((end - now).astype(np.int64)) / 3600.0
        self.say(f"{words.band_name(page.chosen_band)} taken as dead; planned again from {words.clock(now)}.", refresh=False)
        self._plan_for(PlanWish(now, hours, wish.target, (*wish.dead, (page.chosen_band, now))))

    # -- keys: stations and friends ----------------------------------------------------------------------------------------

    def use_station(self, path: str) -> None:
        """Take a station into use."""
        self.station_wish = path
        self._keep(station=path, power_w=0.0, mode="")
        self._open()

    def action_new_station(self) -> None:
        """Make a station of one's own: a few entries, the rest has defaults."""
        self._station_form("", "Your station: where you are is all that must be filled in")

    def edit_station(self, path: str) -> None:
        """Open a station's form."""
        self._station_form(path, "Station" if path else "The demo station; saving makes it your own")

    def _station_form(self, path: str, title: str) -> None:
        desk = self.desk
        if desk is None:
            return
        try:
            fields = desk.form(path)
        except BandwhenError as error:
            self.say(error.message, fault=True)
            return

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                self.ask("stations", lambda cancelled: _saved(desk, entries, path), path)

        self.push_screen(Form(title, fields, desk.check_form, suggest=desk.suggest), take)

    def action_new_friend(self) -> None:
        """Add a friend."""
        self._friend_form(FriendCard("", ""))

    def edit_friend(self, name: str) -> None:
        """Open a friend's form."""
        opening = self.shared.opening
        friends = opening.friends if opening is not None else ()
        self._friend_form(next((friend for friend in friends if friend.name == name), FriendCard(name, "")))

    def _friend_form(self, friend: FriendCard) -> None:
        desk = self.desk
        if desk is None:
            return
        fields = [
            FormField("name", "Name", friend.name),
            FormField("place", "Place", friend.place, place=True),
            FormField("zone", "Time zone", friend.zone, hint="such as America/Montevideo; empty: found from the place"),
            FormField("note", "Station", friend.note, hint="a station file, or words of your own"),
        ]

        def check(entries: Mapping[str, str]) -> str:
            return "A friend needs a name." if not entries["name"] else desk.check_target(entries["place"])

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                card = FriendCard(entries["name"], entries["place"], entries["zone"], entries["note"])
                self.ask("stations", lambda cancelled: (desk.save_friend(card), None), card)

        self.push_screen(Form("Friend", fields, check, suggest=desk.suggest), take)

    def forget_friend(self, name: str) -> None:
        """Take a friend off the list."""
        desk = self.desk
        if desk is not None:
            self.ask("stations", lambda cancelled: (desk.forget_friend(name), None), name)


def _saved(desk: Desk, entries: Mapping[str, str], path: str) -> tuple[str, str]:
    where = desk.save_form(entries, path)
    return f"Saved in {where}.", where


def _grid(when: np.datetime64) -> np.datetime64:
    """The ten minutes in which a moment falls."""
    seconds = int(when.astype("datetime64[s]").astype(np.int64))
    return np.datetime64(seconds - seconds % 600, "s")


def _fault(read: Callable[[], object]) -> str:
    """The sentence of an error, or nothing."""
    try:
        read()
    except BandwhenError as error:
        return error.message
    return ""


def _number(text: str, low: float, high: float, what: str) -> float:
    try:
        value = float(text.replace(",", ".").removesuffix("W").removesuffix("w").strip())
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise InputError(f"{what} {text!r} is not a number from {low:g} to {high:g}.")
    return value


def _power(text: str) -> float:
    return _number(text, 0.001, 3000.0, "Power")


def _hours(text: str) -> float:
    return _number(text, 0.5, 24.0, "Hours")


def _numbers_fault(entries: Mapping[str, str]) -> str:
    """The first entry that is not a number."""
    for key, text in entries.items():
        if text:
            fault = _fault(lambda key=key, text=text: _number(text, 0.0, 500.0, key))  # type: ignore[misc]
            if fault:
                return fault
    return ""


def _files(prefix: str) -> list[str]:
    """Files and folders that a path could become."""
    path = Path(prefix or ".").expanduser()
    folder = path if prefix.endswith(os.sep) or not prefix else path.parent
    try:
        found = sorted(
            entry for entry in folder.iterdir()
            if (entry.is_dir() or entry.suffix.lower() == ".s1p") and not entry.name.startswith(".")
        )  # fmt: skip
    except OSError:
        return []
    names = [f"{entry}{os.sep}" if entry.is_dir() else str(entry) for entry in found]
    return [name for name in names if not prefix or name.lower().startswith(str(path).lower())][:8]


def _engine_desk() -> Desk:
    """The engine, imported only when the first picture stands on the screen."""
    from tui.presenter import EngineDesk

    return EngineDesk()


def run_app(station: Path | None = None) -> int:
    """Open the screens; the exit code."""
    chosen, note = settings.load()
    if station is not None and not station.is_file():
        raise InputError(f"There is no station file {str(station)!r}.")
    app = BandwhenApp(_engine_desk, station=str(station) if station is not None else "", chosen=chosen, note=note)
    app.run()
    return app.return_code or 0


