"""Small histories of the sun and the field, each filled under its curve."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from propagation.wording import quantities as say
from tui.kit import words
from tui.kit.canvas import Canvas
from tui.kit.drawn import Drawn
from tui.kit.glyphs import FILLS
from tui.kit.theme import QUIET, SKYLIGHT, SOFT, STRONG, TEXT

if TYPE_CHECKING:
    from tui.features.sky.view import History

LEFT = 8


class Histories(Drawn):
    """Flux, K and X-rays, one above the other, or side by side where it is wide."""

    about = (
        "The last days of the sun's radio flux, the last days of the field's K, and the last hours of "
        "X-rays, each with its scale. A high flux lifts the bands; a high K is a storm; an X-ray spike is "
        "a flare."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.histories: tuple[History, ...] = ()
        self.waiting = words.WORKING

    def show(
        self,
        histories: tuple[History, ...],
        waiting: str = "No measurements stored; fetch them, or type them in.",
    ) -> None:
        """Take the histories."""
        self.histories, self.waiting = histories, waiting
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Share the room among them."""
        if not self.histories:
            canvas.put(2, 0, self.waiting, SOFT)
            return
        count = len(self.histories)
        if canvas.width >= 120 and canvas.height < 5 * count:
            width = canvas.width // count
            for number, history in enumerate(self.histories):
                _chart(canvas, history, number * width, 0, width - 1, canvas.height)
            return
        each = canvas.height // count
        for number, history in enumerate(self.histories):
            _chart(canvas, history, 0, number * each, canvas.width, each)


def _chart(canvas: Canvas, history: History, x: int, y: int, width: int, height: int) -> None:
    canvas.put(x + 1, y, history.name, TEXT)
    rows, left = height - 2, x + LEFT
    columns = width - LEFT - 1
    canvas.put_right(x + width - 1, y, history.latest, STRONG)
    if rows < 1 or columns < 8 or history.values.size == 0:
        return
    values, low, high = history.values, history.low, history.high
    if history.logarithmic:
        values = np.log10(np.maximum(values, 1e-12))
        low, high = float(np.log10(low)), float(np.log10(high))
    share = np.clip((values - low) / (high - low), 0.0, 1.0)
    at = (np.arange(columns) * share.size // columns).astype(np.int64)
    level = share[at]
    for row in range(rows):
        floor = (rows - 1 - row) / rows
        steps = np.clip(np.rint((level - floor) * rows * 8), 1 if row == rows - 1 else 0, 8).astype(np.int64)
        steps = np.where(np.isfinite(level), steps, 0)
        canvas.signs[y + 1 + row, left : left + columns] = FILLS[steps]
        canvas.inks[y + 1 + row, left : left + columns] = SKYLIGHT + 3
    for text, row in ((_scale(history, history.high), y + 1), (_scale(history, history.low), y + rows)):
        canvas.put_right(left - 1, row, text, SOFT)
    foot = y + rows + 1
    if foot < y + height:
        first, last = history.times[0], history.times[-1]
        long = (last - first) > np.timedelta64(2 * 86400, "s")
        show = say.date if long else say.clock
        canvas.put(left, foot, show(first), QUIET)
        canvas.put_right(left + columns, foot, show(last), QUIET)


def _scale(history: History, value: float) -> str:
    if history.logarithmic:
        return f"1e{round(float(np.log10(value)))}"
    return f"{value:.0f}"
