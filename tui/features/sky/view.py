"""Solar and geomagnetic conditions: drawings and sentences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray
from propagation.wording import quantities as say
from propagation.wording.quantities import date
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas, Drawn
from tui.kit.glyphs import FILLS, SIGN_OF, SITE
from tui.kit.theme import GAIN, LOSS, MARK, QUIET, SKYLIGHT, SOFT, STRONG, TEXT, WARN
from tui.kit.world import NORTH, SOUTH, WIDEST, World

if TYPE_CHECKING:
    from tui.kit.world import MapView


@dataclass(frozen=True)
class History:
    """History of one measured quantity over the last days."""

    name: str
    unit: str
    times: TimeArray
    values: FloatArray
    low: float  # bottom of the drawn scale
    high: float
    latest: str
    logarithmic: bool = False
    bars: bool = False  # one bar for each value of eight a day, not a curve
    now: np.datetime64 | None = None  # of bars: later ones are forecast


@dataclass(frozen=True)
class MeasuredView:
    """World map of measurements. percent (y, x): foF2 above or below the usual, NaN if not observed."""

    map: MapView  # coast, daylight and the site; neither band nor routes
    percent: FloatArray
    lat_deg: FloatArray  # (y,) from south to north
    lon_deg: FloatArray  # (x,)
    aurora: BoolArray | None = None  # (181, 360) latitudes from -90, longitudes from 0: true inside the oval
    absorbed: BoolArray | None = None  # (90, 90) latitudes from -89, longitudes from -178
    absorbed_mhz: float = 0.0  # frequency [MHz] that loses 1 dB or more where `absorbed` is true
    ages: str = ""  # ages of the measurements, in words


@dataclass(frozen=True)
class SkyView:
    """Present solar and geomagnetic conditions with source and age, and their effect on the bands."""

    histories: tuple[History, ...]
    source: str
    age: str
    index_line: str  # index used by the maps, and its source
    effects: tuple[str, ...]  # sentences
    outlook: tuple[tuple[np.datetime64, float, float], ...] = ()  # (day, flux, K)
    heard: tuple[str, ...] = ()
    beacon: str = ""
    stale: bool = False
    measured: MeasuredView | None = None


def sky_sentences(view: SkyView) -> list[str]:
    """Describe the sky screen."""
    out = [f"Source: {view.source}, {view.age}.", *([view.index_line] if view.index_line else [])]
    out.extend(f"{history.name}: {history.latest}." for history in view.histories)
    out.extend(view.effects)
    out.extend(view.heard)
    if view.beacon:
        out.append(view.beacon)
    return out


def source_line(view: SkyView) -> str:
    """Describe the source of the conditions and their age."""
    stale = "; old, fetch again when you can" if view.stale else ""
    return f"{view.source}, {view.age}{stale}"


def outlook_sentences(view: SkyView) -> list[str]:
    """Describe the coming days in one line."""
    if not view.outlook:
        return []
    days = ", ".join(f"{date(day)[5:]} flux {flux:.0f} K {k:.0f}" for day, flux, k in view.outlook[:5])
    return [f"Outlook: {days}."]


LEFT = 8
BARS = 8  # of a day
STORM_K = 5.0  # K from which a geomagnetic storm is reported (the service's scale begins there)
MOST_CURVE, MOST_BARS = 8, 11  # rows of a history that say more than fewer would (ours)
LOWEST_FOOT = 3  # rows of a history above which its dates are written below
READABLE_CURVE, READABLE_BARS = 5, 7
UNKNOWN = "not known for these days: f gets it, k types it in"


class Histories(Drawn):
    """Histories of flux, K and X-rays, one above the other, or side by side on a wide screen."""

    about = (
        "The last days of the sun's radio flux, the field's K every three hours of the last days and, dim, "
        "of those forecast, and the last hours of X-rays, each with its scale. A high flux lifts the bands; "
        "K from 5 on is a storm; an X-ray spike is a flare."
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
        """Set the histories."""
        self.histories, self.waiting = histories, waiting
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Divide the room among the histories, and draw them."""
        if not self.histories:
            canvas.put(2, 0, self.waiting, SOFT)
            return
        count = len(self.histories)
        if canvas.width >= 120 and canvas.height < 5 * count:
            width = canvas.width // count
            for number, history in enumerate(self.histories):
                _chart(canvas, history, number * width, 0, width - 1, canvas.height)
            return
        y = 0
        for history, each in zip(self.histories, _shared(self.histories, canvas.height), strict=True):
            _chart(canvas, history, 0, y, canvas.width, each)
            y += each


def fewest_rows(histories: tuple[History, ...]) -> int:
    """Rows in which the histories can be read; those that are not known take one."""
    return sum(1 if not _known(one) else READABLE_BARS if one.bars else READABLE_CURVE for one in histories)


def _known(history: History) -> bool:
    return bool(np.isfinite(history.values).any())


def _shared(histories: tuple[History, ...], height: int) -> list[int]:
    """Rows of each history: one where nothing is known; K has the more, for its bars are read one by one."""
    parts = [0 if not _known(one) else 3 if one.bars else 2 for one in histories]
    most = [1 if not part else MOST_BARS if part == 3 else MOST_CURVE for part in parts]
    left = height - parts.count(0)
    whole = max(sum(parts), 1)
    rows = [min(left * part // whole, limit) if part else 1 for part, limit in zip(parts, most, strict=True)]
    for number in sorted(range(len(rows)), key=lambda number: -parts[number]):  # those of K first
        if sum(rows) < height and rows[number] < most[number]:
            rows[number] += 1
    return rows


def _chart(canvas: Canvas, history: History, x: int, y: int, width: int, height: int) -> None:
    end = canvas.put(x + 1, y, history.name, TEXT)
    rows, left = height - (2 if height > LOWEST_FOOT else 1), x + LEFT
    columns = width - LEFT - 1
    canvas.put_right(x + width - 1, y, history.latest, STRONG)
    if not _known(history):
        canvas.put(end + 2, y, UNKNOWN, SOFT, room=x + width - end - 4 - len(history.latest))
        return
    if rows < 1 or columns < 8:
        return
    if history.bars:
        _bars(canvas, history, left, y + 1, columns, height - 1)
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


def _bars(canvas: Canvas, history: History, x: int, y: int, columns: int, height: int) -> None:
    """Draw a bar for every three hours, the days apart, with the days below; forecast ones are dim."""
    days = history.values.size // BARS
    wide = max((columns + 1) // days - 1, BARS) // BARS
    shown = min(days, (columns + 1) // (BARS * wide + 1))
    rows = height - (1 if height >= LOWEST_FOOT else 0)
    first = history.values.size - shown * BARS
    for number, value in enumerate(history.values[first:].tolist()):
        time = history.times[first + number]
        column = x + (number // BARS) * (BARS * wide + 1) + (number % BARS) * wide
        ahead = history.now is not None and time > history.now
        ink = SOFT if ahead else WARN if value >= STORM_K else SKYLIGHT + 3
        for row in range(rows):
            if not np.isfinite(value):
                signs = "·" if row == rows - 1 else " "
            else:
                level = max(value / history.high * rows * 8.0, 1.0) - (rows - 1 - row) * 8.0
                signs = FILLS[int(np.clip(np.ceil(level), 0, 8))]
            for at in range(column, column + wide):
                canvas.mark(at, y + row, signs, ink if np.isfinite(value) else QUIET)
        if number % BARS == 0 and rows < height:
            day = say.day_title(time.astype("datetime64[D]"))
            canvas.put(column, y + rows, day[:-9] if len(day) - 9 <= BARS * wide else day[:3], QUIET)
    for k in (9, STORM_K, 0):
        row = min(int((1.0 - k / history.high) * rows), rows - 1)
        canvas.put_right(x - 1, y + row, f"{k:.0f}", WARN if k == STORM_K and rows >= 3 else SOFT)


def _scale(history: History, value: float) -> str:
    if history.logarithmic:
        return f"1e{round(float(np.log10(value)))}"
    return f"{value:.0f}"


FIGURE_COLUMNS, FIGURE_ROWS = 6, 2  # columns and rows for each figure
AURORA, ABSORBED = SIGN_OF["auroral zone"], SIGN_OF["absorption"]


class MeasuredChart(Drawn):
    """World map with the measured departure as figures."""

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
        """Set the chart, or the sentence shown instead of it."""
        self.view, self.waiting = view, waiting
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the ground, the coast, the aurora, the absorption and the figures."""
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
    """Fill an area with a sign at regular gaps."""
    y, x = np.indices(hit.shape)
    sown = hit & ((x + 2 * y) % 4 == 0)
    chart.signs[: hit.shape[0]] = np.where(sown, sign, chart.signs[: hit.shape[0]])
    chart.inks[: hit.shape[0]] = np.where(sown, ink, chart.inks[: hit.shape[0]])


def _figures(chart: Canvas, view: MeasuredView, lat: FloatArray, lon: FloatArray) -> None:
    """Draw the departure in whole percent, at regular gaps."""
    for y in range(0, lat.size, FIGURE_ROWS):
        first = FIGURE_COLUMNS // 2 * (y // FIGURE_ROWS % 2)
        for x in range(first, lon.size - 3, FIGURE_COLUMNS):
            row = _row(lat[y : y + 1], float(view.lat_deg[0]), 5.0, view.lat_deg.size)[0]
            column = _column(lon[x + 1 : x + 2], float(view.lon_deg[0]), 10.0, view.lon_deg.size)[0]
            value = float(view.percent[row, column])
            if np.isfinite(value):
                chart.put(x, y, f"{value:+.0f}" if abs(value) >= 0.5 else "0", GAIN if value >= 0.0 else LOSS)
