"""The app: the keys that apply to all pages, and the entry point from the command line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import ClassVar

import numpy as np
from textual import events
from textual.binding import Binding, BindingType
from textual.command import Provider

from propagation.base.errors import BandwhenError, InputError
from propagation.base.text import one_line, shown
from tui.app import prompts, settings, termination
from tui.app.app_base import DAY, SETTLE_S, AppBase
from tui.app.feature_list import FETCH, NEW_STATION, PAGES, load
from tui.app.help_topics import TOPICS, key_sentence, topic_lines
from tui.app.page import Page
from tui.app.queries import Engine
from tui.kit import words
from tui.kit.canvas import Drawn
from tui.kit.input_parsing import grid
from tui.kit.page_lines import key_sign
from tui.kit.worker_threads import finish_saving


def _entries() -> type[Provider]:
    """The provider of the command palette; imported when the palette is first opened."""
    from tui.app.command_finder import Entries

    return Entries


class BandwhenApp(AppBase):
    """The screens of bandwhen."""

    CSS_PATH = "bandwhen.tcss"
    TITLE = "bandwhen"
    ENABLE_COMMAND_PALETTE = True
    COMMANDS: ClassVar[set[type[Provider] | Callable[[], type[Provider]]]] = {_entries}
    DEFAULT_MODE = PAGES[0].place

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("w", "words", "words", show=False, tooltip="this screen in plain sentences"),
        Binding("y", "copy", "copy", show=False, tooltip="this screen's words to the clipboard"),
        Binding("question_mark", "help", "help", show=False),
        Binding(
            "slash,ctrl+p",
            "command_palette",
            "find a command",
            show=False,
            tooltip="find any command, target, band, look or screen by its name",
        ),
        Binding("G", "terms", "terms", show=False, tooltip="what the term under the cursor means"),
        Binding("v", "look", "look", show=False, tooltip="dark, light, sunlight, night, ansi"),
        Binding("z", "clock", "clock", show=False, tooltip="tell local time first, or UTC again"),
        Binding("g", "glyphs", "signs", show=False, tooltip="plain ASCII signs, or all of them"),
        Binding("s", "new_station", "new station", show=False, tooltip="make a station of your own"),
        Binding("escape", "cancel", "stop", show=False, tooltip="stop what is being worked out"),
        Binding("q", "quit", "quit", show=False, tooltip="leave the program"),
    ]

    async def on_event(self, event: events.Event) -> None:
        """Remove terminal control characters from pasted text, whatever has the focus."""
        if isinstance(event, events.Paste):
            event.text = one_line(event.text)
        await super().on_event(event)

    # -- the page on screen ---------------------------------------------------------------------

    @property
    def page(self) -> Page | None:
        """The page below any open sheet."""
        stack = self.screen_stack if self._screen_stacks.get(self.current_mode) else []
        return next((screen for screen in reversed(stack) if isinstance(screen, Page)), None)

    def want(self, *, settle: bool = False) -> None:
        """Put the queries of the page on screen that have no answer yet."""
        page, state = self.page, self.state
        if page is None or state.choice is None or state.cursor is None:
            return
        for query in page.all_queries(state):
            self.jobs.want(query, settle_s=SETTLE_S if settle else 0.0)

    def refresh_page(self) -> None:
        """Fill the page on screen with the latest state; other pages are filled when they are shown."""
        page = self.page
        if page is not None and page.is_mounted and page.query("#places"):
            page.take(self.state)

    def action_command_palette(self) -> None:
        """Open the command finder, unless it is open."""
        from tui.app.command_finder import CommandFinder

        if not isinstance(self.screen, CommandFinder):
            self.push_screen(CommandFinder(id="--command-palette"))

    # -- keys: going and looking ----------------------------------------------------------------

    async def action_go(self, place: str) -> None:
        """Go to a page; a note stays with the page on which it appeared."""
        self.note_seen()
        await self.switch_mode(place)
        self.want()
        self.refresh_page()

    def action_step(self, minutes: int) -> None:
        """Move the time cursor."""
        self.step_minutes(minutes)

    def step_minutes(self, minutes: int) -> None:
        """Move the time cursor, within the limits of the day."""
        cursor, choice = self.state.cursor, self.state.choice
        if cursor is None or choice is None:
            return
        self.following = False
        time = cursor.time + np.timedelta64(minutes * 60, "s")
        last = choice.start + DAY - np.timedelta64(600, "s")
        self.look_at(replace(cursor, time=min(max(time, choice.start), last)))

    def action_band(self, by: int) -> None:
        """Move the band cursor."""
        day, cursor = self.state.day, self.state.cursor
        if day is not None and cursor is not None and day.bands:
            at = min(max(self.state.band_index + by, 0), len(day.bands) - 1)
            self.look_at(replace(cursor, band=day.bands[at]))

    def action_route(self) -> None:
        """Switch between short path and long path."""
        if self.state.cursor is not None:
            self.look_at(replace(self.state.cursor, long=not self.state.cursor.long))

    def action_to_now(self) -> None:
        """Return to the present time."""
        state = self.state
        state.now = self.clock()
        self.following = True
        if state.choice is not None and state.cursor is not None:
            self.choose(replace(state.choice, start=self.start_for(state.now)))
            self.look_at(replace(state.cursor, time=grid(state.now)))
        self.say("")

    def action_day(self, by: int) -> None:
        """Go to the day before or after."""
        if self.state.choice is not None:
            day = self.state.choice.start.astype("datetime64[D]") + np.timedelta64(by, "D")
            self.go_to_day(day.astype("datetime64[s]"))

    # -- keys: choosing -------------------------------------------------------------------------

    def action_target(self) -> None:
        """Prompt for the target; one typed for an appointment leaves the plan's as it is."""
        prompts.target(self, partial(prompts.keep_plan_target, self) if self.current_mode == "sked" else None)

    def action_date(self) -> None:
        """Prompt for a date."""
        prompts.date(self)

    def action_mode(self) -> None:
        """Pick a mode."""
        prompts.mode(self)

    def action_power(self) -> None:
        """Prompt for the power."""
        prompts.power(self)

    def action_look(self) -> None:
        """Pick a theme."""
        prompts.look(self)

    def action_glyphs(self) -> None:
        """Switch between plain ASCII characters and the full set."""
        self.plain_glyphs = not self.plain_glyphs
        self.set_class(self.plain_glyphs, "-ascii")
        self.remember(glyphs="ascii" if self.plain_glyphs else "full")
        for screen in self.screen_stack:
            for widget in screen.query(Drawn):
                widget.redraw()

    def action_clock(self) -> None:
        """Tell local time first, or UTC again."""
        self.turn_clock()

    def action_new_station(self) -> None:
        """Create a station from a few entries; the rest has defaults."""
        load(NEW_STATION)(self)

    def fetch(self) -> None:
        """Get the space weather."""
        load(FETCH)(self)

    def action_cancel(self) -> None:
        """Cancel the queries under way; the screen stays as it is."""
        if self.jobs.stop_all():
            self.say("Stopped; the next key that needs it asks for it again.")

    # -- keys: words, help ----------------------------------------------------------------------

    def action_words(self) -> None:
        """Show this screen in plain sentences."""
        from tui.kit.overlays import WordsSheet

        page = self.page
        if page is not None:
            self.push_screen(WordsSheet("In words", self._sentences(page), self._write_words))

    def action_copy(self) -> None:
        """Copy the sentences of this screen to the terminal's clipboard."""
        page = self.page
        if page is not None:
            self.copy_to_clipboard(shown("\n".join(self._sentences(page)) + "\n"))
            self.say(
                "This screen's words were handed to the terminal's clipboard; w then e writes them to a file."
            )

    def _sentences(self, page: Page) -> list[str]:
        """The page in sentences, preceded by the trial under way."""
        tried = self.state.choice.tried if self.state.choice is not None else None
        return [*([words.tried(tried.told)] if tried is not None else []), *page.sentences(self.state)]

    def _write_words(self, text: str, force: bool) -> str:
        from tui.kit import export

        return export.write_words(self.current_mode, text, self.state.now, force)

    def action_help(self) -> None:
        """Show the help: the pictures on this screen, and the keys."""
        from tui.kit.overlays import HelpSheet

        page = self.page
        if page is not None:
            self.push_screen(HelpSheet("Help", self.help_sentences(page), self._write_words))

    def action_terms(self) -> None:
        """Mark the term at the page's cursor, with its meaning; a page without terms gives the glossary."""
        from tui.kit.canvas import picture_of
        from tui.kit.term_pointer import TermPointer, terms_on

        page = self.page
        if page is not None:
            picture = picture_of(page)
            if terms_on(picture):
                self.push_screen(TermPointer(picture), self._list_terms)
            else:
                self._list_terms("")

    def _list_terms(self, answer: str | None) -> None:
        """Show what all terms on this page and in its sentences mean, unless the pointer was just closed."""
        from propagation.wording.glossary import terms_in
        from tui.kit.overlays import TermsSheet

        page = self.page
        if page is not None and answer is not None:
            drawn = [row for widget in page.query(Drawn) if widget.display for row in widget.texts()]
            text = "\n".join([*drawn, *page.sentences(self.state)])
            self.push_screen(TermsSheet("Terms on this page", terms_in(text), self._write_words))

    def help_sentences(self, page: Page) -> list[str]:
        """Help generated from the screen's own texts and bindings, so that it stays correct."""
        out = [page.about]
        out += [f"{widget.about}" for widget in page.drawn()]
        out.append("")
        out += [key_sentence(binding) for binding in page.BINDINGS if isinstance(binding, Binding)]
        out += [f"{key_sign(entry.key)}: {entry.label}" for entry in self.pages]
        own = {
            key for binding in page.BINDINGS if isinstance(binding, Binding) for key in binding.key.split(",")
        }
        general = [binding for binding in self.BINDINGS if isinstance(binding, Binding)]
        out += [key_sentence(binding) for binding in general if not own & set(binding.key.split(","))]
        for topic, summary in TOPICS.items():
            if topic != "keys":
                out += ["", f"{topic.upper()}: {summary}", *topic_lines(topic)]
        return out


def run_app(station: Path | None = None) -> int:
    """Run the screens; return the exit code."""
    chosen, note = settings.load()
    if station is not None and not station.is_file():
        raise InputError(f"There is no station file {str(station)!r}.")
    app = BandwhenApp(Engine, station=str(station) if station is not None else "", chosen=chosen, note=note)
    with termination.watched(lambda: app.call_later(app.exit)) as watch:
        app.run()
        finish_saving()
    if watch.signal:
        return 128 + watch.signal  # as a shell expects after a signal
    if app.ended_by:
        raise BandwhenError(app.ended_by)
    return app.return_code or 0
