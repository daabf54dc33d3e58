"""The forecast: a station, a target, times and bands become chances, margins and what limits each hour.

Every point of the target is computed by both routes, short and long, in both directions. What is kept here
are the figures a screen or a command shows; `detail` computes one point again with everything kept (modes,
every loss term), which takes milliseconds. Shapes: P points, R = 2 routes (short, long), T times, B bands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Final, TypeAlias, TypeVar

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray, as_float
from propagation.geo import great_circle
from propagation.geo.great_circle import Route
from propagation.geo.regions import Target
from propagation.signal.causes import CODE
from propagation.signal.circuit import GROUND_WAY, LONG_WAY, SCATTER_WAY, Circuit, circuit
from propagation.signal.limiting import OPEN, limits_of
from propagation.signal.link_budget import OneWay, both_ways, one_way
from propagation.signal.mode_chains import SLOTS, mode_name
from propagation.space_weather.conditions import Conditions
from propagation.space_weather.disturbance import Effects
from propagation.space_weather.disturbed import disturber_of
from propagation.spectrum.bands import BANDS, Band
from propagation.spectrum.modes import Mode
from propagation.spectrum.modes import by_name as mode_by_name
from propagation.station.station import Station
from propagation.station.terminals import Terminal, far_terminal, own_terminal

AnyArray = TypeVar("AnyArray", FloatArray, IntArray)
ROUTES: Final = ("short", "long")
BLOCK_CELLS: Final = 8_000  # routes x times x bands in one block: some 100 MB of working memory
WORKERS: Final = 2  # blocks worked at a time
TUNED_FROM: Final = 0.002  # radiated share of the power under which a band is out of the antenna's range
ANTIPODE_KM: Final = 600.0  # km from the antipode within which every bearing is tried (ours)
FAN_DEG: Final = (-75.0, -50.0, -25.0, 25.0, 50.0, 75.0)  # deg, turns from a route's own bearing tried there
TIME_STEP: Final = np.timedelta64(900, "s")

Block: TypeAlias = tuple[IntArray, slice]  # routes, and a stretch of times, computed together


@dataclass(frozen=True, eq=False)
class Forecast:
    """Result for a target; arrays (P, R, T, B) unless said.

    chance: share of days on which a contact is made, both directions. snr_out_db, snr_back_db: median SNR
    in 2500 Hz at the far end and at home. margin_db: the smaller of both, over what the mode needs.
    elevation_deg: take-off angle of the strongest way. way: its number (`way_name`). hops_low, hops_high:
    of that way. muf_mhz (P, R, T). region_chance (T, B): share of the target reached, best route of each
    point, weighted. route (T, B): 0 short, 1 long, whichever serves the target better. limit (T, B): code
    of `causes.CAUSES`. best_point (T, B). usable (B,): the licence and the antenna allow it.
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
    way: IntArray
    way_hops: IntArray
    muf_mhz: FloatArray
    limits: IntArray
    region_chance: FloatArray = field(repr=False)
    route: IntArray = field(repr=False)
    limit: IntArray = field(repr=False)
    best_point: IntArray = field(repr=False)

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

    def way_name(self, point: int, route: int, time: int, band: int) -> str:
        """The strongest way in words or shorthand: "2F2", "1E+1F2", "long path", "scatter", "ground wave"."""
        way = int(self.way[point, route, time, band])
        packed = int(self.way_hops[point, route, time, band])
        return way_text(way, packed // 100, packed % 100)


def way_text(way: int, low_hops: int, high_hops: int) -> str:
    """A way's name from its number and hop counts."""
    if way < len(SLOTS):
        return mode_name(way, low_hops, high_hops)
    return {LONG_WAY: f"{high_hops}F2", SCATTER_WAY: "scatter", GROUND_WAY: "ground wave"}[way]


def day_times(date: np.datetime64, hours: float = 24.0, step: np.timedelta64 = TIME_STEP) -> TimeArray:
    """Times from a start over so many hours, both ends included."""
    count = round(hours * 3600.0 / float(step / np.timedelta64(1, "s")))
    moments: TimeArray = date.astype("datetime64[s]") + np.arange(count + 1) * step
    return moments


def both_routes(
    station: Station, target: Target, bearing_deg: FloatArray | None = None
) -> tuple[Route, FloatArray]:
    """Short and long routes to every point, (2 P,) with the short ones first, and the bearings back.

    `bearing_deg` (P, 2): departures that stand instead of the great circles' own, as a forecast chooses them
    near the antipode, where every bearing leads there.
    """
    home = station.site.position
    place = (target.lat_deg, target.lon_deg)
    short, long = (great_circle.route(home, place, long=far) for far in (False, True))
    both = Route(
        np.concatenate([short.lat_deg, long.lat_deg]),
        np.concatenate([short.lon_deg, long.lon_deg]),
        np.concatenate([short.bearing_deg, long.bearing_deg]),
        np.concatenate([short.distance_km, long.distance_km]),
    )
    back = great_circle.bearing_deg(target.lat_deg, target.lon_deg, home.lat_deg, home.lon_deg)
    back = np.concatenate([back, np.mod(back + 180.0, 360.0)])
    if bearing_deg is None:
        return both, back
    turned = replace(both, bearing_deg=bearing_deg.T.ravel())
    return turned, np.where(turned.bearing_deg == both.bearing_deg, back, _bearing_back(turned))


def _bearing_back(route: Route) -> FloatArray:
    """Bearing from the far end of routes back along them."""
    before = route.at_km(np.maximum(route.distance_km - 100.0, 0.0))
    return great_circle.bearing_deg(*route.at_km(route.distance_km), *before)


@dataclass(frozen=True, eq=False)
class _Figures:
    """What is kept of a circuit; arrays (N, T, B), muf_mhz (N, T)."""

    chance: FloatArray
    snr_out_db: FloatArray
    snr_back_db: FloatArray
    margin_db: FloatArray
    elevation_deg: FloatArray
    way: IntArray
    way_hops: IntArray
    muf_mhz: FloatArray
    limits: IntArray

    @classmethod
    def room_for(cls, n: int, t: int, b: int) -> _Figures:
        """Room to be filled block by block."""
        shape = (n, t, b)
        reals = (np.empty(shape) for _ in range(5))
        way, way_hops, limits = (np.empty(shape, dtype=np.int64) for _ in range(3))
        return cls(next(reals), next(reals), next(reals), next(reals), next(reals), way, way_hops,
                   np.empty((n, t)), limits)  # fmt: skip


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
) -> Forecast:
    """Forecast every band over `times` (T,) for contacts between the station and the target's points.

    `mode` and `power_w` stand instead of the station's own; `near` and `far` instead of the ends made from
    the station file (a friend's file, a changed antenna). Bands the licence or antenna cannot use are
    computed all the same and marked in `usable`.
    """
    emission = mode_by_name(mode) if mode else station.rig.emission
    own = near or own_terminal(station)
    if power_w is not None:
        own = replace(own, power_w=power_w)
    other = far or far_terminal(station.far_end)
    effects = effects or Effects()
    frequency = np.array([_frequency(station, band, emission) for band in bands])
    usable, why_not = _usable(station, bands, emission, own, frequency)

    route, back = both_routes(station, target)
    n, t, b = route.distance_km.size, len(times), len(bands)
    disturber = disturber_of(conditions, effects, times)
    ground = station.site.earth
    need = emission.required_snr_2500_db
    whole = _Figures.room_for(n, t, b)
    year = _field_year(times)

    def work(block: Block, route: Route = route, back: FloatArray = back) -> None:
        rows, part = block
        path = circuit(
            Route(route.lat_deg[rows], route.lon_deg[rows], route.bearing_deg[rows], route.distance_km[rows]),
            back[rows],
            times[None, part],
            frequency,
            conditions.index_at(times[part])[None, :],
            own,
            other,
            disturber,
            year=year,
            permittivity=ground.permittivity,
            conductivity_s_per_m=ground.conductivity_s_per_m,
            keep_modes=False,
        )
        there = one_way(path, own, other, towards_far_end=True)
        here = one_way(path, other, own, towards_far_end=False)
        for name, values in vars(_figures(path, there, here, need, own, other)).items():
            getattr(whole, name)[rows, part] = values

    in_blocks(work, blocks_of(route.distance_km, t, b))
    route = _turned_at_antipode(route, back, usable, whole, work)

    def split(values: AnyArray) -> AnyArray:
        return np.moveaxis(values.reshape(2, target.size, *values.shape[1:]), 0, 1)

    chance, limits = split(whole.chance), split(whole.limits)
    weight = target.weight
    by_route = np.einsum("p,prtb->rtb", weight, chance)
    best_route = np.argmax(by_route, axis=0)
    region = np.einsum("p,ptb->tb", weight, np.max(chance, axis=1))
    ti, bi = np.ogrid[:t, :b]
    weighted = np.max(chance, axis=1) * (weight[:, None, None] + 1e-9)
    best_point = np.argmax(weighted, axis=0)
    # where nothing is open, speak of the weightiest point rather than of a lucky far corner
    best_point = np.where(region < 0.02, target.heaviest, best_point)
    best_route = np.where(region < 0.02, 0, best_route)
    limit = limits[best_point, best_route, ti, bi]
    limit = np.where(region >= OPEN, CODE["open"], np.where(limit == CODE["open"], CODE["power"], limit))
    limit = np.where(usable[None, :], limit, why_not[None, :])
    return Forecast(
        station=station,
        target=target,
        conditions=conditions,
        effects=effects,
        mode=emission,
        power_w=own.power_w,
        times=times,
        bands=tuple(bands),
        frequency_mhz=frequency,
        usable=usable,
        unusable_cause=why_not,
        distance_km=route.distance_km.reshape(2, -1).T,
        bearing_deg=route.bearing_deg.reshape(2, -1).T,
        chance=chance,
        snr_out_db=split(whole.snr_out_db),
        snr_back_db=split(whole.snr_back_db),
        margin_db=split(whole.margin_db),
        elevation_deg=split(whole.elevation_deg),
        way=split(whole.way),
        way_hops=split(whole.way_hops),
        muf_mhz=split(whole.muf_mhz),
        limits=limits,
        region_chance=region,
        route=best_route,
        limit=limit,
        best_point=best_point,
    )


def _turned_at_antipode(
    route: Route,
    back: FloatArray,
    usable: BoolArray,
    whole: _Figures,
    work: Callable[[Block, Route, FloatArray], None],
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
        arriving = np.where(trial == route.bearing_deg, back, _bearing_back(turned))
        for row in rows:
            work((np.array([row]), everything), turned, arriving)
        better = served() > best
        for name, values in kept.items():
            getattr(whole, name)[rows[~better]] = values[~better]
        bearing[rows[better]] = trial[rows[better]]
        best = np.maximum(best, served())
    return replace(route, bearing_deg=bearing)


def blocks_of(distance_km: FloatArray, t: int, b: int) -> list[Block]:
    """Routes (N,) and stretches of T times to be computed together: some `BLOCK_CELLS` cells each.

    Routes of like length together, so that those of a block have the same modes. A block fits the processor's
    cache: larger ones are slower, and take more memory.
    """
    order = np.argsort(distance_km, kind="stable")
    rows = max(1, BLOCK_CELLS // (t * b))
    stretch = -(-t // max(1, round(t * b * rows / BLOCK_CELLS))) if rows == 1 else t
    return [
        (order[i : i + rows], slice(j, min(j + stretch, t)))
        for i in range(0, order.size, rows)
        for j in range(0, t, stretch)
    ]


def in_blocks(work: Callable[[Block], None], blocks: Sequence[Block]) -> None:
    """Do the work of every block, two at a time: numpy gives up the interpreter's lock."""
    if len(blocks) == 1:
        work(blocks[0])
        return
    with ThreadPoolExecutor(WORKERS) as pool:
        for _ in pool.map(work, blocks):
            pass


def _field_year(times: TimeArray) -> float:
    """The magnetic field's year for a whole run, whatever blocks it is cut into."""
    years = np.asarray(times).astype("datetime64[Y]").astype(np.int64) + 1970
    return float((years.min() + years.max()) // 2) + 0.5


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
    path: Circuit, there: OneWay, here: OneWay, need_db: float, own: Terminal, other: Terminal
) -> _Figures:
    chance = both_ways(there, here, need_db, need_db)
    packed = np.full(chance.shape, 1, dtype=np.int64)
    if path.chains is not None and path.short.size:
        slot = np.minimum(path.way[path.short], len(SLOTS) - 1)
        n_low, n_high = path.chains.low_hops, path.chains.high_hops
        row = np.arange(path.short.size)[:, None, None]
        packed[path.short] = (n_low[row, slot] * 100 + n_high[row, slot]).astype(np.int64)
    if path.combined is not None:
        is_long = path.way[path.long] == LONG_WAY
        hops = path.combined.hops[:, None, None].astype(np.int64)
        packed[path.long] = np.where(is_long, hops, packed[path.long])
    return _Figures(
        chance=chance,
        snr_out_db=there.median_snr_db,
        snr_back_db=here.median_snr_db,
        margin_db=np.minimum(there.median_snr_db, here.median_snr_db) - need_db,
        elevation_deg=path.elevation_deg,
        way=path.way,
        way_hops=packed,
        muf_mhz=path.muf_mhz,
        limits=limits_of(path, there, here, chance, need_db, own, other),
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
    state = conditions or result.conditions
    switches = effects or result.effects
    routes, back = both_routes(result.station, result.target, result.bearing_deg)
    row = np.array([p + route * result.target.size])
    part = Route(routes.lat_deg[row], routes.lon_deg[row], routes.bearing_deg[row], routes.distance_km[row])
    ground = result.station.site.earth
    path = circuit(
        part,
        back[row],
        when[None, :],
        result.frequency_mhz[chosen],
        state.index_at(when)[None, :],
        own,
        other,
        disturber_of(state, switches, when),
        permittivity=ground.permittivity,
        conductivity_s_per_m=ground.conductivity_s_per_m,
    )
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
