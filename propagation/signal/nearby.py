"""The contribution of what carries a signal near by without a regular hop: scatter into the skip zone, and
the ground wave.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray, cosd
from propagation.ionosphere.absorption import Crossed, Rays, ray_absorption_db
from propagation.signal import ground_wave, path_loss, scatter
from propagation.signal.case import CircuitCase
from propagation.signal.contribution import Contribution, Strongest
from propagation.signal.counterfactual import Counterfactual
from propagation.signal.mode_sum import power
from propagation.signal.path_modes import SCATTER_MODE
from propagation.signal.path_samples import PathSamples
from propagation.signal.terminal_gains import frequency_of

NEAR_KM: Final = 7000.0  # km, beyond which scatter and ground wave are lost by far (over 300 dB)
SEA_PERMITTIVITY: Final = 75.0  # sea water (P.832, from memory)
SEA_CONDUCTIVITY_S_PER_M: Final = 5.0  # S/m, sea water (P.832, from memory)


def contribution(
    case: CircuitCase, samples: PathSamples, counterfactual: Counterfactual, *, every_mode: bool
) -> Contribution | None:
    """Scatter and ground wave of the routes near enough (M rows); None where none is.

    every_mode False leaves out the level of each of the two.
    """
    rows = np.flatnonzero(samples.distance_km <= NEAR_KM)
    if not rows.size:
        return None
    part = samples.rows(rows)
    scattered, over_muf = scattered_db(case, part, rows, counterfactual)
    ground_db = ground_wave_db(case, part, rows)
    ground_power = power(ground_db)
    by_day = over_muf[..., None] / part.layer_factors()[..., None, :]
    days_power = power(scattered)[..., None] * path_loss.passing_share(by_day, "F2")
    scattered = scattered - path_loss.above_muf_loss_db(over_muf, "F2")
    shape = scattered.shape
    by_ground = ground_db > scattered
    none = np.zeros(shape, dtype=np.int64)
    return Contribution(
        rows=rows,
        layer_power=days_power + ground_power[..., None],
        es_power=None,
        median_power=power(scattered) + ground_power,
        strongest=Strongest(
            gain_db=np.where(by_ground, ground_db, scattered),
            path_mode=SCATTER_MODE + by_ground.astype(np.int64),
            low_hops=none,
            high_hops=none,
            elevation_deg=np.where(by_ground, 0.0, scatter.TAKE_OFF_DEG),
            mirror_km=np.full(shape, np.nan),
        ),
        limits=None,
        modes_db=np.stack([scattered, ground_db], axis=-1) if every_mode else None,
        first_mode=SCATTER_MODE,
    )


def scattered_db(
    case: CircuitCase, samples: PathSamples, rows: IntArray, counterfactual: Counterfactual
) -> tuple[FloatArray, FloatArray]:
    """Gain [dB] of scatter into the skip zone where the layer returns it, and f over the operational MUF at
    3000 km (M, T, B); the layer and the sun of the path's middle stand for the lit ring's.

    The ray crosses the D layer on two hops; the E layer's absorption is not counted (ours).
    """
    f = frequency_of(case, rows)
    middle = samples.fof2_mhz.shape[-1] // 2
    fof2, m3000 = samples.fof2_mhz[..., middle, None], samples.m3000f2[..., middle, None]
    ring = np.full((1, 1, 1, 1), scatter.TAKE_OFF_DEG)
    route, antennas = case.route.rows(rows), np.zeros(())
    for end, azimuth in ((case.near, route.bearing_deg), (case.far, route.far_bearing_deg)):
        antennas = antennas + end.gain_dbi(f[..., None], ring, azimuth[:, None, None, None])[..., 0]
    crossed = Crossed(
        hops=np.full((1, 1, 1), 2.0),
        d_strength=2.0 * samples.d_strength[..., middle, None],
        foe_square=np.zeros((1, 1, 1)),
        e_strength=np.zeros((1, 1, 1)),
        zenith_foe_square=np.zeros((1, 1, 1)),
    )
    gyro = np.broadcast_to(samples.longitudinal_gyro_mhz, samples.fof2_mhz.shape)[..., middle, None]
    absorbed = ray_absorption_db(f, Rays.of(cosd(scatter.TAKE_OFF_DEG)), gyro, crossed)
    loss = scatter.scatter_loss_db(samples.distance_km[:, None, None], f, fof2, m3000)
    gain = antennas - loss - counterfactual.of_absorption(absorbed, rows)
    over = counterfactual.of_ratio(f / (1.1 * m3000 * fof2), rows)
    shape = np.broadcast_shapes(gain.shape, over.shape)
    return np.broadcast_to(gain, shape), np.broadcast_to(over, shape)


def ground_wave_db(case: CircuitCase, samples: PathSamples, rows: IntArray) -> FloatArray:
    """Gain [dB] along the ground with both antennas (M, T, B): over the case's ground where the route is
    land, over sea where it is sea.
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
