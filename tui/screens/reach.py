"""Reach: the skip rulers of all bands, and the chart of where one band comes down."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui import telling, words
from tui.screens.page import BAND_KEYS, HOUR_KEYS, Page
from tui.state import Shared
from tui.widgets.rulers import Rulers
from tui.widgets.world import World

CHART_COLUMNS_PER_ROW = 5.0  # at which the chart's degrees are as wide as high


class ReachPage(Page):
    """How far every band carries at an hour."""

    place = "reach"
    CSS_PATH = "pages.tcss"
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
        Binding("r", "app.way", "way", tooltip="the short or the long way round"),
        Binding("tab", "next_pane", "next view", priority=True),
        Binding("t", "app.target", "target"),
    ]

    def body(self) -> Iterable[Widget]:
        """Rulers over the chart."""
        yield Rulers(id="rulers")
        yield World(id="world")

    def lay_out(self, width: int | None = None, height: int | None = None) -> None:
        """Where both are shown the chart gets its natural height, the rulers what is left."""
        super().lay_out(width, height)
        rulers = self.query_one("#rulers")
        if self.has_class("-one"):
            rulers.styles.height = "1fr"
            return
        width, height = width or self.size.width, height or self.size.height
        reach = self.desk_app.shared.reach
        bands = max(len(reach.skip.bands) if reach is not None else 10, 1)
        natural = round(width / CHART_COLUMNS_PER_ROW)
        each = min(max((height - 5 - natural) // bands, 1), 4)
        rulers.styles.height = min(1 + each * bands, max((height - 4) // 2, 2))

    def fill(self, shared: Shared) -> None:
        """The hour at the cursor."""
        reach, cursor = shared.reach, shared.cursor
        self.lay_out()
        band = cursor.band if cursor is not None else ""
        self.query_one(Rulers).show(reach.skip if reach is not None else None, band)
        self.query_one(World).show(reach.map if reach is not None else None)

    def sentences(self, shared: Shared) -> list[str]:
        """Rulers and chart in words."""
        return telling.reach_sentences(shared.reach) if shared.reach is not None else [words.WORKING]
