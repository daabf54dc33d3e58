"""The sun over both ends of a path through one day, tall enough to read its height."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tui.features.sked.view import suns_sentences
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas
from tui.kit.drawn import Drawn
from tui.kit.glyphs import FILLS
from tui.kit.marks import column_at, columns_of, put_hours
from tui.kit.theme import CHOSEN, QUIET, SKY_STEPS, SKYLIGHT, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from propagation.base.units import IntArray
    from tui.features.sked.view import SunsView
    from tui.kit.day_view import Stay, SunDay

LABEL = 8
HIGHEST_DEG, TWILIGHT_DEG = 90.0, -12.0  # top of the scale; the sun's height at which it is night


class Suns(Drawn):
    """Two heights of the sun, one over the other, with the slot between them."""

    about = (
        "The sun over both ends on the day of the chosen slot: how high it stands, from the horizon to "
        "overhead; dotted is twilight. The slot chosen is the lit upright stripe."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: SunsView | None = None
        self.slot: Stay | None = None

    def show(self, view: SunsView | None, slot: Stay | None = None) -> None:
        """Take the suns, and the slot to be marked."""
        self.view, self.slot = view, slot
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Axis, the sun here, the sun there, what they have in common."""
        view = self.view
        canvas.put(1, 0, "The sun at both ends", TITLE)
        if view is None:
            canvas.put(1, 1, words.WORKING, SOFT)
            return
        said = text_flow.wrap_all(suns_sentences(view), max(canvas.width - 2, 1))
        width = canvas.width - LABEL - 1
        each = min((canvas.height - 3 - len(said)) // 2, 12)
        if width < 24 or each < 3:
            for row, line in enumerate(said[: canvas.height - 1], start=1):
                canvas.put(1, row, line, TEXT)
            return
        if width >= 48:
            width -= width % 24
        put_hours(canvas, LABEL, 1, width, view.times)
        canvas.put(1, 1, "UTC", SOFT)
        pick = np.rint(columns_of(view.times, width)).astype(np.int64)
        for number, sun in enumerate((view.home, view.far)):
            _height(canvas, sun, 2 + number * each, each, width, pick)
        self._stripe(canvas, view, 2, 2 + 2 * each, width)
        for row, line in enumerate(said):
            canvas.put(1, 3 + 2 * each + row, line, TEXT if row == 0 else SOFT)

    def _stripe(self, canvas: Canvas, view: SunsView, top: int, bottom: int, width: int) -> None:
        if self.slot is None:
            return
        first = column_at(view.times, self.slot.start, width)
        last = column_at(view.times, self.slot.end, width)
        if first is not None:
            end = last if last is not None else width
            canvas.paint_ground(LABEL + first, top, LABEL + max(end, first + 1), bottom, CHOSEN)


def _height(canvas: Canvas, sun: SunDay, y: int, rows: int, width: int, pick: IntArray) -> None:
    """Rise and set in a line, and below it the height of the sun."""
    canvas.put(1, y, sun.place, STRONG)
    canvas.put(LABEL, y, words.sun_short(sun), SOFT)
    height = sun.elevation_deg[pick]
    level = np.clip(height / HIGHEST_DEG, 0.0, 1.0) * (rows - 1) * 8.0
    inks = SKYLIGHT + np.clip((height / HIGHEST_DEG * SKY_STEPS).astype(np.int64) + 1, 1, SKY_STEPS - 1)
    for row in range(rows - 1):
        steps = np.clip(np.ceil(level - (rows - 2 - row) * 8.0), 0, 8).astype(np.int64)
        at = slice(LABEL, LABEL + width)
        signs = FILLS[steps]
        if row == rows - 2:
            signs = np.where((height <= 0) & (height > TWILIGHT_DEG), "·", signs)
        canvas.signs[y + 1 + row, at] = signs
        canvas.inks[y + 1 + row, at] = np.where(height > 0, inks, QUIET)
    for deg in (90, 0):
        canvas.put_right(LABEL - 1, y + 1 + (0 if deg else rows - 2), f"{deg} deg", QUIET)
