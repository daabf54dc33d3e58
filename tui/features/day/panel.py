"""The day on every band, under a page that speaks of one hour, of the hours on air, or of an appointment."""

from __future__ import annotations

from collections.abc import Iterable

from textual.widget import Widget

from tui.app.side_panels import SidePanel
from tui.app.state import State
from tui.features.day.page import planned
from tui.kit.lanes import AXIS_ROWS, Lanes

AROUND = AXIS_ROWS + 2  # rows of axis, suns, legend, and the line of bands left out
FEWEST = 6  # bands in sight
TALLEST = 4  # rows of a lane


class DayLanes(SidePanel):
    """All lanes of the day."""

    def compose(self) -> Iterable[Widget]:
        """The lanes."""
        yield Lanes()

    def fill(self, state: State) -> None:
        """The day at the cursor; of another choice only where the page says that it is."""
        day = planned(state)
        answered = state.forecast
        known = answered is not None and answered.choice == state.choice
        shown = day if known or self.screen.has_class("-stale") else None
        self.query_one(Lanes).show(shown, state.time_index, state.band_index, state.now)

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """One row a band, up to four; of many bands some may be out of sight."""
        count = len(state.day.bands) if state.day is not None else 10
        return AROUND + min(count, FEWEST), AROUND + TALLEST * count + 1

    def best_rows(self, state: State, width: int, room: int) -> int:
        """Lanes of equal height, with a blank row above the axis where there is one."""
        count = len(state.day.bands) if state.day is not None else 10
        each = min(max((room - AROUND) // count, 1), TALLEST)
        return min(AROUND + each * count + 1, room)
