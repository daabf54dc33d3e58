"""The planetary K index (0 to 9 in thirds) and the linear ap index that belongs to it.

The table is the definition of ap (Bartels 1949, as printed with every list of Kp). Steps between the thirds
are interpolated, so that a K of 2.5 read out on the air has its ap too.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.time_series import as_times
from propagation.base.units import FloatArray, FloatLike, TimeArray, TimeLike, as_float

# 2 nT units at Kp = 0o, 0+, 1-, 1o, 1+, ... 9o (Bartels's table of ap)
AP_OF_KP_THIRDS: Final = (
    0, 2, 3, 4, 5, 6, 7, 9, 12, 15, 18, 22, 27, 32,
    39, 48, 56, 67, 80, 94, 111, 132, 154, 179, 207, 236, 300, 400,
)  # fmt: skip
THREE_HOURS: Final = np.timedelta64(3 * 3600, "s")  # the interval one Kp speaks for


def ap_from_kp(kp: FloatLike) -> FloatArray:
    """ap [2 nT] of Kp (0..9, any shape); linear between the thirds, clipped outside 0..9, NaN stays NaN."""
    thirds = np.clip(as_float(kp), 0.0, 9.0) * 3.0
    thirds = np.where(np.abs(thirds - np.round(thirds)) < 0.05, np.round(thirds), thirds)  # 2.67 means 2 2/3
    return as_float(np.interp(thirds, np.arange(28.0), as_float(AP_OF_KP_THIRDS)))


def kp_from_ap(ap: FloatLike) -> FloatArray:
    """Kp of ap [2 nT], any shape: the inverse of `ap_from_kp`, clipped to 0..9."""
    return as_float(np.interp(as_float(ap), as_float(AP_OF_KP_THIRDS), np.arange(28.0) / 3.0))


def interval_start(times: TimeLike) -> TimeArray:
    """Start [datetime64[s]] of the three-hour Kp interval (00, 03, ... 21 UT) that holds each time."""
    return as_times(as_times(times).astype(np.int64) // 10800 * 10800)
