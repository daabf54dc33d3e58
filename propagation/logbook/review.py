"""Review of a log: every entry against its forecast, the surprises, the outing, and the station offset.

Frozen results only: arrays by entry, one outing in detail, and codes (`wording.review` words them). The
forecast is that of the model without a learnt offset, with the conditions of each day as far as known.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal, get_args

import numpy as np

from propagation.base.errors import InputError
from propagation.base.store import Store, StoreError
from propagation.base.time_series import shifted
from propagation.base.units import IntArray, TimeArray
from propagation.logbook.adif import Problem
from propagation.logbook.contacts import UnansweredCalls
from propagation.logbook.entries import LogEntries, of_contacts, of_reports
from propagation.logbook.expected import Expected, expect
from propagation.logbook.files import LogFile
from propagation.logbook.kept_offset import Learnt
from propagation.logbook.outing import ReviewedOuting, Silence, Span, outing_of, span_on, spans_of
from propagation.logbook.station_offset import learn, not_heard
from propagation.signal.chances.request import Request
from propagation.space_weather.indices.solar_history import DAY, solar_history
from propagation.space_weather.sources.hosts import OBSERVING
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.hand_entry import entries_of
from propagation.space_weather.state.stored_conditions import products_data_of
from propagation.station.station import Station

Known = Literal["measured", "typed in", "month only", "not known"]
_HOURS: Final = np.arange(0, 24, 3).astype("timedelta64[h]")


@dataclass(frozen=True)
class DayConditions:
    """One day: the flux [sfu] and the greatest K used by the forecast, and the source of each."""

    date: np.datetime64
    flux_sfu: float
    kp_most: float
    flux: Known
    kp: Known

    @property
    def known(self) -> bool:
        """Return whether flux and K are those of the day itself."""
        return {self.flux, self.kp} <= {"measured", "typed in"}


@dataclass(frozen=True, eq=False)
class MeasuredDays:
    """Days [datetime64[D]] whose flux or K was measured or typed in, in addition to the built-in record."""

    flux_days: TimeArray
    kp_days: TimeArray


NOTHING_STORED: Final = MeasuredDays(np.array([], dtype="datetime64[D]"), np.array([], dtype="datetime64[D]"))


def measured_days(store: Store, now: np.datetime64) -> MeasuredDays:
    """Days in the cached copies and in typed-in facts; damaged ones are ignored."""
    readings, _, _ = products_data_of(store, now)
    flux = [readings[name].flux_sfu.times for name in OBSERVING if name in readings]
    kp = [readings[name].kp.times for name in OBSERVING if name in readings]
    try:
        typed = entries_of(store)
    except StoreError:
        typed = []
    flux += [np.array([entry.at], dtype="datetime64[s]") for entry in typed if entry.sun]
    kp += [np.array([entry.at], dtype="datetime64[s]") for entry in typed if entry.kp is not None]
    return MeasuredDays(_days(flux), _days(kp))


def _days(parts: Sequence[TimeArray]) -> TimeArray:
    if not parts:
        return NOTHING_STORED.flux_days
    return np.unique(np.concatenate(parts).astype("datetime64[D]"))


def day_conditions(
    conditions: Conditions, days: TimeArray, measured: MeasuredDays = NOTHING_STORED, typed_kp: bool = False
) -> tuple[DayConditions, ...]:
    """Conditions of days [datetime64[D], (n,)], in their order.

    measured: days known in addition to the built-in record. typed_kp: K was given with the query, for all
    days.
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


Verdict = Literal["expected", "fair", "against the odds", "no place"]
VERDICTS: Final[tuple[Verdict, ...]] = get_args(Verdict)
EXPECTED, FAIR, AGAINST, NO_PLACE = range(4)
EXPECTED_FROM: Final = 0.5  # chance from which an entry was expected (ours)
FAIR_FROM: Final = 0.1  # chance below which an entry was unlikely (ours)
RARE_SILENCE: Final = 0.2  # chance below which a silence is a surprise (ours)
TOGETHER: Final = np.timedelta64(
    90 * 60, "s"
)  # surprises on one band nearer in time and bearing are reported as one
TOGETHER_DEG: Final = 30.0  # deg, likewise
MOST_ENTRIES: Final = 100_000  # entries that are used (ours: memory)
BEYOND_STATION_DB: Final = -25.0  # dB, a margin that no station of this kind explains (ours)


@dataclass(frozen=True)
class Surprise:
    """Event that the forecast held unlikely.

    kind: "contact" or "silence". chance: its chance in the forecast (of several contacts reported as one, the
    best). rows: numbers of the entries; silence: index in the outing's silences, for a silence.
    """

    kind: Literal["contact", "silence"]
    chance: float
    start: np.datetime64
    end: np.datetime64
    band: str
    rows: tuple[int, ...] = ()
    silence: Silence | None = None


@dataclass(frozen=True, eq=False)
class Review:
    """Results of a review for a screen or a command.

    entries, expected: rows of length n; verdict (n,): index of VERDICTS. problems: faults in the files, lost:
    number of lost records. days: conditions of every day of the log. outings: all of them; outing: the
    selected one, None for an empty log. surprises: rarest first. learnt: the station offset from the log (not
    stored by this).
    """

    station: Station
    entries: LogEntries
    expected: Expected
    verdict: IntArray
    problems: tuple[Problem, ...]
    lost: int
    days: tuple[DayConditions, ...]
    outings: tuple[Span, ...]
    outing: ReviewedOuting | None
    surprises: tuple[Surprise, ...]
    learnt: Learnt
    conditions: Conditions = field(repr=False)

    def count(self, verdict: int) -> int:
        """Number of entries with a verdict."""
        return int(np.sum(self.verdict == verdict))

    def day(self, date: np.datetime64) -> DayConditions | None:
        """Conditions of a day of the log."""
        wanted = date.astype("datetime64[D]")
        return next((day for day in self.days if day.date == wanted), None)


@dataclass(frozen=True, eq=False)
class JoinedLogs:
    """Log files of one station in one list.

    entries: the newest MOST_ENTRIES. unheard: rows for the receivers that did not hear the station, from
    reception reports, or None. problems, lost: as in `Review`. calls: unanswered calls.
    """

    entries: LogEntries
    unheard: LogEntries | None
    problems: tuple[Problem, ...]
    lost: int
    calls: tuple[UnansweredCalls, ...]

    @property
    def times(self) -> TimeArray:
        """Times (n,) for which the review needs conditions; one arbitrary time for an empty log."""
        return self.entries.time if self.entries.size else np.array(["2000-01-01"], dtype="datetime64[s]")


def join_logs(logs: Sequence[LogFile], station: Station, own_call: str = "") -> JoinedLogs:
    """Join log files; InputError where a list of reports has none of the station's own."""
    parts = [of_contacts(log.contacts, station) for log in logs if log.contacts is not None]
    unheard = []
    for log in logs:
        if log.reports is None:
            continue
        own = of_reports(log.reports, station, own_call)
        if log.reports.size and not own.size:
            call = own_call.strip().upper()
            whose = f"with the call {call}" if call else "near the station's place"
            raise InputError(
                f"None of the {log.reports.size} reception reports is of or by a station {whose}; name your "
                f"call with --call, or the station with --station."
            )
        parts.append(own)
        if (silent := not_heard(log.reports, station, own_call)) is not None:
            unheard.append(silent)
    if not parts:
        raise InputError("There is no log to review.")
    entries = LogEntries.joined(parts)
    problems = tuple(problem for log in logs for problem in log.problems)
    if entries.size > MOST_ENTRIES:
        reason = f"only the newest {MOST_ENTRIES} of {entries.size} entries are looked at"
        entries, problems = entries.take(slice(-MOST_ENTRIES, None)), (*problems, Problem(0, reason))
    return JoinedLogs(
        entries,
        LogEntries.joined(unheard) if unheard else None,
        problems,
        sum(log.lost for log in logs),
        tuple(one for log in logs for one in log.unanswered_calls),
    )


def review(
    logs: JoinedLogs,
    request: Request,
    today: str,
    *,
    day: np.datetime64 | None = None,
    measured: MeasuredDays = NOTHING_STORED,
    typed_kp: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Review:
    """Review the log files of one station.

    request: the station, the target of the lanes, the conditions of the logs' times, and the ends. today: the
    date, as text, stored with the learnt offset. day: the outing to select, the last where None; InputError
    where the log has none on it. progress is called with the rows done and the total of rows.
    """
    entries = logs.entries
    expected = expect(entries, request, progress)
    spans = spans_of(entries.time)
    span = span_on(spans, day) if day is not None else (spans[-1] if spans else None)
    if day is not None and span is None and spans:
        known = ", ".join(str(one.start.astype("datetime64[D]")) for one in spans[-3:])
        raise InputError(f"The log has nothing on {day.astype('datetime64[D]')}; its last days are {known}.")
    outing = None
    if span is not None:
        outing = outing_of(entries, expected.chance, span, _of_outing(logs.calls, span), request)
    learnt = (
        learn(entries, expected, request.station, today)
        if logs.unheard is None
        else learn(entries, expected, request.station, today, logs.unheard, expect(logs.unheard, request))
    )
    dates = np.unique(entries.time.astype("datetime64[D]"))
    return Review(
        station=request.station,
        entries=entries,
        expected=expected,
        verdict=verdicts(expected),
        problems=logs.problems,
        lost=logs.lost,
        days=day_conditions(request.conditions, dates, measured, typed_kp),
        outings=spans,
        outing=outing,
        surprises=surprises(entries, expected, outing),
        learnt=learnt,
        conditions=request.conditions,
    )


def _of_outing(calls: Sequence[UnansweredCalls], span: Span) -> list[UnansweredCalls]:
    """Recorded stretches that belong to an outing: those that end within it or shortly before."""
    early = np.timedelta64(4 * 3600, "s")
    return [one for one in calls if span.start - early <= one.end and one.start <= span.end]


def verdicts(expected: Expected) -> IntArray:
    """Verdict of every entry (n,)."""
    chance = expected.chance
    found = np.where(chance >= EXPECTED_FROM, EXPECTED, np.where(chance >= FAIR_FROM, FAIR, AGAINST))
    return np.where(np.isnan(chance), NO_PLACE, found).astype(np.int64)


def surprises(entries: LogEntries, expected: Expected, outing: ReviewedOuting | None) -> tuple[Surprise, ...]:
    """Events that the forecast held unlikely, rarest first: unlikely contacts, and unlikely silences.

    Contacts on one band near each other in time and bearing are reported as one; their chance is that of the
    best of them.
    """
    rows = np.flatnonzero(expected.chance < FAIR_FROM)
    groups: list[list[int]] = []
    open_groups: dict[str, list[list[int]]] = {}
    for row in rows.tolist():
        near = [
            group
            for group in open_groups.get(entries.band[row], [])
            if entries.time[row] - entries.time[group[-1]] <= TOGETHER
        ]
        open_groups[entries.band[row]] = near
        fits = next((group for group in near if _alike(expected, row, group[0])), None)
        if fits is not None:
            fits.append(row)
        else:
            groups.append([row])
            near.append(groups[-1])
    found = [
        Surprise(
            "contact",
            float(np.max(expected.chance[group])),
            entries.time[group[0]],
            entries.time[group[-1]],
            entries.band[group[0]],
            tuple(group),
        )
        for group in groups
    ]
    if outing is not None:
        found += [
            Surprise("silence", one.chance, one.start, one.end, one.band, silence=one)
            for one in outing.silences
            if one.chance is not None and one.chance < RARE_SILENCE
        ]
    return tuple(sorted(found, key=lambda one: one.chance))


def _alike(expected: Expected, row: int, other: int) -> bool:
    turn = abs(expected.bearing_deg[row] - expected.bearing_deg[other]) % 360.0
    near_by = 0.67 < expected.distance_km[row] / max(float(expected.distance_km[other]), 1.0) < 1.5
    return bool(min(turn, 360.0 - turn) <= TOGETHER_DEG and near_by)
