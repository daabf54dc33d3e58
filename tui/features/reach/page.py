"""Reach: the skip rulers of all bands, and the chart of the places that one band reaches."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui.app.choice import Choice, Cursor
from tui.app.page import BAND_KEYS, CHOICE_KEYS, HOUR_KEYS, LEAP_KEYS, PAGES_STYLE, Page
from tui.app.queries import Cancelled, Day, Engine, Query
from tui.app.side_panels import SidePanel
from tui.app.state import State
from tui.features.reach.view import Rulers, reach_sentences
from tui.kit import words
from tui.kit.world import World, map_sentences, natural_rows

if TYPE_CHECKING:
    from tui.features.reach.view import ReachView
    from tui.kit.world import MapView


@dataclass(frozen=True)
class RulersQuery(Query["ReachView"]):
    """Rulers of all bands at an hour, and the chart without its footprint; fast."""

    choice: Choice
    time: np.datetime64
    long: bool
    day: Day = field(compare=False, repr=False)
    cursor: Cursor = field(compare=False)

    group = "rulers"
    says = "skip rulers"

    def answer(self, engine: Engine, cancelled: Cancelled) -> ReachView:
        """Compute a row of places along the bearing."""
        from tui.features.reach import answer as reach

        return reach.rulers(self.day.forecast, self.cursor)


@dataclass(frozen=True)
class FootprintQuery(Query["MapView"]):
    """Chart with the footprint of one band."""

    rulers: RulersQuery
    band: str
    chart: MapView = field(compare=False, repr=False)

    group = "footprint"
    says = "chart"

    @property
    def basis(self) -> object:
        """Query for the rulers: an older footprint stays for another band, but not for another hour."""
        return self.rulers

    def answer(self, engine: Engine, cancelled: Cancelled) -> MapView:
        """Compute a grid of places."""
        from tui.features.reach import answer as reach

        cursor = replace(self.rulers.cursor, band=self.band)
        return reach.footprint(self.rulers.day.forecast, self.chart, cursor, cancelled)


def shown(state: State) -> ReachView | None:
    """Return the rulers and the chart computed so far."""
    reach, chart = state.answers.get(RulersQuery), state.answers.get(FootprintQuery)
    filled = state.answers.query(FootprintQuery)
    if reach is None or chart is None or filled is None:
        return reach
    return replace(reach, map=chart) if filled.basis == state.answers.query(RulersQuery) else reach


def reach_queries(state: State) -> Iterable[Query[object]]:
    """Yield the query for the rulers of the hour, then for the footprint of the band."""
    day, cursor = state.forecast, state.cursor
    if day is None or cursor is None:
        return
    rulers = RulersQuery(day.choice, cursor.time, cursor.long, day, cursor)
    yield rulers
    reach = state.answers.get(RulersQuery)
    if reach is not None and state.answers.query(RulersQuery) == rulers:
        yield FootprintQuery(rulers, cursor.band, reach.map)


class ReachPage(Page):
    """Reach of every band at an hour."""

    place = "reach"
    CSS_PATH = PAGES_STYLE
    panes = ("rulers", "world")
    pane_names = ("rulers", "chart")
    roomy = (100, 40)
    about = (
        "How far each band carries at the chosen hour towards the target, and where in the world one of "
        "them comes down."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        *HOUR_KEYS,
        *BAND_KEYS,
        Binding("r", "app.route", "way", tooltip="the short or the long way round"),
        Binding("tab", "next_pane", "next view", priority=True),
        *CHOICE_KEYS,
        *LEAP_KEYS,
    ]

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Return the queries for the rulers of the hour and the footprint of the band."""
        return reach_queries(state)

    def body(self) -> Iterable[Widget]:
        """Yield the rulers above the chart."""
        yield Rulers(id="rulers")
        yield World(id="world")

    def lay_out(self, width: int | None = None, height: int | None = None) -> None:
        """Divide the rows: if both are shown, the chart gets its natural height and the rulers the rest."""
        super().lay_out(width, height)
        rulers = self.query_one("#rulers")
        if self.has_class("-one"):
            rulers.styles.height = "1fr"
            return
        width, height = width or self.size.width, height or self.size.height
        reach = self.state.answers.get(RulersQuery)
        bands = max(len(reach.skip.bands) if reach is not None else 10, 1)
        natural = natural_rows(width) - 1
        each = min(max((height - 5 - natural) // bands, 1), 4)
        rulers.styles.height = min(1 + each * bands, max((height - 4) // 2, 2))

    def fill(self, state: State) -> None:
        """Show the hour at the cursor."""
        reach, cursor = shown(state), state.cursor
        self.lay_out()
        band = cursor.band if cursor is not None else ""
        self.query_one(Rulers).show(reach.skip if reach is not None else None, band)
        self.query_one(World).show(reach.map if reach is not None else None)

    def sentences(self, state: State) -> list[str]:
        """Return the rulers and the chart in sentences."""
        reach = shown(state)
        return reach_sentences(reach) if reach is not None else [words.WORKING]


class Chart(SidePanel):
    """Chart of the places that the band at the cursor reaches."""

    def compose(self) -> Iterable[Widget]:
        """Yield the chart."""
        yield World()

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Return the queries for the hour and the footprint of the band."""
        return reach_queries(state)

    def fill(self, state: State) -> None:
        """Show the hour at the cursor."""
        reach = shown(state)
        self.query_one(World).show(reach.map if reach is not None else None)

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """Return the rows that keep the world in proportion."""
        return 8, natural_rows(width)

    def sentences(self, state: State) -> list[str]:
        """Return the chart in sentences."""
        reach = shown(state)
        return map_sentences(reach.map) if reach is not None else []
