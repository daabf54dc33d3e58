"""The gain of every band by take-off angle: which band goes low, and which goes straight up."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from propagation.wording import quantities as say
from tui.kit import words
from tui.kit.band_rows import BandRows
from tui.kit.canvas import Canvas
from tui.kit.marks import put_lane
from tui.kit.theme import CHOSEN, KEY, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from tui.features.antenna.view import BenchView

LABEL, RIGHT = 7, 26  # columns beside the lanes
LOWEST_DBI, HIGHEST_DBI = -30.0, 6.0  # of the scale: an empty lane, a full one (ours)
TALLEST = 4  # rows of a lane


class Gains(BandRows):
    """One lane a band, from the horizon up."""

    about = (
        "The gain by take-off angle, one lane a band, coil and earth losses taken off: from -30 dBi, empty, "
        "to +6 dBi, full. Low angles reach far, high angles come down near. Between the angles worked out "
        "the lane is drawn straight."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: BenchView | None = None

    def show(self, view: BenchView | None, band: str = "") -> None:
        """Take the bench and the chosen band."""
        self.view, self.band = view, band
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Angles, lanes, the best angle of each band."""
        canvas.put(1, 0, "Gain by take-off angle, -30 to +6 dBi", TITLE)
        view = self.view
        rows = [band for band in view.bands if len(band.gain_dbi) > 1] if view is not None else []
        width = canvas.width - LABEL - RIGHT
        if not rows or width < 24 or canvas.height < 3:
            canvas.put(1, 1, words.WORKING if view is None else "no angles were worked out", SOFT)
            return
        angles = np.array([angle for angle, _ in rows[0].gain_dbi])
        at = np.linspace(angles[0], angles[-1], width)
        for angle in angles:
            column = round((angle - angles[0]) / (angles[-1] - angles[0]) * (width - 1))
            canvas.put_centred(LABEL + column, 1, f"{angle:.0f} deg", SOFT)
        each = min(max((canvas.height - 2) // len(rows), 1), TALLEST)
        shown = max((canvas.height - 2) // each, 1)
        chosen = next((number for number, row in enumerate(rows) if row.band == self.band), 0)
        first = min(max(chosen - shown + 1, 0), max(len(rows) - shown, 0))
        self.stand([row.band for row in rows], 2, each, first, shown)
        for slot, row in enumerate(rows[first : first + shown]):
            y, here = 2 + slot * each, row.band == self.band
            middle = y + each // 2
            if here:
                canvas.paint_ground(0, y, canvas.width, y + each, CHOSEN)
                canvas.put(0, middle, "▸", KEY)
            gain = np.interp(at, [angle for angle, _ in row.gain_dbi], [dbi for _, dbi in row.gain_dbi])
            share = np.clip((gain - LOWEST_DBI) / (HIGHEST_DBI - LOWEST_DBI), 0.0, 1.0)
            canvas.put_right(LABEL - 1, middle, say.band_title(row.band), STRONG if here else TEXT)
            put_lane(canvas, LABEL, y, each, share)
            best, dbi = max(row.gain_dbi, key=lambda pair: pair[1])
            says = f"most {say.level_figure(dbi)} dBi at {best:.0f} deg"
            canvas.put(LABEL + width + 1, middle, says, TEXT if here else SOFT)
