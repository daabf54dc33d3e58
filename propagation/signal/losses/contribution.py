"""Contribution of one kind of propagation to a circuit, and the sum of contributions.

Ray paths, long paths, scatter and ground wave all return this record. Shapes: M of the N routes, T times, B
frequencies, U layer days, V sporadic-E days (`variability`).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from propagation.base.units import FloatArray, IntArray, as_float
from propagation.ionosphere import variability
from propagation.signal.losses.ray_path_sum import LEAST_POWER, NOTHING_DB
from propagation.signal.rays.ray_path_names import GROUND_WAVE, RAY_PATH_COUNT


@dataclass(frozen=True, eq=False)
class Strongest:
    """Strongest ray path on the median day; (M, T, B).

    gain_db: of the path with both antennas. ray_path: its number (`ray_path_names`). low_hops, high_hops: its
    hops. elevation_deg, mirror_km: take-off angle and mirror height (NaN where undefined).
    """

    gain_db: FloatArray
    ray_path: IntArray
    low_hops: IntArray
    high_hops: IntArray
    elevation_deg: FloatArray
    mirror_km: FloatArray


@dataclass(frozen=True, eq=False)
class LayerLimits:
    """Limits of the layers, and their losses on the strongest ray path; (M, T, B) unless noted.

    muf_mhz (M, T): basic MUF of the path. lowest_mhz (M, T): fL of the combined method, NaN without it.
    support: frequency over the best basic MUF, above 1 where no layer carries it. absorption_db,
    screening_db, auroral_db: losses of the strongest ray path. extra_db: part of its absorption due to flares
    and protons. calm_db: gain of the path with both antennas by the ray path that would be the strongest
    without them.
    """

    muf_mhz: FloatArray
    lowest_mhz: FloatArray
    support: FloatArray
    absorption_db: FloatArray
    screening_db: FloatArray
    auroral_db: FloatArray
    extra_db: FloatArray
    calm_db: FloatArray


@dataclass(frozen=True, eq=False)
class Contribution:
    """Contribution of one kind of propagation to the routes `rows` (M,).

    layer_power (M, T, B, U): power gain on days of each layer node, without sporadic E. es_power
    (M, T, B, V): of the ray paths with sporadic E, None where the kind has none. median_power (M, T, B): all
    of it on the median day. strongest: of its ray paths. limits: None where the layers do not carry it.
    ray_paths_db (M, T, B, C): each of its ray paths on the median day, `first_ray_path` the number of the
    first; None unless requested. share (M,): None where the power adds to that of other kinds. Otherwise it
    is the weight with which the kind replaces the earlier contributions. From a half on, the kind gives the
    path's strongest ray path and limits.
    """

    rows: IntArray
    layer_power: FloatArray
    es_power: FloatArray | None
    median_power: FloatArray
    strongest: Strongest
    limits: LayerLimits | None
    ray_paths_db: FloatArray | None = None
    first_ray_path: int = 0
    share: FloatArray | None = None


class Joined:
    """Sum of contributions over all N routes, in the order in which they are added."""

    def __init__(self, n: int, t: int, b: int, *, each_ray_path: bool) -> None:
        shape = (n, t, b)
        self.layer_power = np.zeros((*shape, len(variability.LAYER_NODES)))
        self.es_power = np.zeros((*shape, len(variability.ES_NODES)))
        self.median_power = np.zeros(shape)
        self.strongest = Strongest(
            gain_db=np.full(shape, -np.inf),
            ray_path=np.full(shape, GROUND_WAVE),
            low_hops=np.zeros(shape, dtype=np.int64),
            high_hops=np.zeros(shape, dtype=np.int64),
            elevation_deg=np.zeros(shape),
            mirror_km=np.full(shape, np.nan),
        )
        self.limits = LayerLimits(
            muf_mhz=np.full((n, t), np.nan),
            lowest_mhz=np.full((n, t), np.nan),
            support=np.full(shape, np.inf),
            absorption_db=np.zeros(shape),
            screening_db=np.zeros(shape),
            auroral_db=np.zeros(shape),
            extra_db=np.zeros(shape),
            calm_db=np.full(shape, NOTHING_DB),
        )
        self.ray_paths_db = np.full((*shape, RAY_PATH_COUNT), NOTHING_DB) if each_ray_path else None

    def add(self, part: Contribution | None) -> None:
        """Add one more kind of propagation; None, which no route has, changes nothing."""
        if part is None:
            return
        rows = part.rows
        if part.share is None:
            self.layer_power[rows] += part.layer_power
            self.median_power[rows] += part.median_power
            if part.es_power is not None:
                self.es_power[rows] += part.es_power
            speaks = part.strongest.gain_db > self.strongest.gain_db[rows]
            known = np.arange(rows.size)
        else:
            share = part.share[:, None, None]
            self.layer_power[rows] = _between(self.layer_power[rows], part.layer_power, share[..., None])
            self.median_power[rows] = _between(self.median_power[rows], part.median_power, share)
            self.es_power[rows] *= 1.0 - share[..., None]
            speaks = share > 0.5
            known = np.flatnonzero(part.share > 0.5)
            if self.ray_paths_db is not None:
                self.ray_paths_db[rows[known]] = NOTHING_DB
        for name, values in vars(part.strongest).items():
            whole = getattr(self.strongest, name)
            whole[rows] = np.where(speaks, values, whole[rows])
        if part.limits is not None:
            self.limits.muf_mhz[rows] = part.limits.muf_mhz
            self.limits.lowest_mhz[rows] = part.limits.lowest_mhz
            for field in fields(LayerLimits)[2:]:
                getattr(self.limits, field.name)[rows[known]] = getattr(part.limits, field.name)[known]
        if self.ray_paths_db is not None and part.ray_paths_db is not None:
            count = part.ray_paths_db.shape[-1]
            self.ray_paths_db[rows[known], :, :, part.first_ray_path : part.first_ray_path + count] = (
                part.ray_paths_db[known]
            )


def _between(by_hops: FloatArray, long_path: FloatArray, share: FloatArray) -> FloatArray:
    """Power gain between 7000 and 10 000 km: linear in X = 10^(0.01 E).

    As P.533 section 5.4 does between 7000 and 9000 km (from memory).

    `share` is the weight of the combined method. The power gain may be used for E, the field in decibels.
    """
    if np.all(share >= 1.0):
        return long_path
    x_hops, x_long = (np.power(np.maximum(v, LEAST_POWER), 0.1) for v in (by_hops, long_path))
    mixed = np.maximum(x_hops + share * (x_long - x_hops), LEAST_POWER**0.1)
    return as_float(np.power(mixed, 10.0))
