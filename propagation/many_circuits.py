"""Many one-way circuits at once, each with its own ends, time, frequency and power.

For lists of reception reports and the like: what signal was to be expected, and on what share of days. Rows
are taken in order of time, so that a block shares a month and a year, and in blocks, so that memory stays
bounded.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from dataclasses import replace as changed
from typing import Final

import numpy as np

from propagation import great_circle
from propagation.circuit import circuit
from propagation.conditions import Conditions
from propagation.disturbance import Effects
from propagation.disturbed import disturber_of
from propagation.ends import End, plain_end
from propagation.forecast import limits_of
from propagation.great_circle import Route
from propagation.link_budget import UNKNOWN_STATION_DB, one_way
from propagation.units import FloatArray, IntArray, TimeArray

BLOCK_ROWS: Final = 2000  # rows computed at once; keeps the working memory at some 0.2 GB
DBM_OVER_DBW: Final = 30.0  # dB, 1 W over 1 mW
ONE_WATT: Final = plain_end(1.0)


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
    sender: End = ONE_WATT,
    receiver: End = ONE_WATT,
    effects: Effects | None = None,
    progress: Callable[[int], None] | None = None,
) -> Answers:
    """Compute every row by the short route, one way from tx to rx.

    required_snr_db: in 2500 Hz. sender, receiver: antennas, noise and feed lines of the two ends; plain 0 dBi
    antennas unless given. The power comes from the rows. progress is told how many rows are done.
    """
    switches = effects or Effects()
    transmitter = changed(sender, power_w=1.0)
    count = len(rows)
    snr, chance, muf = (np.empty(count) for _ in range(3))
    limit = np.empty(count, dtype=np.int64)
    order = np.argsort(rows.times, kind="stable")
    # an end of which nothing is known differs from a plain one by so much, one decile either way
    unknown = (
        sum(UNKNOWN_STATION_DB**2 for end in (sender, receiver) if end.antenna is None) ** 0.5 / 2.0**0.5
    )
    for start in range(0, count, BLOCK_ROWS):
        index = order[start : start + BLOCK_ROWS]
        times = rows.times[index][:, None]
        route = great_circle.route(
            (rows.tx_lat_deg[index], rows.tx_lon_deg[index]), (rows.rx_lat_deg[index], rows.rx_lon_deg[index])
        )
        back = great_circle.bearing_deg(
            rows.rx_lat_deg[index], rows.rx_lon_deg[index], rows.tx_lat_deg[index], rows.tx_lon_deg[index]
        )
        path = circuit(
            Route(route.lat_deg, route.lon_deg, route.bearing_deg, route.distance_km),
            back,
            times,
            rows.frequency_mhz[index][:, None, None],
            conditions.r12_at(times),
            transmitter,
            receiver,
            disturber_of(conditions, switches, times),
            keep_modes=False,
        )
        way = one_way(path, transmitter, receiver, towards_far_end=True, station_spread_db=unknown)
        level_db = (rows.power_dbm[index] - DBM_OVER_DBW)[:, None, None]
        days = way.chance(required_snr_db - level_db)
        shifted = changed(way, median_snr_db=way.median_snr_db + level_db)
        snr[index] = shifted.median_snr_db[:, 0, 0]
        chance[index] = days[:, 0, 0]
        muf[index] = path.muf_mhz[:, 0]
        limit[index] = limits_of(path, shifted, shifted, days, required_snr_db, transmitter, receiver)[
            :, 0, 0
        ]
        if progress is not None:
            progress(min(start + BLOCK_ROWS, count))
    return Answers(snr, chance, muf, limit)
