"""The chart of the world at the hour of the cursor, beside a page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from textual.widget import Widget

from tui.app.queries import Query
from tui.app.side_panels import SidePanel
from tui.app.state import State
from tui.features.reach.page import reach_queries, shown
from tui.kit.world import World, natural_rows
from tui.kit.world_map import map_sentences


class Chart(SidePanel):
    """Where the band at the cursor comes down."""

    def compose(self) -> Iterable[Widget]:
        """The chart."""
        yield World()

    def queries(self, state: State) -> Iterable[Query[Any]]:
        """The hour, then the footprint of the band."""
        return reach_queries(state)

    def fill(self, state: State) -> None:
        """The hour at the cursor."""
        reach = shown(state)
        self.query_one(World).show(reach.map if reach is not None else None)

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """As many as keep the world in proportion."""
        return 8, natural_rows(width)

    def sentences(self, state: State) -> list[str]:
        """The chart in words."""
        reach = shown(state)
        return map_sentences(reach.map) if reach is not None else []
