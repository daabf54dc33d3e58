"""The hop picture: the path's cross-section, with day and night along it, the layers, and the ray paths."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray
from propagation.wording import quantities as say
from propagation.wording.quantities import band_title, both_clocks, clock, kilometres, megahertz, take_off
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas, Drawn
from tui.kit.glyphs import LANDING, SITE, TARGET
from tui.kit.marks import Dots
from tui.kit.theme import (
    DAY,
    DUSK,
    GAIN,
    LAND,
    LAYER,
    MARK,
    NIGHT,
    QUIET,
    RAMP,
    RULE,
    SEA,
    SKYLIGHT,
    SOFT,
    STRONG,
    TEXT,
)
from tui.kit.words import on_screen

if TYPE_CHECKING:
    from collections.abc import Callable


LEFT = 8  # columns for the heights
RIGHT = 9  # columns for the layers' frequencies
FEET = 3  # rows below the picture: ground, marks, names
D_BASE_KM, D_TOP_KM = 60.0, 95.0  # drawn height range of the absorbing layer
CELL_ASPECT = 2.0  # a cell is about twice as high as it is wide


class HopPicture(Drawn):
    """The cross-section: distance across, height up, with both scales next to the picture."""

    about = (
        "A cut through the air along the path: distance across, height up. Lighter air is in daylight. The"
        " lines are the E and F2 layers with the highest frequency they turn back straight up, dots near "
        "the ground the layer that absorbs. The bright curve is the strongest mode, the fainter one the "
        "next. Under the ground: where they come down, and the skip distance: nearer than that no layer "
        "returns the band on half of the days."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: HopView | None = None
        self.waiting = words.WORKING
        self.titled = True

    def show(self, view: HopView | None, waiting: str = words.WORKING, *, titled: bool = True) -> None:
        """Take a cross-section; without title if band and hour are already shown above the picture."""
        self.titled = titled
        self.view, self.waiting = view, waiting
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw sky, layers, ray paths, ground, marks."""
        view = self.view
        left, right = (LEFT, RIGHT) if canvas.width >= 60 else (0, 0)
        width, height = canvas.width - left - right - 1, canvas.height - FEET - 1
        if view is None or width < 16 or height < 5:
            said = [self.waiting] if view is None else hop_sentences(view)
            for row, line in enumerate(text_flow.wrap_all(said, max(canvas.width - 2, 1))[: canvas.height]):
                canvas.put(1, row, line, SOFT)
            return
        self._title(canvas, view)
        top_km = float(max(np.nanmax(view.f2_height_km, initial=300.0) * 1.12, 350.0))
        km_per_row = top_km / height
        total = max(view.total_km, 1.0)
        distance = (np.arange(width) + 0.5) / width * total
        pick = np.clip(np.searchsorted(view.distance_km, distance), 0, view.distance_km.size - 1)
        base = height  # the row of the ground, counted from the picture's top at row 1
        self._sky(canvas, view, left, width, height, pick)
        self._layers(canvas, view, left, width, height, km_per_row, pick)
        self._rays(canvas, view, left, width, height, km_per_row, total)
        self._ground(canvas, view, left, width, 1 + base, pick, total)
        if left:
            self._scale(canvas, view, height, km_per_row, total / width)

    # -- parts ----------------------------------------------------------------------------------

    def _title(self, canvas: Canvas, view: HopView) -> None:
        x = canvas.put(1, 0, hop_title(view) if self.titled else route_title(view), STRONG) + 3
        for number, ray in enumerate(view.rays[:2]):
            text = f"{ray.name}, {words.on_screen(say.take_off(ray.take_off_deg))}"
            if x + len(text) + 3 > canvas.width:
                break
            canvas.put(x, 0, "━" if number == 0 else "┄", _ray_ink(number))
            x = canvas.put(x + 2, 0, text, TEXT if number == 0 else SOFT) + 3
        if not view.rays:
            x = canvas.put(x, 0, "no layer turns this frequency back", SOFT) + 3
        says = f"MUF {view.muf_mhz:.1f} MHz" if view.muf_mhz is not None else ""
        if says and x + len(says) + 1 <= canvas.width:
            canvas.put_right(canvas.width - 1, 0, says, SKYLIGHT + 3)

    def _sky(self, canvas: Canvas, view: HopView, left: int, width: int, height: int, pick: IntArray) -> None:
        sun = view.sun_elevation_deg[pick]
        grounds = np.where(sun > 0, DAY, np.where(sun > -12, DUSK, NIGHT))
        canvas.grounds[1 : 1 + height, left : left + width] = grounds
        codes = np.where(sun > 0, 2, np.where(sun > -12, 1, 0))
        edges = [0, *(np.flatnonzero(np.diff(codes)) + 1).tolist(), width]
        for start, end in pairwise(edges):
            name = ("night", "twilight", "day")[int(codes[start])]
            if end - start >= len(name) + 2:
                canvas.put_centred(left + (start + end) // 2, 1, name, SKYLIGHT + 2, left + start, left + end)

    def _layers(
        self,
        canvas: Canvas,
        view: HopView,
        left: int,
        width: int,
        height: int,
        km_per_row: float,
        pick: IntArray,
    ) -> None:
        columns = np.arange(width)
        strength = view.absorbing[pick]
        for row in range(1, height + 1):
            middle_km = (height - row + 0.5) * km_per_row
            if not (D_BASE_KM - km_per_row / 2 <= middle_km <= D_TOP_KM):
                continue
            dense = np.where(strength > 0.6, ":", np.where(strength > 0.25, ".", " "))
            sparse = (columns + row) % 2 == 0
            canvas.signs[row, left : left + width] = np.where((strength > 0.1) & sparse, dense, " ")
            canvas.inks[row, left : left + width] = LAYER
        e_row = _rows(view.e_height_km[pick], height, km_per_row)
        e_there = view.foe_mhz[pick] > 0.8
        for place in np.flatnonzero(e_there & (columns % 2 == 0)).tolist():
            canvas.mark(left + place, int(e_row[place]), "╌", LAYER)
        f_row = _rows(view.f2_height_km[pick], height, km_per_row)
        within = view.f2_height_km[pick] / km_per_row % 1.0  # height inside the row, from its bottom
        sign = np.where(within >= 0.5, "▔", "▁")
        for column in range(width):
            canvas.mark(left + column, int(f_row[column]), str(sign[column]), SKYLIGHT + 3)

    def _rays(
        self,
        canvas: Canvas,
        view: HopView,
        left: int,
        width: int,
        height: int,
        km_per_row: float,
        total: float,
    ) -> None:
        for number in reversed(range(min(len(view.rays), 2))):
            ray = view.rays[number]
            dots = Dots(width, height)
            dots.curve(ray.distance_km / total * width, height - ray.height_km / km_per_row - 0.13)
            if number:
                dots.raster[:, ::3] = False
            cells = dots.cells()
            drawn = cells != " "
            area = (slice(1, 1 + height), slice(left, left + width))
            canvas.signs[area] = np.where(drawn, cells, canvas.signs[area])
            canvas.inks[area] = np.where(drawn, _ray_ink(number), canvas.inks[area])

    def _ground(
        self, canvas: Canvas, view: HopView, left: int, width: int, row: int, pick: IntArray, total: float
    ) -> None:
        sea = view.sea[pick]
        canvas.signs[row, left : left + width] = np.where(sea, "≈", "▀")
        canvas.inks[row, left : left + width] = np.where(sea, SEA, LAND)
        canvas.mark(left, row, SITE, GAIN)
        canvas.mark(left + width - 1, row, TARGET, MARK)

        def column(km: float) -> int:
            return left + min(max(int(km / total * width), 0), width - 1)

        if view.skip_km is not None and view.skip_km > 0:
            end = column(min(view.skip_km, total))
            for x in range(left, end):
                canvas.mark(x, row + 1, "╌", QUIET)
            if view.skip_km < total:
                canvas.mark(end, row + 1, "┤", QUIET)
        marks = [
            (column(float(km)), n)
            for n in reversed(range(min(len(view.rays), 2)))
            for km in view.rays[n].landing_km
        ]
        for x, number in marks:
            canvas.mark(x, row + 1, LANDING, _ray_ink(number))
        if view.skip_km is not None and view.skip_km > 0:
            free = min([column(min(view.skip_km, total)), *(x for x, _ in marks)])
            says, brief = f" {say.skip_words(view.skip_km)} ", f" skip {say.kilometres(view.skip_km)} "
            says = says if len(says) <= free - left else brief
            canvas.put_centred((left + free) // 2, row + 1, says, SOFT, left, free)
        end_name = f"{view.target}, {say.kilometres(view.total_km)}"
        canvas.put_right(left + width, row + 2, end_name, TEXT)
        start = canvas.put(left, row + 2, view.site, TEXT, room=width // 3)
        if view.rays:
            self._landings(canvas, view.rays[0], start + 1, left + width - len(end_name) - 1, row + 2, column)

    @staticmethod
    def _landings(
        canvas: Canvas, ray: Ray, first: int, last: int, row: int, column: Callable[[float], int]
    ) -> None:
        for km in ray.landing_km[:-1]:
            text = say.kilometres(float(km))
            x = column(float(km)) - len(text) // 2
            if x > first and x + len(text) < last:
                first = canvas.put(x, row, text, SOFT) + 1

    def _scale(
        self, canvas: Canvas, view: HopView, height: int, km_per_row: float, km_per_column: float
    ) -> None:
        step = next((s for s in (50, 100, 200, 400) if s / km_per_row >= 2), 400)
        for km in range(step, int(height * km_per_row), step):
            row = int(_rows(np.array([float(km)]), height, km_per_row)[0])
            if row > 1:
                canvas.put_right(LEFT - 1, row, f"{km} km", QUIET)
        stretch = km_per_column * CELL_ASPECT / km_per_row
        if stretch >= 1.5:
            canvas.put_right(LEFT - 1, 1, f"× {stretch:.0f}", SOFT)
        x = canvas.width - RIGHT
        f2_row = int(_rows(view.f2_height_km[-1:], height, km_per_row)[0])
        e_row = int(_rows(view.e_height_km[-1:], height, km_per_row)[0])
        canvas.put(x, f2_row, f"F2 {view.fof2_mhz[-1]:.1f}", SKYLIGHT + 3)
        if view.foe_mhz[-1] > 0.8:
            canvas.put(x, e_row, f"E  {view.foe_mhz[-1]:.1f}", LAYER)
        first_f2 = int(_rows(view.f2_height_km[:1], height, km_per_row)[0])
        canvas.put(LEFT + 1, max(first_f2 - 1, 1), f"{view.fof2_mhz[0]:.1f} MHz", SKYLIGHT + 3)
        canvas.mark(LEFT - 1, height + 1, "┘", RULE)


def _rows(height_km: FloatArray, height: int, km_per_row: float) -> IntArray:
    """Rows of the canvas (the picture begins at row 1) for heights."""
    rows: IntArray = np.clip(height - np.floor(height_km / km_per_row), 1, height).astype(np.int64)
    return rows


def _ray_ink(number: int) -> int:
    return RAMP + 8 if number == 0 else RAMP + 3


@dataclass(frozen=True)
class Ray:
    """One mode of the path as a ray path in the cross-section."""

    name: str  # "2F2", "1E", "1F2+1Es"
    distance_km: FloatArray  # (N,) along the ground
    height_km: FloatArray  # (N,)
    take_off_deg: float
    level_db: float  # relative to the strongest mode
    landing_km: FloatArray  # (K,) ground reflections and the end of the path
    muf_mhz: float | None = None


@dataclass(frozen=True)
class HopView:
    """The path's cross-section for one band and one time."""

    band: str
    frequency_mhz: float
    time: np.datetime64
    site: str
    target: str
    route: str
    total_km: float
    distance_km: FloatArray  # (X,) samples along the path
    sea: BoolArray  # (X,)
    sun_elevation_deg: FloatArray  # (X,) at the ground [deg]
    absorbing: FloatArray  # (X,) strength of the lowest layer, 0..1
    e_height_km: FloatArray  # (X,)
    f2_height_km: FloatArray  # (X,)
    fof2_mhz: FloatArray  # (X,)
    foe_mhz: FloatArray  # (X,)
    rays: tuple[Ray, ...]
    skip_km: float | None  # skip distance: nearest distance that the layer serves; None without reflection
    muf_mhz: float | None = None
    note: str = ""
    stand_in: str = ""  # why this part of a region is shown


def hop_title(view: HopView) -> str:
    """Band, hour and route, short."""
    route = "" if view.route == "short" else ", long way"
    return f"{band_title(view.band)} at {clock(view.time)}{route}"


def route_title(view: HopView) -> str:
    """The route, short."""
    return "long way" if view.route != "short" else "short way"


def _part(share: float) -> str:
    """A share of the path in words."""
    tenths = round(share * 10)
    if tenths in (0, 10):
        return "All of the path" if tenths else "None of the path"
    return "Half of the path" if tenths == 5 else f"{tenths} tenth{'s' if tenths > 1 else ''} of the path"


def hop_sentences(view: HopView) -> list[str]:
    """The cross-section in words."""
    out = [
        f"{band_title(view.band)}, {megahertz(view.frequency_mhz)}, {both_clocks(view.time)}: {view.site} "
        f"to {view.target}, {kilometres(view.total_km)}, {view.route} way."
    ]
    sea = float(view.sea.mean()) if view.sea.size else 0.0
    lit = float((view.sun_elevation_deg > 0).mean()) if view.sun_elevation_deg.size else 0.0
    out.append(f"{_part(lit)} in daylight, {_part(sea).lower()} over sea.")
    for ray in view.rays:
        landings = ", ".join(kilometres(km) for km in ray.landing_km)
        out.append(f"{ray.name}, {on_screen(take_off(ray.take_off_deg))}, comes down at {landings}.")
    if not view.rays:
        out.append("No layer turns this frequency back.")
    if view.skip_km is not None and view.skip_km > 0:
        out.append(text_flow.sentence(say.skip_words(view.skip_km)))
    if view.muf_mhz is not None:
        out.append(f"The path carries up to {view.muf_mhz:.1f} MHz at this hour.")
    out += [line for line in (view.stand_in, view.note) if line]
    return out
