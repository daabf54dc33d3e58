"""The program's state as pages see it: the choice, the cursor, the clock, the latest answers, the notice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from tui.app.choice import Choice, Cursor, HoursOnAir, Opening
from tui.app.jobs import Answers
from tui.app.queries import Day, DayQuery, HopQuery, OpeningQuery

if TYPE_CHECKING:
    from tui.app.undo import Done
    from tui.kit.day_view import DayView
    from tui.kit.hop import HopView


@dataclass(slots=True)
class State:
    """The latest state; only the app writes here."""

    now: np.datetime64  # [s]
    answers: Answers
    choice: Choice | None = None
    cursor: Cursor | None = None
    hours: HoursOnAir | None = None  # set after the first query of a plan
    notice: str = ""  # the latest sentence for the operator: a note, or a fault
    fault: str = ""  # the group of the failed work, while the notice reports it
    earlier: tuple[tuple[str, str], ...] = ()  # (notice, fault) said before it and still shown, newest first
    said: tuple[tuple[np.datetime64, str], ...] = ()  # (time, sentence) of the latest notes, newest first
    done: list[Done] = field(default_factory=list)  # what can be taken back, the latest last
    working: str = field(default="")  # the running queries, in words

    @property
    def notices(self) -> tuple[tuple[str, str], ...]:
        """All (notice, fault) shown, newest first."""
        return ((self.notice, self.fault), *self.earlier) if self.notice else ()

    @notices.setter
    def notices(self, shown: Sequence[tuple[str, str]]) -> None:
        (self.notice, self.fault), self.earlier = shown[0] if shown else ("", ""), tuple(shown[1:])

    @property
    def opening(self) -> Opening | None:
        """Station, site, and the lists to choose from."""
        return self.answers.get(OpeningQuery)

    @property
    def forecast(self) -> Day | None:
        """The latest computed day; that of an earlier choice while the present one is being computed."""
        return self.answers.get(DayQuery)

    @property
    def day(self) -> DayView | None:
        """The view of the day."""
        found = self.forecast
        return found.view if found is not None else None

    @property
    def hop(self) -> HopView | None:
        """The cross-section at the cursor."""
        return self.answers.get(HopQuery)

    @property
    def hop_query(self) -> HopQuery | None:
        """The query of the cross-section, as pages put it."""
        day, cursor = self.forecast, self.cursor
        return HopQuery(day.choice, cursor, day) if day is not None and cursor is not None else None

    @property
    def time_index(self) -> int:
        """The cursor's column in the day."""
        day = self.day
        return day.index_of(self.cursor.time) if day is not None and self.cursor is not None else 0

    @property
    def band_index(self) -> int:
        """The cursor's band in the day."""
        day = self.day
        if day is None or self.cursor is None or self.cursor.band not in day.bands:
            return 0
        return day.bands.index(self.cursor.band)
