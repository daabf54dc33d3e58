"""Numbers of stations in reach if the ends are better or worse than described, on every kind of day.

The unknowns of an outing amount to a few decibels: a better or worse station both ways, or other noise at
home. For the stations of a region these offsets only change the required SNR on the same circuits. So the
circuits are computed once, and the chances for every offset follow from them. Offsets are five decibels
apart.
Shapes: G groups of the target's points, P points, T times, B bands, U and V kinds of day, S offsets of the
station, N of the noise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from propagation.base.units import FloatArray, IntArray, TimeArray, as_float
from propagation.ionosphere import variability
from propagation.signal.chances.chunking import Block, in_blocks
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.link_budget import OneWay, one_way, together
from propagation.signal.chances.routes import both_routes
from propagation.signal.losses.circuit import circuit
from propagation.signal.losses.circuit_inputs import circuit_case
from propagation.station.far_ends import ALIKE, FarEnds
from propagation.station.terminals import Terminal

STEP_DB: Final = 5.0  # dB between offsets (ours)
STATION_DB: Final[FloatArray] = np.arange(-15.0, 15.1, STEP_DB)  # dB, station relative to its file
NOISE_DB: Final[FloatArray] = np.arange(-10.0, 10.1, STEP_DB)  # dB, noise at home over the assumed noise
OVER_DB: Final[FloatArray] = np.arange(0.0, 20.1, STEP_DB)  # dB over the required SNR, for reports
_MOST: Final = len(OVER_DB) - 1
OUT_DB: Final[FloatArray] = np.arange(-15.0 - _MOST * STEP_DB, 15.1, STEP_DB)  # of a signal there
BACK_DB: Final[FloatArray] = np.arange(-25.0 - _MOST * STEP_DB, 25.1, STEP_DB)  # of a signal here
BLOCK_CELLS: Final = 2_000  # points x times x bands in one block: some 100 MB of working memory (ours)

Counts: TypeAlias = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Shifted:
    """Stations of each group for every offset and kind of day.

    times (T,), bands: names (B,). both (G, T, B, U, V, S, N): with which a contact can be made. there
    (G, T, B, U, V, O): that hear the operator, for offsets `OUT_DB`. here (G, T, B, U, V, K): that the
    operator hears, for offsets `BACK_DB` (of the station, less the noise).
    """

    times: TimeArray
    bands: tuple[str, ...]
    both: Counts
    there: Counts
    here: Counts


def shifted(
    result: Forecast,
    near: Terminal,
    far: Terminal,
    times: TimeArray,
    on_air: Callable[[TimeArray, list[str]], FloatArray],
    group: IntArray,
) -> Shifted:
    """Stations in reach of a region's forecast, at `times` (T,) on its usable bands.

    near, far: the ends of the forecast. on_air: function that returns the stations on the air near each point
    (P, T, B) at times and on bands. group (P,): group of each point, counted from 0.
    """
    usable = np.flatnonzero(result.usable)
    names = [result.bands[row].name for row in usable.tolist()]
    weight = on_air(times, names)
    routes = both_routes(result.station, result.target, result.bearing_deg)
    frequency = result.frequency_mhz[usable]
    ends = result.far_ends or ALIKE
    need_db = result.mode.required_snr_2500_db
    p, t, b = weight.shape
    days = (len(variability.LAYER_NODES), len(variability.ES_NODES))
    groups = int(group.max()) + 1
    sizes = (STATION_DB.size * NOISE_DB.size, OUT_DB.size, BACK_DB.size)
    whole = [np.zeros((size, groups, t, b, *days), dtype=np.float32) for size in sizes]
    adding = Lock()

    def work(block: Block) -> None:
        points, part = block
        best: list[Counts] = []
        for way in (0, 1):
            case = circuit_case(
                result.circumstances, near, far, routes.rows(points + way * p), times[part], frequency
            )
            path = circuit(case, keep_ray_paths=False)
            found = _shares(
                one_way(path, near, far, towards_far_end=True),
                one_way(path, far, near, towards_far_end=False),
                need_db,
                ends,
            )
            best = [np.maximum(a, f) for a, f in zip(best, found, strict=True)] if way else found
        each = weight[points][:, part].astype(np.float32)[..., None, None]
        member = (np.arange(groups)[:, None] == group[points]).astype(np.float32)
        for room, share in zip(whole, best, strict=True):
            counted = np.einsum("gn,kntbuv->kgtbuv", member, share * each, optimize=True)
            with adding:
                room[:, :, part] += counted

    order = np.argsort(routes.distance_km[:p], kind="stable")
    rows = max(1, BLOCK_CELLS // (t * b))
    in_blocks(work, [(order[i : i + rows], slice(None)) for i in range(0, p, rows)])
    both, there, here = (np.ascontiguousarray(np.moveaxis(room, 0, -1)) for room in whole)
    both = both.reshape(*both.shape[:-1], STATION_DB.size, NOISE_DB.size)
    return Shifted(times, tuple(names), both, there, here)


def _shares(out: OneWay, back: OneWay, need_db: float, ends: FarEnds) -> list[Counts]:
    """Shares of a mixture's stations: both ways (S N, n, T, B, U, V), one way there (O, ..), here (K, ..)."""
    days = out.snr_db.shape
    both, there, here = (
        np.zeros((size, *days), dtype=np.float32)
        for size in (STATION_DB.size * NOISE_DB.size, OUT_DB.size, BACK_DB.size)
    )
    for kind in ends.kinds:
        if kind.share <= 0.0:
            continue
        p_out = [out.chance_by_day(need_db - kind.out_db - db) for db in OUT_DB.tolist()]
        p_back = [back.chance_by_day(need_db - kind.back_db - db) for db in BACK_DB.tolist()]
        for row, one in enumerate(p_out):
            there[row] += as_float(kind.share * one)
        for row, one in enumerate(p_back):
            here[row] += as_float(kind.share * one)
        for s, n in np.ndindex(STATION_DB.size, NOISE_DB.size):
            joined = together(out, back, p_out[int(OUT_ROW[s, n])], p_back[int(BACK_ROW[s, n])])
            both[s * NOISE_DB.size + n] += kind.share * joined
    return [both, there, here]


def _rows() -> tuple[IntArray, IntArray]:
    s, n = np.meshgrid(np.arange(STATION_DB.size), np.arange(NOISE_DB.size), indexing="ij")
    return s + _MOST, s - n + NOISE_DB.size - 1 + _MOST


# Rows of `OUT_DB` and of `BACK_DB` that belong to offsets of station and noise (S, N)
OUT_ROW, BACK_ROW = _rows()
