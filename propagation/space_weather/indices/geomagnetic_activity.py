"""Geomagnetic activity: the K index, the linear ap index, and the change of foF2 by an ionospheric storm.

The table of ap is its definition (Bartels 1949, as printed with every list of Kp). Values between the thirds
are interpolated, so that a K of 2.5 from a broadcast has an ap too.

Storm: E. A. Araujo-Pradere, T. J. Fuller-Rowell and M. V. Codrescu, "STORM: An empirical storm-time
ionospheric correction model", Radio Science 37(5), 1070 (2002), doi:10.1029/2001RS002467; coefficients and
the weighting of ap as in the International Reference Ionosphere. The authors find it useful in summer and
equinox at middle latitudes, and not in winter or near the equator.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.time_series import as_times
from propagation.base.units import FloatArray, FloatLike, IntArray, TimeArray, TimeLike, as_float

# 2 nT units at Kp = 0o, 0+, 1-, 1o, 1+, ... 9o (Bartels's table of ap)
AP_OF_KP_THIRDS: Final = (
    0, 2, 3, 4, 5, 6, 7, 9, 12, 15, 18, 22, 27, 32,
    39, 48, 56, 67, 80, 94, 111, 132, 154, 179, 207, 236, 300, 400,
)  # fmt: skip
THREE_HOURS: Final = np.timedelta64(3 * 3600, "s")  # interval of one Kp


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


QUIET_RAP: Final = 200.0  # weighted ap up to which nothing changes (source above)
FULL_RAP: Final = 300.0  # weighted ap from which the fits hold; between the two the change grows linearly
# Weighted ap beyond which the fits are held: past it their quadratics turn up again, towards no storm at all
LARGEST_RAP: Final = 3500.0

# Weight of each of the 36 hours up to the present one, oldest first; their sum is 17.7 (source above)
HOUR_WEIGHTS: Final = np.array(
    [0.0, 0.0, *(n / 27.0 for n in range(1, 28)), 2 / 3, 1 / 3, 0.0, 1 / 3, 2 / 3, 1.0, 0.7]
)

# c0 + c1 rap + c2 rap^2 + c3 rap^3, a row for each of the sets 1 to 20 (source above)
COEFFICIENTS: Final = np.array(
    [
        [1.0136, -9.17e-5, 1.16e-8, 0.0],
        [1.0478, -1.37e-5, 0.0, 0.0],
        [1.0, 0.0, 0.0, 0.0],
        [1.0258, 7.14e-5, -1.46e-8, 0.0],
        [1.0, 0.0, 0.0, 0.0],
        [1.077, -3.21e-4, 9.86e-8, -9.44e-12],
        [1.0543, -1.66e-4, 2.25e-8, 0.0],
        [1.0103, -4.10e-5, -1.67e-8, 3.04e-12],
        [0.99927, 1.36e-4, -1.62e-8, 0.0],
        [0.96876, 2.29e-4, -9.42e-8, 9.32e-12],
        [1.0971, -3.89e-4, 1.17e-7, -1.07e-11],
        [1.0971, -3.08e-4, 4.32e-8, 0.0],
        [1.0777, -2.81e-4, 3.97e-8, 0.0],
        [1.1134, -1.90e-4, 3.13e-8, 0.0],
        [1.0237, 4.76e-5, -8.04e-8, 1.09e-11],
        [1.0703, -2.80e-4, 3.91e-8, 0.0],
        [1.0248, -2.07e-4, 2.58e-8, 0.0],
        [1.0945, -2.91e-4, 3.45e-8, 0.0],
        [1.1622, -3.30e-4, 4.76e-8, 0.0],
        [1.1393, -4.04e-4, 1.13e-7, -1.01e-11],
    ]
)

# Which set serves which latitude (rows: geomagnetic -10, 10, 30, 50, 70, 90 degrees, the hemisphere's own
# sign) and season (columns: 45.6 days each from 23 March; the third is the hemisphere's midsummer)
SET_OF: Final = np.array(
    [
        [3, 4, 5, 4, 3, 2, 1, 2],
        [3, 2, 1, 2, 3, 4, 5, 4],
        [8, 7, 6, 7, 8, 9, 10, 9],
        [13, 12, 11, 12, 13, 14, 15, 14],
        [18, 17, 16, 17, 18, 19, 20, 19],
        [18, 17, 16, 17, 18, 19, 20, 19],
    ]
)


def _interval_weights() -> FloatArray:
    """Weight of each of the 13 three-hour ap, a row for each hour (0, 1, 2) of the present interval.

    Hourly ap is linear between the middles of the intervals and held before the first and after the last.
    """
    hours = np.arange(39.0)  # of the 13 intervals
    hourly = np.array([np.interp(hours, np.arange(1.0, 39.0, 3.0), unit) for unit in np.eye(13)])
    return np.array([hourly[:, 1 + hour : 37 + hour] @ HOUR_WEIGHTS for hour in range(3)])


INTERVAL_WEIGHTS: Final = _interval_weights()


def weighted_ap(ap_history: FloatLike, times: TimeLike) -> FloatArray:
    """The weighted sum of ap over the last 36 hours, which the fits call rap; steady ap gives 17.7 ap.

    ap_history: (..., 13) three-hour ap [2 nT], oldest first, the last of the interval that holds the time.
    times: [datetime64, UTC], the shape of ap_history without its last axis. Returns that shape.
    """
    hour = as_times(times).astype(np.int64) // 3600 % 3
    return as_float(np.einsum("...i,...i->...", as_float(ap_history), INTERVAL_WEIGHTS[hour]))


def polynomial(rap: FloatLike, set_number: IntArray | int) -> FloatArray:
    """The fit of one coefficient set (1 to 20) at a weighted ap; both broadcast."""
    c = COEFFICIENTS[np.asarray(set_number) - 1]
    r = as_float(rap)
    return as_float(c[..., 0] + r * (c[..., 1] + r * (c[..., 2] + r * c[..., 3])))


def storm_factor(geomagnetic_latitude_deg: FloatLike, times: TimeLike, rap: FloatLike) -> FloatArray:
    """Factor on foF2, exactly 1.0 while the weighted ap is 200 or less.

    geomagnetic_latitude_deg [deg], times [datetime64, UTC] and rap (from `weighted_ap`) broadcast; the result
    has their common shape. Latitudes outside -90..90 are clipped, rap above LARGEST_RAP is held; NaN gives
    NaN.
    """
    latitude, r, moments = np.broadcast_arrays(
        as_float(geomagnetic_latitude_deg), np.minimum(as_float(rap), LARGEST_RAP), as_times(times)
    )
    day = (moments.astype("datetime64[D]") - moments.astype("datetime64[Y]").astype("datetime64[D]")).astype(
        np.int64
    ) + 1
    day = np.where(latitude < 0.0, np.where(day + 172 > 365, day - 193, day + 172), day)
    season = np.where(day >= 82, day - 82.0, day + 283.0) / 45.6
    first = season.astype(np.int64) % 8
    into_season = season - np.floor(season)
    row = np.clip((np.abs(np.nan_to_num(latitude)) + 10.0) / 20.0, 0.0, 4.9999)
    lower = row.astype(np.int64)
    into_row = row - lower

    fitted = np.maximum(r, FULL_RAP)
    change = np.zeros(latitude.shape)
    for row_step in (0, 1):
        for season_step in (0, 1):
            share = np.abs(1 - row_step - into_row) * np.abs(1 - season_step - into_season)
            sets = SET_OF[lower + row_step, (first + season_step) % 8]
            change += share * (polynomial(fitted, sets) - 1.0)
    growth = np.clip((r - QUIET_RAP) / (FULL_RAP - QUIET_RAP), 0.0, 1.0)
    factor = np.where(growth > 0.0, 1.0 + growth * change, 1.0)
    return np.where(np.isnan(r) | np.isnan(latitude), np.nan, factor)
