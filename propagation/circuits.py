"""Many one-way circuits, each with its own ends, time, frequency and power: the engine behind `bandwhen circuits`.

Both ends are plain 0 dBi antennas unless an end is given, in residential noise: what stands for stations of which
nothing is known. Rows are worked in blocks of bounded memory, two blocks at a time (numpy gives up the interpreter lock).
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from dataclasses import replace as changed
from typing import Final

import numpy as np

from propagation import great_circle
from propagation.causes import CAUSES
from propagation.circuit import circuit
from propagation.conditions import Conditions
from propagation.disturbance import Effects
from propagation.disturbed import disturber_of
from propagation.ends import End, plain_end
from propagation.forecast import limits_of
from propagation.great_circle import Route
from propagation.link_budget import UNKNOWN_STATION_DB, OneWay, one_way
from propagation.units import FloatArray, IntArray, TimeArray, as_float

BLOCK_ROWS: Final = 2000  # rows in one block: about 100 MB of working memory
WORKERS: Final = 2
REFERENCE_W: Final = 1.0  # W, power in the engine; each row's own is added in decibels
LONG_ROUTE_FROM_KM: Final = 10_000.0  # km by the short route, from which the long one is computed too (ours)
DEFAULT_SNR_DB: Final = -26.0  # dB in 2500 Hz, about what the narrowest weak-signal modes need with fading


@dataclass(frozen=True)
class Circuits:
    """Answers, one a row (N,): median SNR [dB in 2500 Hz], chance 0..1, basic MUF [MHz], code of the limit."""

    snr_db: FloatArray
    chance: FloatArray
    muf_mhz: FloatArray
    limit: IntArray

    def words(self) -> list[str]:
        """The limits in words."""
        return [CAUSES[code] for code in self.limit.tolist()]


def circuits(
    times: TimeArray, tx_lat_deg: FloatArray, tx_lon_deg: FloatArray, rx_lat_deg: FloatArray, rx_lon_deg: FloatArray,
    frequency_mhz: FloatArray, power_dbm: FloatArray, conditions: Conditions, *, snr_db: float = DEFAULT_SNR_DB,
    tx: End | None = None, rx: End | None = None, effects: Effects | None = None,
) -> Circuits:
    """Compute N rows: all arrays (N,), times datetime64 UTC, `power_dbm` [dBm], `snr_db` the level wanted.

    `tx` and `rx` stand instead of the plain ends (their own power is not used). Where an end is plain, its unknown
    antenna widens the chance by `link_budget.UNKNOWN_STATION_DB`. Rows may lie in any order, month and place. The short
    and the long route both count; the stronger is reported.
    """
    n = len(times)
    sender = changed(tx, power_w=REFERENCE_W) if tx else plain_end(REFERENCE_W)
    receiver = changed(rx, power_w=REFERENCE_W) if rx else plain_end(REFERENCE_W)
    spread = UNKNOWN_STATION_DB * np.sqrt((tx is None) + (rx is None)) / np.sqrt(2.0)
    level = as_float(power_dbm) - 30.0 - 10.0 * np.log10(REFERENCE_W)
    when = np.asarray(times).astype("datetime64[s]")
    # rows of like months and lengths together: shared tables, and blocks that lie wholly beyond the modes' reach
    distance = great_circle.distance_km(tx_lat_deg, tx_lon_deg, rx_lat_deg, rx_lon_deg)
    order = np.lexsort((distance, when.astype("datetime64[M]").astype(np.int64)))
    result = Circuits(np.empty(n), np.empty(n), np.empty(n), np.empty(n, dtype=np.int64))

    def work(rows: IntArray) -> None:
        place = (as_float(tx_lat_deg)[rows], as_float(tx_lon_deg)[rows])
        far = (as_float(rx_lat_deg)[rows], as_float(rx_lon_deg)[rows])
        t = when[rows][:, None]
        f = as_float(frequency_mhz)[rows][:, None, None]
        r12 = conditions.r12_at(t)
        disturber = disturber_of(conditions, effects or Effects(), t)
        best: dict[str, FloatArray] | None = None
        for is_long in (False, True):
            route = great_circle.route(place, far, long=is_long)
            if is_long and not _long_route_matters(route):
                continue
            back = great_circle.bearing_deg(*far, *place)
            path = circuit(
                route, np.mod(back + 180.0, 360.0) if is_long else back, t, f, r12, sender, receiver, disturber,
                keep_modes=False,
            )
            signal = one_way(path, sender, receiver, towards_far_end=True, station_spread_db=float(spread))
            shifted = _louder(signal, level[rows][:, None, None])
            chance = shifted.chance(snr_db)
            codes = limits_of(path, shifted, shifted, chance, snr_db, sender, receiver)
            own = {
                "snr_db": shifted.median_snr_db[:, 0, 0], "chance": chance[:, 0, 0], "muf_mhz": path.muf_mhz[:, 0],
                "limit": codes[:, 0, 0].astype(np.float64),
            }
            if best is None:
                best = own
            else:
                better = own["snr_db"] > best["snr_db"]
                best = {name: np.where(better, own[name], best[name]) for name in own}
        assert best is not None
        result.snr_db[rows], result.chance[rows] = best["snr_db"], best["chance"]
        result.muf_mhz[rows], result.limit[rows] = best["muf_mhz"], best["limit"].astype(np.int64)

    blocks = [order[i : i + BLOCK_ROWS] for i in range(0, n, BLOCK_ROWS)]
    if len(blocks) <= 1:
        for rows in blocks:
            work(rows)
    else:
        with ThreadPoolExecutor(WORKERS) as pool:
            list(pool.map(work, blocks))
    return result


def _long_route_matters(long: Route) -> bool:
    """Whether the long way round can rival the short one anywhere in a block: only where the short is long itself.

    Under 10 000 km by the short route the long one is over 30 000 km and some 30 dB weaker in the combined method.
    """
    return bool(np.min(long.distance_km) < great_circle.EARTH_TURN_KM - LONG_ROUTE_FROM_KM)


def _louder(signal: OneWay, by_db: FloatArray) -> OneWay:
    return changed(
        signal, snr_db=signal.snr_db + by_db[..., None, None], median_snr_db=signal.median_snr_db + by_db
    )


__all__ = ["BLOCK_ROWS", "DEFAULT_SNR_DB", "Circuits", "circuits"]
