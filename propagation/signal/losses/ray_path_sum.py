"""Power sum of a path's ray paths on every kind of day, for paths up to 10 000 km.

Two normal scores describe a day (`variability`): one moves the F2 layer under all ray paths of a circuit at
once, the other sporadic E. Shapes: N routes, T times, B frequencies, K ray paths, U layer days, V sporadic-E
days.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray, as_float, single
from propagation.ionosphere import variability
from propagation.signal.losses import path_loss
from propagation.signal.losses.path_loss import RayPathLosses
from propagation.signal.rays.ray_paths import IS_ES, Chains

NOTHING_DB: Final = -900.0  # dB, gain of a ray path that does not exist
LEAST_POWER: Final = 1e-90  # as a ratio: every level above it follows power and antennas exactly
_PER_DB: Final = 0.1 * float(np.log(10.0))  # of a natural logarithm
STRETCHED_DB: Final = 10.0  # dB of stretch from which a ray path no longer shows the layers' limit (ours)


@dataclass(frozen=True)
class RayPathSum:
    """Sum of the ray paths; (N, T, B) unless noted.

    layer_power (N, T, B, U): power gain of all ray paths without sporadic E, on days of each layer node.
    es_power (N, T, B, V): of those with it. median_power: of all on the median day. ray_path_gain_db
    (N, T, B, K): each ray path on that day, -900 where absent. best (N, T, B): index along K of the
    strongest. muf_mhz (N, T): basic MUF of the easiest ray path. support: frequency over the basic MUF of the
    ray path with the best support.
    """

    layer_power: FloatArray
    es_power: FloatArray
    median_power: FloatArray
    ray_path_gain_db: FloatArray
    best: IntArray
    muf_mhz: FloatArray
    support: FloatArray

    def of_best(self, values: FloatArray) -> FloatArray:
        """Values (broadcasting to (N, T, B, K)) of the strongest ray path: (N, T, B)."""
        whole = np.broadcast_to(values, self.ray_path_gain_db.shape)
        return np.take_along_axis(whole, self.best[..., None], axis=-1)[..., 0]


def power(gain_db: FloatArray) -> FloatArray:
    """Power ratio of a gain [dB], at least `LEAST_POWER`; in double precision, whatever the gain's."""
    level = np.maximum(gain_db, NOTHING_DB).astype(np.float64, copy=False)
    return np.exp(_PER_DB * level)


def sum_ray_paths(
    losses: RayPathLosses, chains: Chains, antennas_db: FloatArray, frequency_mhz: FloatArray
) -> RayPathSum:
    """Sum the ray paths.

    `antennas_db` (N, T, B, K): both antennas' gains, `frequency_mhz` (1 or N, 1, B) [MHz].
    """
    f = single(frequency_mhz)[..., None]
    fixed = single(antennas_db) - losses.fixed_db()
    fixed[~np.broadcast_to(losses.valid[:, None, None, :], fixed.shape)] = NOTHING_DB
    e, high, es = chains.with_e, chains.with_high, chains.with_es
    plain = slice(high.start, es.start) if es.stop else high  # F2 hops without sporadic E
    over_e = _over(f, losses.e_muf_mhz[..., e])
    f2_hops = chains.high_count[:, None, None, high]
    over_f2 = _over(f, losses.f2_muf_mhz[..., high])
    fixed[..., e] -= path_loss.above_muf_loss_db(over_e, "E")
    edge = losses.edge[:, :, None, high]

    # the days of the layer
    high_power = power(fixed[..., plain])
    steady = np.sum(power(fixed[..., : high.start]), axis=-1)
    over_plain, plain_hops, plain_edge = (
        v[..., : plain.stop - plain.start] for v in (over_f2, f2_hops, edge)
    )
    sharp = over_plain * plain_edge
    layer_power = np.empty((*steady.shape, len(variability.LAYER_NODES)))
    for i, score in enumerate(variability.LAYER_NODES):
        factor = variability.layer_factor(losses.spread_low, losses.spread_high, score)[..., None, None]
        passing = path_loss.passing_share(sharp * (1.0 / factor) + (1.0 - plain_edge), plain_hops)
        layer_power[..., i] = steady + np.einsum("...k,...k->...", high_power, passing)

    # the median day, and on it the days of sporadic E
    at_edge = over_f2 * edge + (1.0 - edge)
    fixed[..., high] -= path_loss.above_muf_loss_db(at_edge, "F2", np.maximum(f2_hops, 1.0))
    es_gain = fixed[..., es, None] - losses.es_loss_db
    es_power = np.sum(power(es_gain), axis=-2)
    gain = fixed
    gain[..., es] = _median_es(es_gain)

    counted = losses.valid & (chains.stretch_db < STRETCHED_DB) & ~IS_ES[chains.templates]
    own = np.where(
        (losses.valid & (chains.stretch_db <= 0.0) & ~IS_ES[chains.templates])[:, None],
        np.fmin(losses.f2_muf_mhz, losses.e_muf_mhz),
        0.0,
    )
    # an F2 ray path counts with its E hops, if it has any: the smaller MUF decides
    needed = np.zeros(gain.shape)
    needed[..., high] = over_f2
    needed[..., e] = np.maximum(needed[..., e], over_e)
    return RayPathSum(
        layer_power=layer_power,
        es_power=es_power,
        median_power=np.sum(power(gain), axis=-1),
        ray_path_gain_db=gain,
        # on the longest paths by day a ray path that exists may lose more than the gain of one that does not
        best=np.argmax(np.where(losses.valid[:, None, None, :], gain, -np.inf), axis=-1),
        muf_mhz=np.max(own, axis=-1),
        support=np.min(np.where(counted[:, None, None, :], needed, np.inf), axis=-1),
    )


def _over(f: FloatArray, limit_mhz: FloatArray) -> FloatArray:
    """Frequency over a limit (N, T, B, K): 0 where the limit is inf, as there is no such hop."""
    inverse = np.where(np.isinf(limit_mhz), 0.0, 1.0 / np.maximum(limit_mhz, 0.05))
    return f * inverse[:, :, None]


def _median_es(es_gain: FloatArray) -> FloatArray:
    """Gain of the sporadic-E ray paths on the median day, between the two nodes next to it."""
    nodes = variability.ES_NODES
    right = int(np.searchsorted(nodes, 0.0))
    share = (0.0 - nodes[right - 1]) / (nodes[right] - nodes[right - 1])
    return as_float(es_gain[..., right - 1] * (1.0 - share) + es_gain[..., right] * share)
