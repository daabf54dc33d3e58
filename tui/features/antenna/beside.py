"""Two antennas side by side: what each promises on every band, and its gain towards the target."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

import numpy as np
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical

from propagation.base.units import as_float
from propagation.wording import quantities as say
from tui.features.antenna.view import share_figure
from tui.kit import text_flow
from tui.kit.canvas import Canvas, Drawn
from tui.kit.day_view import full_lane_per_h
from tui.kit.glyphs import SHARE_SIGN
from tui.kit.overlays import Overlay
from tui.kit.page_lines import KeyLine, in_order
from tui.kit.theme import LAYER, PANEL, RAMP, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from tui.features.antenna.view import BesideBand, BesideView

TRY = "try"


class BesideSheet(Overlay):
    """Comparison of two antennas; t tries the other one on all pages."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("t", "try_other", "try the other on all pages"),
        Binding("escape", "close", "close"),
    ]

    def __init__(self, view: BesideView) -> None:
        super().__init__()
        self.view = view

    def compose(self) -> ComposeResult:
        """Yield the comparison and the keys."""
        with Vertical(classes="sheet -full"):
            yield BesidePicture(self.view, id="beside")
            yield KeyLine(id="sheet-keys")

    def on_mount(self) -> None:
        """Set the keys of this sheet."""
        shown = [binding for binding in self.BINDINGS if isinstance(binding, Binding)]
        self.query_one("#sheet-keys", KeyLine).show(in_order(shown))

    def action_try_other(self) -> None:
        """Try the other antenna."""
        self.dismiss(TRY)


LABEL, FIGURES = 12, 22  # columns before a bar, and after it
PROMISE, GAIN, WATTS = 9, 16, 22  # columns after a bar in which its figures end
TALLEST = 3  # rows of a band, the last one blank
INKS = (RAMP + 7, LAYER)
SIGNS = (SHARE_SIGN["radiated"], SHARE_SIGN["earth"])


class BesidePicture(Drawn):
    """Bars of both antennas for each band, with sentences below."""

    ground = PANEL
    fades = False
    about = (
        "Two antennas on every band: the bars show what each promises at its best of the day, contacts an "
        "hour with a region, days in ten with a place. Behind them: that figure, the gain at the take-off "
        "angle towards the target less the line's loss, and how much of a hundred watts leaves the antenna."
    )

    def __init__(self, view: BesideView, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.view = view

    def paint(self, canvas: Canvas) -> None:
        """Draw the recommendation, the legend and the bars."""
        view = self.view
        row = 0
        for number, line in enumerate(view.says):
            for piece in text_flow.wrap(line, canvas.width - 2):
                canvas.put(1, row, piece, STRONG if number == 0 else TEXT)
                row += 1
        row += 1
        half = (canvas.width - LABEL) // 2
        width = min(half - FIGURES - 1, 100)
        if width >= 8:
            starts, each = ((LABEL, 0), (LABEL + half, 0)), 1
        else:  # too narrow for two columns: one bar above the other
            starts, each = ((LABEL, 0), (LABEL, 1)), 2
            width = max(canvas.width - LABEL - FIGURES, 1)
        for side, (x, down) in enumerate(starts):
            canvas.put(x, row + down, SIGNS[side] * 2, INKS[side])
            canvas.put(x + 3, row + down, view.names[side], TITLE, room=max(width + FIGURES - 4, 4))
            for end, head in ((PROMISE, "best"), (GAIN, "dBi"), (WATTS, "sky")):
                canvas.put_right(x + width + end, row + each, head, SOFT)
        canvas.put_right(LABEL - 1, row + each, "at", SOFT)
        row += each + 1
        room, bands = (canvas.height - row) // each, view.bands
        if len(bands) > room:
            bands = tuple(band for band in bands if any(one.figure > 0.0 for one in band.best))
        best = max((one.figure for band in bands for one in band.best), default=0.0)
        region = any(one.rate is not None for band in bands for one in band.best)
        full = full_lane_per_h(as_float(best)) if region else 1.0
        step = min(max(room // max(len(bands), 1), 1), TALLEST) if each == 1 else each
        for number, band in enumerate(bands):
            y = row + number * step
            canvas.put_right(LABEL - 6, y, say.band_title(band.band), TEXT)
            if np.isfinite(band.takeoff_deg):
                canvas.put_right(LABEL - 1, y, f"{band.takeoff_deg:.0f}°", SOFT)
            for side, (x, down) in enumerate(starts):
                for across in range(round(min(band.best[side].figure / full, 1.0) * width)):
                    for thick in range(max(step - 1, 1) if each == 1 else 1):
                        canvas.mark(x + across, y + down + thick, SIGNS[side], INKS[side])
                self._figures(canvas, x + width, y + down, band, side)

    @staticmethod
    def _figures(canvas: Canvas, x: int, y: int, band: BesideBand, side: int) -> None:
        """Put the figures behind a bar that ends at most before a column."""
        canvas.put_right(x + PROMISE, y, say.promised_short(band.best[side]), TEXT)
        canvas.put_right(x + GAIN, y, say.level_figure(band.gain_dbi[side]), TEXT)
        canvas.put_right(x + WATTS, y, f"{share_figure(band.share[side])} W", SOFT)
