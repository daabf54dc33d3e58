"""The sun and the field on the days of a log, and whether they are really known.

The forecast always has an answer: where nothing was measured it stands on the month, the cycle's prediction
and a quiet field. A review must say which it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from propagation.base.record import shifted
from propagation.base.store import Store, StoreError
from propagation.base.units import TimeArray
from propagation.space_weather.indices.solar_history import DAY, solar_history
from propagation.space_weather.sources.hosts import OBSERVING
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.hand_entry import entries_of
from propagation.space_weather.state.stored_conditions import readings_of

Known = Literal["measured", "typed in", "month only", "not known"]
_HOURS: Final = np.arange(0, 24, 3).astype("timedelta64[h]")


@dataclass(frozen=True)
class DayConditions:
    """One day: the flux [sfu] and the greatest K the forecast used, and how each of them is known."""

    date: np.datetime64
    flux_sfu: float
    kp_most: float
    flux: Known
    kp: Known

    @property
    def known(self) -> bool:
        """Whether flux and K are those of the day itself."""
        return {self.flux, self.kp} <= {"measured", "typed in"}


@dataclass(frozen=True, eq=False)
class Measured:
    """Days [datetime64[D]] whose flux and whose K were measured or typed in, beside the built-in record."""

    flux_days: TimeArray
    kp_days: TimeArray


NOTHING_STORED: Final = Measured(np.array([], dtype="datetime64[D]"), np.array([], dtype="datetime64[D]"))


def measured_days(store: Store, now: np.datetime64) -> Measured:
    """What the stored copies and typed-in facts tell of; damaged ones tell of nothing."""
    readings, _, _ = readings_of(store, now)
    flux = [readings[name].flux_sfu.times for name in OBSERVING if name in readings]
    kp = [readings[name].kp.times for name in OBSERVING if name in readings]
    try:
        typed = entries_of(store)
    except StoreError:
        typed = []
    flux += [np.array([entry.at], dtype="datetime64[s]") for entry in typed if entry.sun]
    kp += [np.array([entry.at], dtype="datetime64[s]") for entry in typed if entry.kp is not None]
    return Measured(_days(flux), _days(kp))


def _days(parts: Sequence[TimeArray]) -> TimeArray:
    if not parts:
        return NOTHING_STORED.flux_days
    return np.unique(np.concatenate(parts).astype("datetime64[D]"))


def day_conditions(
    conditions: Conditions, days: TimeArray, measured: Measured = NOTHING_STORED, typed_kp: bool = False
) -> tuple[DayConditions, ...]:
    """The conditions of days [datetime64[D], (n,)], in their order.

    measured: what is known beside the built-in record. typed_kp: K was given with the question, for all days.
    """
    history = solar_history()
    dates = np.asarray(days, dtype="datetime64[D]")
    noon = shifted(dates, np.timedelta64(12, "h"))
    flux = conditions.flux_at(noon)
    hours = shifted(dates[:, None], _HOURS)
    kp = np.max(conditions.kp_at(hours), axis=1, initial=0.0)
    recorded = (dates >= history.days[0]) & (dates < history.forecast_from)
    monthly = (dates < history.days[0]) & (
        dates >= history.month_middles[0].astype("datetime64[D]") - 15 * DAY
    )
    flux_known = recorded | np.isin(dates, measured.flux_days)
    kp_known = recorded | np.isin(dates, measured.kp_days)
    typed_flux = conditions.basis == "typed in"
    return tuple(
        DayConditions(
            date=date,
            flux_sfu=float(flux[row]),
            kp_most=float(kp[row]),
            flux=_how(typed_flux, bool(flux_known[row]), bool(monthly[row])),
            kp=_how(typed_kp, bool(kp_known[row]), bool(monthly[row])),
        )
        for row, date in enumerate(dates)
    )


def _how(typed: bool, known: bool, monthly: bool) -> Known:
    if typed:
        return "typed in"
    if known:
        return "measured"
    return "month only" if monthly else "not known"
