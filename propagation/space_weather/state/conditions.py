"""Conditions: the sun and the Earth's field over a span of times, as the forecast needs them.

**The index of the maps** is the ionospheric index, on the scale of the sunspot number R12 (version 1)
that the maps were made with; it may be negative.

* *monthly index*: IG12 as ionosondes gave it, since 1958; after its last settled month continued by the
  smoothed 10.7 cm flux, observed or predicted (`SolarHistory.monthly_index`).
* *the days*: where the daily flux is known (or forecast day by day) its departure from the smoothed flux
  is added to the monthly index (`effective_index`). Past the last known day it fades over 27 days, one
  rotation of the sun, since groups of spots rarely last longer.

The smoothed sunspot number is kept as well: it is the number that is published and remembered. `basis` is the
basis of the index, `index_words` its source at a time.
"""

from __future__ import annotations

from calendar import month_name
from dataclasses import dataclass, replace
from functools import cache
from typing import Final, Literal

import numpy as np

from propagation.base.errors import InputError
from propagation.base.text import age_words
from propagation.base.time_series import EMPTY, TimeSeries, as_times, later, shifted
from propagation.base.units import BoolArray, FloatArray, TimeLike, as_float
from propagation.space_weather.indices.geomagnetic_activity import THREE_HOURS, ap_from_kp, interval_start
from propagation.space_weather.indices.smoothed_index import (
    FADE_DAYS,
    FLUX_HOUR,
    effective_index,
    history_days,
)
from propagation.space_weather.indices.solar_history import DAY, SolarHistory, solar_history
from propagation.space_weather.indices.solar_index import (
    LOWEST_INDEX,
    flux_from_index,
    index_from_flux,
    index_from_ssn,
    r12_from_index,
    ssn_from_index,
)
from propagation.space_weather.sources.potsdam_products import HALF_HOUR
from propagation.space_weather.state.measured_conditions import MeasuredConditions

Basis = Literal["flux", "sunspots", "typed in"]

STORM_KP: Final = 4.66  # Kp 5-, from which the field counts as stormy (scale G1, common practice)
QUIET_KP: Final = 2.0  # the field where nothing is known: an ordinary day, without any storm effect


@dataclass(frozen=True)
class Fact:
    """A known fact: what, its value in words, time of issue, and origin."""

    what: str
    value: str
    issued: np.datetime64 | None
    origin: str


@dataclass(frozen=True, eq=False)
class Conditions:
    """The sun and the field over a span of times; every method takes times of any shape.

    index: ionospheric index on the scale of R12. flux_sfu: daily 10.7 cm flux as observed. ssn: smoothed
    sunspot number, version 2; empty for the one that goes with the index. kp: three-hour values by the start
    of their interval. xray_w_m2: 1-8 Å flux. protons_pfu: protons above 10 MeV. heard: correction of the
    index by reports of what was heard, none outside its times. hp30: K by half hours, used for kp in a storm.
    measured: maps of the hours near them. source: in words. basis: of `index`. index_spans: starting times
    and sources of the index, in words, oldest first. issued: time of the
    newest fact used, or None. daily_from: first day with values of its own, or None. flux_seen, kp_seen,
    xray_seen: when each was last observed or typed in, or None. facts: each fact with its age and origin.
    notes: sentences the operator should see.
    """

    index: TimeSeries
    flux_sfu: TimeSeries
    ssn: TimeSeries = EMPTY
    kp: TimeSeries = EMPTY
    xray_w_m2: TimeSeries = EMPTY
    protons_pfu: TimeSeries = EMPTY
    heard: TimeSeries = EMPTY
    hp30: TimeSeries = EMPTY
    measured: MeasuredConditions | None = None
    source: str = "typed in"
    basis: Basis = "typed in"
    index_spans: tuple[tuple[np.datetime64, str], ...] = ()
    issued: np.datetime64 | None = None
    daily_from: np.datetime64 | None = None
    flux_seen: np.datetime64 | None = None
    kp_seen: np.datetime64 | None = None
    xray_seen: np.datetime64 | None = None
    facts: tuple[Fact, ...] = ()
    notes: tuple[str, ...] = ()

    def index_at(self, times: TimeLike) -> FloatArray:
        """Ionospheric index (scale of R12) that drives the maps; not below LOWEST_INDEX."""
        index = self.index.linear_at(times)
        if not len(self.heard):
            return index
        moments = as_times(times)
        inside = (moments >= self.heard.times[0]) & (moments <= self.heard.times[-1])
        return np.maximum(index + np.where(inside, self.heard.linear_at(moments), 0.0), LOWEST_INDEX)

    def index_words(self, time: np.datetime64) -> str:
        """Source of the index at a time, in words without a full stop."""
        spans = [words for start, words in self.index_spans if start <= time]
        words = spans[-1] if spans else "typed in"
        heard = len(self.heard) and self.heard.times[0] <= time <= self.heard.times[-1]
        return f"{words}; shifted by what was heard" if heard else words

    def ssn_at(self, times: TimeLike) -> FloatArray:
        """Smoothed sunspot number, version 2."""
        return self.ssn.linear_at(times) if len(self.ssn) else ssn_from_index(self.index_at(times))

    def flux_at(self, times: TimeLike) -> FloatArray:
        """10.7 cm flux [sfu] as observed."""
        return self.flux_sfu.linear_at(times)

    def kp_at(self, times: TimeLike) -> FloatArray:
        """Kp of the three-hour interval that holds each time; QUIET_KP where nothing is known.

        In a storm the half-hourly index is used where it is known, held at 9.
        """
        kp = self._three_hourly_kp(times)
        if not len(self.hp30):
            return kp
        fine = self.hp30.held_at(times, HALF_HOUR)
        storm = np.fmax(fine, kp) >= STORM_KP
        return np.where(storm & ~np.isnan(fine), np.minimum(fine, 9.0), kp)

    def _three_hourly_kp(self, times: TimeLike) -> FloatArray:
        kp = self.kp.held_at(times, THREE_HOURS)
        return np.where(np.isnan(kp), QUIET_KP, kp)

    def kp_known(self, times: TimeLike) -> BoolArray:
        """True where Kp is observed or forecast, False where the quiet field is assumed."""
        return np.asarray(~np.isnan(self.kp.held_at(times, THREE_HOURS)))

    def ap_history(self, times: TimeLike) -> FloatArray:
        """Thirteen three-hour ap, oldest first, the last of the interval holding the time: (..., 13)."""
        starts = interval_start(times)[..., None]
        return ap_from_kp(self._three_hourly_kp(shifted(starts, np.arange(-12, 1) * THREE_HOURS)))

    def xray_at(self, times: TimeLike) -> FloatArray:
        """Solar X-ray flux, 1-8 Å [W/m2]; 0 where nothing is known."""
        xray = self.xray_w_m2.held_at(times, np.timedelta64(600, "s"))
        return np.where(np.isnan(xray), 0.0, xray)

    def protons_at(self, times: TimeLike) -> FloatArray:
        """Protons above 10 MeV [pfu], held for a day after they were reported; 0 where nothing is known."""
        protons = self.protons_pfu.held_at(times, np.timedelta64(86400, "s"))
        return np.where(np.isnan(protons), 0.0, protons)

    def age_text(self, now: np.datetime64) -> str:
        """Ages of flux and K, as "flux 3 hours old, K just now"; one age where they share it."""
        if self.issued is None:
            return "no date"
        seen = {"flux": self.flux_seen, "K": self.kp_seen}
        ages = {
            name: age_words(now - at)
            if at <= now
            else self._inside_record(now)  # the record reaches past this time
            for name, at in seen.items()
            if at is not None
        }
        if not ages or len(set(ages.values())) == 1:
            return age_words(now - self.issued) if not ages else next(iter(ages.values()))
        return ", ".join(f"{name} {age}" for name, age in ages.items())

    def _inside_record(self, now: np.datetime64) -> str:
        if self.daily_from is None or now >= self.daily_from:
            return "of the day itself"
        return "of no day of its own (daily values begin in " + f"{self.daily_from.astype('datetime64[Y]')})"

    def as_dict(self, time: np.datetime64, now: np.datetime64 | None = None) -> dict[str, object]:
        """Plain values at one time, fit for JSON: unknown is None."""
        kp_known = bool(self.kp_known(time))
        measured = {} if self.measured is None else {"measured_now": self.measured.as_dict(time)}
        xray, protons = float(self.xray_at(time)), float(self.protons_at(time))
        return {
            "index": round(float(self.index_at(time)), 1),
            "index_source": self.index_words(time),
            "r12": round(float(r12_from_index(self.index_at(time))), 1),
            "ssn": round(float(self.ssn_at(time)), 1),
            "flux_sfu": round(float(self.flux_at(time)), 1),
            "kp": round(float(self.kp_at(time)), 2),
            "kp_known": kp_known,
            "ap": round(float(ap_from_kp(self.kp_at(time))), 1),
            "xray_w_m2": xray if xray > 0.0 else None,
            "proton_pfu": protons if protons > 0.0 else None,
            "source": self.source,
            "basis": self.basis,
            "issued": None if self.issued is None else f"{self.issued.astype('datetime64[s]')}Z",
            "age_hours": None
            if self.issued is None or now is None
            else round(float((now - self.issued) / np.timedelta64(3600, "s")), 2),
            "notes": list(self.notes),
            **measured,
        }


BEFORE_ALL: Final = np.datetime64("0001-01-01", "s")
_ANY_TIME: Final = np.array(["2000-01-01"], dtype="datetime64[s]")


@cache
def _built_in_records() -> tuple[TimeSeries, TimeSeries, TimeSeries, TimeSeries]:
    """Index, smoothed sunspot number, flux and Kp of the built-in table."""
    history = solar_history()
    days = history_days(history)
    moments = shifted(days, FLUX_HOUR)
    effective, flux = effective_index(days, history.flux_of_days(days), history)
    starts = shifted(history.days[:, None], np.arange(8) * THREE_HOURS)
    return (
        TimeSeries(moments, effective),
        TimeSeries(moments, history.ssn_at(moments)),
        TimeSeries(moments, flux),
        TimeSeries(starts.ravel(), history.daily_kp.ravel()),
    )


def built_in(times: TimeLike | None = None, basis: Literal["flux", "sunspots"] = "flux") -> Conditions:
    """Conditions out of the built-in table: no network, no stored copies.

    times: [datetime64, UTC], any shape: only used to say in `source` which part of the table serves them; the
    result answers for every time. Outside 1958 to 2041 the end values hold, and `source` says so. basis:
    "flux" gives the index of ionosondes and flux, "sunspots" the one that goes with the smoothed sunspot
    number.
    """
    history = solar_history()
    index, ssn, flux, kp = _built_in_records()
    by_spots = basis == "sunspots"
    last = later(history.forecast_from, -DAY)
    part, beyond = "record and cycle forecast", ""
    if times is not None and np.size(times):
        moments = as_times(times)
        if moments.max() < history.forecast_from:
            part = "daily record" if moments.min() >= history.days[0] else "record"
        elif moments.min() > history.days[-1] + int(FADE_DAYS) * DAY:
            part = "cycle forecast"
        beyond = _beyond(history, moments.min(), moments.max())
    return Conditions(
        index=TimeSeries(ssn.times, index_from_ssn(ssn.values)) if by_spots else index,
        flux_sfu=flux,
        ssn=ssn,
        kp=kp,
        source=f"built-in {part} of {history.updated.astype('datetime64[D]')}{beyond}",
        basis=basis,
        index_spans=((BEFORE_ALL, "the smoothed sunspot number"),) if by_spots else index_spans(history),
        issued=history.updated,
        daily_from=history.days[0].astype("datetime64[s]"),
        flux_seen=later(last, FLUX_HOUR),
        kp_seen=later(last, 7 * THREE_HOURS),
    )


def index_spans(
    history: SolarHistory, flux_until: np.datetime64 | None = None
) -> tuple[tuple[np.datetime64, str], ...]:
    """Starting times and sources of the index, in words; flux_until: last day whose flux is known."""
    months = history.month_middles
    last = months[history.last_observed_month]
    known = flux_until if flux_until is not None else history.days[-1]
    fade = later(known.astype("datetime64[s]"), int(FADE_DAYS) * DAY)
    name, first, end = (_month_words(at) for at in (last, months[0], months[-1]))
    sondes = "IG12 of ionosondes"
    forecast = later(last, DAY) if fade < last else fade
    return (
        (BEFORE_ALL, f"the first of the record, {first}, held"),
        (months[0], sondes),
        (history.days[0].astype("datetime64[s]"), f"{sondes} and the daily flux"),
        (last, f"{sondes} to {name}, then the daily flux"),
        (forecast, f"{sondes} to {name}, then the predicted flux"),
        (months[-1], f"the last of the prediction, {end}, held"),
    )


def _month_words(time: np.datetime64) -> str:
    month = int(time.astype("datetime64[M]").astype(np.int64))
    return f"{month_name[month % 12 + 1]} {1970 + month // 12}"


def _beyond(history: SolarHistory, first: np.datetime64, last: np.datetime64) -> str:
    """Note on times outside the table, for the source."""
    begin, end = history.month_middles[0], history.month_middles[-1]
    words = ""
    if first < begin:
        words += f" (it begins in {_month_words(begin)}: the first values are held before)"
    if last > end:
        words += f" (it ends in {_month_words(end)}: the last values are held after)"
    return words


def typed_in(
    ssn: float | None = None,
    flux_sfu: float | None = None,
    kp: float | None = None,
    base: Conditions | None = None,
    xray_w_m2: float | None = None,
    proton_pfu: float | None = None,
) -> Conditions:
    """Conditions as one steady state, from numbers given by hand; what is not given comes from `base`.

    ssn: smoothed sunspot number, version 2, 0..400. flux_sfu: 10.7 cm flux, 50..500; at most one of the two.
    kp: 0..9, taken as steady for the 36 hours before as well. xray_w_m2: 1-8 Å flux. proton_pfu: protons
    above 10 MeV [pfu]. Raises InputError for values out of range, or without a number or a base for the sun.
    """
    if ssn is not None and flux_sfu is not None:
        raise InputError("Give the sunspot number or the solar flux, not both: either one sets the index.")
    for name, value, low, high in (
        ("sunspot number", ssn, 0.0, 400.0),
        ("solar flux", flux_sfu, 50.0, 500.0),
        ("K index", kp, 0.0, 9.0),
        ("X-ray flux", xray_w_m2, 0.0, 0.1),
        ("proton flux", proton_pfu, 0.0, 1e6),
    ):
        if value is not None and not low <= value <= high:
            raise InputError(f"The {name} {value:g} is outside {low:g} to {high:g}: check the number.")
    if ssn is None and flux_sfu is None and base is None:
        raise InputError("Give a smoothed sunspot number or a 10.7 cm flux: one of them is needed.")
    state = base if base is not None else Conditions(EMPTY, EMPTY)
    given = []
    if ssn is not None or flux_sfu is not None:
        index = float(index_from_ssn(ssn) if ssn is not None else index_from_flux(flux_sfu or 0.0))
        flux = float(flux_sfu if flux_sfu is not None else flux_from_index(index))
        spots = _forever(ssn) if ssn is not None else state.ssn
        given.append(f"sunspot number {ssn:g}" if ssn is not None else f"flux {flux:g}")
        spans = ((BEFORE_ALL, f"goes with the {given[-1]} typed in"),)
        state = replace(state, index=_forever(index), flux_sfu=_forever(flux), ssn=spots)
        state = replace(state, basis="typed in", index_spans=spans)
    if kp is not None:
        given.append(f"K {kp:g}")
        state = replace(state, kp=_forever(kp), hp30=EMPTY)
    if xray_w_m2 is not None:
        given.append(f"X-ray flux {xray_w_m2:.1e} W/m2")
        state = replace(state, xray_w_m2=_forever(xray_w_m2))
    if proton_pfu is not None:
        given.append(f"protons {proton_pfu:g} pfu")
        state = replace(state, protons_pfu=_forever(proton_pfu))
    if given:
        rest = f", the rest {base.source}" if base is not None else ""
        state = replace(state, source="typed in: " + ", ".join(given) + rest)
    return state


class _Steady(TimeSeries):
    """A record of one value that holds for ever."""

    def held_at(self, times: TimeLike, longest: np.timedelta64) -> FloatArray:
        return self.linear_at(times)


def _forever(value: float) -> TimeSeries:
    return _Steady(_ANY_TIME, as_float([value]))
