"""Reach: the skip rulers of all bands, and the chart of where one band comes down."""

from __future__ import annotations

from collections.abc import Iterable

from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui import words
from tui.screens.page import BAND_KEYS, HOUR_KEYS, Page
from tui.state import Shared
from tui.widgets.rulers import Rulers
from tui.widgets.world import World


class ReachPage(Page):
    """How far every band carries at an hour."""

    place = "reach"
    panes = ("rulers", "world")
    pane_names = ("rulers", "chart")
    roomy = (100, 40)
    about = "How far each band carries at the chosen hour towards the target, and where in the world one of them comes down."

    BINDINGS: list[BindingType] = [
        *HOUR_KEYS,
        *BAND_KEYS,
        Binding("r", "app.way", "way", tooltip="the short or the long way round"),
        Binding("tab", "next_pane", "next view", priority=True),
        Binding("t", "app.target", "target"),
    ]

    def body(self) -> Iterable[Widget]:
        """Rulers over the chart."""
        yield Rulers(id="rulers")
        yield World(id="world")

    def fill(self, shared: Shared) -> None:
        """The hour at the cursor."""
        reach, cursor = shared.reach, shared.cursor
        band = cursor.band if cursor is not None else ""
        self.query_one(Rulers).show(reach.skip if reach is not None else None, band)
        self.query_one(World).show(reach.map if reach is not None else None)

    def sentences(self, shared: Shared) -> list[str]:
        """Rulers and chart in words."""
        return words.reach_sentences(shared.reach) if shared.reach is not None else [words.WORKING]
