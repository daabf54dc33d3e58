"""The review: a log of the outing held against the forecast of its day, and what it teaches about the
station.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from typing import Any, ClassVar

import numpy as np
from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui import paths
from tui.jobs import Abandoned, Cancelled, failure_of, in_thread
from tui.review_view import ReviewView
from tui.screens.page import Page
from tui.state import Shared
from tui.theme import SOFT
from tui.widgets.notes import Notes
from tui.widgets.outing import ContactList, OutingLanes

Reviewer = Callable[[str, str, np.datetime64, Cancelled], ReviewView]
INVITATION = (
    "After the outing: press o and open its log (ADIF), or a list of reception reports (CSV). Nothing in the "
    "file is changed.",
    "Each band's day is then drawn as the forecast has it, with your own track beneath: a disc for a contact "
    "that was to be expected, a ring for fair luck, a star for one against the odds, dots for calls in vain.",
    "Below it stand the best plan as one knows it afterwards, every surprise and silence with its reason, "
    "and what the log teaches about the station; l lets every later forecast use that.",
)
OF_THE_DEMO = "The demo has a log of its own, as invented as the station: o, then Enter."


def _from_engine(path: str, station: str, now: np.datetime64, cancelled: Cancelled) -> ReviewView:
    """The engine's review; imported in the background."""
    from tui.presenting import review

    return review.work_out(path, station, now, cancelled)


class ReviewPage(Page):
    """The log against the forecast."""

    place = "review"
    panes = ("outing", "contacts", "lesson")
    pane_names = ("outing", "contacts", "what it teaches")
    roomy = (100, 40)
    about = (
        "The log of an outing against the forecast of its day: each band as it was in reach, the bands as "
        "they were used, every contact with what the forecast gave it, the best plan as one knows it "
        "afterwards, and what the log teaches about the station."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("o", "open", "open a log", tooltip="a log (ADIF) or reception reports (CSV)"),
        Binding("up", "row(-1)", "contact", tooltip="the contact before"),
        Binding("down", "row(1)", "contact", tooltip="the contact after"),
        Binding("tab", "next_pane", "next view", priority=True),
        Binding("l", "keep", "keep lesson", tooltip="let every forecast use what the log teaches"),
        Binding("u", "use", "use it or not", tooltip="put what was learnt into use, or out of it"),
        Binding("f", "forget", "forget", tooltip="forget what was learnt about the station"),
    ]

    def __init__(self, reviewer: Reviewer = _from_engine) -> None:
        super().__init__()
        self.reviewer = reviewer
        self.view: ReviewView | None = None
        self.row = 0
        self.path = ""
        self.kept = ""  # what is kept about the station, in words
        self._number = 0
        self._waiting = False

    def body(self) -> Iterable[Widget]:
        """Lanes, contacts, lesson."""
        yield OutingLanes(id="outing")
        yield ContactList(id="contacts")
        yield Notes(id="lesson", ink=SOFT)

    def lay_out(self, width: int | None = None, height: int | None = None) -> None:
        """Where all is shown, the lanes get the rows they need, the rest is shared."""
        super().lay_out(width, height)
        outing = self.query_one(OutingLanes)
        most = max(((height or self.size.height) - 3) // 2, 8)
        outing.styles.height = "1fr" if self.has_class("-one") else min(outing.rows_wanted(), most)

    # -- keys
    # ---------------------------------------------------------------------------------------------------

    def action_open(self) -> None:
        """Ask for a log."""
        from tui.presenting import review
        from tui.screens.overlays import Ask

        start = self.path or (review.demo_log() if self._demo else "")
        question = "A log (ADIF) or a list of reception reports (CSV)"
        self.app.push_screen(Ask(question, start, review.check, review.suggest), self._chosen)

    def _chosen(self, text: str | None) -> None:
        if text:
            self.open_log(text)

    @property
    def _demo(self) -> bool:
        choice = self.desk_app.shared.choice
        return choice is None or not choice.station

    @property
    def _station(self) -> str:
        """The station file in use: on the screens an empty path is the demo's."""
        choice = self.desk_app.shared.choice
        return (choice.station if choice is not None else "") or str(paths.demo_station_file())

    def open_log(self, path: str) -> None:
        """Have a log reviewed in the background; a later wish overtakes an earlier one."""
        self.path, self._waiting = path, True
        self._number += 1
        number, station, now = self._number, self._station, self.desk_app.shared.now

        async def carry_out() -> None:
            try:
                view = await in_thread(
                    lambda: self.reviewer(path, station, now, lambda: self._number != number)
                )
            except Abandoned:
                return
            except asyncio.CancelledError:
                raise
            except BaseException as error:
                if self._number == number:
                    self._waiting = False
                    self.desk_app.say(failure_of(error, "review").sentence, fault="review")
                return
            if self._number == number:
                self.view, self.row, self.kept, self._waiting = view, 0, view.kept, False
                self.desk_app.say("")

        self.run_worker(carry_out(), group="review", exclusive=True, exit_on_error=False)
        self.fill(self.desk_app.shared)

    def action_row(self, by: int) -> None:
        """Choose a contact."""
        if self.view is not None and self.view.contacts:
            self.row = min(max(self.row + by, 0), len(self.view.contacts) - 1)
            self.fill(self.desk_app.shared)

    def action_keep(self) -> None:
        """Keep what the log teaches."""
        view, station = self.view, self._station
        if view is not None and view.learnt is not None:
            self._change(lambda review: str(review.keep(view.learnt, station)))

    def action_use(self) -> None:
        """Use what was learnt, or leave it out."""
        station = self._station
        self._change(lambda review: str(review.switch(station)))

    def action_forget(self) -> None:
        """Forget what was learnt."""
        station = self._station
        self._change(lambda review: str(review.forget(station)))

    def _change(self, work: Callable[[Any], str]) -> None:
        """Change what is kept about the station in the background; the forecasts are worked out anew."""
        station = self._station

        def carry_out(cancelled: Cancelled) -> tuple[str, None]:
            from tui.presenting import review

            sentence = work(review)
            self.kept = review.kept_words(station)
            return sentence, None

        self.desk_app.ask("stations", carry_out, object())

    # -- what is shown
    # ----------------------------------------------------------------------------------------------

    def fill(self, shared: Shared) -> None:
        """The review, or the invitation."""
        waiting = (
            ("Reading the log, and working out the forecast of its days ...",)
            if self._waiting
            else self._invitation()
        )
        view = None if self._waiting else self.view
        self.query_one(OutingLanes).show(view, self.row, waiting)
        self.lay_out()
        self.query_one(ContactList).show(view, self.row)
        self.query_one("#lesson", Notes).show(
            self._lesson(view), "what the log teaches, and the day in words"
        )

    def _invitation(self) -> tuple[str, ...]:
        """What this screen is for, while no log is open."""
        return (*INVITATION, OF_THE_DEMO) if self._demo else INVITATION

    def _lesson(self, view: ReviewView | None) -> list[str]:
        """What it teaches first, then the rest of the words."""
        if view is None:
            return []
        rest = [line for line in view.sentences if line not in view.taught]
        return [line for line in (*view.taught, self.kept, *rest) if line]

    def sentences(self, shared: Shared) -> list[str]:
        """The review in words."""
        if self.view is None:
            return list(self._invitation())
        return [line for line in (*self.view.sentences, self.kept) if line]
