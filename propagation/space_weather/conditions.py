"""What the sun and the Earth's field do over a span of times, as the forecast needs it.

**The index behind the maps.** The numerical maps are tied to the smoothed sunspot number R12 on its first
version's scale. Two indices stand for it, both always at hand:

* *planning index*: the 13-month smoothed sunspot number (version 2), observed or predicted, brought to the
  first version's scale. It is right for months ahead.
* *effective index*: for days whose 10.7 cm flux is known (or forecast day by day), the flux
  F = (F3 + F81) / 2 turned into R12 by inverting the relation of Recommendation ITU-R P.371. F3 is the mean
  of the day and the two before it (the layer follows the flux by about a day: common practice, no source),
  F81 the mean over 81 days around the day. The half-and-half proxy is that of Richards, Fennelly and
  Torr (1994), from memory. Past the last known day it fades into the planning index over 27 days, one
  rotation of the sun, since spots come round again but groups live no longer than that.

In the present cycle the flux stands for a higher index than the sunspots do (smoothed, by 20 to 35 % at the
maximum of 2024), so the two meet with a step that the fade hides; `basis` says which one is in use.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Final, Literal

import numpy as np

from propagation.base.errors import InputError
from propagation.base.record import EMPTY, Record, as_times, later, shifted
from propagation.base.units import BoolArray, FloatArray, TimeLike, as_float
from propagation.space_weather.effective_index import FADE_DAYS, FLUX_HOUR, effective_index, history_days
from propagation.space_weather.kp_index import THREE_HOURS, ap_from_kp, interval_start
from propagation.space_weather.solar_history import DAY, solar_history
from propagation.space_weather.solar_index import flux_from_r12, r12_from_flux, r12_from_ssn, ssn_from_r12

Basis = Literal["flux", "sunspots", "typed in"]

QUIET_KP: Final = 2.0  # the field where nothing is known: an ordinary day, without any storm effect


@dataclass(frozen=True)
class Fact:
    """One thing that is known: what, its value in words, when it was issued, where it came from."""

    what: str
    value: str
    issued: np.datetime64 | None
    origin: str


@dataclass(frozen=True, eq=False)
class Conditions:
    """The sun and the field over a span of times; every method takes times of any shape.

    r12: effective index on the version 1 scale. flux_sfu: daily 10.7 cm flux as observed. kp: three-hour
    values by the start of their interval. xray_w_m2: 1-8 Å flux. protons_pfu: protons above 10 MeV.
    heard: what the ears say of r12, as a difference, nothing outside its times. source: in words. basis: what
    `r12` stands on. issued: time of the newest fact used, or None. flux_seen, kp_seen: when flux and K were
    last observed or typed in, or None. facts: each fact with its age and origin. notes: sentences the
    operator should see.
    """

    r12: Record
    flux_sfu: Record
    kp: Record = EMPTY
    xray_w_m2: Record = EMPTY
    protons_pfu: Record = EMPTY
    heard: Record = EMPTY
    source: str = "typed in"
    basis: Basis = "typed in"
    issued: np.datetime64 | None = None
    flux_seen: np.datetime64 | None = None
    kp_seen: np.datetime64 | None = None
    facts: tuple[Fact, ...] = ()
    notes: tuple[str, ...] = ()

    def r12_at(self, times: TimeLike) -> FloatArray:
        """Effective smoothed sunspot number (version 1 scale) that drives the maps."""
        index = self.r12.linear_at(times)
        if not len(self.heard):
            return index
        moments = as_times(times)
        inside = (moments >= self.heard.times[0]) & (moments <= self.heard.times[-1])
        return np.maximum(index + np.where(inside, self.heard.linear_at(moments), 0.0), 0.0)

    def ssn_at(self, times: TimeLike) -> FloatArray:
        """The same on the scale of published sunspot numbers (version 2)."""
        return ssn_from_r12(self.r12_at(times))

    def flux_at(self, times: TimeLike) -> FloatArray:
        """10.7 cm flux [sfu] as observed."""
        return self.flux_sfu.linear_at(times)

    def kp_at(self, times: TimeLike) -> FloatArray:
        """Kp of the three-hour interval that holds each time; QUIET_KP where nothing is known."""
        kp = self.kp.held_at(times, THREE_HOURS)
        return np.where(np.isnan(kp), QUIET_KP, kp)

    def kp_known(self, times: TimeLike) -> BoolArray:
        """True where Kp is observed or forecast, False where the quiet field is assumed."""
        return np.asarray(~np.isnan(self.kp.held_at(times, THREE_HOURS)))

    def ap_history(self, times: TimeLike) -> FloatArray:
        """Thirteen three-hour ap, oldest first, the last of the interval holding the time: (..., 13)."""
        starts = interval_start(times)[..., None]
        return ap_from_kp(self.kp_at(shifted(starts, np.arange(-12, 1) * THREE_HOURS)))

    def xray_at(self, times: TimeLike) -> FloatArray:
        """Solar X-ray flux, 1-8 Å [W/m2]; 0 where nothing is known."""
        xray = self.xray_w_m2.held_at(times, np.timedelta64(600, "s"))
        return np.where(np.isnan(xray), 0.0, xray)

    def protons_at(self, times: TimeLike) -> FloatArray:
        """Protons above 10 MeV [pfu], held for a day after they were reported; 0 where nothing is known."""
        protons = self.protons_pfu.held_at(times, np.timedelta64(86400, "s"))
        return np.where(np.isnan(protons), 0.0, protons)

    def age_text(self, now: np.datetime64) -> str:
        """How old flux and K are, as "flux 3 hours old, K just now"; one age where they share it."""
        if self.issued is None:
            return "no date"
        seen = {"flux": (self.flux_seen, self.flux_sfu), "K": (self.kp_seen, self.kp)}
        ages = {name: _age(now, at, record) for name, (at, record) in seen.items() if at is not None}
        if not ages or len(set(ages.values())) == 1:
            return age_words(now - self.issued) if not ages else next(iter(ages.values()))
        return ", ".join(f"{name} {age}" for name, age in ages.items())

    def with_r12(self, value: float) -> Conditions:
        """The same sun and field with the index held at one value (for "what if")."""
        return replace(self, r12=_forever(value), heard=EMPTY, basis="typed in")

    def as_dict(self, time: np.datetime64, now: np.datetime64 | None = None) -> dict[str, Any]:
        """Plain values at one time, fit for JSON: unknown is None."""
        kp_known = bool(self.kp_known(time))
        xray, protons = float(self.xray_at(time)), float(self.protons_at(time))
        return {
            "r12": round(float(self.r12_at(time)), 1),
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
        }


def _age(now: np.datetime64, seen: np.datetime64, record: Record) -> str:
    """How old the newest value of a record is; in words where the record reaches past the time."""
    if seen <= now:
        return age_words(now - seen)
    if len(record) and now < record.times[0]:
        return f"of a later time, the record begins in {record.times[0].astype('datetime64[Y]')}"
    return "of the day itself"


_ANY_TIME: Final = np.array(["2000-01-01"], dtype="datetime64[s]")


def age_words(age: np.timedelta64) -> str:
    """An age in words, from minutes to years."""
    minutes = float(age / np.timedelta64(60, "s"))
    if minutes < -10.0:
        return "from the future (check the clock)"
    if minutes < 2.0:
        return "just now"
    for limit, size, name in ((120.0, 1.0, "minutes"), (2880.0, 60.0, "hours"), (129600.0, 1440.0, "days")):
        if minutes < limit:
            return f"{minutes / size:.0f} {name} old"
    return f"{minutes / 43830.0:.0f} months old"


@cache
def _built_in_records() -> tuple[Record, Record, Record, Record]:
    """Effective index, planning index, flux and Kp of the built-in table."""
    history = solar_history()
    days = history_days(history)
    moments = shifted(days, FLUX_HOUR)
    effective, flux = effective_index(days, history.flux_of_days(days), history)
    starts = shifted(history.days[:, None], np.arange(8) * THREE_HOURS)
    return (
        Record(moments, effective),
        Record(moments, r12_from_ssn(history.ssn_at(moments))),
        Record(moments, flux),
        Record(starts.ravel(), history.daily_kp.ravel()),
    )


def built_in(times: TimeLike | None = None, basis: Literal["flux", "sunspots"] = "flux") -> Conditions:
    """Conditions out of the built-in table: no network, no stored copies.

    times: [datetime64, UTC], any shape: only used to say in `source` which part of the table serves them; the
    result answers for every time. Outside 1958 to 2041 the end values hold. basis: "flux" gives the effective
    index wherever daily flux is known, "sunspots" the planning index everywhere.
    """
    history = solar_history()
    effective, planning, flux, kp = _built_in_records()
    last = later(history.forecast_from, -DAY)
    part = "record and cycle forecast"
    if times is not None and np.size(times):
        moments = as_times(times)
        if moments.max() < history.month_middles[0]:
            part = f"value of {history.month_middles[0].astype('datetime64[Y]')}, the record's first,"
        elif moments.max() < history.forecast_from:
            part = "daily record" if moments.min() >= history.days[0] else "record"
        elif moments.min() > history.days[-1] + int(FADE_DAYS) * DAY:
            part = "cycle forecast"
    return Conditions(
        r12=effective if basis == "flux" else planning,
        flux_sfu=flux,
        kp=kp,
        source=f"built-in {part} of {history.updated.astype('datetime64[D]')}",
        basis=basis,
        issued=history.updated,
        flux_seen=later(last, FLUX_HOUR),
        kp_seen=later(last, 7 * THREE_HOURS),
    )


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
    above 10 MeV [pfu]. Raises InputError for values out of range, or when nothing says what the sun does.
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
        raise InputError("Say what the sun does: a smoothed sunspot number or a 10.7 cm flux is needed.")
    state = base if base is not None else Conditions(EMPTY, EMPTY)
    given = []
    if ssn is not None or flux_sfu is not None:
        r12 = float(r12_from_ssn(ssn)) if ssn is not None else float(r12_from_flux(flux_sfu or 0.0))
        flux = float(flux_sfu if flux_sfu is not None else flux_from_r12(r12))
        given.append(f"sunspot number {ssn:g}" if ssn is not None else f"flux {flux:g}")
        state = replace(state, r12=_forever(r12), flux_sfu=_forever(flux), basis="typed in")
    if kp is not None:
        given.append(f"K {kp:g}")
        state = replace(state, kp=_forever(kp))
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


class _Steady(Record):
    """A record of one value that holds for ever."""

    def held_at(self, times: TimeLike, longest: np.timedelta64) -> FloatArray:
        return self.linear_at(times)


def _forever(value: float) -> Record:
    return _Steady(_ANY_TIME, as_float([value]))
