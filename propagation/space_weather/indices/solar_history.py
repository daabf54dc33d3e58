"""Built-in record of the sun and the field, and the uncertainty of its forecast.

The record is monthly since 1958 with a forecast, and daily since 1995. Its tables are made by
`data/builders/solar_indices.py`; sources and terms are in
`data/solar_history.provenance.md` and `data/ionospheric_index.provenance.md`. Flux is the 10.7 cm flux as
observed at the Earth (not adjusted to 1 AU): the ionosphere receives it and broadcasts give it. Sunspot
numbers are version 2.

The uncertainty of a predicted index comes from the record itself. For every month since 1958 the index some
months later is estimated by least squares from that of the month, of half a year and of a year before; the
deciles of the residuals are the spread at that lead. The lead counts from the last month whose flux is known;
the residual of the relation of flux and index is added (`solar_index`). A method that models how cycles run
errs somewhat less (ours).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray, TimeArray, as_float
from propagation.space_weather.indices import solar_index
from propagation.space_weather.indices.solar_index import LOWEST_INDEX, relation_of_flux

DAY: Final = np.timedelta64(1, "D")
MONTH: Final = np.timedelta64(1, "M")
_TABLE: Final = Path(__file__).parents[2] / "data" / "solar_history.npz"
DEPARTURE_MONTHS: Final = 30.0  # months, ours: least error of continued months 1958 to 2025 (provenance)
MONTH_KINDS: Final = ("observed", "partly forecast", "forecast")


@dataclass(frozen=True, eq=False)
class SolarHistory:
    """The whole table, unpacked.

    month_middles [datetime64[s]], smoothed_ssn [version 2], smoothed_flux_sfu, month_kind (index into
    MONTH_KINDS), observed_index (IG12 of ionosondes, NaN where not settled): equal 1-D arrays. days
    [datetime64[D], without gaps], daily_flux_sfu: equal 1-D arrays. daily_kp: (days, 8), the eight three-hour
    values of each day. Days from `forecast_from` on are forecasts.
    """

    updated: np.datetime64
    month_middles: TimeArray
    smoothed_ssn: FloatArray
    smoothed_flux_sfu: FloatArray
    month_kind: IntArray
    observed_index: FloatArray
    days: TimeArray
    daily_flux_sfu: FloatArray
    daily_kp: FloatArray
    forecast_from: np.datetime64

    def ssn_at(self, times: TimeArray) -> FloatArray:
        """Smoothed sunspot number, version 2, linear between mid-months, end values held outside."""
        return _linear(times, self.month_middles, self.smoothed_ssn)

    def flux_at(self, times: TimeArray) -> FloatArray:
        """Smoothed 10.7 cm flux [sfu], linear between mid-months, end values held outside."""
        return _linear(times, self.month_middles, self.smoothed_flux_sfu)

    def index_at(self, times: TimeArray) -> FloatArray:
        """Monthly ionospheric index (scale of R12), linear between mid-months, end values held outside."""
        return _linear(times, self.month_middles, self.monthly_index())

    def monthly_index(self) -> FloatArray:
        """IG12 of every month: as ionosondes gave it, after that by the smoothed flux.

        The flux relation alone leaves what differs from cycle to cycle; the departure of the last settled
        month is carried on and fades with a time constant of DEPARTURE_MONTHS.
        """
        by_flux = solar_index.index_from_flux(self.smoothed_flux_sfu)
        last = self.last_observed_month
        ahead = np.arange(len(by_flux)) - last
        departure = self.observed_index[last] - by_flux[last]
        continued = by_flux + departure * np.exp(-np.maximum(ahead, 0) / DEPARTURE_MONTHS)
        index = np.where(np.isnan(self.observed_index), continued, self.observed_index)
        return np.maximum(index, solar_index.LOWEST_INDEX)

    @property
    def last_observed_month(self) -> int:
        """Place of the last month with an index from ionosondes."""
        return int(np.flatnonzero(~np.isnan(self.observed_index))[-1])

    def flux_of_days(self, days: TimeArray) -> FloatArray:
        """Daily observed flux [sfu] of days [datetime64[D]]; NaN where the record has none."""
        index = (days - self.days[0]).astype(np.int64)
        inside = (index >= 0) & (index < len(self.days))
        return np.where(inside, self.daily_flux_sfu[np.clip(index, 0, len(self.days) - 1)], np.nan)


def _linear(times: TimeArray, knots: TimeArray, values: FloatArray) -> FloatArray:
    seconds = np.asarray(times, dtype="datetime64[s]").astype(np.float64)
    return np.interp(seconds, knots.astype(np.float64), values)


def _observed_index(months: TimeArray) -> FloatArray:
    """IG12 of the given months [datetime64[M]]; NaN where the table has none."""
    with np.load(solar_index.TABLE, allow_pickle=False) as table:
        values = table["ig12_tenths"].astype(np.float64) / 10.0
        place = (months - np.datetime64(str(table["first_month"]), "M")).astype(np.int64)
    inside = (place >= 0) & (place < len(values))
    return np.where(inside, values[np.clip(place, 0, len(values) - 1)], np.nan)


@cache
def solar_history() -> SolarHistory:
    """The built-in table, read once."""
    with np.load(_TABLE, allow_pickle=False) as table:
        ssn = table["smoothed_ssn_v2_tenths"].astype(np.float64) / 10.0
        months = np.datetime64(str(table["first_month"]), "M") + np.arange(len(ssn) + 1) * MONTH
        starts = months.astype("datetime64[s]")
        flux = table["daily_flux_tenths"].astype(np.float64) / 10.0
        days = np.datetime64(str(table["first_day"]), "D") + np.arange(len(flux)) * DAY
        history = SolarHistory(
            updated=np.datetime64(str(table["updated"]), "s"),
            month_middles=starts[:-1] + (starts[1:] - starts[:-1]) // 2,
            smoothed_ssn=ssn,
            smoothed_flux_sfu=table["smoothed_flux_tenths"].astype(np.float64) / 10.0,
            month_kind=table["month_kind"].astype(np.int64),
            observed_index=_observed_index(months[:-1]),
            days=days,
            daily_flux_sfu=flux,
            daily_kp=table["daily_kp_thirds"].astype(np.float64) / 3.0,
            forecast_from=days[0] + int(table["observed_days"]) * DAY,
        )
    for array in (
        history.smoothed_ssn,
        history.smoothed_flux_sfu,
        history.observed_index,
        history.daily_flux_sfu,
        history.daily_kp,
    ):
        array.flags.writeable = False
    return history


BEFORE_MONTHS: Final = (0, 6, 12)  # months before the forecast that predict it (ours)
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
    predictors = np.column_stack([np.ones(start.size), *(index[start - back] for back in BEFORE_MONTHS)])
    deciles = np.zeros((2, MOST_LEAD + 1))
    for lead in range(1, MOST_LEAD + 1):
        known = start + lead < index.size
        later = index[start[known] + lead]
        weights, *_ = np.linalg.lstsq(predictors[known], later, rcond=None)
        deciles[:, lead] = np.quantile(later - predictors[known] @ weights, DECILES)
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
