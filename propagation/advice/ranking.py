"""One rule by which every answer ranks bands: the figure told, and which of alike bands comes first.

A band is worth its contacts an hour with a region, its share of days with a place. Both are told in steps,
about as fine as a forecast can be trusted: contacts an hour in steps of about a tenth, days in ten. Bands of
which the same figure is told are alike. Of alike bands comes first the one that needs fewest changes of the
antenna, then the surer one, then the lower one. Shapes: B bands in order of frequency, any shape before.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float

# Contacts an hour that are told (ours): one in so many hours, whole numbers from 2 on, tenths from 10 on
_TENS: Final = np.array([10.0, 11.0, 12.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 24.0, 27.0, 30.0, 33.0, 36.0,
                         40.0, 45.0, 50.0, 55.0, 60.0, 65.0, 70.0, 80.0, 90.0])  # fmt: skip
_SELDOM: Final = np.array([0.0, 1 / 20, 1 / 10, 1 / 7, 1 / 5, 1 / 4, 1 / 3, 1 / 2, 2 / 3, 1.0, 1.5])
RATES: Final = as_float(np.concatenate([_SELDOM, np.arange(2.0, 10.0), _TENS, 10.0 * _TENS]))
_RATE_EDGES: Final = as_float(0.5 * (RATES[1:] + RATES[:-1]))
# Shares of days that are told (ours): days in ten; less than a tenth as one day in so many, the nearest by
# ratio; from 0.95 on nearly every day
ONE_IN: Final = (12, 15, 20, 30, 50, 100)
NO_DAY: Final = 0.0005  # chance up to which it is told as none (ours)
ALWAYS: Final = 0.95  # chance from which it is nearly every day (ours)
UNDER_ONE_IN_100: Final = 0.0095  # chance below which it is less than one day in 100 (ours)
CHANCES: Final = as_float([0.0, 0.005, *(1.0 / days for days in ONE_IN[::-1]), *np.arange(1, 10) / 10.0, 1.0])
_CHANCE_EDGES: Final = as_float([
    NO_DAY, UNDER_ONE_IN_100, *np.sqrt(CHANCES[2:7] * CHANCES[3:8]), 0.1, *np.arange(1.5, 9.0) / 10.0, ALWAYS,
])  # fmt: skip
TIE: Final = 1e-6  # share of the worth between alike bands


def told_rate(per_hour: FloatLike) -> FloatArray:
    """Contacts an hour as told, the nearest of `RATES`; broadcasts."""
    return as_float(RATES[np.searchsorted(_RATE_EDGES, np.nan_to_num(as_float(per_hour)), side="right")])


def told_chance(chance: FloatLike) -> FloatArray:
    """Share of days as told, one of `CHANCES`; broadcasts."""
    return as_float(CHANCES[np.searchsorted(_CHANCE_EDGES, np.nan_to_num(as_float(chance)), side="right")])


def level(worth: FloatArray, told: FloatArray, surer: FloatArray) -> FloatArray:
    """Worth by which bands are compared (.., B): that of alike bands differs by the order among them alone.

    told: figure told of each band; surer: lower bound of the worth. Bands alike to the best get its worth,
    and a millionth more for each place in front: the surer first, the lower where both are as sure.
    """
    if not worth.shape[-1]:
        return worth
    top = np.argmax(worth, axis=-1)[..., None]
    best, figure = (np.take_along_axis(rows, top, axis=-1) for rows in (worth, told))
    behind = np.argsort(np.argsort(-surer, axis=-1, kind="stable"), axis=-1, kind="stable")
    return as_float(
        np.where((told == figure) & (worth > 0.0), best * (1.0 + TIE * (worth.shape[-1] - behind)), worth)
    )
