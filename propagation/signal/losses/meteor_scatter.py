"""Scatter from meteor trails: always present within 2000 km, and very weak.

The radar equation of a trail that lies across both rays is summed over all the sky that both stations see,
and over all trails that come at least once a minute. This gives the steady field, part of a monthly median;
no contact is computed from it (`by_scatter`). Bright trails are much stronger and rarer, and are left out.
Underdense trails scatter in proportion to the square of their line density and fade by diffusion. Above 1e14
electrons a metre the scattered energy grows with its power of 1.5. Formulas and constants after McKinley
(Meteor Science and Engineering, 1961) and Sugar (Proc. IEEE 52, 1964, 116), from memory; some 5 dB uncertain.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from propagation.base.constants import EARTH_RADIUS_KM
from propagation.base.units import FloatArray, FloatLike, as_float

TRAIL_HEIGHT_KM: Final = 95.0  # km, middle of the trails (from memory)
TRAIL_M: Final = 15e3  # m, length of a trail (from memory)
ELECTRON_RADIUS_M: Final = 2.818e-15  # m, classical radius (CODATA)
DIFFUSION_M2_PER_S: Final = 5.8  # m2/s at 95 km: log D = 0.067 h - 5.6 (McKinley, from memory)
INITIAL_RADIUS_M: Final = 0.84  # m at 95 km: log r0 = 0.075 h - 7.2 (McKinley, from memory)
UNDERDENSE_PER_M: Final = 1e14  # electrons a metre, up to which a trail scatters as independent electrons
FLUX_PER_M2_S: Final = 160.0  # N(> q) = 160 / q trails per m2 and second (McKinley, from memory)
WAIT_S: Final = 60.0  # s, trails that come at least so often count (ours)
POLARISATION: Final = 0.5  # mean of sin2 between field and scattered ray
MORNING: Final = 0.5  # of the mean rate, by which it is higher at 06 and lower at 18 local time (from memory)
REACH_KM: Final = 2000.0  # km, beyond which no sky is seen by both (geometry)
BEYOND_DB_PER_KM: Final = 0.1  # dB per km past the table's end (ours: the scatter is negligible there)
_TABLE_KM: Final = np.linspace(0.0, REACH_KM, 41)


@lru_cache(maxsize=1)
def _sky_db() -> FloatArray:
    """10 log of the sum over the common sky [1/m5 s ..] by distance; all but the wavelength."""
    step_m = 20e3
    along, across = np.arange(0.0, 1601e3, step_m)[:, None], np.arange(0.0, 1201e3, step_m)[None, :]
    # the other quarters are alike; the cells on the two lines between them and those at the edges count once
    of_four = np.prod([1.0 + ((v > 0.0) & (v < v.max())) for v in np.broadcast_arrays(along, across)], axis=0)
    found = []
    for distance_km in _TABLE_KM.tolist():
        half = 500.0 * distance_km
        ranges = []
        seen = np.ones(np.broadcast_shapes(along.shape, across.shape), dtype=bool)
        for end in (-half, half):
            ground_km = np.hypot(along - end, across) / 1e3
            height_km = TRAIL_HEIGHT_KM - ground_km**2 / (2.0 * EARTH_RADIUS_KM)  # above the end's horizon
            seen &= height_km > 0.0
            ranges.append(np.hypot(ground_km, np.maximum(height_km, 0.0)) * 1e3)
        first, second = ranges
        between = (first**2 + second**2 - (2.0 * half) ** 2) / (2.0 * first * second)
        cos_square = np.maximum(0.5 * (1.0 + between), 0.05)  # of half the angle between the two rays
        lies_across = np.minimum(TRAIL_M * (first + second) / (4.0 * first * second), 1.0)
        area = np.where(seen, lies_across, 0.0) * of_four * step_m**2
        densest = FLUX_PER_M2_S * WAIT_S * max(float(area.sum()), 1.0)
        over = max(densest / UNDERDENSE_PER_M, 1.0)
        energy = FLUX_PER_M2_S * UNDERDENSE_PER_M * (1.0 + 2.0 * (over**0.5 - 1.0))
        total = float(np.sum(area / (cos_square * first * second * (first + second)))) * energy
        constant = POLARISATION * ELECTRON_RADIUS_M**2 / (512.0 * np.pi**4 * DIFFUSION_M2_PER_S)
        found.append(10.0 * np.log10(max(constant * total, 1e-40)))
    return as_float(found)


def meteor_loss_db(distance_km: FloatLike, frequency_mhz: FloatLike, solar_hour: FloatLike) -> FloatArray:
    """Loss [dB] between isotropic antennas by way of meteor trails, without absorption; broadcasts.

    `solar_hour`: local solar time at the middle [h]. The loss depends on the fifth power of the wavelength:
    the third by the radar equation, the square by the time a trail lasts.
    """
    wavelength_m = 299.792458 / as_float(frequency_mhz)
    d = as_float(distance_km)
    blurred = (10.0 / np.log(10.0)) * 8.0 * np.pi**2 * (INITIAL_RADIUS_M / wavelength_m) ** 2
    rate = 1.0 + MORNING * np.cos((as_float(solar_hour) - 6.0) * np.pi / 12.0)
    gain = (
        np.interp(d, _TABLE_KM, _sky_db())
        - BEYOND_DB_PER_KM * np.maximum(d - REACH_KM, 0.0)
        + 50.0 * np.log10(wavelength_m)
        - blurred
        + 10.0 * np.log10(rate)
    )
    return as_float(np.clip(-gain, 0.0, 400.0))


def take_off_deg(distance_km: FloatLike) -> FloatArray:
    """Take-off angle [deg] to the trails with most weight: those half way, or overhead near by (geometry)."""
    return as_float(np.degrees(np.arctan2(TRAIL_HEIGHT_KM, np.maximum(0.5 * as_float(distance_km), 95.0))))
