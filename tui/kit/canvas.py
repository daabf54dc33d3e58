"""A grid of characters, inks and grounds, and the strips made from it; all widgets draw through it.

An ink is the role of a character, a ground that of a background. A widget paints a canvas when its data, size
or theme change; `render_line` then only returns the finished strips.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from rich.segment import Segment
from textual import events
from textual.geometry import Region, Size
from textual.message import Message
from textual.screen import Screen
from textual.strip import Strip
from textual.widget import Widget

from tui.kit.glyphs import CHOSEN, GlyphArray, one_cell, to_ascii
from tui.kit.theme import BASE, KEY, QUIET, TEXT, Palette, palette_for

CodeArray = npt.NDArray[np.uint8]


class Canvas:
    """Characters (height, width), with an ink and a ground code for every cell."""

    __slots__ = ("grounds", "height", "inks", "signs", "width")

    def __init__(self, width: int, height: int, ground: int = BASE) -> None:
        self.width = max(width, 0)
        self.height = max(height, 0)
        self.signs: GlyphArray = np.full((self.height, self.width), " ", dtype="<U1")
        self.inks: CodeArray = np.full((self.height, self.width), TEXT, dtype=np.uint8)
        self.grounds: CodeArray = np.full((self.height, self.width), ground, dtype=np.uint8)

    def put(
        self, x: int, y: int, text: str, ink: int = TEXT, ground: int | None = None, room: int | None = None
    ) -> int:
        """Write text at a cell, clipped to the canvas and to `room` cells; returns the column after it.

        Text that does not fit ends in an ellipsis.
        """
        text = one_cell(text)
        limit = self.width - x if room is None else min(room, self.width - x)
        if len(text) > limit:
            text = text[: max(limit - 1, 0)].rstrip() + "…" if limit > 0 else ""
        if x < 0:
            text, x = text[-x:], 0
        if not text or not 0 <= y < self.height:
            return x + len(text)
        end = x + len(text)
        self.signs[y, x:end] = list(text)
        self.inks[y, x:end] = ink
        if ground is not None:
            self.grounds[y, x:end] = ground
        return end

    def put_right(self, right: int, y: int, text: str, ink: int = TEXT, ground: int | None = None) -> int:
        """Write text that ends just before column `right`; returns the column of its beginning."""
        text = one_cell(text)
        x = max(right - len(text), 0)
        self.put(x, y, text, ink, ground, room=right - x)
        return x

    def put_centred(
        self, centre: int, y: int, text: str, ink: int = TEXT, left: int = 0, right: int | None = None
    ) -> None:
        """Write text centred on a column, shifted to stay inside [left, right)."""
        text = one_cell(text)
        limit = self.width if right is None else min(right, self.width)
        x = min(max(centre - len(text) // 2, left), limit - len(text))
        if x >= left:
            self.put(x, y, text, ink)

    def mark(self, x: int, y: int, sign: str, ink: int = TEXT, ground: int | None = None) -> None:
        """Write one character in one cell, if the cell exists."""
        if 0 <= x < self.width and 0 <= y < self.height:
            self.signs[y, x] = sign
            self.inks[y, x] = ink
            if ground is not None:
                self.grounds[y, x] = ground

    def point_at(self, y: int) -> None:
        """Mark the row under the cursor, at its left."""
        self.put(0, y, CHOSEN, KEY)

    def paint_ground(self, x0: int, y0: int, x1: int, y1: int, ground: int) -> None:
        """Set the ground of the cells in columns x0..x1-1 and rows y0..y1-1."""
        self.grounds[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)] = ground

    def blit(self, other: Canvas, x: int, y: int) -> None:
        """Copy another canvas onto this one at a cell; what is outside is dropped."""
        height, width = min(other.height, self.height - y), min(other.width, self.width - x)
        if height <= 0 or width <= 0:
            return
        for name in ("signs", "inks", "grounds"):
            getattr(self, name)[y : y + height, x : x + width] = getattr(other, name)[:height, :width]

    def texts(self, plain: bool = False) -> list[str]:
        """The rows as text, trailing blanks kept."""
        lines = [self._row_text(y) for y in range(self.height)]
        return [to_ascii(line) for line in lines] if plain else lines

    def _row_text(self, y: int) -> str:
        return str(np.ascontiguousarray(self.signs[y]).tobytes().decode("utf-32-le"))

    def strip(self, y: int, palette: Palette, plain: bool = False) -> Strip:
        """Row y as a strip: one styled segment for each run of equal ink and ground."""
        text = self._row_text(y)
        if plain:
            text = to_ascii(text)
        keys = self.inks[y].astype(np.int64) * 256 + self.grounds[y]
        edges = [0, *(np.flatnonzero(np.diff(keys)) + 1).tolist(), self.width]
        style_of = palette.style
        segments = [
            Segment(text[start:end], style_of(int(keys[start])))
            for start, end in pairwise(edges)
            if end > start
        ]
        return Strip(segments, self.width)

    def changed_rows(self, other: Canvas | None) -> list[int]:
        """Rows that differ from another canvas; all rows if the sizes differ."""
        if other is None or other.signs.shape != self.signs.shape:
            return list(range(self.height))
        same = (
            (self.signs == other.signs).all(axis=1)
            & (self.inks == other.inks).all(axis=1)
            & (self.grounds == other.grounds).all(axis=1)
        )
        return [int(y) for y in np.flatnonzero(~same)]


class Drawn(Widget):
    """A widget that paints itself on a `Canvas`; only rows that changed are sent to the terminal."""

    DEFAULT_CSS = """
    Drawn { width: 1fr; height: 1fr; }
    """

    ground = BASE
    fades = True  # is dimmed while it shows the answer to an earlier choice
    about = ""  # the content and how to read it; the help screen quotes this

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002 - Textual's word
        super().__init__(id=id, classes=classes)
        self._canvas: Canvas | None = None
        self._strips: list[Strip] = []
        self._look = ("", False)

    @property
    def palette(self) -> Palette:
        """The palette of the current theme."""
        return palette_for(self.app.theme)

    @property
    def plain(self) -> bool:
        """Return whether plain ASCII characters are selected."""
        return bool(getattr(self.app, "plain_glyphs", False))

    def paint(self, canvas: Canvas) -> None:
        """Draw the present state; the canvas has the size of the widget."""
        raise NotImplementedError

    def redraw(self) -> None:
        """Paint again and send the rows that changed."""
        if not self.is_attached:
            return
        width, height = self.content_size
        if width <= 0 or height <= 0:
            self._canvas, self._strips = None, []
            return
        canvas = Canvas(width, height, self.ground)
        self.paint(canvas)
        if self.screen.has_class("-stale") and self.fades:
            canvas.inks[:] = QUIET
        palette, plain = self.palette, self.plain
        look = (palette.name, plain)
        before = self._canvas if look == self._look else None
        rows = canvas.changed_rows(before)
        if len(rows) == height:
            self._strips = [canvas.strip(y, palette, plain) for y in range(height)]
            self.refresh()
        else:
            for y in rows:
                self._strips[y] = canvas.strip(y, palette, plain)
            if rows:
                self.refresh(*(Region(0, y, width, 1) for y in rows))
        self._canvas, self._look = canvas, look

    def texts(self) -> list[str]:
        """The rows as drawn, as text; empty before the first paint."""
        return self._canvas.texts() if self._canvas is not None else []

    @property
    def content_size(self) -> Size:
        """The size of the drawing area in cells."""
        return self.scrollable_content_region.size if self.is_scrollable else self.size

    def on_mount(self) -> None:
        """Repaint when the theme changes."""
        self.app.theme_changed_signal.subscribe(self, lambda _theme: self.redraw())

    def on_resize(self, event: events.Resize) -> None:
        """Repaint in the new size."""
        self.redraw()

    def render_line(self, y: int) -> Strip:
        """The finished strip of a row."""
        if y < len(self._strips):
            return self._strips[y]
        return Strip.blank(self.size.width, self.palette.style(TEXT * 256 + self.ground))


def picture_of(screen: Screen[None]) -> Canvas:
    """Everything that is drawn on a screen, on one canvas of its size."""
    picture = Canvas(screen.size.width, screen.size.height)
    for widget in screen.query(Drawn):
        if widget._canvas is not None and widget.region:
            picture.blit(widget._canvas, widget.region.x, widget.region.y)
    return picture


class BandPointed(Message):
    """Message: a band was clicked."""

    def __init__(self, band: str) -> None:
        super().__init__()
        self.band = band


class BandRows(Drawn):
    """Rows that each belong to a band; `paint` notes their positions."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.band = ""
        self._bands: tuple[str, ...] = ()
        self._rows = (0, 1, 0, 0)  # top, rows per band, the first visible band, number of visible bands

    def stand(self, bands: Sequence[str], top: int, each: int, first: int, shown: int) -> None:
        """Note the positions of the bands."""
        self._bands = tuple(bands)
        self._rows = (top, each, first, min(shown, len(self._bands) - first))

    def on_click(self, event: events.Click) -> None:
        """Select the band under the pointer."""
        top, each, first, shown = self._rows
        row = (event.y - top) // each
        if 0 <= row < shown:
            self.post_message(BandPointed(self._bands[first + row]))

    def _turn(self, by: int) -> None:
        if self.band in self._bands:
            at = min(max(self._bands.index(self.band) + by, 0), len(self._bands) - 1)
            self.post_message(BandPointed(self._bands[at]))

    def on_mouse_scroll_down(self) -> None:
        """Select the next band."""
        self._turn(1)

    def on_mouse_scroll_up(self) -> None:
        """Select the band before."""
        self._turn(-1)


class EntryPointed(Message):
    """Message: an entry was clicked."""

    def __init__(self, number: int) -> None:
        super().__init__()
        self.number = number


class EntryRows(Drawn):
    """Entries with one selected; `paint` notes the position of each."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self._spots: list[tuple[range, range, int]] = []  # columns, rows, number of the entry
        self._chosen = self._count = 0

    def begin_spots(self, chosen: int, count: int) -> None:
        """Clear the noted positions; set the selected entry and the number of entries."""
        self._spots, self._chosen, self._count = [], chosen, count

    def stands(self, columns: range, rows: range, number: int) -> None:
        """Note the position of an entry; of two that overlap, the one noted later is on top."""
        self._spots.append((columns, rows, number))

    def on_click(self, event: events.Click) -> None:
        """Select the entry under the pointer."""
        for columns, rows, number in reversed(self._spots):
            if event.x in columns and event.y in rows:
                self.post_message(EntryPointed(number))
                return

    def _turn(self, by: int) -> None:
        if self._count:
            self.post_message(EntryPointed(min(max(self._chosen + by, 0), self._count - 1)))

    def on_mouse_scroll_down(self) -> None:
        """Select the next entry."""
        self._turn(1)

    def on_mouse_scroll_up(self) -> None:
        """Select the entry before."""
        self._turn(-1)
