"""The world as it was measured: the layer over and under the usual, the aurora, what is absorbed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas
from tui.kit.drawn import Drawn
from tui.kit.glyphs import SIGN_OF, SITE
from tui.kit.theme import GAIN, LOSS, MARK, SOFT, STRONG, TEXT, WARN
from tui.kit.world import NORTH, SOUTH, WIDEST, World

if TYPE_CHECKING:
    from tui.features.sky.view import MeasuredView

FIGURE_COLUMNS, FIGURE_ROWS = 6, 2  # one figure in so many cells
AURORA, ABSORBED = SIGN_OF["auroral zone"], SIGN_OF["absorption"]


class MeasuredChart(Drawn):
    """A chart of the world with the measured departure as soundings."""

    about = (
        "The sky as it was measured a short while ago. The figures say by how many percent the F2 layer "
        "stands over or under the usual; where there is none, nothing was observed. Waves mark the "
        "aurora, dots where the day absorbs more than it usually does."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: MeasuredView | None = None
        self.waiting = words.WORKING

    def show(self, view: MeasuredView | None, waiting: str) -> None:
        """Take the chart, or the sentence that stands in its place."""
        self.view, self.waiting = view, waiting
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Ground, coast, aurora, absorption, figures."""
        view = self.view
        if view is None or canvas.width < 20 or canvas.height < 6:
            told = self.waiting if view is None else f"Measured: {view.ages}."
            for row, line in enumerate(text_flow.wrap(told, max(canvas.width - 2, 1))[: canvas.height]):
                canvas.put(1, row, line, SOFT)
            return
        height = canvas.height - 1
        width = min(canvas.width, round(height * WIDEST))
        chart = Canvas(width, height)
        World.ground_and_coast(chart, view.map)
        lat, lon = _cells(width, height)
        if view.absorbed is not None:
            hit = view.absorbed[np.ix_(_row(lat, -89.0, 2.0, 90), _column(lon, -178.0, 4.0, 90))]
            _sow(chart, hit, ABSORBED, WARN)
        if view.aurora is not None:
            hit = view.aurora[np.ix_(_row(lat, -90.0, 1.0, 181), _column(lon, 0.0, 1.0, 360))]
            _sow(chart, hit, AURORA, GAIN)
        _figures(chart, view, lat, lon)
        x = int((view.map.site[1] + 180.0) % 360.0 / 360.0 * width)
        y = int((NORTH - view.map.site[0]) / (NORTH - SOUTH) * height)
        chart.mark(min(x, width - 1), min(max(y, 0), height - 1), SITE, MARK)
        canvas.blit(chart, (canvas.width - width) // 2, 0)
        self._legend(canvas, view, height)

    @staticmethod
    def _legend(canvas: Canvas, view: MeasuredView, y: int) -> None:
        x = canvas.put(1, y, "Layer, % off the usual", STRONG) + 2
        for drawn, sign, says in (
            (view.aurora, AURORA, "aurora"),
            (view.absorbed, ABSORBED, f"{view.absorbed_mhz:.0f} MHz loses 1 dB"),
        ):
            if drawn is not None and drawn.any() and x + len(says) + 2 < canvas.width:
                canvas.put(x, y, sign, TEXT)
                x = canvas.put(x + 2, y, says, SOFT) + 2
        canvas.put(x, y, view.ages, SOFT, room=canvas.width - x - 1)


def _cells(width: int, height: int) -> tuple[FloatArray, FloatArray]:
    """Latitudes and longitudes of the chart's rows and columns."""
    return (
        np.linspace(NORTH, SOUTH, height * 2 + 1)[1::2],
        np.linspace(-180.0, 180.0, width * 2 + 1)[1::2],
    )


def _row(lat: FloatArray, first: float, step: float, count: int) -> IntArray:
    rows: IntArray = np.clip(np.rint((lat - first) / step), 0, count - 1).astype(np.int64)
    return rows


def _column(lon: FloatArray, first: float, step: float, count: int) -> IntArray:
    columns: IntArray = np.rint((lon - first) / step).astype(np.int64) % count
    return columns


def _sow(chart: Canvas, hit: BoolArray, sign: str, ink: int) -> None:
    """The sign in every other cell of an area."""
    y, x = np.indices(hit.shape)
    sown = hit & ((x + 2 * y) % 4 == 0)
    chart.signs[: hit.shape[0]] = np.where(sown, sign, chart.signs[: hit.shape[0]])
    chart.inks[: hit.shape[0]] = np.where(sown, ink, chart.inks[: hit.shape[0]])


def _figures(chart: Canvas, view: MeasuredView, lat: FloatArray, lon: FloatArray) -> None:
    """The departure in whole percent, in every few cells."""
    for y in range(0, lat.size, FIGURE_ROWS):
        first = FIGURE_COLUMNS // 2 * (y // FIGURE_ROWS % 2)
        for x in range(first, lon.size - 3, FIGURE_COLUMNS):
            row = _row(lat[y : y + 1], float(view.lat_deg[0]), 5.0, view.lat_deg.size)[0]
            column = _column(lon[x + 1 : x + 2], float(view.lon_deg[0]), 10.0, view.lon_deg.size)[0]
            value = float(view.percent[row, column])
            if np.isfinite(value):
                chart.put(x, y, f"{value:+.0f}" if abs(value) >= 0.5 else "0", GAIN if value >= 0.0 else LOSS)
