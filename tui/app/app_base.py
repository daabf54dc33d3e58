"""The app as seen by pages, forms and the command finder: the choice, the cursor and the jobs.

Pages read `state` and put queries to `jobs`; only the methods here change the choice and the cursor.
"""

from __future__ import annotations

import codecs
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import numpy as np
from rich.console import RenderableType
from textual import events
from textual.app import App
from textual.driver import Driver
from textual.timer import Timer

from propagation.advice.band_now import best_band
from propagation.base.errors import InputError
from propagation.base.text import shown
from propagation.wording import quantities as say
from tui.app import clock, fault_log, outing_journal, settings, undo
from tui.app.choice import Choice, Cursor, HoursOnAir, Opening, Trial
from tui.app.feature_list import PAGES, PageEntry
from tui.app.jobs import Answered, Failed, Jobs, PartAnswered
from tui.app.queries import Day, DayQuery, Engine, OpeningQuery, Query
from tui.app.state import State
from tui.kit import words
from tui.kit.input_parsing import grid
from tui.kit.theme import TEXTUAL_THEMES

A = TypeVar("A")
HOUR = np.timedelta64(3600, "s")
DAY = np.timedelta64(86400, "s")
LOOK_BACK = 2 * HOUR  # today's lanes begin this long before now
SETTLE_S = 0.12  # s; while the cursor keeps moving, slow queries wait this long after its last move
TICK_S = 15.0  # s between readings of the clock
NOTE_S = 8.0  # s for each note shown until they disappear, unless a key is pressed before (ours)
MOST_SHOWN = 3  # notes and faults at once (ours)
MOST_SAID = 8  # notes that the words of a page end with (ours)


class AppBase(App[None]):
    """The choice, the cursor, the list of pages, and the background jobs."""

    def __init__(
        self,
        engine: Callable[[], Engine],
        *,
        station: str = "",
        chosen: settings.Settings | None = None,
        note: str = "",
        now: Callable[[], np.datetime64] = clock.now,
        settings_file: Path | None = None,
        pages: Sequence[PageEntry] = PAGES,
    ) -> None:
        # Textual takes the terminal's own colours here and then removes them, so that no colour code is sent
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        self.clock, self._settings_file = now, settings_file
        self.jobs = Jobs(self, engine, self._work_changed, self._mended)
        self.chosen = chosen or settings.Settings()
        self.station_wish = station or self.chosen.station
        self.plain_glyphs = self.chosen.glyphs == "ascii"
        self.state = State(now(), self.jobs.answers, notice=note)
        say.set_clock_face(say.ClockFace(local=self.chosen.clock == "local"))  # until the station is read
        self.following = True  # the cursor follows the clock
        self._note_timer: Timer | None = None
        self._dismissed: tuple[tuple[str, str], ...] = ()  # notes that disappeared with the latest key
        self._key: events.Key | None = None
        self._unreadable = note  # why the settings cannot be read, where that has been told
        self.ended_by = ""  # the sentence of the fault that ended the screens, if one did
        self._band_proposed = False  # the cursor has been put on the best band once
        self.pages = tuple(pages)
        for page in self.pages:
            self.add_mode(page.place, page.make)
            self.bind(page.key, f"go('{page.place}')", description=page.label, show=False)
        for theme in TEXTUAL_THEMES:
            self.register_theme(theme)
        # set without its watcher, which would compute all styles again before the first paint
        self.set_reactive(App.theme, "ansi" if self.no_color else self.chosen.theme)

    # -- defined by the app ---------------------------------------------------------------------

    def want(self, *, settle: bool = False) -> None:
        """Put the queries of the page on screen that have no answer yet."""
        raise NotImplementedError

    def refresh_page(self) -> None:
        """Fill the page on screen with the latest state; other pages are filled when they are shown."""
        raise NotImplementedError

    def step_minutes(self, minutes: int) -> None:
        """Move the time cursor, within the limits of the day."""
        raise NotImplementedError

    # -- start and clock ------------------------------------------------------------------------

    def on_mount(self) -> None:
        """Paint first, then read the station, then query the forecast."""
        self.set_class(self.plain_glyphs, "-ascii")
        self.set_interval(TICK_S, self._tick)
        if self.state.notice:
            self._note_timer = self.set_timer(NOTE_S, self.note_seen)
        self.call_after_refresh(self.open_station)

    def open_station(self) -> None:
        """Read the station and the lists; the forecast follows."""
        self.ask(OpeningQuery(self.station_wish, self.chosen.target), self._opened)

    def _opened(self, opening: Opening) -> None:
        state = self.state
        if opening.note:
            self.say(opening.note, refresh=False)
        before = state.choice
        if before is None:
            state.hours, told = outing_journal.load(state.now)
            if told:
                self.say(told, refresh=False)
        start = before.start if before is not None else self.start_for(state.now)
        mode = self.chosen.mode if self.chosen.mode in opening.modes else opening.mode
        power = self.chosen.power_w or opening.power_w
        sky, bench = (before.sky, before.bench + 1) if before is not None else (0, 0)
        tried = None
        if before is not None and before.station == opening.station.path and before.tried is not None:
            tried = before.tried  # a trial continues when a list changes, and ends with its station
            if tried.power_before_w is not None:
                tried, power = replace(tried, power_before_w=power), before.power_w
        say.set_clock_face(say.ClockFace(ZoneInfo(opening.time_zone), self.chosen.clock == "local"))
        if state.cursor is None:
            band = "20m" if "20m" in opening.bands else (opening.bands[0] if opening.bands else "")
            state.cursor = Cursor(grid(state.now), band)
        self.choose(Choice(opening.station.path, opening.target, start, mode, power, sky, bench, tried))
        if before is None and self.chosen.fetch_on_start:
            self.call_later(self.fetch)

    def fetch(self) -> None:
        """Get the space weather."""
        raise NotImplementedError

    def _tick(self) -> None:
        now = self.clock()
        if say.clock(now) == say.clock(self.state.now):
            return
        self.state.now = now
        choice, cursor = self.state.choice, self.state.cursor
        if choice is not None and cursor is not None and self.following:
            start = self.start_for(now)
            if start != choice.start and now >= choice.start + 2 * LOOK_BACK:
                self.choose(replace(choice, start=start))
            self.look_at(replace(cursor, time=grid(now)))
        self.refresh_page()

    @staticmethod
    def start_for(now: np.datetime64) -> np.datetime64:
        """The first time of the lanes that show the present day."""
        hour: np.datetime64 = now.astype("datetime64[h]").astype("datetime64[s]") - LOOK_BACK
        return hour

    def get_driver_class(self) -> type[Driver]:
        """The driver of this terminal, extended to accept bytes that are not UTF-8."""
        return forgiving(super().get_driver_class())

    def panic(self, *renderables: RenderableType) -> None:
        """End the screens after a fault outside the event loop, as in the terminal's driver."""
        with self.console.capture() as capture:
            self.console.print(*renderables)
        self._end_with("terminal", capture.get())

    def _fatal_error(self) -> None:
        """End the screens after a fault in the event loop."""
        error = sys.exc_info()[1]
        kind = type(error).__name__ if error is not None else "unknown fault"
        self._end_with(kind, traceback.format_exc())

    def _end_with(self, kind: str, details: str) -> None:
        """End the screens: show one sentence, record the details, and restore the terminal."""
        where = fault_log.record("screens", details)
        self.ended_by = (
            f"The screens had to end because something in the program failed ({kind}); {where}. "
            "What was saved is kept; open the program again."
        )
        self._return_code = 2
        self._close_messages_no_wait()

    # -- queries --------------------------------------------------------------------------------

    @property
    def engine(self) -> Engine:
        """The engine; it exists as soon as there is a choice."""
        engine = self.jobs.engine
        assert engine is not None, "no query has been put yet"
        return engine

    def ask(self, query: Query[A], then: Callable[[A], None] | None = None) -> None:
        """Put a query or a command to the background worker."""
        self.jobs.ask(query, then)

    def commit(self, command: Query[A], then: Callable[[A], None], reply: Callable[[str], None]) -> None:
        """Carry out the command of a form, which stays open until the reply is empty."""

        def done(answer: A) -> None:
            reply("")
            then(answer)

        self.jobs.ask(command, done, reply)

    def on_answered(self, message: Answered[object]) -> None:
        """Take an answer, unless a later query has replaced its query."""
        if self.jobs.accept(message):
            if message.then is not None:
                message.then(message.answer)
            choice = self.state.choice
            if choice is None or not self.jobs.is_open(DayQuery(choice)):
                self.want()  # the other queries depend on the day, or on the antenna that it computes
            self.refresh_page()

    def on_part_answered(self, message: PartAnswered[object]) -> None:
        """Show a part of an answer, unless a later query has replaced its query."""
        if self.jobs.accept_part(message):
            self.refresh_page()

    def on_failed(self, message: Failed) -> None:
        """Show the error sentence, unless a later query has replaced this one."""
        if not self.jobs.accept(message):
            return
        if message.failed is not None:
            message.failed(message.sentence)
        else:
            self.say(message.sentence, fault=message.query.group)

    def _work_changed(self) -> None:
        self.state.working = self.jobs.working
        if self.is_running:
            self.refresh_page()

    def _mended(self, group: str) -> None:
        """Remove the error sentence of work that has now succeeded."""
        self.state.notices = [one for one in self.state.notices if one[1] != group]

    def say(self, sentence: str, *, fault: str = "", refresh: bool = True) -> None:
        """Show one sentence to the operator, or none; `fault` names the work that failed.

        A fault stays until that work succeeds. Any other sentence is a note: it belongs to the page on which
        it appears, and disappears with the next key or after `NOTE_S`. What was said before it and has not
        disappeared, or did so with the key that led to this one, is shown after it.
        """
        state = self.state
        shown = [*state.notices, *(one for one in self._dismissed if one not in state.notices)]
        shown = [one for one in shown if one[0] != sentence and not (fault and one[1] == fault)]
        state.notices = [(sentence, fault), *shown][:MOST_SHOWN] if sentence else ()
        if sentence and not fault:
            state.said = ((state.now, sentence), *state.said)[:MOST_SAID]
        if self._note_timer is not None:
            self._note_timer.stop()
            self._note_timer = None
        if self.is_running and not all(one[1] for one in state.notices):
            self._note_timer = self.set_timer(NOTE_S * len(state.notices), self.note_seen)
        if refresh:
            self.refresh_page()

    def message(self, sentence: str) -> None:
        """Send a desktop notification through the terminal (OSC 9, from memory); terminals without it ignore
        it.
        """
        driver = self._driver
        if driver is not None and not self.is_headless:
            driver.write(f"\x1b]9;{shown(sentence)}\x07")

    def note_seen(self) -> None:
        """Remove the notes; a fault stays."""
        faults = [one for one in self.state.notices if one[1]]
        if len(faults) < len(self.state.notices):
            self.state.notices = faults
            self.refresh_page()

    async def on_event(self, event: events.Event) -> None:
        """Remove the notes above the keys when a key is pressed."""
        if isinstance(event, events.Key):
            if event is not self._key:  # a key that no binding takes comes back from the page
                self._key = event
                self._dismissed = tuple(one for one in self.state.notices if not one[1])
            self.note_seen()
        await super().on_event(event)

    def remember(self, **changes: Any) -> None:
        """Save a choice in the settings."""
        self.chosen = replace(self.chosen, **changes)
        try:
            settings.change(changes, self._settings_file)
        except settings.UnreadableError as error:
            if error.message != self._unreadable:  # told once, and not with every choice
                self._unreadable = error.message
                self.say(error.message)
        except InputError as error:
            self.say(error.message)

    # -- the choice and the cursor --------------------------------------------------------------

    def choose(self, choice: Choice) -> None:
        """Take a choice and compute its day."""
        if choice == self.state.choice:
            return
        self.state.choice = choice
        day = DayQuery(choice)
        self.jobs.want(day, self._day_came)
        if not self.jobs.is_open(day):  # already computed: no later answer will trigger the other queries
            self.want()
        self.refresh_page()

    def _day_came(self, day: Day) -> None:
        cursor, bands = self.state.cursor, day.view.bands
        if cursor is None:
            return
        if not self._band_proposed:
            hours = self.state.hours
            view = replace(day.view, dead=hours.dead_bands) if hours is not None else day.view
            best = best_band(words.alive(view), self.state.time_index)
            if best is not None:
                cursor = replace(cursor, band=bands[best])
        self._band_proposed = True
        if cursor.band not in bands and bands:
            cursor = replace(cursor, band=bands[0])
        self.state.cursor = cursor

    def turn_clock(self) -> None:
        """Tell local time first, or UTC again; what is shown in sentences is told anew."""
        face = replace(say.clock_face(), local=not say.local_first())
        say.set_clock_face(face)
        self.remember(clock="local" if face.local else "utc")
        if self.state.choice is not None:
            self.jobs.want(DayQuery(self.state.choice), self._day_came)
            self.want()
        first = "Local time" if face.local else "UTC"
        self.say(f"{first} is told first; local time is {say.offset_words(self.state.now)} ({face.zone}).")

    def look_at(self, cursor: Cursor) -> None:
        """Move the cursor."""
        if cursor != self.state.cursor:
            self.state.cursor = cursor
            self.want(settle=True)
            self.refresh_page()

    def go_to_day(self, start: np.datetime64) -> None:
        """Show another day, at the same time of day."""
        choice, cursor = self.state.choice, self.state.cursor
        if choice is None or cursor is None:
            return
        self.following = False
        clock_time = cursor.time - cursor.time.astype("datetime64[D]").astype("datetime64[s]")
        self.state.cursor = replace(cursor, time=start + clock_time)
        self.choose(replace(choice, start=start))

    def set_target(self, text: str, noted: bool = True) -> None:
        """Take a target. noted: can be taken back; also of `set_mode` and `set_power`."""
        if self.state.choice is not None:
            if noted and text != self.state.choice.target:
                self.state.done.append(undo.of_target(self.state.choice.target, text))
            self.remember(target=text)
            self.choose(replace(self.state.choice, target=text))

    def set_mode(self, mode: str, noted: bool = True) -> None:
        """Compute the day for a mode."""
        if self.state.choice is not None:
            if noted and mode != self.state.choice.mode:
                self.state.done.append(undo.of_mode(self.state.choice.mode, mode))
            self.remember(mode=mode)
            self.choose(replace(self.state.choice, mode=mode))

    def set_power(self, power_w: float, noted: bool = True) -> None:
        """Compute the day for a power at the rig [W]."""
        if self.state.choice is not None:
            if noted and power_w != self.state.choice.power_w:
                self.state.done.append(undo.of_power(self.state.choice.power_w, power_w))
            self.remember(power_w=power_w)
            choice, tried = self.state.choice, self.state.choice.tried
            if tried is not None and tried.power_before_w is not None:  # a chosen power ends the trial of one
                tried = replace(tried, power_before_w=None) if tried.antenna is not None else None
            self.choose(replace(choice, power_w=power_w, tried=tried))

    def try_out(self, trial: Trial, power_w: float | None = None) -> None:
        """Compute everything with another antenna or another power [W], without saving it."""
        if self.state.choice is None:
            return
        choice = self.state.choice.untried
        if power_w is not None:
            trial, choice = replace(trial, power_before_w=choice.power_w), replace(choice, power_w=power_w)
        choice = replace(choice, tried=trial)
        if self.engine.sites.leaves_lesson_out(choice):
            choice = replace(choice, tried=replace(trial, unlearnt=True))
        self.choose(choice)

    def trial_kept(self, path: str) -> None:
        """End the trial: what was tried is now in a station file."""
        choice = self.state.choice
        if choice is None:
            return
        if choice.tried is not None and choice.tried.power_before_w is not None:
            self.remember(power_w=0.0)  # the power now comes from the file
        self.state.choice = choice.untried
        if path != choice.station:
            self.station_wish = path
            self.remember(station=path)
        self.open_station()

    def end_trial(self) -> None:
        """Restore the choice as it was before the trial."""
        if self.state.choice is not None:
            self.choose(self.state.choice.untried)

    def choose_band(self, band: str) -> None:
        """Move the cursor to a band."""
        if self.state.cursor is not None:
            self.look_at(replace(self.state.cursor, band=band))

    def use_station(self, path: str) -> None:
        """Take a station into use."""
        self.station_wish = path
        self.remember(station=path, power_w=0.0, mode="")
        self.open_station()

    def plan_for(self, hours: HoursOnAir, noted: bool = True) -> None:
        """Plan other hours on air, and keep them until the end of the outing. noted: can be taken back."""
        done = undo.of_hours(self.state.hours, hours) if noted else None
        if done is not None:
            self.state.done.append(done)
        self.state.hours = hours
        try:
            outing_journal.save(hours)
        except InputError as error:
            self.say(error.message, refresh=False)
        self.want()
        self.refresh_page()

    def action_undo(self) -> None:
        """Take back the last thing done on the outing; its marks are on every page with lanes."""
        undo.take_back(self)

    def conditions_changed(self, sentence: str) -> None:
        """Compute everything that depends on the conditions again, after they changed."""
        self.say(sentence, refresh=False)
        if self.state.choice is not None:
            self.choose(replace(self.state.choice, sky=self.state.choice.sky + 1))
        self.want()

    def lists_changed(self, sentence: str) -> None:
        """Read the stations and friends on file again, after they or a station's learnt corrections
        changed.
        """
        self.say(sentence, refresh=False)
        self.open_station()


def forgiving(kind: type[Driver]) -> type[Driver]:
    """A driver of this kind that reads invalid UTF-8 as the replacement character. Drivers of other modules
    are returned unchanged.
    """
    import sys

    module = sys.modules.get(kind.__module__)
    if module is None or getattr(module, "getincrementaldecoder", None) is None:
        return kind

    def decoder_of(encoding: str) -> Callable[[], codecs.IncrementalDecoder]:
        return lambda: codecs.getincrementaldecoder(encoding)(errors="replace")

    module.getincrementaldecoder = decoder_of  # type: ignore[attr-defined]
    return kind
