"""The chance of a contact when the far end is a mixture of stations, kept apart by kind of day.

The days of a month are common to all stations of a region: on a day on which the layer is poor nobody is
reached. Whoever counts stations must therefore count them day by day and average afterwards, so the figures
here keep the axes U and V of `variability`. What is left within one kind of day, signal and noise about their
medians, differs from station to station and makes a share of stations.
"""

from __future__ import annotations

import numpy as np

from propagation.base.units import FloatArray, as_float
from propagation.ionosphere import variability
from propagation.signal.chances.link_budget import OneWay, both_by_day, over_days
from propagation.station.far_ends import FarEnds


def day_weights() -> FloatArray:
    """The share of days of each kind (U, V), one in all."""
    return as_float(np.outer(variability.LAYER_WEIGHTS, variability.ES_WEIGHTS))


def mixed_by_day(
    there: OneWay, here: OneWay, need_db: float, far_ends: FarEnds, as_assumed: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Share of a mixture's stations with which a contact can be made on each kind of day (N, T, B, U, V), and
    the chance over all days with the best of its kinds (N, T, B).

    there, here: signal to and from the far end that the forecast assumes. as_assumed: the chance with that
    one by kind of day (`both_by_day`), not worked out twice. V is 1 where sporadic E changes nothing.
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
