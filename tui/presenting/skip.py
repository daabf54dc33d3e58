"""The skip distance along a path: the nearest place at which the layer over the middle of the hop returns a
frequency. One rule for the hop picture and the rulers, so that they tell the same figure.
"""

from __future__ import annotations

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float
from propagation.ionosphere import muf


def skip_along_km(
    frequency_mhz: FloatLike,
    middle_km: FloatArray,
    fof2_mhz: FloatArray,
    foe_mhz: FloatArray,
    m3000f2: FloatArray,
    gyro_300_mhz: FloatArray,
) -> FloatArray:
    """Skip distance [km] on the median day for each frequency; NaN where no single hop returns it.

    middle_km: (X,) rising distances from the site at which the layer figures (X,) hold; each stands for the
    hop of twice that length. The basic MUF of the hop is from the P.1240 formulas.
    """
    frequency = np.atleast_1d(as_float(frequency_mhz))[:, None]
    longest = 2.0 * middle_km
    needed = muf.skip_km(frequency, fof2_mhz, foe_mhz, m3000f2, gyro_300_mhz)  # (F, X)
    over = np.where(np.isnan(needed), np.inf, needed) - longest  # falls through nought at the skip distance
    served = over <= 0.0
    first = served.argmax(axis=1)
    rows = np.arange(frequency.shape[0])
    before = np.maximum(first - 1, 0)
    high, low = over[rows, first], over[rows, before]
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where((first > 0) & np.isfinite(low), low / (low - high), 1.0)
    at: FloatArray = longest[before] + part * (longest[first] - longest[before])
    at = np.where(first == 0, needed[:, 0], at)
    skip: FloatArray = np.where(served.any(axis=1), at, np.nan)
    return skip
