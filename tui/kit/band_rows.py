"""What pictures with a row a band have in common: a click takes the band, the wheel the next one."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.message import Message

from tui.kit.drawn import Drawn


class BandPointed(Message):
    """A band was pointed at."""

    def __init__(self, band: str) -> None:
        super().__init__()
        self.band = band


class BandRows(Drawn):
    """Rows that each belong to a band; `paint` notes where they stand."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.band = ""
        self._bands: tuple[str, ...] = ()
        self._rows = (0, 1, 0, 0)  # top, rows each, the first band in sight, how many are

    def stand(self, bands: Sequence[str], top: int, each: int, first: int, shown: int) -> None:
        """Note where the bands stand."""
        self._bands = tuple(bands)
        self._rows = (top, each, first, min(shown, len(self._bands) - first))

    def on_click(self, event: events.Click) -> None:
        """The band under the pointer."""
        top, each, first, shown = self._rows
        row = (event.y - top) // each
        if 0 <= row < shown:
            self.post_message(BandPointed(self._bands[first + row]))

    def _turn(self, by: int) -> None:
        if self.band in self._bands:
            at = min(max(self._bands.index(self.band) + by, 0), len(self._bands) - 1)
            self.post_message(BandPointed(self._bands[at]))

    def on_mouse_scroll_down(self) -> None:
        """The wheel takes the next band."""
        self._turn(1)

    def on_mouse_scroll_up(self) -> None:
        """The wheel takes the band before."""
        self._turn(-1)
