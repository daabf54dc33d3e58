"""Review: a log compared with the forecast of its day, and what it teaches about the station."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, ClassVar, NamedTuple

import numpy as np
from textual.binding import Binding, BindingType
from textual.widget import Widget

from propagation.base.errors import InputError
from propagation.base.files import is_file
from propagation.wording import quantities as say
from tui.app import outing_log, paths
from tui.app.page import LEAF_ROWS, LEAP_KEYS, Page
from tui.app.progress import FIRST_S, Tell, left_words
from tui.app.queries import Cancelled, Command, Engine, Query
from tui.app.side_panels import Spread
from tui.app.state import State
from tui.features.review.view import ContactList, OutingLanes, ReviewView
from tui.kit.canvas import EntryPointed
from tui.kit.lists import Card, Cards, Notes
from tui.kit.theme import SOFT

if TYPE_CHECKING:
    from propagation.logbook.kept_offset import Learnt
    from propagation.logbook.review import Review


POLL_S = 0.5  # s between two updates of the progress
PROBLEM_ROWS = 6  # rows where all panes are shown; PgDn shows the rest
MOST_LOGS = 6  # logs offered before one is opened, besides those of the present outing and of the demo
NO_PROBLEMS = "Every record of the file could be read."
INVITATION = (
    "After the outing: open its log (ADIF, Cabrillo) or a list of reception reports (CSV), one of these with "
    "Enter, any other with o. Nothing in the file is changed.",
    "Each band's day is then drawn as the forecast has it, with your own track beneath: a disc for a contact "
    "that was to be expected, a ring for fair luck, a star for one against the odds, dots for calls in vain.",
    "Below it stand the best plan as one knows it afterwards, every surprise and silence with its reason, "
    "and what the log teaches about the station; l lets every later forecast use that.",
    "Your place and power are those of the log where it has them, else the station's. Reports in decibels, "
    "and strengths under 9, show how the station does.",
)


class Headway:
    """Progress of a review in words; written by the worker, read by the page."""

    def __init__(self) -> None:
        self.words = "Reading the log, and working out the forecast of its days ..."

    def of(self, what: str) -> Tell:
        """Callback for the parts done and the total of parts of some work."""
        start = monotonic()

        def tell(done: int, whole: int) -> None:
            seconds = monotonic() - start
            if seconds > FIRST_S and 0 < done < whole:
                left = left_words(seconds * (whole - done) / done)
                self.words = f"{what}: {done * 100 // whole} % done, {left}; Esc stops it."

        return tell


@dataclass(frozen=True)
class ReviewQuery(Query[ReviewView]):
    """Review of a log against the forecast of its days."""

    path: str
    station: str  # path of the station's file
    opened: int  # number of logs opened so far, so that a log opened again is read again
    now: np.datetime64 = field(compare=False)
    found: Review | None = field(default=None, compare=False, repr=False)  # computed before: words alone
    local: bool = field(default_factory=say.local_first, kw_only=True)  # the clock of its sentences
    headway: Headway = field(default_factory=Headway, compare=False)

    group = "review"

    def answer(self, engine: Engine, cancelled: Cancelled) -> ReviewView:
        """Read the log, and compute the forecast."""
        from tui.features.review import answer as review

        if self.found is not None:
            return review.view_of(self.found, Path(self.path).name, self.station)
        return review.work_out(self.path, self.station, self.now, cancelled, self.headway.of)


class Lesson(NamedTuple):
    """Result of a change of the learnt offsets."""

    sentence: str
    learnt_words: str  # learnt offsets of the station after the change, in words


@dataclass(frozen=True)
class ChangeLesson(Command[Lesson]):
    """Save, use or delete what the log teaches about the station."""

    station: str
    change: str  # "keep", "use", "forget"
    learnt: Learnt | None = None

    group = "stations"
    says = "list of stations"

    def answer(self, engine: Engine, cancelled: Cancelled) -> Lesson:
        """Change the file."""
        from tui.features.review import answer as review

        if self.change == "keep":
            assert self.learnt is not None, "nothing to keep"
            sentence = review.keep(self.learnt, self.station)
        elif self.change == "use":
            sentence = review.switch(self.station)
        else:
            sentence = review.forget(self.station)
        return Lesson(sentence, review.kept_words(self.station))


class ReviewPage(Page):
    """Log compared with the forecast."""

    place = "review"
    of_choice = False
    panes = ("outing", "contacts", "lesson", "problems")
    pane_names = ("outing", "contacts", "what it teaches", "problems")
    roomy = (100, 40)
    spreads = (Spread(112, 36, right=("lesson", "problems")),)
    spreads_empty = (Spread(112, 36, right=("with-chart",), below="with-lanes"),)
    about = (
        "The log of an outing against the forecast of its day: each band as it was in reach, the bands as "
        "they were used, every contact with what the forecast gave it, the best plan as one knows it "
        "afterwards, and what the log teaches about the station."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("o", "open", "open a log", tooltip="a log (ADIF, Cabrillo) or reception reports (CSV)"),
        Binding("enter", "open_listed", "open it", show=False, tooltip="the marked log"),
        Binding("up", "row(-1)", "contact", tooltip="the contact, or the log, before"),
        Binding("down", "row(1)", "contact", tooltip="the contact, or the log, after"),
        Binding("tab", "next_pane", "next view", priority=True),
        *LEAP_KEYS,
        Binding("l", "keep", "keep lesson", tooltip="let every forecast use what the log teaches"),
        Binding("u", "use", "lesson in or out", tooltip="put what was learnt into use, or out of it"),
        Binding("f", "forget", "forget lesson", tooltip="forget what was learnt about the station"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.row = 0
        self.learnt_words = ""  # learnt offsets of the station, in words
        self.asked: ReviewQuery | None = None
        self._opened = 0
        self._log_bytes = 0  # size of the outing's own log when it was opened

    @property
    def view(self) -> ReviewView | None:
        """Return the last computed review."""
        return self.state.answers.get(ReviewQuery)

    @property
    def waiting(self) -> bool:
        """Report whether a log is being reviewed."""
        return self.asked is not None and self.own_app.jobs.is_open(self.asked)

    def on_mount(self) -> None:
        """Start the regular update of the progress."""
        super().on_mount()
        self.set_interval(POLL_S, self._poll)

    def _poll(self) -> None:
        if self.is_current and self.waiting:
            self.fill(self.state)

    def body(self) -> Iterable[Widget]:
        """Yield the lanes, the contacts and what the log teaches."""
        yield Cards(id="logs")
        yield OutingLanes(id="outing")
        yield ContactList(id="contacts")
        yield Notes(id="lesson", ink=SOFT)
        yield Notes("problems in the file", id="problems", ink=SOFT)

    def spreads_now(self) -> tuple[Spread, ...]:
        """Layouts for large screens. Without a log, the present day is shown below."""
        return self.spreads if self.view is not None else self.spreads_empty

    def main_rows(self, state: State) -> int | None:
        """Rows of the logs to open and of the invitation."""
        logs = self.query_one("#logs", Cards)
        return self.query_one(OutingLanes).rows_waiting(self.main_width) + len(logs.cards) + 1

    def whom(self, state: State) -> str:
        """Target of the lanes on screen: of the review, or of the panels of the present day, if any."""
        if self.view is not None:
            return self.view.target
        return super().whom(state) if self.panels() else ""

    def setting(self, state: State) -> str:
        """Day, mode and power of the reviewed outing."""
        if self.view is not None:
            return self.view.setting
        return super().setting(state) if self.panels() else ""

    def queries(self, state: State) -> Iterable[Query[object]]:
        """The review in other words, once the other clock is told first."""
        last = state.answers.query(ReviewQuery)
        if isinstance(last, ReviewQuery) and self.view is not None and not self.waiting:
            yield replace(last, local=say.local_first(), found=self.view.found)

    def panes_by_tab(self) -> tuple[int, ...]:
        """Numbers of the views that Tab steps through; none before a log is opened."""
        return super().panes_by_tab() if self.view is not None else ()

    def key_entries(self) -> list[tuple[str, str]]:
        """The keys to show: before a log is opened, those that open one."""
        if self.view is not None or self.waiting:
            return super().key_entries()
        return [("o", "open a log"), ("↑ ↓", "log"), ("Enter", "open it"), *super().key_entries()[-3:]]

    def lay_out(self, width: int | None = None, height: int | None = None) -> None:
        """Divide the rows: if all panes are shown, the lanes get what they need, the others the rest.

        Rows that the contacts do not need are the lanes' too.
        """
        super().lay_out(width, height)
        outing = self.query_one(OutingLanes)
        most = max(((height or self.size.height) - 3) // 2, 8)
        one = self.has_class("-one")
        spare = (height or self.size.height) - 5 - len(self.view.contacts if self.view is not None else ())
        wanted = max(min(outing.rows_wanted(), most), min(outing.rows_at_most(), spare))
        outing.styles.height = "1fr" if one else wanted
        problems = self.query_one("#problems", Notes)
        problems.styles.height = "1fr" if one else PROBLEM_ROWS
        if not one and self.view is None:
            outing.styles.height = max(outing.rows_waiting(self.main_width), 3)
        problems.display = problems.display and (one or bool(self.view and self.view.problems))
        logs = self.query_one("#logs", Cards)
        logs.display = self.view is None and not self.waiting and outing.display
        logs.styles.height = len(logs.cards) + 1
        lesson = self.query_one("#lesson", Notes)
        lesson.display = lesson.display and (one or self.view is not None)

    def action_open(self) -> None:
        """Ask for a log."""
        from tui.features.review import answer as review
        from tui.kit.overlays import Ask

        start = self.asked.path if self.asked is not None else (review.demo_log() if self._demo else "")
        start = self._own_log or start
        question = "A log (ADIF, Cabrillo) or a list of reception reports (CSV)"
        self.app.push_screen(Ask(question, start, review.check, review.suggest), self._chosen)

    def _chosen(self, text: str | None) -> None:
        if text:
            self.open_log(text)

    def action_open_listed(self) -> None:
        """Open the marked log of the list."""
        logs = self.query_one("#logs", Cards)
        if logs.display and logs.chosen is not None:
            self.open_log(logs.chosen.key)

    def _logs(self) -> list[Card]:
        """The logs to open: of the present outing, those opened before, of other outings, the demo's."""
        from tui.features.review import answer as review

        own, cards = self._own_log, [Card("", "Logs to review")]
        if own:
            try:
                made = say.counted(len(outing_log.made(self.state.hours)), "contact")
            except InputError:  # told when it is opened
                made = "cannot be read"
            cards.append(Card(own, "today's outing", made))
        for path, name, detail in review.logs_known(self.own_app.chosen.logs, MOST_LOGS, own):
            cards.append(Card(path, name, detail))
        if review.demo_log():
            told = "the demo's log, invented like its station"
            cards.append(Card(review.demo_log(), review.DEMO_LOG, told))
        return cards if len(cards) > 1 else []

    @property
    def _demo(self) -> bool:
        choice = self.state.choice
        return choice is None or not choice.station

    @property
    def _station(self) -> str:
        """Path of the station file in use; on the screens an empty path means the demo's file."""
        choice = self.state.choice
        return (choice.station if choice is not None else "") or str(paths.demo_station_file())

    @property
    def _own_log(self) -> str:
        """Path of the current outing's log, or empty if there is none."""
        hours = self.state.hours
        return hours.log if hours is not None and is_file(Path(hours.log or ".")) else ""

    def on_screen_resume(self) -> None:
        """Open the log of the current outing automatically, and again after it has grown."""
        super().on_screen_resume()
        log = self._own_log
        if log and self.state.choice is not None and not self.waiting:
            size = Path(log).stat().st_size
            if self.view is None or (
                self.asked is not None and self.asked.path == log and size != self._log_bytes
            ):
                self._log_bytes = size
                self.open_log(log)

    def open_log(self, path: str) -> None:
        """Review a log in the background; a later request replaces an earlier one."""
        self._opened += 1
        self.asked = ReviewQuery(path, self._station, self._opened, self.state.now)
        self.own_app.ask(self.asked, self._reviewed)
        self.fill(self.state)

    def _reviewed(self, view: ReviewView) -> None:
        self.row, self.learnt_words = 0, view.learnt_words
        self.own_app.say("", refresh=False)
        if self.asked is not None:
            from tui.features.review import answer as review

            self.own_app.remember(logs=review.with_log(self.own_app.chosen.logs, self.asked.path, MOST_LOGS))

    def action_row(self, by: int) -> None:
        """Choose a contact, or a log; if only sentences are shown, scroll them."""
        if self.query_one("#logs", Cards).display:
            self.query_one("#logs", Cards).move(by)
        words_alone = ("lesson", "problems")
        if self.has_class("-one") and self.panes[self.pane] in words_alone:
            self.query_one(f"#{self.panes[self.pane]}", Notes).move(by)
        elif self.view is not None and self.view.contacts:
            self.row = min(max(self.row + by, 0), len(self.view.contacts) - 1)
            self.fill(self.state)

    def on_entry_pointed(self, message: EntryPointed) -> None:
        """Choose a contact that was clicked or reached with the wheel."""
        self.action_row(message.number - self.row)

    def action_leap(self, to: int) -> None:
        """Choose the first or the last contact."""
        self.action_row(to * len(self.view.contacts) if self.view is not None else 0)

    def leaf_on(self, by: int) -> None:
        """Move by a page of contacts."""
        self.action_row(by * LEAF_ROWS)

    def action_keep(self) -> None:
        """Save what the log teaches."""
        if self.view is not None and self.view.learnt is not None:
            self._change(ChangeLesson(self._station, "keep", self.view.learnt))

    def action_use(self) -> None:
        """Switch the use of the learnt offsets on or off."""
        self._change(ChangeLesson(self._station, "use"))

    def action_forget(self) -> None:
        """Delete what was learnt."""
        self._change(ChangeLesson(self._station, "forget"))

    def _change(self, command: ChangeLesson) -> None:
        """Change the station's learnt offsets in the background; the forecasts are then computed again."""
        self.own_app.ask(command, self._changed)

    def _changed(self, lesson: Lesson) -> None:
        self.learnt_words = lesson.learnt_words
        self.own_app.lists_changed(lesson.sentence)

    # -- what is shown
    # ----------------------------------------------------------------------------------------------

    def fill(self, state: State) -> None:
        """Show the review, or the invitation."""
        waiting = (
            (self.asked.headway.words,) if self.asked is not None and self.waiting else self._invitation()
        )
        view = None if self.waiting else self.view
        if view is None:
            self.query_one("#logs", Cards).show(self._logs())
        self.query_one(OutingLanes).show(view, self.row, waiting)
        self.lay_out()
        self.query_one(ContactList).show(view, self.row)
        self.query_one("#lesson", Notes).show(
            self._lesson(view), "what the log teaches, and the day in words"
        )

        problems = view.problems if view is not None else ()
        self.query_one("#problems", Notes).show(problems or ([NO_PROBLEMS] if view is not None else []))

    def _invitation(self) -> tuple[str, ...]:
        """Sentences on the use of this screen, shown while no log is open."""
        return INVITATION

    def _lesson(self, view: ReviewView | None) -> list[str]:
        """Sentences on what the log teaches, then the others."""
        if view is None:
            return []
        rest = [line for line in view.sentences if line not in view.taught]
        return [line for line in (*view.taught, self.learnt_words, *rest) if line]

    def sentences(self, state: State) -> list[str]:
        """Return the review in sentences."""
        if self.view is None:
            return list(self._invitation())
        return [line for line in (*self.view.sentences, self.learnt_words, *self.view.problems) if line]
