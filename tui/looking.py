"""Keys that look and choose: the cursor, the target, the date, the mode, the look; words, help, copies."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from textual.binding import Binding

from propagation.base.errors import BandwhenError
from tui import clock, words
from tui.entries import fault, grid, power
from tui.screens.page import Page
from tui.theme import THEME_NAMES, THEME_SAYS
from tui.widgets.drawn import Drawn
from tui.widgets.key_line import key_sign
from tui.work import DAY, LOOK_BACK, Work


class Looking(Work):
    """What the keys do that change nothing on file but the settings."""

    # -- keys: going and looking ----------------------------------------------------------------

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
            self._look_at(replace(shared.cursor, time=grid(shared.now)))
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

    # -- keys: choosing -------------------------------------------------------------------------

    def action_target(self) -> None:
        """Ask whom to reach."""
        from tui.screens.overlays import Ask

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
        from tui.screens.overlays import Ask

        choice = self.shared.choice
        if choice is None:
            return

        def check(text: str) -> str:
            return fault(lambda: clock.parse_date(text))

        def take(text: str | None) -> None:
            if text:
                self._go_to_day(clock.parse_date(text).astype("datetime64[s]"))

        self.push_screen(
            Ask("Date, as 2026-03-20, today or tomorrow (UTC)", words.date(choice.start + LOOK_BACK), check),
            take,
        )

    def action_mode(self) -> None:
        """Pick a mode."""
        from tui.screens.overlays import Pick

        opening, choice = self.shared.opening, self.shared.choice
        if opening is None or choice is None:
            return
        options = [(mode, words.MODE_SAYS.get(mode, "")) for mode in opening.modes]
        self.push_screen(
            Pick("Mode", options, choice.mode), lambda mode: self.set_mode(mode) if mode else None
        )

    def set_mode(self, mode: str) -> None:
        """Work out the day for a mode."""
        if self.shared.choice is not None:
            self._keep(mode=mode)
            self._choose(replace(self.shared.choice, mode=mode))

    def action_power(self) -> None:
        """Ask for the power."""
        from tui.screens.overlays import Ask

        choice = self.shared.choice
        if choice is None:
            return

        def take(text: str | None) -> None:
            if text:
                watts = power(text)
                self._keep(power_w=watts)
                if self.shared.choice is not None:
                    self._choose(replace(self.shared.choice, power_w=watts))

        self.push_screen(
            Ask("Power at the rig, in watts", f"{choice.power_w:g}", lambda text: fault(lambda: power(text))),
            take,
        )

    def action_look(self) -> None:
        """Pick a look."""
        from tui.screens.overlays import Pick

        options = [(name, THEME_SAYS[name]) for name in THEME_NAMES]
        self.push_screen(
            Pick("Look", options, self.theme), lambda name: self.set_look(name) if name else None
        )

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

    # -- keys: words, help, export --------------------------------------------------------------

    def action_words(self) -> None:
        """This screen in plain sentences."""
        from tui.screens.overlays import WordsSheet

        page = self.page
        if page is not None:
            self.push_screen(WordsSheet("In words", page.sentences(self.shared), self._write_words))

    def action_copy(self) -> None:
        """This screen's words to the terminal's clipboard."""
        page = self.page
        if page is not None:
            self.copy_to_clipboard("\n".join(page.sentences(self.shared)) + "\n")
            self.say(
                "This screen's words were handed to the terminal's clipboard; w then e writes them to a file."
            )

    def _write_words(self, text: str) -> str:
        from propagation.base.strict_toml import write_atomically

        now = self.shared.now
        stamp = f"{words.date(now)}-{words.clock(now).replace(':', '')}"
        name = f"bandwhen-{self.current_mode}-{stamp}.txt"
        file = Path.cwd() / name
        try:
            write_atomically(file, text)
        except (OSError, BandwhenError) as error:
            return f"The file {file} could not be written: {error}."
        return f"Written to {file}."

    def action_help(self) -> None:
        """What one sees here, and the keys."""
        from tui.screens.overlays import HelpSheet

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
