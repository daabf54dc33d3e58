"""The built-in record of the sun and the field: monthly since 1958 with a forecast, daily since 1995.

The tables are made by `data/builders/solar_indices.py`; makers and
terms stand in `data/solar_history.provenance.md` and `data/ionospheric_index.provenance.md`. Flux is the
10.7 cm flux as observed at the Earth (not adjusted to 1 AU): it is what the ionosphere meets and what is read
out on the air. Sunspot numbers are version 2.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray, TimeArray
from propagation.space_weather.indices import solar_index

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
