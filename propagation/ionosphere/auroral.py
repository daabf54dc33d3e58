"""Auroral and other losses Lh along a path, by geomagnetic latitude, local time and season.

The table has the shape of P.533 table 2 (oval between 62 and 72 degrees, strongest before noon); its digits
are from memory and unverified. Read smoothly between its cells.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, FloatLike, IntArray, as_float

# Rows: geomagnetic latitude 42.5, 47.5 .. 77.5 degrees; columns: local time 02:30, 05:30 .. 23:30.
LATITUDES_DEG: Final = np.arange(42.5, 78.0, 5.0)
HOURS: Final = np.arange(2.5, 24.0, 3.0)
# [dB], from memory, printed from the pole downwards and turned round here
_WINTER: Final = np.array(
    [
        [2.0, 6.6, 6.2, 1.5, 0.5, 1.4, 1.5, 1.0],
        [3.4, 8.3, 8.6, 0.9, 0.5, 2.5, 3.0, 3.0],
        [6.2, 15.6, 12.8, 2.3, 1.5, 4.6, 7.0, 5.0],
        [7.0, 16.0, 14.0, 3.6, 2.0, 6.8, 9.8, 6.6],
        [2.0, 4.5, 6.6, 1.4, 0.8, 2.7, 3.0, 2.0],
        [1.3, 1.0, 3.2, 0.3, 0.4, 1.8, 2.3, 0.9],
        [0.9, 0.6, 2.2, 0.2, 0.2, 1.2, 1.5, 0.6],
        [0.4, 0.3, 1.1, 0.1, 0.1, 0.6, 0.7, 0.3],
    ]
)[::-1]
_EQUINOX: Final = np.array(
    [
        [1.4, 2.5, 7.4, 3.8, 1.0, 2.4, 2.4, 3.3],
        [3.3, 11.0, 11.6, 5.1, 2.6, 4.0, 6.0, 7.0],
        [6.5, 12.0, 21.4, 8.5, 4.8, 6.0, 10.0, 13.7],
        [6.7, 11.2, 17.0, 9.0, 7.2, 9.0, 10.9, 15.0],
        [2.4, 4.4, 7.5, 5.0, 2.6, 4.8, 5.5, 6.1],
        [1.7, 2.0, 5.0, 3.0, 2.2, 4.0, 3.0, 4.0],
        [1.1, 1.3, 3.3, 2.0, 1.4, 2.6, 2.0, 2.6],
        [0.5, 0.6, 1.6, 1.0, 0.7, 1.3, 1.0, 1.3],
    ]
)[::-1]
_SUMMER: Final = np.array(
    [
        [2.2, 2.7, 1.2, 2.3, 2.2, 3.8, 4.2, 3.8],
        [2.4, 3.0, 2.8, 3.0, 2.7, 4.2, 4.8, 4.5],
        [4.9, 4.2, 6.2, 4.5, 3.8, 5.4, 7.7, 7.2],
        [6.5, 4.8, 9.0, 6.0, 4.8, 9.1, 9.5, 8.9],
        [3.2, 2.7, 4.0, 3.0, 3.0, 6.5, 6.7, 5.0],
        [2.5, 1.8, 2.4, 2.3, 2.6, 5.0, 4.6, 4.0],
        [1.6, 1.2, 1.6, 1.5, 1.7, 3.3, 3.1, 2.6],
        [0.8, 0.6, 0.8, 0.7, 0.8, 1.6, 1.5, 1.3],
    ]
)[::-1]
_SEASONS: Final = np.stack([_WINTER, _EQUINOX, _SUMMER])
LONG_PATH_SHARE: Final = 0.7  # of the short-path table beyond 2500 km (it has its own table; from memory)


def auroral_loss_db(oval_latitude_deg: FloatLike, solar_hour: FloatLike, season: FloatLike) -> FloatArray:
    """Auroral loss Lh [dB] at places; all arguments broadcast.

    `oval_latitude_deg`: geomagnetic latitude [deg], either sign, counted from a quiet oval (on disturbed
    days the caller adds how far the oval has moved). `solar_hour` [h], `season` -1 (winter) to +1 (summer).
    Falls to nothing at 37.5 degrees. P.533 table 2 in shape, digits from memory.
    """
    lat, hour, s = np.broadcast_arrays(
        np.abs(as_float(oval_latitude_deg)), np.mod(as_float(solar_hour), 24.0), as_float(season)
    )
    if not np.any(lat > LATITUDES_DEG[0] - 5.0):
        return np.zeros(lat.shape)
    row = np.clip((lat - LATITUDES_DEG[0]) / 5.0, 0.0, 7.0)
    r0 = np.minimum(row.astype(np.int64), 6)
    wr = row - r0
    column = (hour - HOURS[0]) / 3.0 % 8.0
    c0 = column.astype(np.int64) % 8
    c1 = (c0 + 1) % 8
    wc = column - np.floor(column)
    level = np.clip(s, -1.0, 1.0) + 1.0
    s0 = np.minimum(level.astype(np.int64), 1)
    ws = level - s0

    def at(season_index: IntArray) -> FloatArray:
        low = _SEASONS[season_index, r0, c0] * (1.0 - wc) + _SEASONS[season_index, r0, c1] * wc
        high = _SEASONS[season_index, r0 + 1, c0] * (1.0 - wc) + _SEASONS[season_index, r0 + 1, c1] * wc
        return as_float(low * (1.0 - wr) + high * wr)

    loss = at(s0) * (1.0 - ws) + at(s0 + 1) * ws
    return as_float(loss * np.clip((lat - (LATITUDES_DEG[0] - 5.0)) / 5.0, 0.0, 1.0))
