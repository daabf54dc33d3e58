"""The forecast: a station, a target, times and bands become chances, margins and what limits each hour.

Every point of the target is computed by both routes, short and long, in both directions. What is kept here
are the figures a screen or a command shows; `detail` computes one point again with everything kept (modes,
every loss term), which takes milliseconds. Shapes: P points, R = 2 routes (short, long), T times, B bands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray, as_float
from propagation.geo import great_circle
from propagation.geo.geomagnetic import middle_year
from propagation.geo.great_circle import Route
from propagation.geo.regions import Target
from propagation.ionosphere import variability
from propagation.signal.blocks import Block, blocks_of, in_blocks
from propagation.signal.case import circuit_case
from propagation.signal.causes import CODE
from propagation.signal.circuit import Circuit, circuit
from propagation.signal.limiting import OPEN, limits_of
from propagation.signal.link_budget import OneWay, both_ways, one_way
from propagation.signal.mixed_ends import mixed_by_day
from propagation.signal.path_modes import path_mode_name
from propagation.space_weather.conditions import Conditions
from propagation.space_weather.disturbance import Effects
from propagation.spectrum.bands import BANDS, Band
from propagation.spectrum.modes import Mode
from propagation.spectrum.modes import by_name as mode_by_name
from propagation.station.far_ends import FarEnds
from propagation.station.station import Station
from propagation.station.terminals import Terminal, far_terminal, own_terminal

AnyArray = TypeVar("AnyArray", FloatArray, IntArray, NDArray[np.float32])
ROUTES: Final = ("short", "long")
TUNED_FROM: Final = 0.002  # radiated share of the power under which a band is out of range (ours)
FAINT_CHANCE: Final = 0.02  # share of a target under which no route or point of it is preferred (ours)
ANTIPODE_KM: Final = 600.0  # km from the antipode within which every bearing is tried (ours)
FAN_DEG: Final = (
    -75.0,
    -50.0,
    -25.0,
    25.0,
    50.0,
    75.0,
)  # deg, turns tried there (ours)
TIME_STEP: Final = np.timedelta64(900, "s")


@dataclass(frozen=True, eq=False)
class Forecast:
    """Result for a target; arrays (P, R, T, B) unless said.

    chance: share of days on which a contact is made, both directions. snr_out_db, snr_back_db: median SNR in
    2500 Hz at the far end and at home. margin_db: the smaller of both, over what the mode needs.
    elevation_deg: take-off angle of the strongest mode. path_mode: its number (`path_mode_name`). low_hops,
    high_hops: of that mode. muf_mhz (P, R, T). region_chance (T, B): share of the target reached, best route
    of each point, weighted. route (T, B): 0 short, 1 long, whichever serves the target better. limit (T, B):
    code of `causes.CAUSES`. best_point (T, B). usable (B,): the licence and the antenna allow it.
    far_ends: who is at the other end where that is anybody; for them mixed (P, R, T, B, U, V): the share of
    stations in reach on each kind of day (`mixed_ends`), and best_equipped: the chance with the best kind of
    them. Empty, and far_ends None, where people
    were not asked for, as for a place, where the far end is one station.
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
    snr_out_db: FloatArray
    snr_back_db: FloatArray
    margin_db: FloatArray
    elevation_deg: FloatArray
    path_mode: IntArray
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

    def band_index(self, name: str) -> int:
        """Place of a band by name."""
        return [band.name for band in self.bands].index(name)

    def time_index(self, time: np.datetime64) -> int:
        """Place of the time nearest to the given one."""
        return int(np.argmin(np.abs(self.times - time)))

    def at(self, values: FloatArray, point: int | None = None) -> FloatArray:
        """Values (P, R, T, B) seen by the route that serves best, at the best or a given point: (T, B)."""
        p = self.best_point if point is None else np.full(self.best_point.shape, point)
        t, b = np.ogrid[: len(self.times), : len(self.bands)]
        return as_float(values[p, self.route, t, b])

    @property
    def wanted(self) -> int:
        """Contacts in an hour that are asked of a region; 0 for a place, which has a chance by days."""
        return self.station.people.contacts if self.target.is_region else 0

    @property
    def year(self) -> float:
        """The magnetic field's year for the whole run."""
        return middle_year(self.times)

    def path_mode_name(self, point: int, route: int, time: int, band: int) -> str:
        """The strongest mode in shorthand or words: "2F2", "1E+1F2", "scatter", "ground wave"."""
        cell = (point, route, time, band)
        return path_mode_name(int(self.path_mode[cell]), int(self.low_hops[cell]), int(self.high_hops[cell]))


def day_times(date: np.datetime64, hours: float = 24.0, step: np.timedelta64 = TIME_STEP) -> TimeArray:
    """Times from a start over so many hours, both ends included."""
    count = round(hours * 3600.0 / float(step / np.timedelta64(1, "s")))
    moments: TimeArray = date.astype("datetime64[s]") + np.arange(count + 1) * step
    return moments


def both_routes(station: Station, target: Target, bearing_deg: FloatArray | None = None) -> Route:
    """Short and long routes to every point, (2 P,) with the short ones first.

    `bearing_deg` (P, 2): departures that stand instead of the great circles' own, as a forecast chooses them
    near the antipode, where every bearing leads there.
    """
    place = (target.lat_deg, target.lon_deg)
    short, long = (great_circle.route(station.site.position, place, long=far) for far in (False, True))
    both = Route(
        np.concatenate([short.lat_deg, long.lat_deg]),
        np.concatenate([short.lon_deg, long.lon_deg]),
        np.concatenate([short.bearing_deg, long.bearing_deg]),
        np.concatenate([short.distance_km, long.distance_km]),
    )
    return both if bearing_deg is None else replace(both, bearing_deg=bearing_deg.T.ravel())


@dataclass(frozen=True, eq=False)
class _Figures:
    """What is kept of a circuit; arrays (N, T, B), muf_mhz (N, T), mixed (N, T, B, U, V)."""

    chance: FloatArray
    snr_out_db: FloatArray
    snr_back_db: FloatArray
    margin_db: FloatArray
    elevation_deg: FloatArray
    path_mode: IntArray
    low_hops: IntArray
    high_hops: IntArray
    muf_mhz: FloatArray
    limits: IntArray
    mixed: NDArray[np.float32]
    best_equipped: FloatArray

    @classmethod
    def room_for(cls, n: int, t: int, b: int, people: bool) -> _Figures:
        """Room to be filled block by block; none for the figures of people where the target has none."""
        shape = (n, t, b)
        whole = {"path_mode", "low_hops", "high_hops", "limits"}
        days = (len(variability.LAYER_NODES), len(variability.ES_NODES)) if people else (0, 0)
        room: dict[str, Any] = {
            name: np.empty(shape, dtype=np.int64 if name in whole else np.float64)
            for name in cls.__dataclass_fields__
        }
        apart = {
            "muf_mhz": np.empty((n, t)),
            "mixed": np.empty((*shape, *days), dtype=np.float32),
            "best_equipped": np.empty(shape if people else (n, t, 0)),
        }
        return cls(**room | apart)


def forecast(
    station: Station,
    target: Target,
    times: TimeArray,
    conditions: Conditions,
    *,
    mode: str | None = None,
    power_w: float | None = None,
    bands: Sequence[Band] = BANDS,
    effects: Effects | None = None,
    near: Terminal | None = None,
    far: Terminal | None = None,
    far_ends: FarEnds | None = None,
    people: bool = True,
) -> Forecast:
    """Forecast every band over `times` (T,) for contacts between the station and the target's points.

    `mode` and `power_w` stand instead of the station's own; `near` and `far` instead of the ends made from
    the station file (a friend's file, a changed antenna). `far_ends` stands instead of the kinds of
    station that, by the station file, a region's people have. `people` false leaves them out, which saves
    time. Bands the licence or
    antenna cannot use are computed all the same and marked in `usable`.
    """
    emission = mode_by_name(mode) if mode else station.rig.emission
    own = near or own_terminal(station)
    if power_w is not None:
        own = replace(own, power_w=power_w)
    other = far or far_terminal(station.far_end)
    effects = effects or Effects()
    frequency = np.array([_frequency(station, band, emission) for band in bands])
    usable, why_not = _usable(station, bands, emission, own, frequency)

    route = both_routes(station, target)
    n, t, b = route.distance_km.size, len(times), len(bands)
    mixture = (far_ends or station.people.far_ends) if target.is_region and people else None
    whole = _Figures.room_for(n, t, b, mixture is not None)
    ground, year = station.site.earth, middle_year(times)

    def work(block: Block, route: Route = route) -> None:
        rows, part = block
        case = circuit_case(
            route.rows(rows), times[part], frequency, own, other, conditions, effects, ground, year
        )
        path = circuit(case, keep_modes=False)
        figures = _figures(path, own, other, emission.required_snr_2500_db, mixture)
        for name, values in vars(figures).items():
            getattr(whole, name)[rows, part] = values

    in_blocks(work, blocks_of(route.distance_km, t, b))
    route = _turned_at_antipode(route, usable, whole, work)

    def split(values: AnyArray) -> AnyArray:
        return np.moveaxis(values.reshape(2, target.size, *values.shape[1:]), 0, 1)

    figures = {name: split(values) for name, values in vars(whole).items()}
    return Forecast(
        station, target, conditions, effects, emission, own.power_w, times, tuple(bands), frequency, usable,
        why_not,
        distance_km=route.distance_km.reshape(2, -1).T,
        bearing_deg=route.bearing_deg.reshape(2, -1).T,
        **figures,
        far_ends=mixture,
        **_over_points(target, figures["chance"], figures["limits"], usable, why_not),
    )  # fmt: skip


def _over_points(
    target: Target, chance: FloatArray, limits: IntArray, usable: BoolArray, why_not: IntArray
) -> dict[str, Any]:
    """What a target of many points comes to (T, B): share reached, route, what limits it, best point."""
    weight = target.weight
    best_route = np.argmax(np.einsum("p,prtb->rtb", weight, chance), axis=0)
    either = np.max(chance, axis=1)
    region = np.einsum("p,ptb->tb", weight, either)
    best_point = np.argmax(either * (weight[:, None, None] + 1e-9), axis=0)
    # where nothing is open, speak of the weightiest point rather than of a lucky far corner
    best_point = np.where(region < FAINT_CHANCE, target.heaviest, best_point)
    best_route = np.where(region < FAINT_CHANCE, 0, best_route)
    ti, bi = np.ogrid[: region.shape[0], : region.shape[1]]
    limit = limits[best_point, best_route, ti, bi]
    limit = np.where(region >= OPEN, CODE["open"], np.where(limit == CODE["open"], CODE["power"], limit))
    limit = np.where(usable[None, :], limit, why_not[None, :])
    return {"region_chance": region, "route": best_route, "limit": limit, "best_point": best_point}


def _turned_at_antipode(
    route: Route,
    usable: BoolArray,
    whole: _Figures,
    work: Callable[[Block, Route], None],
) -> Route:
    """Routes to points near the antipode, where every bearing leads there: the one of a fan that serves best.

    Each turn of the fan is computed for those routes alone; where it serves the usable bands of the day
    better than what stands in `whole`, it takes its place. Far from the antipode nothing is done.
    """
    rows = np.flatnonzero(np.abs(route.distance_km - 0.5 * great_circle.EARTH_TURN_KM) < ANTIPODE_KM)
    if not rows.size:
        return route
    everything = slice(None)

    def served() -> FloatArray:
        return as_float(np.mean(whole.chance[rows][..., usable], axis=(1, 2)))

    best, bearing = served(), route.bearing_deg.copy()
    for turn in FAN_DEG:
        kept = {name: values[rows].copy() for name, values in vars(whole).items()}
        trial = route.bearing_deg.copy()
        trial[rows] = np.mod(trial[rows] + turn, 360.0)
        turned = replace(route, bearing_deg=trial)
        for row in rows:
            work((np.array([row]), everything), turned)
        better = served() > best
        for name, values in kept.items():
            getattr(whole, name)[rows[~better]] = values[~better]
        bearing[rows[better]] = trial[rows[better]]
        best = np.maximum(best, served())
    return replace(route, bearing_deg=bearing)


def _frequency(station: Station, band: Band, emission: Mode) -> float:
    """Where in the band to compute: the mode's part of it, or its middle where the licence has none."""
    if station.usable(band, emission):
        return station.centre_mhz(band, emission)
    low, high = band.edges(station.site.region)
    return 0.5 * (low + high)


def _usable(
    station: Station, bands: Sequence[Band], emission: Mode, own: Terminal, frequency: FloatArray
) -> tuple[BoolArray, IntArray]:
    """Which bands licence and antenna allow, and the code of what forbids the others."""
    licensed = np.array([station.usable(band, emission) for band in bands])
    share = own.receive_efficiency(frequency)
    tuned = share >= TUNED_FROM
    cause = np.where(licensed, np.where(tuned, CODE["open"], CODE["antenna range"]), CODE["licence"])
    return licensed & tuned, cause


def _figures(
    path: Circuit, own: Terminal, other: Terminal, need_db: float, far_ends: FarEnds | None
) -> _Figures:
    there = one_way(path, own, other, towards_far_end=True)
    here = one_way(path, other, own, towards_far_end=False)
    chance = both_ways(there, here, need_db, need_db)
    if far_ends is None:
        mixed, best = np.empty((*chance.shape, 0, 0)), np.empty((*chance.shape[:2], 0))
    else:
        mixed, best = mixed_by_day(there, here, need_db, far_ends)
    return _Figures(
        chance=chance,
        snr_out_db=there.median_snr_db,
        snr_back_db=here.median_snr_db,
        margin_db=np.minimum(there.median_snr_db, here.median_snr_db) - need_db,
        elevation_deg=path.elevation_deg,
        path_mode=path.path_mode,
        low_hops=path.low_hops,
        high_hops=path.high_hops,
        muf_mhz=path.muf_mhz,
        limits=limits_of(path, there, here, chance, need_db, own, other),
        mixed=mixed.astype(np.float32),
        best_equipped=best,
    )


@dataclass(frozen=True, eq=False)
class Detail:
    """One point by one route with everything kept: the circuit (N = 1), both directions, both ends."""

    path: Circuit
    there: OneWay
    here: OneWay
    near: Terminal
    far: Terminal
    need_db: float
    times: TimeArray
    bands: tuple[Band, ...]

    @property
    def chance(self) -> FloatArray:
        """Chance of a contact (T, B)."""
        return as_float(both_ways(self.there, self.here, self.need_db, self.need_db)[0])


def detail(
    result: Forecast,
    *,
    point: int | None = None,
    route: int = 0,
    times: TimeArray | None = None,
    bands: Sequence[int] | None = None,
    near: Terminal | None = None,
    far: Terminal | None = None,
    conditions: Conditions | None = None,
    effects: Effects | None = None,
) -> Detail:
    """Compute one point of a forecast's target again, keeping all modes and terms; takes milliseconds.

    `near`, `far`, `conditions` and `effects` may stand instead of the forecast's own: "what if".
    """
    p = result.target.heaviest if point is None else point
    chosen = list(range(len(result.bands))) if bands is None else list(bands)
    when = result.times if times is None else times
    own = near or replace(own_terminal(result.station), power_w=result.power_w)
    other = far or far_terminal(result.station.far_end)
    routes = both_routes(result.station, result.target, result.bearing_deg)
    row = np.array([p + route * result.target.size])
    case = circuit_case(
        routes.rows(row), when, result.frequency_mhz[chosen], own, other, conditions or result.conditions,
        effects or result.effects, result.station.site.earth, result.year,
    )  # fmt: skip
    path = circuit(case)
    return Detail(
        path=path,
        there=one_way(path, own, other, towards_far_end=True),
        here=one_way(path, other, own, towards_far_end=False),
        near=own,
        far=other,
        need_db=result.mode.required_snr_2500_db,
        times=when,
        bands=tuple(result.bands[i] for i in chosen),
    )
