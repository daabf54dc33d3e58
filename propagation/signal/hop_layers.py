"""What the layers are at the hops of every mode: MUFs, absorbing layers, the E layer in the way.

Everything here is free of the frequency worked: it is read from the samples along the routes once for an
hour. Shapes: N routes, T times, K modes, M hops of all modes (see `mode_chains.Chains`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from propagation.base.units import FloatArray
from propagation.ionosphere import muf
from propagation.signal.mode_chains import IS_ES, Chains
from propagation.signal.path_samples import PathSamples, Reader


@dataclass(frozen=True)
class HopLayers:
    """Layer figures of every mode; (N, T, K) unless said.

    f2_muf_mhz, e_muf_mhz: lowest basic MUF of the chain's F2 hops and E hops, inf where it has none.
    fof2_mhz, m3000f2, foe_mhz: means over the middles of its F2 hops, 0 where it has none. d_strength: sum
    over the hops of the mean of both crossings of the D layer; extra: likewise of flares and the polar cap,
    None on quiet days. foe_square_high, foe_square_low: sum over the F2 hops and over the low hops of the
    mean square of foE at both crossings. screen_foe_mhz: largest foE at a crossing of an F2 hop.
    """

    f2_muf_mhz: FloatArray
    e_muf_mhz: FloatArray
    fof2_mhz: FloatArray
    m3000f2: FloatArray
    foe_mhz: FloatArray
    d_strength: FloatArray
    extra: FloatArray | None
    foe_square_high: FloatArray
    foe_square_low: FloatArray
    screen_foe_mhz: FloatArray


def hop_layers(samples: PathSamples, chains: Chains) -> HopLayers:
    """Read the samples at the middles and the crossings of every hop."""
    n, t = samples.fof2_mhz.shape[:2]
    k = chains.slots.size
    mode, distance = chains.hop_mode, chains.distance_km
    high = (chains.hop_used & ~chains.hop_low)[:, None]
    low = chains.hop_low[:, None]

    # hops by the F2 layer: those that are so on any of the routes
    some = np.flatnonzero(np.any(high[:, 0], axis=0))
    at_middle = Reader(chains.middle_km[:, some], distance, t)
    fof2, m3000, foe = (at_middle(v) for v in (samples.fof2_mhz, samples.m3000f2, samples.foe_mhz))
    hop_muf = muf.f2_muf_mhz(
        chains.high_km[:, mode[some]][:, None], fof2, foe, m3000, at_middle(samples.gyro_300_mhz)
    )
    is_high = high[..., some]
    starts = np.searchsorted(mode[some], np.arange(*chains.with_high.indices(k)))
    f2_muf = np.full((n, t, k), np.inf)
    f2_muf[..., chains.with_high] = np.minimum.reduceat(np.where(is_high, hop_muf, np.inf), starts, axis=-1)
    count = np.maximum(chains.high_count[:, None, chains.with_high], 1.0)
    means = np.zeros((3, n, t, k))
    for mean, values in zip(means, (fof2, m3000, foe), strict=True):
        mean[..., chains.with_high] = np.add.reduceat(np.where(is_high, values, 0.0), starts, axis=-1) / count

    # hops by the E layer
    e_muf = np.full((n, t, k), np.inf)
    turned = low & ~IS_ES[chains.slots][mode]
    some = np.flatnonzero(np.any(turned[:, 0], axis=0))
    if some.size:
        foe_low = Reader(chains.middle_km[:, some], distance, t)(samples.foe_mhz)
        hop_e = muf.e_muf_mhz(chains.low_km[:, mode[some]][:, None], foe_low)
        present, starts = np.unique(mode[some], return_index=True)
        e_muf[..., present] = np.minimum.reduceat(np.where(turned[..., some], hop_e, np.inf), starts, axis=-1)

    # crossings of the D and E layers, in pairs
    at_crossing = Reader(chains.crossing_km.reshape(n, -1), distance, t)

    def over_hops(values: FloatArray) -> FloatArray:
        return np.add.reduceat(values, chains.first_hop, axis=-1)

    def pair_sum(values: FloatArray) -> FloatArray:
        crossed = at_crossing(values).reshape(n, t, -1, 2)
        return over_hops(np.where(chains.hop_used[:, None], 0.5 * (crossed[..., 0] + crossed[..., 1]), 0.0))

    foe_crossed = at_crossing(samples.foe_mhz).reshape(n, t, -1, 2)
    first, second = foe_crossed[..., 0], foe_crossed[..., 1]
    square = 0.5 * (first * first + second * second)
    largest = np.where(high, np.maximum(first, second), 0.0)
    return HopLayers(
        f2_muf_mhz=f2_muf,
        e_muf_mhz=e_muf,
        fof2_mhz=means[0],
        m3000f2=means[1],
        foe_mhz=means[2],
        d_strength=pair_sum(samples.d_strength),
        extra=None if samples.extra_absorption is None else pair_sum(samples.extra_absorption),
        foe_square_high=over_hops(np.where(high, square, 0.0)),
        foe_square_low=over_hops(np.where(low, square, 0.0)),
        screen_foe_mhz=np.maximum.reduceat(largest, chains.first_hop, axis=-1),
    )
