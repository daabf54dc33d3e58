"""Small drawings shared by several pictures: large letters, time axes, braille curves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, TimeArray
from propagation.wording.quantities import local_first, wall_time
from tui.kit.canvas import Canvas
from tui.kit.glyphs import BRAILLE_BASE, EIGHTHS_ACROSS, FAINTEST, FILLS, GlyphArray
from tui.kit.theme import QUIET, RAMP, RAMP_STEPS, RULE, SOFT, TEXT

# Letters three cells wide and six half-cells high, for the one word that must be readable at arm's length.
_BIG: Final[dict[str, tuple[str, ...]]] = {
    "0": ("####", "#  #", "#  #", "#  #", "#  #", "####"),
    "1": (" ## ", "### ", " ## ", " ## ", " ## ", "####"),
    "2": ("####", "   #", "####", "#   ", "#   ", "####"),
    "3": ("####", "   #", " ###", "   #", "   #", "####"),
    "4": ("#  #", "#  #", "####", "   #", "   #", "   #"),
    "5": ("####", "#   ", "####", "   #", "   #", "####"),
    "6": ("####", "#   ", "####", "#  #", "#  #", "####"),
    "7": ("####", "   #", "  ##", "  # ", "  # ", "  # "),
    "8": ("####", "#  #", "####", "#  #", "#  #", "####"),
    "9": ("####", "#  #", "####", "   #", "   #", "####"),
    "m": ("     ", "     ", "#####", "# # #", "# # #", "# # #"),
    "-": ("    ", "    ", "    ", "####", "    ", "    "),
    " ": ("  ", "  ", "  ", "  ", "  ", "  "),
}
BIG_ROWS: Final = 3
_HALVES: Final = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def big_width(text: str) -> int:
    """Columns that `put_big` takes for a text."""
    return sum(len(_BIG[letter][0]) + 1 for letter in text) - 1


def put_big(canvas: Canvas, x: int, y: int, text: str, ink: int) -> int:
    """Write a band's name three rows high; returns the column after it."""
    for letter in text:
        rows = _BIG[letter]
        for column in range(len(rows[0])):
            for row in range(BIG_ROWS):
                sign = _HALVES[rows[2 * row][column] == "#", rows[2 * row + 1][column] == "#"]
                if sign != " ":
                    canvas.mark(x + column, y + row, sign, ink)
        x += len(rows[0]) + 1
    return x - 1


def columns_of(times: TimeArray, width: int) -> FloatArray:
    """The fractional index into `times` at the middle of each of `width` columns."""
    count = times.shape[0]
    index: FloatArray = np.clip((np.arange(width) + 0.5) * count / width - 0.5, 0.0, max(count - 1.0, 0.0))
    return index


def column_at(times: TimeArray, when: np.datetime64, width: int) -> int | None:
    """The column that contains a time, or None outside the day."""
    if times.shape[0] < 2:
        return None
    step = (times[1] - times[0]).astype("timedelta64[s]").astype(np.int64)
    offset = (when - times[0]).astype("timedelta64[s]").astype(np.int64)
    column = int((offset / step + 0.5) * width // times.shape[0])
    return column if 0 <= column < width else None


def column_within(times: TimeArray, when: np.datetime64, width: int) -> int:
    """The column that contains a time, the first or the last one where it is outside the axis."""
    found = column_at(times, when, width)
    return found if found is not None else 0 if when < times[0] else width - 1


def put_hours(  # noqa: PLR0913 - the axis of every picture
    canvas: Canvas,
    x: int,
    y: int,
    width: int,
    times: TimeArray,
    ink: int = SOFT,
    clear: Sequence[tuple[int, int]] = (),
    *,
    other: bool = False,
    least: float = 4.0,
) -> None:
    """Write full hours over an axis of `width` columns, as many as fit; the spans in `clear` are left free.

    They are of the clock told first, UTC or local; other: of the one not told first. `times` are the middles
    of equal stretches of the axis. least: columns from one hour to the next.
    """
    if times.shape[0] < 2 or width < 4:
        return
    span_h = (
        float((times[-1] - times[0] + (times[1] - times[0])).astype("timedelta64[s]").astype(np.int64))
        / 3600.0
    )
    step = next((h for h in (1, 2, 3, 4, 6, 12) if h * width / span_h >= least), 12)
    first = times[0].astype("datetime64[h]").astype("datetime64[s]")
    for quarter in range(4 * (int(span_h) + 2)):  # clocks of some zones are a quarter of an hour off
        when = first + np.timedelta64(900 * quarter, "s")
        hour, rest = divmod(int(wall_time(when, local_first() != other).astype(np.int64)) % 86400, 3600)
        column = column_at(times, when, width) if rest == 0 and hour % step == 0 else None
        if column is None or column + 2 > width:
            continue
        if not any(begin - 3 < column < end + 1 for begin, end in clear):
            canvas.put(x + column, y, f"{hour:02d}", ink)


def ramp_ink(share: float) -> int:
    """The ink of the chance ramp for a share 0..1."""
    return RAMP + min(int(share * RAMP_STEPS), RAMP_STEPS - 1) if share > 0 else RULE


def ramp_inks(share: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """The inks of the chance ramp for an array of shares."""
    return (RAMP + np.clip((np.nan_to_num(share) * RAMP_STEPS).astype(np.int64), 0, RAMP_STEPS - 1)).astype(
        np.uint8
    )


def put_lane(
    canvas: Canvas, x: int, y: int, rows: int, share: FloatArray, quiet: GlyphArray | None = None
) -> None:
    """Draw a lane filled to a share of its height in every column; `quiet` (rows, width) are the characters
    of its empty part.

    To keep adjacent lanes separate, a lane of one or two rows keeps its topmost eighth free. A lane of three
    rows or more keeps its topmost row free.
    """
    width = share.shape[0]
    gap = 1 if rows >= 3 else 0
    tall = rows - gap
    height = tall * 8.0 - (0.0 if gap else 1.0)
    inks = ramp_inks(share)
    share = np.nan_to_num(share)
    columns = slice(x, x + width)
    for row in range(gap, rows):
        level = np.clip(share * height - (rows - 1 - row) * 8.0, 0, 8)
        lowest = row == rows - 1
        steps = np.where((level > 0) & (share >= FAINTEST), np.maximum(np.rint(level), lowest), 0).astype(
            np.int64
        )
        empty = steps == 0
        signs = FILLS[steps] if quiet is None else np.where(empty, quiet[row], FILLS[steps])
        canvas.signs[y + row, columns] = signs
        canvas.inks[y + row, columns] = np.where(empty, QUIET, inks)


def put_bar(canvas: Canvas, x: int, y: int, width: int, share: float, ink: int = TEXT) -> None:
    """Draw a bar of a share of `width` columns, in eighths of a column."""
    share = min(max(share, 0.0), 1.0)
    eighths = round(share * width * 8)
    full, rest = divmod(eighths, 8)
    for column in range(full):
        canvas.mark(x + column, y, "█", ink)
    if rest and full < width:
        canvas.mark(x + full, y, EIGHTHS_ACROSS[rest], ink)


class Dots:
    """A braille raster: two by four dots in every cell, for curves."""

    __slots__ = ("height", "raster", "width")

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.raster: BoolArray = np.zeros((height * 4, width * 2), dtype=np.bool_)

    def curve(self, x: FloatArray, y: FloatArray) -> None:
        """Connect points given in cells (x to the right, y downward) by a line of dots."""
        px, py = x * 2.0, y * 4.0
        dx, dy = np.diff(px), np.diff(py)
        steps = np.maximum(np.abs(dx), np.abs(dy)).astype(np.int64) + 1
        of = np.repeat(np.arange(steps.size), steps + 1)  # the segment each dot belongs to
        at = np.arange(of.size) - np.repeat(np.cumsum(steps + 1) - (steps + 1), steps + 1)
        last = at == steps[of]
        columns = np.floor(np.where(last, px[1:][of], px[of] + at * (dx / steps)[of])).astype(np.int64)
        rows = np.floor(np.where(last, py[1:][of], py[of] + at * (dy / steps)[of])).astype(np.int64)
        inside = (columns >= 0) & (columns < self.width * 2) & (rows >= 0) & (rows < self.height * 4)
        self.raster[rows[inside], columns[inside]] = True

    def cells(self) -> GlyphArray:
        """The raster as braille characters, blank in cells without dots."""
        return braille(self.raster)


_DOT_BITS: Final = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], dtype=np.int64)
_BRAILLE: Final[GlyphArray] = np.array(
    [" "] + [chr(BRAILLE_BASE + code) for code in range(1, 256)], dtype="<U1"
)


def braille(raster: BoolArray) -> GlyphArray:
    """A (4 h, 2 w) raster as (h, w) braille characters."""
    height, width = raster.shape[0] // 4, raster.shape[1] // 2
    blocks = raster.reshape(height, 4, width, 2).astype(np.int64)
    signs: GlyphArray = _BRAILLE[np.einsum("hiwj,ij->hw", blocks, _DOT_BITS)]
    return signs
