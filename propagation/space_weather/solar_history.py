"""The built-in record of the sun and the field: monthly since 1958 with a forecast, daily since 1995.

The table is made by `data/builders/solar_history.py`; makers and terms stand in
`data/solar_history.provenance.md`. Flux is the 10.7 cm flux as observed at the Earth (not adjusted to
1 AU): it is what the ionosphere meets and what is read out on the air. Sunspot numbers are version 2.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray, TimeArray

DAY: Final = np.timedelta64(1, "D")
_TABLE: Final = Path(__file__).parent.parent / "data" / "solar_history.npz"
MONTH_KINDS: Final = ("observed", "partly forecast", "forecast")


@dataclass(frozen=True, eq=False)
class SolarHistory:
    """The whole table, unpacked.

    month_middles [datetime64[s]], smoothed_ssn [version 2], smoothed_flux_sfu, month_kind (index into
    MONTH_KINDS): equal 1-D arrays. days [datetime64[D], without gaps], daily_flux_sfu: equal 1-D arrays.
    daily_kp: (days, 8), the eight three-hour values of each day. Days from `forecast_from` on are forecasts.
    """

    updated: np.datetime64
    month_middles: TimeArray
    smoothed_ssn: FloatArray
    smoothed_flux_sfu: FloatArray
    month_kind: IntArray
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

    def flux_of_days(self, days: TimeArray) -> FloatArray:
        """Daily observed flux [sfu] of days [datetime64[D]]; NaN where the record has none."""
        index = (days - self.days[0]).astype(np.int64)
        inside = (index >= 0) & (index < len(self.days))
        return np.where(inside, self.daily_flux_sfu[np.clip(index, 0, len(self.days) - 1)], np.nan)


def _linear(times: TimeArray, knots: TimeArray, values: FloatArray) -> FloatArray:
    seconds = np.asarray(times, dtype="datetime64[s]").astype(np.float64)
    return np.interp(seconds, knots.astype(np.float64), values)


@cache
def solar_history() -> SolarHistory:
    """The built-in table, read once."""
    with np.load(_TABLE, allow_pickle=False) as table:
        ssn = table["smoothed_ssn_v2_tenths"].astype(np.float64) / 10.0
        months = np.datetime64(str(table["first_month"]), "M") + np.arange(len(ssn) + 1)
        starts = months.astype("datetime64[s]")
        flux = table["daily_flux_tenths"].astype(np.float64) / 10.0
        days = np.datetime64(str(table["first_day"]), "D") + np.arange(len(flux)) * DAY
        history = SolarHistory(
            updated=np.datetime64(str(table["updated"]), "s"),
            month_middles=starts[:-1] + (starts[1:] - starts[:-1]) // 2,
            smoothed_ssn=ssn,
            smoothed_flux_sfu=table["smoothed_flux_tenths"].astype(np.float64) / 10.0,
            month_kind=table["month_kind"].astype(np.int64),
            days=days,
            daily_flux_sfu=flux,
            daily_kp=table["daily_kp_thirds"].astype(np.float64) / 3.0,
            forecast_from=days[0] + int(table["observed_days"]) * DAY,
        )
    for array in (history.smoothed_ssn, history.smoothed_flux_sfu, history.daily_flux_sfu, history.daily_kp):
        array.flags.writeable = False
    return history
