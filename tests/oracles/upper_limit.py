"""The factor K of P.533 section 5.3, by which the upper limit fM exceeds F2(4000)MUF."""

from __future__ import annotations

import numpy as np

from propagation.geo.geomagnetic import field_map
from propagation.ionosphere import layers, muf

EAST_WEST = (0.1, 1.2, 0.6)  # W, X, Y (P.533 table 3, from memory)
NORTH_SOUTH = (0.2, 0.2, 0.4)


def k_factor(
    constants: tuple[float, float, float], lat_deg: float, lon_deg: float, time: np.datetime64, year: float
) -> float:
    """K at one control point and hour: 1.2 + W r + X (r^(-1/3) - 1) + Y m^2.

    r and m: fg now and at its lowest over fg at local noon, fg the MUF of 3000 km at sunspot number 60 with a
    foE of a third of foF2; every ten minutes of the day.
    """
    w, x, y = constants
    day = time.astype("datetime64[D]").astype("datetime64[s]")
    times = day + np.arange(0, 86400, 600) * np.timedelta64(1, "s")
    sky = layers.ionosphere(lat_deg, lon_deg, times, 60.0, year, with_es=False)
    gyro = field_map(year, 300.0).at(np.array(lat_deg), np.array(lon_deg)).gyrofrequency_mhz
    course = muf.f2_muf_mhz(3000.0, sky.fof2_mhz, sky.fof2_mhz / 3.0, sky.m3000f2, gyro)
    noon = course[round((12.0 - lon_deg / 15.0) % 24.0 * 6.0) % 144]
    now = course[int((time - day) / np.timedelta64(600, "s"))]
    return float(
        1.2 + w * now / noon + x * ((noon / now) ** (1.0 / 3.0) - 1.0) + y * (course.min() / noon) ** 2
    )
