"""Weak signals inside the skip zone: back-scatter and side-scatter from the end of the first hop.

Ground and sea around the skip distance scatter a little power back to the stations inside the zone. The
signal is some 30 to 40 dB below that of an open path: enough for narrow weak-signal modes, not for voice.
Uses the radar equation over the lit ring, with a scattering coefficient from memory of HF back-scatter
soundings. The ring is lit by the F2 layer, more strongly on the sunny side.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.constants import EARTH_RADIUS_KM
from propagation.base.units import FloatArray, FloatLike, as_float

SCATTER_COEFFICIENT_DB: Final = -25.0  # dB, cross-section per area of ground, -20 to -30 (from memory)
RING_DEPTH_KM: Final = 500.0  # km, depth of the ring that returns most of the power (from memory)
NEAREST_KM: Final = 600.0  # km, smallest radius of the lit ring for rays that the antenna radiates (ours)
TAKE_OFF_DEG: Final = 12.0  # deg, angle at which the ring is lit (one hop of 1500 to 2500 km)
ROUND_TRIP_EXTRA_DB: Final = 9.0  # dB, losses both ways not counted elsewhere (as Lz of P.533, from memory)


def ring_km(frequency_mhz: FloatLike, fof2_mhz: FloatLike, m3000f2: FloatLike) -> FloatArray:
    """Distance [km] of the lit ring: near the skip distance, from f over foF2; approximate, broadcasts."""
    over = (as_float(frequency_mhz) / np.maximum(as_float(fof2_mhz), 0.3) - 1.0) / np.maximum(
        as_float(m3000f2) - 1.0, 0.5
    )
    return np.clip(3000.0 * np.maximum(over, 0.0) ** 0.8, NEAREST_KM, 3500.0)


def scatter_loss_db(
    distance_km: FloatLike, frequency_mhz: FloatLike, fof2_mhz: FloatLike, m3000f2: FloatLike
) -> FloatArray:
    """Loss [dB] between isotropic antennas by way of the lit ring; broadcasts.

    Without absorption and the layer's own limits. (4 pi)^3 R^4 / (lambda^2 sigma0 A), A the ring's area:
    textbook radar equation. Beyond the ring the ordinary ray paths arrive, and the ring's part decreases over
    its depth.
    """
    ring = ring_km(frequency_mhz, fof2_mhz, m3000f2)
    return _ring_loss_db(distance_km, frequency_mhz, ring, RING_DEPTH_KM, 300.0)


def _ring_loss_db(
    distance_km: FloatLike, frequency_mhz: FloatLike, ring: FloatArray, depth_km: float, height_km: float
) -> FloatArray:
    """Radar equation over a ring of this radius and depth [km], lit by a layer at a height [km]."""
    wavelength_m = 299.792458 / as_float(frequency_mhz)
    area_m2 = 2.0 * np.pi * EARTH_RADIUS_KM * np.sin(ring / EARTH_RADIUS_KM) * depth_km * 1e6
    slant_m = np.hypot(ring, 2.0 * height_km) * 1e3
    loss = (
        30.0 * np.log10(4.0 * np.pi)
        + 40.0 * np.log10(slant_m)
        - 20.0 * np.log10(wavelength_m)
        - 10.0 * np.log10(area_m2)
        - SCATTER_COEFFICIENT_DB
        + ROUND_TRIP_EXTRA_DB
    )
    beyond = np.maximum(as_float(distance_km) - ring - RING_DEPTH_KM, 0.0)
    return as_float(np.minimum(loss + 20.0 * (beyond / RING_DEPTH_KM), 300.0))
