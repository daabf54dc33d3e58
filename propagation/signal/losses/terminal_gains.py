"""Gains of both terminals of a case, at the angles at which a signal leaves and arrives."""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray
from propagation.signal.losses import path_loss
from propagation.signal.losses.circuit_inputs import CircuitCase

LEAST_DEG: Final = 0.5  # deg, lowest angle at which patterns are read; lower rays lose more (ours)
LOW_RAYS_DEG: Final = np.arange(0.0, 9.0)  # deg, among which the combined method takes the best gain


def frequency_of(case: CircuitCase, rows: IntArray) -> FloatArray:
    """Frequencies [MHz] of some of the routes (1 or M, 1, B)."""
    f = case.frequency_mhz
    return f if f.shape[0] == 1 else f[rows]


def both_gains_db(case: CircuitCase, rows: IntArray, elevation_deg: FloatArray) -> FloatArray:
    """Sum of both antennas' gains at each ray path's angle (M, T, B, K), less the horizons' loss."""
    f4 = frequency_of(case, rows)[..., None]
    total = np.zeros(())
    held = np.clip(elevation_deg, LEAST_DEG, 90.0)
    under = np.maximum(LEAST_DEG - elevation_deg, 0.0)
    route = case.route.rows(rows)
    for end, azimuth in ((case.near, route.bearing_deg), (case.far, route.far_bearing_deg)):
        az = azimuth[:, None, None, None]
        total = total + end.gain_dbi(f4, held, az) - path_loss.GRAZING_DB_PER_SQUARE_DEG * under**2
        horizon = end.horizon_deg(az)
        if np.any(horizon):
            flat = path_loss.low_angle_loss_db(elevation_deg)
            total = total - (path_loss.low_angle_loss_db(elevation_deg, horizon) - flat)
    return np.broadcast_to(total, np.broadcast_shapes(total.shape, elevation_deg.shape))


def low_gain_db(case: CircuitCase, rows: IntArray) -> FloatArray:
    """Sum of both antennas' best gains between 0 and 8 degrees (M, 1, B) (P.533 section 5.3, from memory)."""
    f4 = frequency_of(case, rows)[..., None]
    total = np.zeros(())
    route = case.route.rows(rows)
    for end, azimuth in ((case.near, route.bearing_deg), (case.far, route.far_bearing_deg)):
        az = azimuth[:, None, None, None]
        hidden = path_loss.low_angle_loss_db(LOW_RAYS_DEG + path_loss.FLAT_RAY_DEG, end.horizon_deg(az))
        total = total + np.max(end.gain_dbi(f4, LOW_RAYS_DEG, az) - hidden, axis=-1)
    return total
