"""Layer figures at the hops of every ray path: MUFs, absorbing layers, the E layer below the F2 hops.

Nothing here depends on the operating frequency. All figures are read once for an hour from the samples along
the routes. Shapes: N routes, T times, K ray paths, M hops of all ray paths (see `ray_paths.Chains`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray, single
from propagation.ionosphere import muf
from propagation.ionosphere.absorption import Crossing
from propagation.signal.rays.path_samples import PathSamples, RouteInterpolator
from propagation.signal.rays.ray_paths import IS_ES, Chains

# km, hop beyond which the MUF does not grow: P.1240 lets it rise by another 10 % to 4000 km, with rays within
# a few degrees of the ground. Measured fields of hops of 2000 to 4000 km fall off by night from 0.9 of that
# MUF (calibrated, bank)
LONGEST_HOP_KM: Final = 3000.0


@dataclass(frozen=True)
class HopLayers:
    """Layer figures of every ray path; (N, T, K) unless noted.

    f2_muf_mhz, e_muf_mhz: basic MUF of the chain's F2 hops, which share the distance, and the lowest of its E
    hops, inf where it has none. fof2_mhz, m3000f2, foe_mhz: means over the middles of its F2 hops, 0 where it
    has none. up, down: the D and E layers where each hop crosses them, on its way up and on its way down,
    (N, T, M). up_extra, down_extra (N, T, M): the extra absorption there by flares and in the polar cap
    (`Disturber`), None on quiet days. screen_foe_mhz: largest foE at a crossing of an F2 hop.
    """

    f2_muf_mhz: FloatArray
    e_muf_mhz: FloatArray
    fof2_mhz: FloatArray
    m3000f2: FloatArray
    foe_mhz: FloatArray
    up: Crossing
    down: Crossing
    up_extra: FloatArray | None
    down_extra: FloatArray | None
    screen_foe_mhz: FloatArray

    def in_single(self) -> HopLayers:
        """Copy in single precision, for the arrays over frequencies."""
        return HopLayers(
            f2_muf_mhz=single(self.f2_muf_mhz),
            e_muf_mhz=single(self.e_muf_mhz),
            fof2_mhz=single(self.fof2_mhz),
            m3000f2=single(self.m3000f2),
            foe_mhz=single(self.foe_mhz),
            up=self.up.in_single(),
            down=self.down.in_single(),
            up_extra=None if self.up_extra is None else single(self.up_extra),
            down_extra=None if self.down_extra is None else single(self.down_extra),
            screen_foe_mhz=single(self.screen_foe_mhz),
        )


def hop_layers(samples: PathSamples, chains: Chains) -> HopLayers:
    """Read the samples at the middles and the crossings of every hop."""
    f2_muf, means = _f2_hops(samples, chains)
    at_crossing = RouteInterpolator(
        chains.crossing_km.reshape(chains.crossing_km.shape[0], -1),
        chains.distance_km,
        samples.fof2_mhz.shape[1],
    )

    def pair(values: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Values where the hops cross the layers upward and downward, (N, T, M) each."""
        crossed = at_crossing(values)
        return crossed[..., 0::2], crossed[..., 1::2]

    strength, per_mhz2 = pair(samples.d_strength), pair(samples.e_db_per_mhz2)
    foe, zenith = pair(samples.foe_mhz), pair(samples.zenith_deg)
    extra = (None, None) if samples.extra_absorption is None else pair(samples.extra_absorption)
    by_f2 = (chains.hop_used & ~chains.hop_low)[:, None]
    return HopLayers(
        f2_muf_mhz=f2_muf,
        e_muf_mhz=_e_hops(samples, chains),
        fof2_mhz=means[0],
        m3000f2=means[1],
        foe_mhz=means[2],
        up=Crossing(strength[0], per_mhz2[0], foe[0], zenith[0]),
        down=Crossing(strength[1], per_mhz2[1], foe[1], zenith[1]),
        up_extra=extra[0],
        down_extra=extra[1],
        screen_foe_mhz=np.maximum.reduceat(np.where(by_f2, np.maximum(*foe), 0.0), chains.first_hop, axis=-1),
    )


def _f2_hops(samples: PathSamples, chains: Chains) -> tuple[FloatArray, FloatArray]:
    """Lowest F2 MUF (N, T, K), and the means of foF2, M(3000)F2 and foE over the F2 hops (3, N, T, K)."""
    n, t = samples.fof2_mhz.shape[:2]
    owner, span = chains.hop_ray_path, chains.with_high
    high = (chains.hop_used & ~chains.hop_low)[:, None]
    some = np.flatnonzero(np.any(high[:, 0], axis=0))  # hops that are by F2 on any of the routes
    at_middle = RouteInterpolator(chains.middle_km[:, some], chains.distance_km, t)
    fof2, m3000, foe = (at_middle(v) for v in (samples.fof2_mhz, samples.m3000f2, samples.foe_mhz))
    hop_km = np.minimum(chains.high_km[:, owner[some]][:, None], LONGEST_HOP_KM)
    hop_muf = muf.f2_muf_mhz(hop_km, fof2, foe, m3000, at_middle(samples.gyro_300_mhz))
    is_high = high[..., some]
    starts = np.searchsorted(owner[some], np.arange(*span.indices(chains.templates.size)))
    f2_muf = np.full((n, t, chains.templates.size), np.inf)
    count = np.maximum(chains.high_count[:, None, span], 1.0)
    f2_muf[..., span] = _shared(
        np.where(is_high, hop_muf, np.inf), starts, chains.high_km[:, None, span], count
    )
    means = np.zeros((3, *f2_muf.shape))
    for mean, values in zip(means, (fof2, m3000, foe), strict=True):
        mean[..., span] = np.add.reduceat(np.where(is_high, values, 0.0), starts, axis=-1) / count
    return f2_muf, means


def _shared(hop_muf: FloatArray, starts: IntArray, hop_km: FloatArray, count: FloatArray) -> FloatArray:
    """MUF of chains (N, T, K) whose hops divide the distance according to the layers (`muf.sharing`).

    `hop_muf` (N, T, M): of equal hops, inf where a chain has none; `starts` (K,): index of a chain's first
    hop.
    """
    lowest: FloatArray = np.minimum.reduceat(hop_muf, starts, axis=-1)
    power, most = muf.sharing(hop_km, LONGEST_HOP_KM)
    of_hop = np.zeros(hop_muf.shape[-1], dtype=np.intp)
    of_hop[starts[1:]] = 1
    of_hop = np.cumsum(of_hop)
    known = np.where(np.isfinite(lowest), lowest, 1.0)
    parts = (known[..., of_hop] / hop_muf) ** power[..., of_hop]  # 0 where there is no hop
    mean = np.maximum(np.add.reduceat(parts, starts, axis=-1) / count, 1e-12)
    return lowest * np.minimum(mean ** (-1.0 / power), most)


def _e_hops(samples: PathSamples, chains: Chains) -> FloatArray:
    """Lowest E MUF of every ray path (N, T, K), inf where it has no E hop."""
    n, t = samples.fof2_mhz.shape[:2]
    owner = chains.hop_ray_path
    e_muf = np.full((n, t, chains.templates.size), np.inf)
    turned = chains.hop_low[:, None] & ~IS_ES[chains.templates][owner]
    some = np.flatnonzero(np.any(turned[:, 0], axis=0))
    if some.size:
        foe_low = RouteInterpolator(chains.middle_km[:, some], chains.distance_km, t)(samples.foe_mhz)
        hop_e = muf.e_muf_mhz(chains.low_km[:, owner[some]][:, None], foe_low)
        present, starts = np.unique(owner[some], return_index=True)
        e_muf[..., present] = np.minimum.reduceat(np.where(turned[..., some], hop_e, np.inf), starts, axis=-1)
    return e_muf
