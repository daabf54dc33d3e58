"""Opening screen: the answer in words, and the day of every band."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui.app.page import BAND_KEYS, CHOICE_KEYS, HOUR_KEYS, LEAP_KEYS, Page
from tui.app.queries import Query
from tui.app.side_panels import SidePanel, Spread
from tui.app.state import State
from tui.features.day.view import AnswerBoard
from tui.kit import words
from tui.kit.hop import HopPicture
from tui.kit.lanes import AXIS_ROWS, Lanes
from tui.kit.lists import Notes
from tui.kit.theme import SOFT, TEXT

if TYPE_CHECKING:
    from tui.kit.day_view import DayView


class DayPage(Page):
    """Best band now, its end, and the next band."""

    place = "day"
    about = "The answer for the time under the cursor, and the whole day on every band you can use."

    spreads = (Spread(120, 36, right=("with-why",), across=("antenna-line", "sky-line")),)

    BINDINGS: ClassVar[list[BindingType]] = [
        *HOUR_KEYS,
        *BAND_KEYS,
        *CHOICE_KEYS,
        *LEAP_KEYS,
        Binding("enter", "app.go('why')", "why", show=False, tooltip="why this band is as it is"),
    ]

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Yield the query for the path picture; the day itself is computed with every choice."""
        if state.hop_query is not None:
            yield state.hop_query

    def body(self) -> Iterable[Widget]:
        """Yield answer, lanes, antenna and sky; the hop picture if there is room."""
        yield AnswerBoard(id="answer")
        yield Lanes(id="lanes")
        yield HopPicture(id="day-hop")
        yield Notes(id="antenna-line", ink=TEXT, margin=1, single=True)
        yield Notes(id="sky-line", ink=SOFT, margin=1, single=True)

    def fill(self, state: State) -> None:
        """Show the day at the cursor."""
        day, index, band = planned(state), state.time_index, state.band_index
        self.query_one(AnswerBoard).show(day, index)
        self.query_one(Lanes).show(day, index, band, state.now)
        self.query_one(HopPicture).show(state.hop)
        if day is None:
            return
        self.query_one("#antenna-line", Notes).show([words.antenna_line(day, band)])
        self.query_one("#sky-line", Notes).show([day.sky_line], aside=words.DEMO_SHORT if day.demo else "")

    def sentences(self, state: State) -> list[str]:
        """Return the day in sentences."""
        day = planned(state)
        return words.day_sentences(day, state.time_index) if day is not None else [words.WORKING]


def planned(state: State) -> DayView | None:
    """Return the day with its dead bands, and with the steps of the plan if it is for this choice."""
    if state.day is None or state.choice is None or state.hours is None:
        return state.day
    day = replace(state.day, dead=state.hours.dead_bands)
    from tui.app.queries import PlanQuery

    plan = state.answers.get(PlanQuery)
    if plan is None or state.answers.query(PlanQuery) != PlanQuery(state.choice, state.hours):
        return day
    return replace(day, plan=plan.steps)


AROUND = AXIS_ROWS + 2  # rows of the axis, the suns, the legend and the line of left-out bands
FEWEST = 6  # bands always visible
TALLEST = 4  # rows of a lane


class DayLanes(SidePanel):
    """Lanes of all bands over the day."""

    def compose(self) -> Iterable[Widget]:
        """Yield the lanes."""
        yield Lanes()

    def fill(self, state: State) -> None:
        """Show the day at the cursor; the day of another choice only if the page marks it as stale."""
        day = planned(state)
        answered = state.forecast
        known = answered is not None and answered.choice == state.choice
        shown = day if known or self.screen.has_class("-stale") else None
        self.query_one(Lanes).show(shown, state.time_index, state.band_index, state.now)

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """Return the smallest and the largest useful number of rows. At least FEWEST bands are visible."""
        count = len(state.day.bands) if state.day is not None else 10
        return AROUND + min(count, FEWEST), AROUND + TALLEST * count + 1

    def best_rows(self, state: State, width: int, room: int) -> int:
        """Return the rows for lanes of equal height, with a blank row above the axis if there is one."""
        count = len(state.day.bands) if state.day is not None else 10
        each = min(max((room - AROUND) // count, 1), TALLEST)
        return min(AROUND + each * count + 1, room)
