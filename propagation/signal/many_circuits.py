"""Many one-way circuits at once, each with its own ends, time, frequency and power.

For lists of reception reports and the like: what signal was to be expected, and on what share of days. Rows
are taken in order of month and length, and in blocks, so that memory stays bounded; two blocks are worked at
a time, since numpy gives up the interpreter's lock.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray, TimeArray
from propagation.geo import great_circle
from propagation.signal.circuit import circuit
from propagation.signal.limiting import limits_of
from propagation.signal.link_budget import UNKNOWN_STATION_DB, one_way
from propagation.space_weather.conditions import Conditions
from propagation.space_weather.disturbance import Effects
from propagation.space_weather.disturbed import disturber_of
from propagation.station.terminals import Terminal, plain_terminal

BLOCK_ROWS: Final = 4000  # rows computed at once; keeps the working memory at some 0.2 GB
WORKERS: Final = 2  # blocks worked at a time
# km by the short route from which the long one is computed too: below it that is over 30 000 km long and some
# 30 dB weaker in the combined method (ours)
LONG_ROUTE_FROM_KM: Final = 10_000.0
DBM_OVER_DBW: Final = 30.0  # dB, 1 W over 1 mW
ONE_WATT: Final = plain_terminal(1.0)


@dataclass(frozen=True, eq=False)
class Rows:
    """What is asked: arrays of one length. Positions [deg], times (datetime64, UTC), [MHz], [dBm]."""

    tx_lat_deg: FloatArray
    tx_lon_deg: FloatArray
    rx_lat_deg: FloatArray
    rx_lon_deg: FloatArray
    times: TimeArray
    frequency_mhz: FloatArray
    power_dbm: FloatArray

    def __len__(self) -> int:
        return len(self.times)


@dataclass(frozen=True, eq=False)
class Answers:
    """What is answered, in the order of the rows.

    snr_db: median in 2500 Hz. chance: share of days on which it reaches what was asked for. muf_mhz: basic
    MUF of the path. limit: code of `causes.CAUSES`.
    """

    snr_db: FloatArray
    chance: FloatArray
    muf_mhz: FloatArray
    limit: IntArray


def many_circuits(
    rows: Rows,
    conditions: Conditions,
    required_snr_db: float,
    *,
    sender: Terminal = ONE_WATT,
    receiver: Terminal = ONE_WATT,
    effects: Effects | None = None,
    progress: Callable[[int], None] | None = None,
) -> Answers:
    """Compute every row one way from tx to rx, by the short route or the long one, whichever is stronger.

    required_snr_db: in 2500 Hz. sender, receiver: antennas, noise and feed lines of the two ends; plain 0 dBi
    antennas unless given. The power comes from the rows. progress is told how many rows are done.
    """
    switches = effects or Effects()
    transmitter = replace(sender, power_w=1.0)
    count = len(rows)
    result = Answers(np.empty(count), np.empty(count), np.empty(count), np.empty(count, dtype=np.int64))
    # an end of which nothing is known differs from a plain one by so much, one decile either way
    unknown = (
        sum(UNKNOWN_STATION_DB**2 for end in (sender, receiver) if end.antenna is None) ** 0.5 / 2.0**0.5
    )
    distance = great_circle.distance_km(rows.tx_lat_deg, rows.tx_lon_deg, rows.rx_lat_deg, rows.rx_lon_deg)
    # like months and lengths together: shared tables, and blocks that lie wholly beyond the reach of modes
    order = np.lexsort((distance, rows.times.astype("datetime64[M]").astype(np.int64)))

    def work(index: IntArray) -> int:
        short = _one_route(
            rows, index, False, conditions, required_snr_db, transmitter, receiver, switches, unknown
        )
        for name, values in vars(short).items():
            getattr(result, name)[index] = values
        again = index[distance[index] > LONG_ROUTE_FROM_KM]
        if again.size:
            long = _one_route(
                rows, again, True, conditions, required_snr_db, transmitter, receiver, switches, unknown
            )
            better = long.snr_db > result.snr_db[again]
            for name, values in vars(long).items():
                getattr(result, name)[again[better]] = values[better]
        return index.size

    done = 0
    with ThreadPoolExecutor(WORKERS) as pool:
        blocks = (order[start : start + BLOCK_ROWS] for start in range(0, count, BLOCK_ROWS))
        for finished in pool.map(work, blocks):
            done += finished
            if progress is not None:
                progress(done)
    return result


def _one_route(
    rows: Rows,
    index: IntArray,
    long: bool,
    conditions: Conditions,
    required_snr_db: float,
    transmitter: Terminal,
    receiver: Terminal,
    switches: Effects,
    unknown_db: float,
) -> Answers:
    """Some of the rows by one of the two routes."""
    times = rows.times[index][:, None]
    tx = (rows.tx_lat_deg[index], rows.tx_lon_deg[index])
    rx = (rows.rx_lat_deg[index], rows.rx_lon_deg[index])
    back = great_circle.bearing_deg(*rx, *tx)
    path = circuit(
        great_circle.route(tx, rx, long),
        np.mod(back + 180.0, 360.0) if long else back,
        times,
        rows.frequency_mhz[index][:, None, None],
        conditions.index_at(times),
        transmitter,
        receiver,
        disturber_of(conditions, switches, times),
        keep_modes=False,
    )
    way = one_way(path, transmitter, receiver, towards_far_end=True, station_spread_db=unknown_db)
    level_db = (rows.power_dbm[index] - DBM_OVER_DBW)[:, None, None]
    days = way.chance(required_snr_db - level_db)
    shifted = replace(way, median_snr_db=way.median_snr_db + level_db)
    limit = limits_of(path, shifted, shifted, days, required_snr_db, transmitter, receiver)
    return Answers(
        snr_db=shifted.median_snr_db[:, 0, 0],
        chance=days[:, 0, 0],
        muf_mhz=path.muf_mhz[:, 0],
        limit=limit[:, 0, 0],
    )
