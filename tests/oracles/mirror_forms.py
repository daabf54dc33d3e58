"""The three forms of the mirror height in P.533 section 4, one at a time, with the steps between them.

Written from memory like the engine's, but apart from it: polynomials by their lists, one number at a time, no
blending and no limits to the result.
"""

from __future__ import annotations

import numpy as np


def mirror_height_km(
    f_mhz: float, fof2_mhz: float, foe_mhz: float, m3000f2: float, r12: float, hop_km: float
) -> float:
    """Height [km] for foF2/foE over 3.33 and f over or under foF2, or foF2/foE under 3.33."""
    y = max(fof2_mhz / foe_mhz, 1.8)
    parabola_km = 1490.0 / (m3000f2 + 0.18 / (y - 1.4) + 0.096 * (r12 - 25.0) / 150.0) - 316.0
    xr = f_mhz / fof2_mhz
    if fof2_mhz / foe_mhz <= 3.33:
        j = np.polyval([-0.7126, 5.863, -16.13, 16.07], y)
        u = 8e-5 * (parabola_km - 80.0) * (1.0 + 11.0 / y**2.2) + 1.2e-3 * parabola_km / y**3.6
        return float(115.0 + parabola_km * j + u * hop_km)
    if xr >= 1.0:
        e = np.polyval([-0.09707, 0.6870, -0.7506, 0.6], min(xr, 3.7))
        f = np.polyval([-1.862, 12.95, -32.03, 33.50, -10.91], xr) if xr <= 1.71 else 1.21 + 0.2 * xr
        g = np.polyval([-2.102, 19.50, -63.15, 90.47, -44.73], xr) if xr <= 3.7 else 19.25
        least = 140.0 + (parabola_km - 47.0) * e
        more = 150.0 + (parabola_km - 17.0) * f - least
        a = (hop_km - (160.0 + (parabola_km + 43.0) * g)) / (parabola_km + 140.0)
        return float(least + more * (2.4**-a if more >= 0.0 and a >= 0.0 else 1.0))
    z = max(xr, 0.1)
    least = 151.0 + (parabola_km - 47.0) * np.polyval([0.1906, 0.00583, 0.1936], z)
    more = 141.0 + (parabola_km - 24.0) * np.polyval([0.645, 0.883, 0.162], z) - least
    df = min(0.115 * hop_km / (z * (parabola_km + 140.0)), 0.65)
    share = np.polyval([-7.535, 15.75, -8.834, -0.378, 1.0], df)
    return float(least + more * (share if more >= 0.0 else 1.0))
