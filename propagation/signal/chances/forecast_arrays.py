"""Arrays that a forecast keeps of its circuits, block by block.

Shapes: N routes, T times, B bands, U and V kinds of day.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from propagation.base.units import BoolArray, FloatArray, IntArray
from propagation.ionosphere import variability
from propagation.signal.chances.far_end_mixture import mixed_by_day
from propagation.signal.chances.limiting import limits_of
from propagation.signal.chances.link_budget import OneWay, both_by_day, one_way, over_days
from propagation.signal.chances.time_interpolation import BetweenTimes
from propagation.signal.losses.circuit import Circuit
from propagation.station.far_ends import FarEnds
from propagation.station.terminals import Terminal

_WHOLE: Final = ("ray_path", "low_hops", "high_hops", "limits")
MEDIANS: Final = ("snr_out_db", "snr_back_db")
# Least chance of a band that may be used: what the end of the table of the normal distribution comes to
NO_CHANCE: Final = 1e-11


@dataclass(frozen=True, eq=False)
class Figures:
    """Figures kept of a circuit; arrays (N, T, B), muf_mhz (N, T), mixed (N, T, B, U, V).

    snr_out_db, snr_back_db: medians over all days; (N, T, 0) where they were not requested.
    """

    chance: FloatArray
    snr_out_db: FloatArray
    snr_back_db: FloatArray
    elevation_deg: FloatArray
    ray_path: IntArray
    low_hops: IntArray
    high_hops: IntArray
    muf_mhz: FloatArray
    limits: IntArray
    mixed: NDArray[np.float32]
    best_equipped: FloatArray

    @classmethod
    def room_for(cls, n: int, t: int, b: int, people: bool, medians: bool) -> Figures:
        """Empty arrays to be filled block by block; size 0 for people where the target has none."""
        shape = (n, t, b)
        days = (len(variability.LAYER_NODES), len(variability.ES_NODES)) if people else (0, 0)
        room: dict[str, Any] = {
            name: np.empty(shape, dtype=np.int64 if name in _WHOLE else np.float64)
            for name in cls.__dataclass_fields__
        }
        apart = {
            "muf_mhz": np.empty((n, t)),
            "mixed": np.empty((*shape, *days), dtype=np.float32),
            "best_equipped": np.empty(shape if people else (n, t, 0)),
        }
        if not medians:
            apart |= {name: np.empty((n, t, 0)) for name in MEDIANS}
        return cls(**room | apart)

    def at_times(self, between: BetweenTimes) -> Figures:
        """Interpolate the figures of half hours to the requested times.

        Chances and levels are interpolated smoothly. Ray paths, limits and the take-off angle are taken from
        the nearest half hour. mixed stays unchanged.
        """
        if between.exact:
            return self
        near = between.nearest

        def at(name: str, values: Any) -> Any:
            if name == "mixed":  # by far the largest; people are counted before the interpolation
                return values
            if name in ("chance", "best_equipped"):
                return between.chance(values)
            return between.level(values) if name in (*MEDIANS, "muf_mhz") else values[:, near]

        return Figures(**{name: at(name, values) for name, values in vars(self).items()})


def figures_of(
    path: Circuit, own: Terminal, other: Terminal, need_db: float, far_ends: FarEnds | None, medians: bool
) -> Figures:
    """Figures of circuits between two ends.

    The medians double the computing time. They are left out where only the chance of most cells is needed.
    """
    there = one_way(path, own, other, towards_far_end=True)
    here = one_way(path, other, own, towards_far_end=False)
    if far_ends is not None and not medians:
        there, here = there.in_single(), here.in_single()
    chance, mixed, best = _chances(there, here, need_db, far_ends)
    levels = (there.median_snr_db, here.median_snr_db) if medians else None
    about = levels or (there.median_day_snr_db, here.median_day_snr_db)
    return Figures(
        chance=chance,
        snr_out_db=levels[0] if levels else _none(chance),
        snr_back_db=levels[1] if levels else _none(chance),
        elevation_deg=path.elevation_deg,
        ray_path=path.ray_path,
        low_hops=path.low_hops,
        high_hops=path.high_hops,
        muf_mhz=path.muf_mhz,
        limits=limits_of(path, there, here, chance, need_db, own, other, about),
        mixed=mixed,
        best_equipped=best,
    )


def _chances(
    there: OneWay, here: OneWay, need_db: float, far_ends: FarEnds | None
) -> tuple[FloatArray, NDArray[np.float32], FloatArray]:
    """Chance, the mixture's by kind of day, and that with its best kind; see `mixed_by_day`.

    Cells in which no day brings a contact are not computed: NO_CHANCE, and nobody of the mixture.
    """
    shape = there.lower_db.shape
    chance = np.full(shape, NO_CHANCE)
    days = there.snr_db.shape[-2:] if far_ends is not None else (0, 0)
    mixed = np.zeros((*shape, *days), dtype=np.float32)
    best = np.full(shape, NO_CHANCE) if far_ends is not None else _none(chance)
    for cells, es in _kinds_of_cell(there, here, need_db, far_ends):
        out, back = there.of_cells(cells, es), here.of_cells(cells, es)
        by_day = both_by_day(out, back, need_db, need_db)
        chance[cells] = over_days(by_day)
        if far_ends is not None:
            mixed[cells], best[cells] = mixed_by_day(out, back, need_db, far_ends, by_day)
    return chance, mixed, best


def _kinds_of_cell(
    there: OneWay, here: OneWay, need_db: float, far_ends: FarEnds | None
) -> list[tuple[BoolArray, bool]]:
    """Cells (N, T, B) with a chance of a contact: those without and with sporadic E, which is told."""
    kinds = [] if far_ends is None else [kind for kind in far_ends.kinds if kind.share > 0.0]
    more_out_db = max((kind.out_db for kind in kinds), default=0.0)
    more_back_db = max((kind.back_db for kind in kinds), default=0.0)
    live = there.within_reach(need_db - max(more_out_db, 0.0))
    live &= here.within_reach(need_db - max(more_back_db, 0.0))
    es = there.varies_by_es()
    return [(cells, with_es) for cells, with_es in ((live & ~es, False), (live & es, True)) if cells.any()]


def _none(chance: FloatArray) -> FloatArray:
    return np.empty((*chance.shape[:2], 0))
