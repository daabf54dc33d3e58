"""One-way circuits in large numbers, each with its own ends, time, frequency and power.

Computes the expected signal and field, and the share of days, for lists of reception reports and
measurements. Rows are computed in order of month and length, and in blocks, so that memory stays bounded.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from threading import Lock
from typing import Final, Literal

import numpy as np

from propagation.base.two_workers import by_two
from propagation.base.units import FloatArray, FloatLike, IntArray, TimeArray, as_float, db, undb
from propagation.geo import great_circle
from propagation.geo.geomagnetic import middle_year
from propagation.geo.ground import GROUNDS, Ground
from propagation.signal.chances.limiting import limits_of
from propagation.signal.chances.link_budget import (
    UNKNOWN_STATION_DB,
    one_way,
    ordinary_shortfall_db,
    unknown_receiver_db,
)
from propagation.signal.losses.circuit import circuit
from propagation.signal.losses.circuit_inputs import Circumstances, circuit_case
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import Effects
from propagation.station.terminals import Terminal, plain_terminal

BLOCK_ROWS: Final = 4000  # rows computed at once; keeps the working memory at some 0.2 GB
# km by the short route from which the long one is computed too: below it the long route is over 30 000 km
# long and some 30 dB weaker in the combined method (ours)
LONG_ROUTE_FROM_KM: Final = 10_000.0
DBM_OVER_DBW: Final = 30.0  # dB, 1 W over 1 mW
DBM_OVER_DB_KW: Final = 60.0  # dB, 1 kW over 1 mW
# dB over 1 uV/m for 1 kW without loss at 1 MHz: E = 136.6 + P + 20 log f - L (P.533, median sky-wave field)
FIELD_AT_NO_LOSS_DB: Final = 136.6
RouteChoice = Literal["", "short", "long"]
ROUTE_CHOICES: Final[tuple[RouteChoice, ...]] = ("", "short", "long")  # "": whichever is stronger
EITHER, SHORT, LONG = range(len(ROUTE_CHOICES))
ONE_WATT: Final = plain_terminal(1.0)


@dataclass(frozen=True, eq=False)
class Rows:
    """Input rows: arrays of one length. Positions [deg], times (datetime64, UTC), [MHz], [dBm].

    r12: smoothed sunspot number (version 1) of each row, used as the index of the maps (P.1239). Where r12 is
    NaN, or None for all rows, the conditions give the index. route: number of `ROUTE_CHOICES`; None means 0
    for all.
    """

    tx_lat_deg: FloatArray
    tx_lon_deg: FloatArray
    rx_lat_deg: FloatArray
    rx_lon_deg: FloatArray
    times: TimeArray
    frequency_mhz: FloatArray
    power_dbm: FloatArray
    r12: FloatArray | None = None
    route: IntArray | None = None

    def __len__(self) -> int:
        return len(self.times)


@dataclass(frozen=True, eq=False)
class CircuitAnswers:
    """Results, in the order of the rows.

    snr_db: median in 2500 Hz. chance: share of days on which it reaches the required SNR. For the chance, a
    plain terminal counts as an ordinary station (`link_budget`: its spread, and its lower radiation on 80 and
    160 m). muf_mhz: basic MUF of the path. limit: code of `causes.CAUSES`. field_dbuv: field at the receiver
    on the median day [dB over 1 uV/m]. It applies to the row's power into an isotropic antenna and plain
    ends, whatever the terminals are. Where both routes are computed, it is the sum of both.
    """

    snr_db: FloatArray
    chance: FloatArray
    muf_mhz: FloatArray
    limit: IntArray
    field_dbuv: FloatArray


def many_circuits(
    rows: Rows,
    conditions: Conditions,
    required_snr_db: float,
    *,
    sender: Terminal = ONE_WATT,
    receiver: Terminal = ONE_WATT,
    effects: Effects | None = None,
    ground: Ground = GROUNDS["average"],
    progress: Callable[[int], None] | None = None,
) -> CircuitAnswers:
    """Compute every row one way from tx to rx, by its requested route, else the stronger of the two.

    required_snr_db: in 2500 Hz. sender, receiver: antennas, noise and feed lines of the two ends; plain 0 dBi
    antennas by default. The rows give the power. ground: of the operator's site, for the ground wave.
    progress: callback with the number of rows done.
    """
    asked = _Asked(rows, conditions, required_snr_db, replace(sender, power_w=1.0), receiver, effects, ground)
    count = len(rows)
    result = CircuitAnswers(
        np.empty(count), np.empty(count), np.empty(count), np.empty(count, dtype=np.int64), np.empty(count)
    )
    distance = great_circle.distance_km(rows.tx_lat_deg, rows.tx_lon_deg, rows.rx_lat_deg, rows.rx_lon_deg)

    route = np.zeros(count, dtype=np.int64) if rows.route is None else rows.route

    done, counting = 0, Lock()

    def work(index: IntArray) -> None:
        nonlocal done
        either = (route[index] == EITHER) & (distance[index] > LONG_ROUTE_FROM_KM)
        _take(result, asked, index[route[index] != LONG], long=False)
        _take(result, asked, index[route[index] == LONG], long=True)
        _take_stronger(result, asked, index[either])
        with counting:
            done += index.size
            if progress is not None:
                progress(done)

    by_two(work, like_rows(rows.times, distance, BLOCK_ROWS))
    return result


def field_dbuv(power_db_kw: FloatLike, frequency_mhz: FloatLike, gain_db: FloatLike) -> FloatArray:
    """Field at the receiver [dB over 1 uV/m], of power [dB over 1 kW] and gain between 0 dBi ends [dB]."""
    return FIELD_AT_NO_LOSS_DB + power_db_kw + 20.0 * np.log10(as_float(frequency_mhz)) + as_float(gain_db)


def _take(result: CircuitAnswers, asked: _Asked, index: IntArray, *, long: bool) -> None:
    """Compute some of the rows by one of the two routes."""
    if index.size:
        for name, values in vars(_one_route(asked, index, long=long)).items():
            getattr(result, name)[index] = values


def _take_stronger(result: CircuitAnswers, asked: _Asked, index: IntArray) -> None:
    """Add the long route to rows that have the short route's result: stronger signal, sum of fields."""
    if not index.size:
        return
    long = _one_route(asked, index, long=True)
    field = db(undb(result.field_dbuv[index]) + undb(long.field_dbuv))
    better = long.snr_db > result.snr_db[index]
    for name, values in vars(long).items():
        getattr(result, name)[index[better]] = values[better]
    result.field_dbuv[index] = field


def like_rows(times: TimeArray, distance_km: FloatArray, most: int) -> list[IntArray]:
    """Rows (N,) in blocks of limited size, grouped by year, month and length.

    The grouping lets rows share tables and keeps blocks wholly beyond the reach of ray paths. All rows of a
    block use one year of the magnetic field, whatever other rows are computed.
    """
    year = times.astype("datetime64[Y]").astype(np.int64)
    order = np.lexsort((distance_km, times.astype("datetime64[M]").astype(np.int64)))
    turns = np.flatnonzero(np.diff(year[order])) + 1
    return [
        group[start : start + most]
        for group in np.split(order, turns)
        for start in range(0, group.size, most)
    ]


@dataclass(frozen=True, eq=False)
class _Asked:
    """Inputs common to all blocks."""

    rows: Rows
    conditions: Conditions
    required_snr_db: float
    transmitter: Terminal
    receiver: Terminal
    effects: Effects | None
    ground: Ground

    @cached_property
    def index(self) -> FloatArray | None:
        """Index of the maps of every row; None where the conditions give one for all."""
        given = self.rows.r12
        if given is None:
            return None
        return np.where(np.isnan(given), self.conditions.index_at(self.rows.times), given)

    @property
    def unknown_db(self) -> float:
        """Decile [dB] of the unknown properties of plain terminals, one or both."""
        sent = UNKNOWN_STATION_DB if self.transmitter.antenna is None else 0.0
        heard = unknown_receiver_db(self.receiver.noise) if self.receiver.antenna is None else 0.0
        return float(np.hypot(sent, heard))


def _one_route(asked: _Asked, index: IntArray, *, long: bool) -> CircuitAnswers:
    """Compute some of the rows by one of the two routes."""
    rows = asked.rows
    times = rows.times[index][:, None]
    tx = (rows.tx_lat_deg[index], rows.tx_lon_deg[index])
    rx = (rows.rx_lat_deg[index], rows.rx_lon_deg[index])
    case = circuit_case(
        Circumstances(asked.conditions, asked.effects, asked.ground, middle_year(times)),
        asked.transmitter,
        asked.receiver,
        great_circle.route(tx, rx, long),
        times,
        rows.frequency_mhz[index][:, None, None],
        index=None if asked.index is None else asked.index[index][:, None],
    )
    path = circuit(case, keep_ray_paths=False)
    plain = path
    if asked.transmitter.antenna is not None or asked.receiver.antenna is not None:
        plain = circuit(replace(case, near=ONE_WATT, far=ONE_WATT), keep_ray_paths=False)
    signal = one_way(
        path, asked.transmitter, asked.receiver, towards_far_end=True, station_spread_db=asked.unknown_db
    )
    level_db = (rows.power_dbm[index] - DBM_OVER_DBW)[:, None, None]
    # the level applies to the plain antenna requested, its chance to ordinary stations
    less_db = ordinary_shortfall_db(path.frequency_mhz) if asked.transmitter.antenna is None else 0.0
    days = signal.chance(asked.required_snr_db - level_db + less_db)
    level = signal.median_snr_db + level_db
    limit = limits_of(
        path, signal, signal, days, asked.required_snr_db, asked.transmitter, asked.receiver, (level, level)
    )
    return CircuitAnswers(
        snr_db=level[:, 0, 0],
        chance=days[:, 0, 0],
        muf_mhz=path.muf_mhz[:, 0],
        limit=limit[:, 0, 0],
        field_dbuv=field_dbuv(
            rows.power_dbm[index] - DBM_OVER_DB_KW, rows.frequency_mhz[index], plain.median_gain_db[:, 0, 0]
        ),
    )
