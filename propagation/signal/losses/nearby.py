"""Contribution of the ground wave, which carries a signal near by without any layer."""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray
from propagation.signal.losses import ground_wave
from propagation.signal.losses.circuit_inputs import CircuitCase
from propagation.signal.losses.contribution import Contribution, Strongest
from propagation.signal.losses.ray_path_sum import power
from propagation.signal.losses.terminal_gains import frequency_of
from propagation.signal.rays.path_samples import PathSamples
from propagation.signal.rays.ray_path_names import GROUND_WAVE

NEAR_KM: Final = 7000.0  # km, beyond which the loss of the ground wave is over 300 dB
SEA_PERMITTIVITY: Final = 75.0  # sea water (P.832, from memory)
SEA_CONDUCTIVITY_S_PER_M: Final = 5.0  # S/m, sea water (P.832, from memory)


def contribution(case: CircuitCase, samples: PathSamples, *, every_ray_path: bool) -> Contribution | None:
    """Ground wave of the routes near enough (M rows); None where none is.

    every_ray_path False omits its level.
    """
    rows = np.flatnonzero(samples.distance_km <= NEAR_KM)
    if not rows.size:
        return None
    gain = ground_wave_db(case, samples.rows(rows), rows)
    shape = gain.shape
    none = np.zeros(shape, dtype=np.int64)
    return Contribution(
        rows=rows,
        layer_power=power(gain)[..., None],
        es_power=None,
        median_power=power(gain),
        strongest=Strongest(
            gain_db=gain,
            ray_path=np.full(shape, GROUND_WAVE),
            low_hops=none,
            high_hops=none,
            elevation_deg=np.zeros(shape),
            mirror_km=np.full(shape, np.nan),
        ),
        limits=None,
        ray_paths_db=gain[..., None] if every_ray_path else None,
        first_ray_path=GROUND_WAVE,
    )


def ground_wave_db(case: CircuitCase, samples: PathSamples, rows: IntArray) -> FloatArray:
    """Gain [dB] along the ground with both antennas (M, T, B).

    Over the case's ground where the route is land, over sea where it is sea.
    """
    f = frequency_of(case, rows)
    d = samples.distance_km[:, None, None]
    heights = case.near.height_m, case.far.height_m
    sea = np.mean(samples.sea_share, axis=-1)[:, None, None]
    ground = case.ground
    along_land = ground_wave.ground_wave_loss_db(
        d, f, ground.permittivity, ground.conductivity_s_per_m, *heights
    )
    along_sea = ground_wave.ground_wave_loss_db(d, f, SEA_PERMITTIVITY, SEA_CONDUCTIVITY_S_PER_M, *heights)
    route = case.route.rows(rows)
    gain = case.near.ground_wave_gain_dbi(f, route.bearing_deg[:, None, None])
    gain = gain + case.far.ground_wave_gain_dbi(f, route.far_bearing_deg[:, None, None])
    loss = along_land + (along_sea - along_land) * sea
    return np.broadcast_to(gain - loss, (rows.size, samples.fof2_mhz.shape[1], f.shape[-1]))
