"""The work behind the screens: what is asked of the desk, when, and what becomes of the answers.

Requests of a kind are numbered; only the latest is ever shown. Nothing here draws.
"""

from __future__ import annotations

import asyncio
import os
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from textual.app import App

from propagation.base.errors import InputError
from tui import clock, settings, words
from tui.desk import Desk
from tui.entries import grid
from tui.jobs import Abandoned, Cancelled, failure_of, in_thread
from tui.messages import Done
from tui.screens.page import Page
from tui.state import Choice, Cursor, PlanWish, Shared
from tui.theme import TEXTUAL_THEMES

HOUR = np.timedelta64(3600, "s")
DAY = np.timedelta64(86400, "s")
LOOK_BACK = 2 * HOUR  # today's lanes begin this long before now
SETTLE_S = 0.12  # s, a cursor held down asks for slow results only when it comes to rest
TICK_S = 15.0  # s between looks at the clock


class Work(App[None]):
    """The shared state and the background work that fills it."""

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
        # without colour the terminal's own are asked for, and then taken out, so that none at all is sent
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
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
        self._pending: dict[str, tuple[object, int]] = {}  # what is asked for, and under which number
        for theme in TEXTUAL_THEMES:
            self.register_theme(theme)
        # set without its watcher, which would have all styles worked out once more before the first paint
        self.set_reactive(App.theme, "ansi" if self.no_color else self.chosen.theme)

    # -- beginning ------------------------------------------------------------------------------

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
            self._look_at(replace(cursor, time=grid(now)))
        self.refresh_page()

    @staticmethod
    def _start_for(now: np.datetime64) -> np.datetime64:
        hour: np.datetime64 = now.astype("datetime64[h]").astype("datetime64[s]") - LOOK_BACK
        return hour

    # -- background work ------------------------------------------------------------------------

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

    def action_cancel(self) -> None:
        """Stop what is being worked out; what is on the screen stays."""
        for what in self.shared.busy:
            self._numbers[what] += 1
            self.workers.cancel_group(self, what)
        if self.shared.busy:
            self.say("Stopped; the next key that needs it asks for it again.")

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
            self.say(message.failure.sentence, fault=message.what)
            return
        self._mended(message.what)
        getattr(self, f"_take_{message.what}")(message.result)
        self.refresh_page()

    def _mended(self, what: str) -> None:
        """Work that failed before has now come to its end: its sentence goes."""
        if self.shared.fault == what:
            self.say("", refresh=False)

    def say(self, sentence: str, *, fault: str = "", refresh: bool = True) -> None:
        """One sentence for the operator, above the keys; `fault` names the work that failed."""
        self.shared.notice, self.shared.fault = sentence, fault
        if refresh:
            self.refresh_page()

    def _keep(self, **changes: Any) -> None:
        """Remember a choice for the next time."""
        self.chosen = replace(self.chosen, **changes)
        try:
            settings.save(self.chosen, self._settings_file)
        except InputError as error:
            self.say(error.message)

    # -- results --------------------------------------------------------------------------------

    def _take_opening(self, opening: Any) -> None:
        shared = self.shared
        shared.opening = opening
        if opening.note:
            self.say(opening.note, refresh=False)
        start = shared.choice.start if shared.choice is not None else self._start_for(shared.now)
        mode = self.chosen.mode if self.chosen.mode in opening.modes else opening.mode
        power = self.chosen.power_w or opening.power_w
        bench = shared.choice.bench + 1 if shared.choice is not None else 0
        sky = shared.choice.sky if shared.choice is not None else 0
        if shared.cursor is None:
            band = "20m" if "20m" in opening.bands else (opening.bands[0] if opening.bands else "")
            shared.cursor = Cursor(grid(shared.now), band)
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
        self._want(0.0)

    def _take_helps(self, view: Any) -> None:
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

    # -- what depends on what -------------------------------------------------------------------

    def _choose(self, choice: Choice) -> None:
        shared = self.shared
        if choice == shared.choice:
            return
        before, shared.choice = shared.choice, choice
        desk = self.desk
        if desk is None:
            return
        if before is not None and (before.station, before.bench, before.mode, before.power_w) != (
            choice.station,
            choice.bench,
            choice.mode,
            choice.power_w,
        ):
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
            self._mended("hop")
        except Exception as error:
            shared.hop = None
            self.say(failure_of(error, "hop picture").sentence, fault="hop", refresh=False)

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
            bench = shared.bench
            if bench is None or self._delivered.get("bench") != key:
                self._unless("bench", key, lambda cancelled: desk.bench(choice, cancelled))
            else:
                self._unless("helps", key, lambda cancelled: desk.helps(choice, bench, cancelled))
        elif place == "sked":
            self._unless("sked", choice, lambda cancelled: desk.sked(choice, cancelled))
        elif place == "plan":
            wish = shared.plan_wish or PlanWish(max(grid(now), choice.start), 6.0)
            shared.plan_wish = wish
            self._unless("plan", (choice, wish), lambda cancelled: desk.plan(choice, wish, cancelled))
        elif result is not None and place == "why":
            self._unless(
                "why",
                (choice, cursor),
                lambda cancelled: desk.why(choice, result, cursor, cancelled),
                delay_s,
            )
        elif result is not None and place == "reach":
            self._want_reach(desk, choice, cursor, result, delay_s)

    def _want_reach(self, desk: Desk, choice: Choice, cursor: Cursor, result: Any, delay_s: float) -> None:
        key = (choice, cursor.time, cursor.long)
        whole = (choice, cursor)
        reach = self.shared.reach
        if self._delivered.get("rulers") != key or reach is None:
            self._unless(
                "rulers", key, lambda cancelled: desk.rulers(choice, result, cursor, cancelled), delay_s
            )
        else:
            shown = reach
            self._unless(
                "footprint",
                whole,
                lambda cancelled: desk.footprint(choice, result, shown, cursor, cancelled),
                delay_s,
            )

    def _unless(
        self, what: str, key: object, work: Callable[[Cancelled], object], delay_s: float = 0.0
    ) -> None:
        if self._delivered.get(what) != key and self._pending.get(what) != (key, self._numbers[what]):
            self.ask(what, work, key, delay_s)
            self._pending[what] = (key, self._numbers[what])

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
