"""What one product of the public space weather service says."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from propagation.base.time_series import EMPTY, TimeSeries

FLUX_RANGE_SFU: Final = (50.0, 500.0)  # outside: a burst, a fill value or a cut number
KP_RANGE: Final = (0.0, 9.34)
SSN_RANGE: Final = (0.0, 500.0)
XRAY_RANGE_W_M2: Final = (1e-9, 0.1)
WEB_PAGE: Final = "a web page came instead of the product"


@dataclass(frozen=True, eq=False)
class Reading:
    """What one product says. Records not spoken of are empty; times are UTC.

    flux_sfu by day (00 UT), flux_forecast_sfu likewise; kp and kp_forecast by start of the three-hour
    interval, hp30 by that of the half hour; daily_kp_forecast a coarser one from daily A indices; xray_w_m2
    by minute; smoothed_ssn (version 2) and smoothed_flux_sfu by month (its first day); proton_scale: the S
    scale in force; storm_notes: plain sentences.
    """

    issued: np.datetime64 | None = None
    flux_sfu: TimeSeries = EMPTY
    flux_forecast_sfu: TimeSeries = EMPTY
    kp: TimeSeries = EMPTY
    hp30: TimeSeries = EMPTY
    kp_forecast: TimeSeries = EMPTY
    daily_kp_forecast: TimeSeries = EMPTY
    a_index: TimeSeries = EMPTY
    xray_w_m2: TimeSeries = EMPTY
    smoothed_ssn: TimeSeries = EMPTY
    smoothed_flux_sfu: TimeSeries = EMPTY
    proton_scale: int | None = None
    storm_notes: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def empty(self) -> bool:
        """True if nothing usable was found."""
        records = (
            self.flux_sfu, self.flux_forecast_sfu, self.kp, self.kp_forecast, self.daily_kp_forecast,
            self.hp30, self.xray_w_m2, self.smoothed_ssn, self.smoothed_flux_sfu,
        )  # fmt: skip
        return (
            not any(len(record) for record in records) and self.proton_scale is None and not self.storm_notes
        )


def record_of(pairs: Iterable[tuple[np.datetime64, float, Any]]) -> TimeSeries:
    """A record out of (time, value, anything)."""
    listed = list(pairs)
    return TimeSeries.of([pair[0] for pair in listed], [pair[1] for pair in listed]) if listed else EMPTY
