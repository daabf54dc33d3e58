"""How far the cycle may run from its prediction: what the index did after months that were known.

A prediction of the ionospheric index for months ahead is a middle. How wide its error is can be read from the
record itself: from every month since 1958 on, the index so many months later is told by least squares from
that of the month, of half a year and of a year before, and the deciles of what is left are the spread at that
lead. The lead counts from the last month whose flux is known; what flux and index differ by comes on top
(`solar_index`, its residual). A method that knows how cycles run errs somewhat less (ours).
"""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray, TimeArray, as_float
from propagation.space_weather.indices.solar_history import SolarHistory, solar_history
from propagation.space_weather.indices.solar_index import LOWEST_INDEX, relation_of_flux

BEFORE_MONTHS: Final = (0, 6, 12)  # months before the forecast from which it is told (ours)
MOST_LEAD: Final = 60  # months; beyond it the spread is that of the last
DECILES: Final = (0.1, 0.9)
DECILE_Z: Final = 1.2816  # deciles of the normal distribution over its standard deviation


@cache
def _errors() -> FloatArray:
    """Lower and upper decile of the error (2, MOST_LEAD + 1) of the index, by lead in months."""
    history = solar_history()
    index = history.observed_index[: history.last_observed_month + 1]
    first = max(BEFORE_MONTHS)
    start = np.arange(first, index.size)
    told_by = np.column_stack([np.ones(start.size), *(index[start - back] for back in BEFORE_MONTHS)])
    deciles = np.zeros((2, MOST_LEAD + 1))
    for lead in range(1, MOST_LEAD + 1):
        known = start + lead < index.size
        later = index[start[known] + lead]
        weights, *_ = np.linalg.lstsq(told_by[known], later, rcond=None)
        deciles[:, lead] = np.quantile(later - told_by[known] @ weights, DECILES)
    return deciles


def index_spread(months: TimeArray, history: SolarHistory | None = None) -> FloatArray:
    """Lower and upper decile of what the index may depart from its prediction, (2, M), for M months.

    `months` [datetime64[M]]. In index units, the lower one negative; 0 for months that ionosondes have
    settled, the residual of the flux relation alone where the flux is known.
    """
    record = history or solar_history()
    month = months.astype("datetime64[M]")
    settled = record.month_middles[record.last_observed_month].astype("datetime64[M]")
    seen = record.forecast_from.astype("datetime64[M]")
    lead: IntArray = np.clip((month - seen).astype(np.int64), 0, MOST_LEAD)
    flux = DECILE_Z * relation_of_flux().residual * (month > settled)
    low, high = _errors()
    return as_float([-np.hypot(low[lead], flux), np.hypot(high[lead], flux)])


def spread_about(index: FloatArray, months: TimeArray) -> FloatArray:
    """Low, middle and high prediction (3, M) about an index (M,) predicted for M months."""
    low, high = index_spread(months)
    return as_float([np.maximum(index + low, LOWEST_INDEX), index, index + high])
