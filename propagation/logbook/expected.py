"""Forecast for each entry of a log: chance, margin, mode, route, and limit.

Rows are computed with the station's own antenna at the log's place, hour and power. Both directions are
computed, and both routes where the long one can matter. A place that is known only by its country is spread
along the path over its uncertainty, and so is the result. Rows are computed in blocks of bounded memory.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray, as_float
from propagation.geo import great_circle
from propagation.ionosphere import variability
from propagation.ionosphere.sporadic_e import DECILE_Z
from propagation.logbook.columns import Columns
from propagation.logbook.entries import BACK, BOTH, OUT, LogEntries
from propagation.signal.chances.limiting import limits_of
from propagation.signal.chances.link_budget import OneWay, both_ways, distinct_days, one_way
from propagation.signal.chances.request import Request
from propagation.signal.losses.circuit import Circuit, circuit
from propagation.signal.losses.circuit_inputs import Circumstances, circuit_case
from propagation.signal.rays.causes import CODE
from propagation.signal.rays.ray_path_names import ray_path_name
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import Effects
from propagation.station.station import Station
from propagation.station.terminals import Terminal

BLOCK_ROWS: Final = 1000  # rows in one block: about 100 MB of working memory
WORKERS: Final = 2
LONG_FROM_KM: Final = 10_000.0  # km by the short route, from which the long one is computed too (ours)
WIDE_FROM_KM: Final = 150.0  # km, uncertainty from which a place is spread along the path (ours)
FIELD_YEARS: Final = 5  # years with one magnetic field: at most 2.5 years x 0.3 deg of dip a year (ours)
MOVED_KM: Final = 25.0  # km from the station's site, from which its skyline no longer applies (ours)
# Three-point Gauss-Hermite rule for the place of the other station along the path: exact to the fifth power
_NODES: Final = np.array([0.0, -np.sqrt(3.0), np.sqrt(3.0)])
_WEIGHTS: Final = np.array([2.0 / 3.0, 1.0 / 6.0, 1.0 / 6.0])
LEVELS_DB: Final[FloatArray] = np.arange(
    -90.0, 71.0
)  # dB, SNR of a day as a histogram; the end bins include all values beyond


@dataclass(frozen=True, eq=False)
class Expected(Columns):
    """Forecast for n entries; arrays (n,), NaN where the other station's place is not known.

    chance: share of days on which the entry was possible; chance_low, chance_high: over the possible places
    of the other station. margin_db: median SNR of the weaker direction over the required SNR. snr_out_db,
    snr_back_db: medians in 2500 Hz at the other station and at the operator's. distance_km, bearing_deg,
    elevation_deg: of the better route. route: 0 short, 1 long. ray_path, low_hops, high_hops: the strongest
    mode and its hops, as in the forecast. muf_mhz. limit: code of `causes.CAUSES`. level (n, L): probability
    of the day's SNR out in each bin of LEVELS_DB, before the spread of signal and noise about the day.
    delta_db: SNR back minus SNR out. out_noise_db, back_noise_db (n, 2): standard deviations of the SNR below
    and above its median that come from the noise; high_latitude (0..1): share of the wider signal spread of
    the auroral zone that applies.
    """

    distance_km: FloatArray
    bearing_deg: FloatArray
    chance: FloatArray
    chance_low: FloatArray
    chance_high: FloatArray
    margin_db: FloatArray
    snr_out_db: FloatArray
    snr_back_db: FloatArray
    elevation_deg: FloatArray
    muf_mhz: FloatArray
    route: IntArray
    ray_path: IntArray
    low_hops: IntArray
    high_hops: IntArray
    limit: IntArray
    level: FloatArray
    delta_db: FloatArray
    out_noise_db: FloatArray
    back_noise_db: FloatArray
    high_latitude: FloatArray

    def ray_path_name(self, row: int) -> str:
        """Strongest mode of a row: "2F2", "scatter", "ground wave"."""
        return ray_path_name(int(self.ray_path[row]), int(self.low_hops[row]), int(self.high_hops[row]))


def expect(
    entries: LogEntries, request: Request, progress: Callable[[int, int], None] | None = None
) -> Expected:
    """Return the forecast for every entry, with the station, conditions and ends of the request.

    progress is called with the rows done and the total of rows; an exception in it ends the computation.
    """
    n = entries.size
    station = request.station
    own = request.own_end
    other = replace(request.other_end, offset_db=None)
    out = _blank(n)
    rows, place_lat, place_lon, node = _spread_places(entries)
    here = station.site.position
    moved = (
        great_circle.distance_km(entries.own_lat_deg, entries.own_lon_deg, here.lat_deg, here.lon_deg)
        > MOVED_KM
    )
    ends = {False: own, True: replace(own, skyline=Terminal.skyline)}
    points = _blank(rows.size)
    done = 0

    def work(index: IntArray) -> None:
        nonlocal done
        row = rows[index]
        end = ends[bool(moved[row[0]])]
        found = _block(
            _Circuits(entries, end, other, station, request.conditions, request.effects or Effects()),
            row,
            place_lat[index],
            place_lon[index],
        )
        for name, value in found.items():
            points[name][index] = value
        done += index.size
        if progress is not None:
            progress(done, rows.size)

    blocks = _blocks(entries, rows, place_lat, place_lon, moved)
    if len(blocks) <= 1:
        for block in blocks:
            work(block)
    else:
        with ThreadPoolExecutor(WORKERS) as pool:
            list(pool.map(work, blocks))
    _gather(out, points, rows, node)
    return Expected(**out)


def _blank(n: int) -> dict[str, Any]:
    whole = {"route", "ray_path", "low_hops", "high_hops"}
    names = [name for name in Expected.__dataclass_fields__ if name not in ("level", "limit")]
    out: dict[str, Any] = {
        name: np.zeros(n, dtype=np.int64) if name in whole else np.full(n, np.nan) for name in names
    }
    for name in ("out_noise_db", "back_noise_db"):
        out[name] = np.full((n, 2), np.nan)
    out["level"] = np.zeros((n, LEVELS_DB.size), dtype=np.float32)
    out["limit"] = np.full(n, CODE["open"], dtype=np.int64)
    return out


def _spread_places(entries: LogEntries) -> tuple[IntArray, FloatArray, FloatArray, IntArray]:
    """Rows to compute: the entry of each, the place, and its node of the rule (0: the place itself)."""
    placed = np.flatnonzero(entries.placed)
    wide = placed[entries.uncertainty_km[placed] >= WIDE_FROM_KM]
    lat, lon = entries.lat_deg, entries.lon_deg
    bearing = great_circle.bearing_deg(
        entries.own_lat_deg[wide], entries.own_lon_deg[wide], lat[wide], lon[wide]
    )
    distance = great_circle.distance_km(
        entries.own_lat_deg[wide], entries.own_lon_deg[wide], lat[wide], lon[wide]
    )
    # root mean square distance in two dimensions: its part along the path is smaller by the root of two
    along = entries.uncertainty_km[wide] / np.sqrt(2.0)
    parts_lat, parts_lon = [lat[placed]], [lon[placed]]
    for shift in _NODES[1:]:
        there = np.clip(distance + shift * along, 1.0, 0.499 * great_circle.EARTH_TURN_KM)
        one = great_circle.destination(entries.own_lat_deg[wide], entries.own_lon_deg[wide], bearing, there)
        parts_lat.append(one[0])
        parts_lon.append(one[1])
    rows = np.concatenate([placed, wide, wide])
    node = np.concatenate([np.zeros(placed.size), np.ones(wide.size), np.full(wide.size, 2.0)]).astype(
        np.int64
    )
    return rows, np.concatenate(parts_lat), np.concatenate(parts_lon), node


def _blocks(
    entries: LogEntries, rows: IntArray, lat: FloatArray, lon: FloatArray, moved: BoolArray
) -> list[IntArray]:
    """Rows in bounded blocks, by years of one magnetic field, frequency and place of the operator.

    Rows of similar months and lengths are together. The years are outermost: the maps of a field are computed
    once. A block costs 25 ms of its own, so few large ones are better than one a year.
    """
    if not rows.size:
        return []
    distance = great_circle.distance_km(entries.own_lat_deg[rows], entries.own_lon_deg[rows], lat, lon)
    month = entries.time[rows].astype("datetime64[M]").astype(np.int64)
    year = _field_year(entries.time[rows])
    frequency, away = entries.frequency_mhz[rows], moved[rows]
    order = np.lexsort((distance, month, away, frequency, year))
    apart = np.stack([frequency, away, year])[:, order]
    turn = np.flatnonzero(np.any(np.diff(apart, axis=1) != 0.0, axis=0)) + 1
    groups = np.split(order, turn)
    return [group[i : i + BLOCK_ROWS] for group in groups for i in range(0, group.size, BLOCK_ROWS)]


def _field_year(times: TimeArray) -> FloatArray:
    """Decimal year of the magnetic field used for times (n,): the middle of FIELD_YEARS years."""
    years = times.astype("datetime64[Y]").astype(np.int64) + 1970
    return as_float(years // FIELD_YEARS * FIELD_YEARS + 0.5 * FIELD_YEARS)


@dataclass(frozen=True, eq=False)
class _Circuits:
    """Data common to all rows of a block: the log, both ends, the station, the sun and the field."""

    entries: LogEntries
    own: Terminal
    other: Terminal
    station: Station
    conditions: Conditions
    effects: Effects


def _block(asked: _Circuits, row: IntArray, lat: FloatArray, lon: FloatArray) -> dict[str, Any]:
    """Compute one block of one frequency: the better of both routes."""
    home = (asked.entries.own_lat_deg[row], asked.entries.own_lon_deg[row])
    short = great_circle.distance_km(*home, lat, lon)
    best = _by_route(asked, row, lat, lon, is_long=False)
    far = np.flatnonzero(short >= LONG_FROM_KM)
    if far.size:
        rest = _by_route(asked, row[far], lat[far], lon[far], is_long=True)
        better = rest["chance"] > best["chance"][far]
        for name, value in best.items():
            value[far[better]] = rest[name][better]
    return best


def _by_route(
    asked: _Circuits, row: IntArray, lat: FloatArray, lon: FloatArray, *, is_long: bool
) -> dict[str, Any]:
    entries, other = asked.entries, asked.other
    home = (entries.own_lat_deg[row], entries.own_lon_deg[row])
    times = entries.time[row][:, None]
    power = entries.power_w[row]
    near = replace(asked.own, power_w=float(np.median(power)))
    route = great_circle.route(home, (lat, lon), long=is_long)
    year = float(_field_year(times[0])[0])
    common = Circumstances(asked.conditions, asked.effects, asked.station.site.earth, year)
    case = circuit_case(common, near, other, route, times, entries.frequency_mhz[row[:1]])
    path = circuit(case, keep_ray_paths=False)
    far_power = entries.far_power_w[row]
    louder = 10.0 * np.log10(power / near.power_w)
    far_louder = np.where(
        np.isfinite(far_power), 10.0 * np.log10(np.maximum(far_power, 1e-9) / other.power_w), 0.0
    )
    there = _louder(one_way(path, near, other, towards_far_end=True), louder)
    here = _louder(one_way(path, other, near, towards_far_end=False), far_louder)
    return _figures(
        path, there, here, near, other, entries.need_db[row], entries.direction[row], int(is_long)
    )


def _louder(signal: OneWay, by_db: FloatArray) -> OneWay:
    level = by_db[:, None, None]
    days = distinct_days(signal.snr_db) + level[..., None, None]
    return replace(
        signal,
        snr_db=np.broadcast_to(days, signal.snr_db.shape),
        median_day_snr_db=signal.median_day_snr_db + level,
    )


def _figures(
    path: Circuit,
    there: OneWay,
    here: OneWay,
    own: Terminal,
    other: Terminal,
    need_db: FloatArray,
    direction: IntArray,
    route: int,
) -> dict[str, Any]:
    need = need_db[:, None, None]
    out, back = there.median_snr_db[:, 0, 0], here.median_snr_db[:, 0, 0]
    chance = np.empty(need_db.size)
    for which in (BOTH, OUT, BACK):
        rows = direction == which
        if not np.any(rows):
            continue
        if which == BOTH:
            days = both_ways(there, here, need, need)
        else:
            days = (there if which == OUT else here).chance(need)
        chance[rows] = days[rows, 0, 0]
    weaker = np.where(direction == OUT, out, np.where(direction == BACK, back, np.minimum(out, back)))
    lower, _ = variability.signal_deciles_db(
        path.samples.geomagnetic_latitude_deg[..., path.samples.geomagnetic_latitude_deg.shape[-1] // 2]
    )
    low, high = variability.SIGNAL_LOWER_DB
    limits = limits_of(path, there, here, chance[:, None, None], float(np.median(need_db)), own, other)
    return {
        "distance_km": path.distance_km.copy(), "bearing_deg": path.bearing_deg.copy(),
        "chance": chance, "chance_low": chance.copy(), "chance_high": chance.copy(),
        "margin_db": weaker - need_db, "snr_out_db": out.copy(), "snr_back_db": back.copy(),
        "elevation_deg": path.elevation_deg[:, 0, 0].copy(), "muf_mhz": path.muf_mhz[:, 0].copy(),
        "route": np.full(need_db.size, route), "ray_path": path.ray_path[:, 0, 0].copy(),
        "low_hops": path.low_hops[:, 0, 0].copy(), "high_hops": path.high_hops[:, 0, 0].copy(),
        "limit": limits[:, 0, 0].copy(), "level": _histogram(there.snr_db[:, 0, 0]),
        "delta_db": here.snr_db[:, 0, 0, 0, 0] - there.snr_db[:, 0, 0, 0, 0],
        "out_noise_db": _noise_db(there), "back_noise_db": _noise_db(here),
        "high_latitude": np.broadcast_to((lower[:, 0] - low) / (high - low), need_db.shape).copy(),
    }  # fmt: skip


def _noise_db(signal: OneWay) -> FloatArray:
    """Standard deviations of the SNR below and above its median that come from the noise [dB] (N, 2)."""
    shape = signal.median_snr_db.shape
    sides = (signal.noise.upper_decile_db, signal.noise.lower_decile_db)
    return np.stack([np.broadcast_to(side / DECILE_Z, shape)[:, 0, 0] for side in sides], axis=-1)


def _histogram(snr_db: FloatArray) -> FloatArray:
    """Convert the days' SNR (n, U, V) to probabilities over LEVELS_DB (n, L).

    A value is shared by the two nearest bins.
    """
    n = snr_db.shape[0]
    weight = (variability.LAYER_WEIGHTS[:, None] * variability.ES_WEIGHTS).ravel()
    place = np.clip(snr_db.reshape(n, -1) - LEVELS_DB[0], 0.0, LEVELS_DB.size - 1.0)
    left = np.minimum(place.astype(np.int64), LEVELS_DB.size - 2)
    share = place - left
    flat = np.arange(n)[:, None] * LEVELS_DB.size + left
    size = n * LEVELS_DB.size
    total = np.bincount(flat.ravel(), (weight * (1.0 - share)).ravel(), size)
    total = total + np.bincount((flat + 1).ravel(), (weight * share).ravel(), size)
    return as_float(total.reshape(n, LEVELS_DB.size))


def _gather(out: dict[str, Any], points: dict[str, Any], rows: IntArray, node: IntArray) -> None:
    """Combine the computed points into their entries.

    The figures are those of the place itself; chance and levels are averaged over all points.
    """
    centre = node == 0
    for name, value in points.items():
        out[name][rows[centre]] = value[centre]
    for which in (1, 2):
        chosen = node == which
        row = rows[chosen]
        if not row.size:
            return
        if which == 1:
            out["chance"][row] *= _WEIGHTS[0]
            out["level"][row] *= _WEIGHTS[0]
        chance = points["chance"][chosen]
        out["chance"][row] += _WEIGHTS[which] * chance
        out["chance_low"][row] = np.minimum(out["chance_low"][row], chance)
        out["chance_high"][row] = np.maximum(out["chance_high"][row], chance)
        out["level"][row] += _WEIGHTS[which] * points["level"][chosen]
