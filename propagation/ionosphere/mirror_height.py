"""Height at which a mirror would turn the ray of an F2 mode, by layer, frequency and hop length.

The closed forms are those of P.533 section 4 (after Lockwood, IEE Proc. F 131(2), 1984, 117-124); the
coefficients are written from memory and were checked for continuity at their joins. The Recommendation
steps from one form to another at foF2/foE = 3.33 (by some 90 km) and at f = foF2 (by up to 90 km for hops of
500 to 1000 km): here the forms are blended over foF2/foE 3.0 to 3.6 and f/foF2 0.9 to 1.1, so that take-off
angles do not jump between neighbouring hours and frequencies.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float

HEIGHT_MAX_KM: Final = 800.0  # km, cap of the Recommendation (from memory)
HEIGHT_MIN_KM: Final = 150.0  # km, below this an F2 mirror has no meaning; keeps the geometry sane (ours)
BLEND_LOW: Final = 3.0  # foF2/foE, where the blend of the thick and the thin E layer begins (ours)
BLEND_HIGH: Final = 3.6  # foF2/foE, where it ends (ours)
CRITICAL_LOW: Final = 0.9  # f/foF2, where the blend of the forms below and above foF2 begins (ours)
CRITICAL_HIGH: Final = 1.1  # f/foF2, where it ends (ours)


def _smoothstep(value: FloatArray, low: float, high: float) -> FloatArray:
    t = np.clip((value - low) / (high - low), 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


def f2_mirror_height_km(
    frequency_mhz: FloatLike,
    fof2_mhz: FloatLike,
    foe_mhz: FloatLike,
    m3000f2: FloatLike,
    r12: FloatLike,
    hop_km: FloatLike,
) -> FloatArray:
    """Mirror height [km] of an F2 hop; every argument broadcasts.

    `frequency_mhz` [MHz], layer figures at the hop's middle (`fof2_mhz`, `foe_mhz` [MHz], `m3000f2`),
    `r12` the smoothed sunspot number (version 1), `hop_km` the hop's ground length [km].
    Clipped to 150..800 km. P.533 section 4, from memory.
    """
    fof2, foe, m3000 = as_float(fof2_mhz), as_float(foe_mhz), as_float(m3000f2)
    f, d = as_float(frequency_mhz), as_float(hop_km)
    x = fof2 / np.maximum(foe, 0.05)
    y = np.maximum(x, 1.8)
    delta_m = 0.18 / (y - 1.4) + 0.096 * (as_float(r12) - 25.0) / 150.0
    height = 1490.0 / (m3000 + delta_m) - 316.0
    xr = f / np.maximum(fof2, 0.1)

    above = _smoothstep(xr, CRITICAL_LOW, CRITICAL_HIGH)
    h_low_e = above * _above_critical(xr, d, height) + (1.0 - above) * _below_critical(xr, d, height)
    h_high_e = _thick_e(y, d, height)
    share = _smoothstep(x, BLEND_LOW, BLEND_HIGH)
    return np.clip(share * h_low_e + (1.0 - share) * h_high_e, HEIGHT_MIN_KM, HEIGHT_MAX_KM)


def _above_critical(xr: FloatArray, d: FloatArray, height: FloatArray) -> FloatArray:
    """Case (a): foF2/foE > 3.33 and f >= foF2."""
    xr = np.maximum(xr, 1.0)
    xe = np.minimum(xr, 3.7)  # the polynomials end at 3.7; E1 is only used near there (from memory)
    e1 = -0.09707 * xe**3 + 0.6870 * xe**2 - 0.7506 * xe + 0.6
    xf = np.minimum(xr, 1.71)
    f1 = np.where(
        xr <= 1.71, -1.862 * xf**4 + 12.95 * xf**3 - 32.03 * xf**2 + 33.50 * xf - 10.91, 1.21 + 0.2 * xr
    )
    g = np.where(xr <= 3.7, -2.102 * xe**4 + 19.50 * xe**3 - 63.15 * xe**2 + 90.47 * xe - 44.73, 19.25)
    a1 = 140.0 + (height - 47.0) * e1
    b1 = 150.0 + (height - 17.0) * f1 - a1
    ds = 160.0 + (height + 43.0) * g
    a = (d - ds) / (height + 140.0)
    return np.where((b1 >= 0.0) & (a >= 0.0), a1 + b1 * 2.4 ** (-np.maximum(a, 0.0)), a1 + b1)


def _below_critical(xr: FloatArray, d: FloatArray, height: FloatArray) -> FloatArray:
    """Case (b): foF2/foE > 3.33 and f < foF2."""
    z = np.clip(xr, 0.1, 1.0)
    e2 = 0.1906 * z**2 + 0.00583 * z + 0.1936
    f2 = 0.645 * z**2 + 0.883 * z + 0.162
    a2 = 151.0 + (height - 47.0) * e2
    b2 = 141.0 + (height - 24.0) * f2 - a2
    df = np.minimum(0.115 * d / (z * (height + 140.0)), 0.65)
    b = -7.535 * df**4 + 15.75 * df**3 - 8.834 * df**2 - 0.378 * df + 1.0
    return np.where(b2 >= 0.0, a2 + b2 * b, a2 + b2)


def _thick_e(y: FloatArray, d: FloatArray, height: FloatArray) -> FloatArray:
    """Case (c): foF2/foE <= 3.33, the E layer bends the ray noticeably on its way."""
    yc = np.minimum(y, 3.6)
    j = -0.7126 * yc**3 + 5.863 * yc**2 - 16.13 * yc + 16.07
    u = 8e-5 * (height - 80.0) * (1.0 + 11.0 * yc**-2.2) + 1.2e-3 * height * yc**-3.6
    return 115.0 + height * j + u * d
