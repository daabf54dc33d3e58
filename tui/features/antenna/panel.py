"""The gain of every band by take-off angle, below the antenna bench."""

from __future__ import annotations

from collections.abc import Iterable

from textual.widget import Widget

from tui.app.side_panels import SidePanel
from tui.app.state import State
from tui.features.antenna.gains import TALLEST, Gains
from tui.features.antenna.page import shown

AROUND = 2  # rows of title and angles


class GainLanes(SidePanel):
    """One lane a band; the page's own queries are all it needs."""

    of_day = False

    def compose(self) -> Iterable[Widget]:
        """The lanes."""
        yield Gains()

    def fill(self, state: State) -> None:
        """The bench."""
        self.query_one(Gains).show(shown(state), state.cursor.band if state.cursor is not None else "")

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """One row a band, up to four."""
        bench = shown(state)
        count = len(bench.bands) if bench is not None else 10
        return AROUND + count, AROUND + TALLEST * count

    def best_rows(self, state: State, width: int, room: int) -> int:
        """Lanes of equal height."""
        bench = shown(state)
        count = max(len(bench.bands), 1) if bench is not None else 10
        return AROUND + min(max((room - AROUND) // count, 1), TALLEST) * count
