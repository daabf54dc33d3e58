"""Forecast of chances, margins and limiting causes for a station, a target, times and bands.

Every point of the target is computed by both routes, short and long, in both directions. A `Forecast` holds
the figures that a screen or a command shows. `forecast_detail` recomputes one point with all ray paths and
every loss term, which takes milliseconds. A region with its people is computed at the half hours of the clock
and interpolated smoothly (`between_times`). A place is computed at every requested time. Shapes: P points, R
= 2 routes (short, long), T times, B bands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray, as_float
from propagation.geo.geomagnetic import middle_year
from propagation.geo.great_circle import Route
from propagation.geo.regions import Target
from propagation.signal.chances.chunking import Block, blocks_of, in_blocks
from propagation.signal.chances.forecast_arrays import MEDIANS, Figures, figures_of
from propagation.signal.chances.limiting import OPEN
from propagation.signal.chances.request import Request
from propagation.signal.chances.routes import both_routes, turned_at_antipode
from propagation.signal.chances.time_interpolation import BetweenTimes, between_times, on_times
from propagation.signal.losses.circuit import circuit, make_tables
from propagation.signal.losses.circuit_inputs import Circumstances, circuit_case
from propagation.signal.rays.causes import CODE
from propagation.signal.rays.ray_path_names import ray_path_name
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import Effects
from propagation.space_weather.state.storm_corrections import flare_about
from propagation.spectrum.bands import Band
from propagation.spectrum.modes import Mode
from propagation.station.far_ends import FarEnds
from propagation.station.station import Station
from propagation.station.terminals import Terminal

AnyArray = TypeVar("AnyArray", FloatArray, IntArray, NDArray[np.float32])
ROUTES: Final = ("short", "long")
TUNED_FROM: Final = 0.002  # radiated share of the power below which a band is out of range (ours)
FAINT_CHANCE: Final = 0.02  # chance at every point below which no route or point is preferred (ours)
TIME_STEP: Final = np.timedelta64(600, "s")  # of a day, on pages and in commands (ours)


@dataclass(frozen=True, eq=False)
class Forecast:
    """Forecast for a target; arrays (P, R, T, B) unless noted.

    chance: share of days on which a contact is made, both directions. snr_out_db, snr_back_db: median SNR in
    2500 Hz at the far end and at home. margin_db: the smaller of both over the mode's required SNR.
    elevation_deg: take-off angle of the strongest ray path. ray_path: its number (`ray_path_name`). low_hops,
    high_hops: of that ray path. muf_mhz (P, R, T). region_chance (T, B): share of the target reached, by the
    best route of each point, weighted. route (T, B): 0 short, 1 long, whichever reaches more of the target.
    limit (T, B): code of `causes.CAUSES`. best_point (T, B). usable (B,): True if the licence and the antenna
    allow the band. far_ends: mixture of stations at the other end of a region. mixed (P, R, M, B, U, V):
    share of these stations in reach on each kind of day (`mixed_ends`), at the half hours of `between`.
    best_equipped: chance with the best kind of them. mixed and best_equipped are empty, and far_ends is None,
    without people; so for a place, where the far end is one station. levels: function that returns the two
    medians. For a region it computes the circuits again, so that callers that need only chances do not wait
    for the medians.
    """

    station: Station
    target: Target
    conditions: Conditions
    effects: Effects
    mode: Mode
    power_w: float
    times: TimeArray
    bands: tuple[Band, ...]
    frequency_mhz: FloatArray
    usable: BoolArray
    unusable_cause: IntArray
    distance_km: FloatArray
    bearing_deg: FloatArray
    chance: FloatArray
    elevation_deg: FloatArray
    ray_path: IntArray
    low_hops: IntArray
    high_hops: IntArray
    muf_mhz: FloatArray
    limits: IntArray
    region_chance: FloatArray = field(repr=False)
    route: IntArray = field(repr=False)
    limit: IntArray = field(repr=False)
    best_point: IntArray = field(repr=False)
    far_ends: FarEnds | None = field(repr=False)
    mixed: NDArray[np.float32] = field(repr=False)
    best_equipped: FloatArray = field(repr=False)
    between: BetweenTimes = field(repr=False)
    levels: Callable[[], tuple[FloatArray, FloatArray]] = field(repr=False)

    @cached_property
    def _levels(self) -> tuple[FloatArray, FloatArray]:
        return self.levels()

    @property
    def snr_out_db(self) -> FloatArray:
        """Median SNR in 2500 Hz at the far end [dB]."""
        return self._levels[0]

    @property
    def snr_back_db(self) -> FloatArray:
        """Median SNR in 2500 Hz at home [dB]."""
        return self._levels[1]

    @property
    def margin_db(self) -> FloatArray:
        """Smaller of both medians over the mode's required SNR [dB]."""
        return np.minimum(*self._levels) - self.mode.required_snr_2500_db

    def band_index(self, name: str) -> int:
        """Index of a band by name."""
        return [band.name for band in self.bands].index(name)

    def time_index(self, time: np.datetime64) -> int:
        """Index of the time nearest to the given one."""
        return int(np.argmin(np.abs(self.times - time)))

    def at(self, values: FloatArray, point: int | None = None) -> FloatArray:
        """Values (P, R, T, B) of the best route, at the best or a given point: (T, B)."""
        p = self.best_point if point is None else np.full(self.best_point.shape, point)
        t, b = np.ogrid[: len(self.times), : len(self.bands)]
        return as_float(values[p, self.route, t, b])

    @property
    def wanted(self) -> int:
        """Contacts in an hour that are requested of a region; 0 for a place, whose chance counts days."""
        return self.station.people.contacts if self.target.is_region else 0

    @property
    def circumstances(self) -> Circumstances:
        """Circumstances that all circuits of the forecast share."""
        return Circumstances(self.conditions, self.effects, self.station.site.earth, middle_year(self.times))

    def ray_path_name(self, point: int, route: int, time: int, band: int) -> str:
        """Strongest ray path in shorthand or words: "2F2", "1E+1F2", "scatter", "ground wave"."""
        cell = (point, route, time, band)
        return ray_path_name(int(self.ray_path[cell]), int(self.low_hops[cell]), int(self.high_hops[cell]))


def day_times(date: np.datetime64, hours: float = 24.0, step: np.timedelta64 = TIME_STEP) -> TimeArray:
    """Times from a start over a number of hours, both ends included."""
    count = round(hours * 3600.0 / float(step / np.timedelta64(1, "s")))
    moments: TimeArray = date.astype("datetime64[s]") + np.arange(count + 1) * step
    return moments


@dataclass(frozen=True, eq=False)
class _Run:
    """Inputs of all circuits of a forecast; `between` has the times, `people` the mixture."""

    common: Circumstances
    near: Terminal
    far: Terminal
    between: BetweenTimes
    frequency_mhz: FloatArray
    need_db: float
    people: FarEnds | None

    def figures(self, route: Route, usable: BoolArray, *, medians: bool, fan: bool) -> tuple[Figures, Route]:
        """Return the figures of all routes at the requested times, and the routes.

        Where `fan` is true, the routes near the antipode are turned to the best bearing.
        """
        nodes = self.between.nodes
        n, t, b = route.distance_km.size, len(nodes), self.frequency_mhz.size
        whole = Figures.room_for(n, t, b, self.people is not None, medians)

        def work(block: Block, route: Route = route) -> None:
            rows, part = block
            case = circuit_case(
                self.common, self.near, self.far, route.rows(rows), nodes[part], self.frequency_mhz
            )
            path = circuit(case, keep_ray_paths=False)
            found = figures_of(path, self.near, self.far, self.need_db, self.people, medians)
            for name, values in vars(found).items():
                getattr(whole, name)[rows, part] = values

        make_tables(self.common.year)
        in_blocks(work, blocks_of(route.distance_km, t, b))
        turned = turned_at_antipode(route, usable, whole, work) if fan else route
        return whole.at_times(self.between), turned


def forecast(request: Request) -> Forecast:
    """Forecast every band and time of a request.

    Bands that the licence or the antenna excludes are computed too and marked in `usable`.
    """
    station, target, times, conditions = request.station, request.target, request.times, request.conditions
    emission, own, bands = request.emission, request.own_end, request.bands
    effects = request.effects or Effects()
    frequency = np.array([computed_mhz(station, band, emission) for band in bands])
    usable, why_not = _usable(station, bands, emission, own, frequency)
    mixture = (request.far_ends or station.people.far_ends) if target.is_region and request.people else None
    sudden = flare_about(conditions, effects, times)
    run = _Run(
        common=Circumstances(conditions, effects, station.site.earth, middle_year(times)),
        near=own,
        far=request.other_end,
        between=on_times(times) if mixture is None else between_times(times, sudden),
        frequency_mhz=frequency,
        need_db=emission.required_snr_2500_db,
        people=mixture,
    )

    def split(values: AnyArray) -> AnyArray:
        return np.moveaxis(values.reshape(2, target.size, *values.shape[1:]), 0, 1)

    at_once = not target.is_region
    whole, route = run.figures(both_routes(station, target), usable, medians=at_once, fan=True)

    def levels() -> tuple[FloatArray, FloatArray]:
        found = whole if at_once else run.figures(route, usable, medians=True, fan=False)[0]
        return split(found.snr_out_db), split(found.snr_back_db)

    figures = {name: split(values) for name, values in vars(whole).items() if name not in MEDIANS}
    return Forecast(
        station, target, conditions, effects, emission, own.power_w, times, tuple(bands), frequency, usable,
        why_not,
        distance_km=route.distance_km.reshape(2, -1).T,
        bearing_deg=route.bearing_deg.reshape(2, -1).T,
        **figures,
        far_ends=mixture,
        between=run.between,
        levels=levels,
        **_over_points(target, figures["chance"], figures["limits"], usable, why_not),
    )  # fmt: skip


def _over_points(
    target: Target, chance: FloatArray, limits: IntArray, usable: BoolArray, why_not: IntArray
) -> dict[str, Any]:
    """Summary of a target of many points (T, B): share reached, route, limiting cause, best point."""
    weight = target.weight
    best_route = np.argmax(np.einsum("p,prtb->rtb", weight, chance), axis=0)
    either = np.max(chance, axis=1)
    region = np.einsum("p,ptb->tb", weight, either)
    best_point = np.argmax(either * (weight[:, None, None] + 1e-9), axis=0)
    # where nothing is open, use the heaviest point: a far corner with a slightly higher chance is not
    # typical; of a target as wide as the world the share reached is small although one part of it is open
    faint = np.take_along_axis(either, best_point[None], axis=0)[0] < FAINT_CHANCE
    best_point = np.where(faint, target.heaviest, best_point)
    best_route = np.where(faint, 0, best_route)
    ti, bi = np.ogrid[: region.shape[0], : region.shape[1]]
    limit = limits[best_point, best_route, ti, bi]
    limit = np.where(region >= OPEN, CODE["open"], np.where(limit == CODE["open"], CODE["power"], limit))
    limit = np.where(usable[None, :], limit, why_not[None, :])
    return {"region_chance": region, "route": best_route, "limit": limit, "best_point": best_point}


def computed_mhz(station: Station, band: Band, emission: Mode) -> float:
    """Frequency in the band to compute at: in the mode's segment, or mid-band where the licence has none."""
    if station.usable(band, emission):
        return station.centre_mhz(band, emission)
    low, high = band.edges(station.site.region)
    return 0.5 * (low + high)


def _usable(
    station: Station, bands: Sequence[Band], emission: Mode, own: Terminal, frequency: FloatArray
) -> tuple[BoolArray, IntArray]:
    """Return which bands licence and antenna allow, and the code of the cause that excludes the others."""
    licensed = np.array([station.usable(band, emission) for band in bands])
    share = own.receive_efficiency(frequency)
    tuned = share >= TUNED_FROM
    cause = np.where(licensed, np.where(tuned, CODE["open"], CODE["antenna range"]), CODE["licence"])
    return licensed & tuned, cause
