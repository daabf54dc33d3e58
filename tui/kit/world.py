"""The world chart: coast lines, day and night, the routes, and figures for a band's coverage.

The figures are laid out like the soundings of a sea chart: days in ten on which the band reaches that place.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache, lru_cache

import numpy as np

from propagation.advice.band_now import LIKELY
from propagation.base.units import BoolArray, FloatArray, IntArray
from propagation.geo.locator import Position
from propagation.wording import quantities as say
from propagation.wording.quantities import band_title, both_clocks, percent
from tui.kit import words
from tui.kit.canvas import Canvas, Drawn
from tui.kit.glyphs import ROUTE, SITE, TARGET, GlyphArray
from tui.kit.marks import braille
from tui.kit.theme import DAY, DUSK, GAIN, LAND, MARK, NIGHT, RAMP, SKYLIGHT, SOFT, SOUNDING, STRONG, TINT

SOUNDING_COLUMNS, SOUNDING_ROWS = 4, 2  # one figure in each block of this size
NORTH, SOUTH = 80.0, -62.0  # the chart's limits [deg]: mostly ice beyond them
NATURAL = 5.0  # columns per row at which the chart's degrees are as wide as high
WIDEST = 6.4  # columns per row: a wider chart would be distorted
TINT_FROM = (0.35, 0.65)  # shares of days at which the lighter and the stronger tint of the water begin


def natural_rows(width: int) -> int:
    """Rows of an undistorted chart, including its legend, in a width."""
    return round(width / NATURAL) + 1


class World(Drawn):
    """A chart of the world for one time and one band."""

    about = (
        "The world at the chosen hour. Lighter water is in daylight, the dotted belt is twilight. The "
        "figures are soundings: on how many days in ten the chosen band comes down there. The dotted line "
        "is the way the signal takes."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: MapView | None = None

    def show(self, view: MapView | None) -> None:
        """Take a chart."""
        self.view = view
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw ground, coast, soundings, routes, names."""
        view = self.view
        if view is None or canvas.width < 20 or canvas.height < 6:
            canvas.put(1, 0, words.WORKING if view is None else map_sentences(view)[0], SOFT)
            return
        height = canvas.height - 1
        width = min(canvas.width, round(height * WIDEST))
        chart = Canvas(width, height)
        self._chart(chart, view)
        canvas.blit(chart, (canvas.width - width) // 2, 0)
        when = say.both_clocks(view.time)
        title = f"{say.band_title(view.band)} at {when}" if view.band else when
        x = canvas.put(1, height, title, STRONG) + 3
        whom = "target" if view.band else "friend"
        signs = [f"{SITE} site", f"{TARGET} {whom}", f"{ROUTE} way", "· twilight"]
        if view.band:
            known = view.share is not None
            signs.append("figures: days in ten" if known else "working out where it comes down ...")
        for says in signs:
            if x + len(says) < canvas.width:
                x = canvas.put(x, height, says, SOFT) + 2

    def _chart(self, canvas: Canvas, view: MapView) -> None:
        width, height = canvas.width, canvas.height
        self.ground_and_coast(canvas, view)
        if view.share is not None:
            self._soundings(canvas, view, width, height)
        self._routes(canvas, view, width, height)

    @classmethod
    def ground_and_coast(cls, canvas: Canvas, view: MapView) -> None:
        """Draw day and night, and the coast, over the whole canvas."""
        width, height = canvas.width, canvas.height
        rows = _nearest(view.lat_deg, np.linspace(NORTH, SOUTH, height * 2 + 1)[1::2])
        columns = _nearest(view.lon_deg, np.linspace(-180, 180, width * 2 + 1)[1::2])
        cls._ground(canvas, view, rows, columns, height)
        cls._coast(canvas, view, width, height)

    @staticmethod
    def _ground(canvas: Canvas, view: MapView, rows: IntArray, columns: IntArray, height: int) -> None:
        sun = view.sun_elevation_deg[np.ix_(rows, columns)]
        canvas.grounds[:height] = np.where(sun > 0, DAY, np.where(sun > -12, DUSK, NIGHT))
        y, x = np.indices(sun.shape)
        belt = (sun <= 0) & (sun > -12) & ((x + y) % 2 == 0)
        canvas.signs[:height] = np.where(belt, "·", " ")
        canvas.inks[:height] = SKYLIGHT

    @staticmethod
    def _coast(canvas: Canvas, view: MapView, width: int, height: int) -> None:
        cells = _coast_signs(_Sea(view), width, height)
        drawn = cells != " "
        canvas.signs[:height] = np.where(drawn, cells, canvas.signs[:height])
        canvas.inks[:height] = np.where(drawn, LAND, canvas.inks[:height])

    @staticmethod
    def _soundings(canvas: Canvas, view: MapView, width: int, height: int) -> None:
        share = view.share
        assert share is not None
        rows = _nearest(view.share_lat_deg, np.linspace(NORTH, SOUTH, height * 2 + 1)[1::2])
        columns = _nearest(view.share_lon_deg, np.linspace(-180, 180, width * 2 + 1)[1::2])
        here = np.nan_to_num(share[np.ix_(rows, columns)])
        step = np.digitize(here, TINT_FROM)
        tinted = step > 0
        canvas.grounds[:height] = np.where(tinted, TINT + step - 1, canvas.grounds[:height])
        canvas.inks[:height] = np.where(tinted, SOUNDING, canvas.inks[:height])
        y, x = np.indices(here.shape)
        sown = (y % SOUNDING_ROWS == 0) & (
            (x + (y // SOUNDING_ROWS % 2) * (SOUNDING_COLUMNS // 2)) % SOUNDING_COLUMNS == 0
        )
        figure = np.clip(np.rint(here * 10), 0, 9).astype(np.int64)
        sown &= figure >= 1
        canvas.signs[:height] = np.where(sown, figure.astype("<U1"), canvas.signs[:height])
        canvas.inks[:height] = np.where(sown & ~tinted, RAMP + 6, canvas.inks[:height])

    @staticmethod
    def _routes(canvas: Canvas, view: MapView, width: int, height: int) -> None:
        def cell(lat: float, lon: float) -> tuple[int, int]:
            x = int((lon + 180.0) % 360.0 / 360.0 * width)
            y = int((NORTH - lat) / (NORTH - SOUTH) * height)
            return min(max(x, 0), width - 1), min(max(y, 0), height - 1)

        for _name, lats, lons in view.routes:
            last = None
            for lat, lon in zip(lats, lons, strict=True):
                spot = cell(float(lat), float(lon))
                if spot != last and (spot[0] + spot[1]) % 2 == 0:
                    canvas.mark(*spot, ROUTE, GAIN)
                last = spot
        for name, lat, lon in view.targets:
            x, y = cell(lat, lon)
            canvas.mark(x, y, TARGET, MARK)
            canvas.put_centred(x, y - 1 if y > 0 else y + 1, f" {name} ", STRONG)
        x, y = cell(*view.site)
        canvas.mark(x, y, SITE, MARK)


def _nearest(axis: FloatArray, wanted: FloatArray) -> IntArray:
    """The index of the nearest value of an even axis, for each wanted value."""
    if axis.size < 2:
        return np.zeros(wanted.shape, dtype=np.int64)
    index = np.rint((wanted - axis[0]) / (axis[1] - axis[0]))
    nearest: IntArray = np.clip(index, 0, axis.size - 1).astype(np.int64)
    return nearest


class _Sea:
    """The sea mask with its axes, hashed by object identity, because the coast never changes."""

    __slots__ = ("lat_deg", "lon_deg", "sea")

    def __init__(self, view: MapView) -> None:
        self.sea, self.lat_deg, self.lon_deg = view.sea, view.lat_deg, view.lon_deg

    def __hash__(self) -> int:
        return id(self.sea)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Sea) and other.sea is self.sea


@lru_cache(maxsize=4)
def _coast_signs(chart: _Sea, width: int, height: int) -> GlyphArray:
    """The coast as braille characters: land if most of a dot's area is land, specks removed."""
    land = _share_of_land(chart, height * 4, width * 2) > 0.5
    return braille(_outline(~_without_specks(~_without_specks(land))))


def _share_of_land(chart: _Sea, rows: int, columns: int) -> FloatArray:
    """The share of land in each of (rows, columns) patches that cover the chart without gaps."""
    total = np.zeros((chart.sea.shape[0] + 1, chart.sea.shape[1] + 1))
    total[1:, 1:] = np.cumsum(np.cumsum(~chart.sea, axis=0), axis=1)
    y = _edges(chart.lat_deg, np.linspace(NORTH, SOUTH, rows + 1))
    x = _edges(chart.lon_deg, np.linspace(-180.0, 180.0, columns + 1))
    y1, x1 = np.maximum(y[1:], y[:-1] + 1), np.maximum(x[1:], x[:-1] + 1)
    y0, x0 = y[:-1], x[:-1]
    inside = total[np.ix_(y1, x1)] - total[np.ix_(y0, x1)] - total[np.ix_(y1, x0)] + total[np.ix_(y0, x0)]
    share: FloatArray = inside / ((y1 - y0)[:, None] * (x1 - x0)[None, :])
    return share


def _edges(axis: FloatArray, wanted: FloatArray) -> IntArray:
    """The index of the first cell of an even axis that begins at or after each wanted value."""
    step = float(axis[1] - axis[0]) if axis.size > 1 else 1.0
    index = np.rint((wanted - (axis[0] - step / 2.0)) / step)
    edges: IntArray = np.clip(index, 0, axis.size - 1).astype(np.int64)
    return edges


def _without_specks(land: BoolArray) -> BoolArray:
    """The mask without patches of up to two by two dots that are surrounded by the other kind."""
    padded = np.pad(land, 2)
    height, width = land.shape[0] + 1, land.shape[1] + 1

    def shifted(dy: int, dx: int) -> BoolArray:
        """The dot at an offset from the upper left of every box of two by two dots."""
        view: BoolArray = padded[1 + dy : 1 + dy + height, 1 + dx : 1 + dx + width]
        return view

    ring = np.zeros((height, width), dtype=np.bool_)
    for dy in range(-1, 3):
        for dx in range(-1, 3):
            if dy in (-1, 2) or dx in (-1, 2):
                ring |= shifted(dy, dx)
    alone = ~ring
    speck = alone[:-1, :-1] | alone[1:, :-1] | alone[:-1, 1:] | alone[1:, 1:]
    kept: BoolArray = land & ~speck
    return kept


def _outline(land: BoolArray) -> BoolArray:
    """Land dots adjacent to water."""
    inner = land.copy()
    inner[1:] &= land[:-1]
    inner[:-1] &= land[1:]
    inner[:, 1:] &= land[:, :-1]
    inner[:, :-1] &= land[:, 1:]
    return land & ~inner


CHART_STEP_DEG = 0.5


@cache
def chart_axes() -> tuple[FloatArray, FloatArray, BoolArray]:
    """The chart's latitudes from north to south, longitudes, and the sea mask."""
    from propagation.geo import land

    lat = np.arange(90.0 - CHART_STEP_DEG / 2, -90.0, -CHART_STEP_DEG)
    lon = np.arange(-180.0 + CHART_STEP_DEG / 2, 180.0, CHART_STEP_DEG)
    return lat, lon, land.is_sea(lat[:, None], lon[None, :])


def plain_chart(time: np.datetime64, site: Position) -> MapView:
    """The chart with coast and daylight at a time, without band and routes."""
    from propagation.geo import sun

    lat, lon, sea = chart_axes()
    return MapView(
        time=time,
        band="",
        lat_deg=lat,
        lon_deg=lon,
        sea=sea,
        sun_elevation_deg=90.0 - sun.zenith_deg(lat[:, None], lon[None, :], time),
        share=None,
        site=(site.lat_deg, site.lon_deg),
    )


@dataclass(frozen=True)
class MapView:
    """The world at one time: sun, land, routes, and the coverage of one band."""

    time: np.datetime64
    band: str
    lat_deg: FloatArray  # (Y,) from north to south
    lon_deg: FloatArray  # (X,) from west to east
    sea: BoolArray  # (Y, X)
    sun_elevation_deg: FloatArray  # (Y, X)
    share: FloatArray | None  # (y, x) coverage on its own coarser grid, or None until it is computed
    share_lat_deg: FloatArray = field(default_factory=lambda: np.zeros(0))
    share_lon_deg: FloatArray = field(default_factory=lambda: np.zeros(0))
    routes: tuple[tuple[str, FloatArray, FloatArray], ...] = ()  # (name, lat, lon)
    site: tuple[float, float] = (0.0, 0.0)
    targets: tuple[tuple[str, float, float], ...] = ()


def map_sentences(view: MapView) -> list[str]:
    """The map in words."""
    lit = float((view.sun_elevation_deg > 0).mean())
    out = [
        f"World at {both_clocks(view.time)}, {band_title(view.band)}; {percent(lit)} of this "
        "picture lies in daylight."
    ]
    for name, lat, lon in view.targets:
        out.append(
            f"{name} at {abs(lat):.1f} {'N' if lat >= 0 else 'S'}, {abs(lon):.1f} {'E' if lon >= 0 else 'W'}."
        )
    if view.share is not None:
        out.append(
            f"The band comes down on {percent(float((view.share >= LIKELY).mean()))} of the "
            "picture on at least 5 days in 10."
        )
    return out
