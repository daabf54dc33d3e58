"""Ground wave over smooth earth: Norton's surface wave close in, smooth-earth diffraction beyond.

At HF the surface wave covers a few tens of kilometres over land and a few hundred over sea; at VHF the radio
horizon is the limit. Structure of P.368 and P.526; closed forms from memory, joined smoothly.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.constants import EARTH_RADIUS_KM, SPEED_OF_LIGHT_M_PER_S
from propagation.base.units import FloatArray, FloatLike, as_float, db

EFFECTIVE_EARTH: Final = 4.0 / 3.0  # of the earth's radius, standard refraction (P.310, from memory)
VHF_MHZ: Final = 30.0  # MHz, start of the curve for raised antennas, which applies fully at twice that (ours)
LOSS_MAX_DB: Final = 320.0  # dB, no signal beyond this; keeps sums finite (ours)


def radio_horizon_km(height_1_m: FloatLike, height_2_m: FloatLike) -> FloatArray:
    """Distance [km] at which two antennas at these heights [m] lose sight over smooth earth.

    4.12 (sqrt h1 + sqrt h2), textbook.
    """
    return 4.12 * (np.sqrt(as_float(height_1_m)) + np.sqrt(as_float(height_2_m)))


def surface_attenuation(
    distance_km: FloatLike, frequency_mhz: FloatLike, permittivity: FloatLike, conductivity_s_per_m: FloatLike
) -> FloatArray:
    """Norton's attenuation |A| of a vertically polarised wave along flat earth (0..1); arguments broadcast.

    p = (pi d / lambda) cos b / x, x = 18000 sigma / f, tan b = (eps + 1) / x,
    |A| = (2 + 0.3 p) / (2 + p + 0.6 p^2) - sqrt(p/2) exp(-0.6 p) sin b (Norton 1941, from memory).
    """
    f = as_float(frequency_mhz)
    x = 18000.0 * as_float(conductivity_s_per_m) / f
    b = np.arctan2(as_float(permittivity) + 1.0, x)
    wavelength_km = SPEED_OF_LIGHT_M_PER_S / 1e9 / f
    p = np.pi * as_float(distance_km) / wavelength_km / np.hypot(x, as_float(permittivity) + 1.0)
    factor = (2.0 + 0.3 * p) / (2.0 + p + 0.6 * p**2) - np.sqrt(p / 2.0) * np.exp(-0.6 * p) * np.sin(b)
    return as_float(np.clip(factor, 1e-9, 1.0))


def _height_gain_db(y: FloatArray) -> FloatArray:
    """G(Y) of P.526 section 3.1.1.2 (from memory), for vertical polarisation over land at VHF (beta = 1)."""
    high = 17.6 * np.sqrt(np.maximum(y - 1.1, 0.0)) - 5.0 * np.log10(np.maximum(y - 1.1, 1e-3)) - 8.0
    low = 20.0 * np.log10(np.maximum(y + 0.1 * y**3, 1e-3))
    return np.where(y > 2.0, high, low)


def diffraction_loss_db(
    distance_km: FloatLike, frequency_mhz: FloatLike, height_1_m: FloatLike, height_2_m: FloatLike
) -> FloatArray:
    """Loss [dB] beyond free space by diffraction over smooth earth, 0 or more; broadcasts.

    P.526 section 3.1.1 (from memory), heights [m] over the ground.
    """
    f = as_float(frequency_mhz)
    radius = EARTH_RADIUS_KM * EFFECTIVE_EARTH
    x = 2.188 * np.cbrt(f) * radius ** (-2.0 / 3.0) * as_float(distance_km)
    y_scale = 9.575e-3 * np.cbrt(f**2) * radius ** (-1.0 / 3.0)
    far = 11.0 + 10.0 * np.log10(np.maximum(x, 1e-6)) - 17.6 * x
    near = -20.0 * np.log10(np.maximum(x, 1e-6)) - 5.6488 * np.maximum(x, 1e-6) ** 1.425
    gain = _height_gain_db(y_scale * as_float(height_1_m)) + _height_gain_db(y_scale * as_float(height_2_m))
    return as_float(np.maximum(-(np.where(x >= 1.6, far, near) + gain), 0.0))


def ground_wave_loss_db(
    distance_km: FloatLike,
    frequency_mhz: FloatLike,
    permittivity: FloatLike,
    conductivity_s_per_m: FloatLike,
    height_1_m: FloatLike,
    height_2_m: FloatLike,
) -> FloatArray:
    """Basic transmission loss [dB] along the ground; every argument broadcasts; finite at zero distance.

    Below 30 MHz: the vertically polarised surface wave (free space, less 6 dB for the image that the
    antenna's own gain already counts, plus Norton's attenuation). Beyond 80 / f^(1/3) km the earth's
    curvature adds the diffraction loss counted from there. At VHF the antennas' heights carry the signal to
    the horizon, diffraction beyond. The larger of the two fields counts. P.368 in structure only.
    """
    d = np.maximum(as_float(distance_km), 0.1)
    f = as_float(frequency_mhz)
    free = 32.45 + 20.0 * np.log10(f) + 20.0 * np.log10(d)
    flat_reach = 80.0 / np.cbrt(f)
    radius = EARTH_RADIUS_KM * EFFECTIVE_EARTH
    per_km = 17.6 * 2.188 * np.cbrt(f) * radius ** (-2.0 / 3.0)  # the exponential part of the P.526 curve
    bend = per_km * np.maximum(d - flat_reach, 0.0) - 10.0 * np.log10(np.maximum(d / flat_reach, 1.0))
    surface = (
        free - 2.0 * db(surface_attenuation(d, f, permittivity, conductivity_s_per_m)) + np.maximum(bend, 0.0)
    )
    h1, h2 = np.maximum(as_float(height_1_m), 0.5), np.maximum(as_float(height_2_m), 0.5)
    # two rays over flat ground near by, 20 log(d^2 / h1 h2) free of frequency (textbook); at long range the
    # curve of P.526, used in full at VHF because it begins well short of the horizon
    two_ray = np.maximum(free, 120.0 + 40.0 * np.log10(d) - 20.0 * np.log10(h1 * h2))
    raised = two_ray + per_km * np.maximum(d - radio_horizon_km(h1, h2), 0.0)
    at_vhf = np.maximum(two_ray, free + diffraction_loss_db(d, f, h1, h2))
    raised = raised + np.clip((f - VHF_MHZ) / VHF_MHZ, 0.0, 1.0) * (at_vhf - raised)
    return as_float(np.minimum(np.minimum(surface, raised), LOSS_MAX_DB))
