"""Chance of a contact when the far end is a mixture of stations, by kind of day.

The days of a month are common to all stations of a region: on a poor day of the layer no station is reached.
A count of stations must therefore be made day by day and averaged afterwards. The arrays here keep the axes U
and V of `variability` for this. Within one kind of day, signal and noise vary about their medians from
station to station. This variation gives a share of stations.
"""

from __future__ import annotations

import numpy as np

from propagation.base.units import FloatArray, as_float
from propagation.ionosphere import variability
from propagation.signal.chances.link_budget import OneWay, both_by_day, over_days
from propagation.station.far_ends import FarEnds


def day_weights() -> FloatArray:
    """Share of days of each kind (U, V); the sum is 1."""
    return as_float(np.outer(variability.LAYER_WEIGHTS, variability.ES_WEIGHTS))


def mixed_by_day(
    there: OneWay, here: OneWay, need_db: float, far_ends: FarEnds, as_assumed: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Share of a mixture's stations in reach on each kind of day, and chance with the best kind.

    Returns (N, T, B, U, V) by kind of day and (N, T, B) over all days. there, here: signal to and from the
    far end that the forecast assumes. as_assumed: chance with that far end by kind of day (`both_by_day`),
    passed so that it is not computed twice. V is 1 where sporadic E changes nothing.
    """
    mixed, best = as_float(0.0), as_float(0.0)
    for kind in far_ends.kinds:
        if kind.share > 0.0:
            same = kind.out_db == 0.0 and kind.back_db == 0.0
            need = need_db - kind.out_db, need_db - kind.back_db
            by_day = as_assumed if same else both_by_day(there, here, *need)
            mixed = mixed + kind.share * by_day
            best = over_days(by_day) if kind is far_ends.best else best
    return mixed, best
