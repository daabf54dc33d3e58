"""A grid of signs, inks and grounds, and the strips made from it: the one way widgets put anything on the
screen.

A widget paints a canvas when its data, size or theme change; `render_line` then only hands out the finished
strips.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt
from rich.segment import Segment
from textual.strip import Strip

from tui.kit.glyphs import GlyphArray, one_cell, to_ascii
from tui.kit.theme import BASE, TEXT, Palette

CodeArray = npt.NDArray[np.uint8]


class Canvas:
    """Signs (height, width), with an ink and a ground code for every cell."""

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

        Text too long for its room ends in an ellipsis.
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
        """Write text that ends just before column `right`; returns the column where it begins."""
        text = one_cell(text)
        x = max(right - len(text), 0)
        self.put(x, y, text, ink, ground, room=right - x)
        return x

    def put_centred(
        self, centre: int, y: int, text: str, ink: int = TEXT, left: int = 0, right: int | None = None
    ) -> None:
        """Write text centred on a column, pushed back inside [left, right) where it would stick out."""
        text = one_cell(text)
        limit = self.width if right is None else min(right, self.width)
        x = min(max(centre - len(text) // 2, left), limit - len(text))
        if x >= left:
            self.put(x, y, text, ink)

    def mark(self, x: int, y: int, sign: str, ink: int = TEXT, ground: int | None = None) -> None:
        """One sign in one cell, if the cell exists."""
        if 0 <= x < self.width and 0 <= y < self.height:
            self.signs[y, x] = sign
            self.inks[y, x] = ink
            if ground is not None:
                self.grounds[y, x] = ground

    def paint_ground(self, x0: int, y0: int, x1: int, y1: int, ground: int) -> None:
        """Lay a ground under the cells of columns x0..x1-1 and rows y0..y1-1."""
        self.grounds[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)] = ground

    def blit(self, other: Canvas, x: int, y: int) -> None:
        """Lay another canvas over this one at a cell; what sticks out is dropped."""
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
        """Row y as a strip: one segment, with a style, for each run of equal ink and ground."""
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
        """Rows that differ from another canvas; all of them when the sizes differ."""
        if other is None or other.signs.shape != self.signs.shape:
            return list(range(self.height))
        same = (
            (self.signs == other.signs).all(axis=1)
            & (self.inks == other.inks).all(axis=1)
            & (self.grounds == other.grounds).all(axis=1)
        )
        return [int(y) for y in np.flatnonzero(~same)]
