"""The review of a log: every entry against its forecast, the surprises both ways, the outing, and what it
teaches.

Frozen results only: arrays by entry, one outing in detail, and codes (`wording.review` says them). The
forecast is that of the bare model, nothing learnt on it, with the conditions of each day as far as they are
known.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal, get_args

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import IntArray, TimeArray
from propagation.geo import places
from propagation.geo.regions import Target
from propagation.logbook.adif import Problem
from propagation.logbook.day_conditions import NOTHING_STORED, DayConditions, Measured, day_conditions
from propagation.logbook.entries import Entries, of_contacts, of_reports
from propagation.logbook.expected import Expected, expect
from propagation.logbook.files import LogFile
from propagation.logbook.kept_offset import Learnt
from propagation.logbook.outing import Outing, Silence, Span, outing_of, span_on, spans_of
from propagation.logbook.station_offset import learn, not_heard
from propagation.logbook.unanswered import UnansweredCalls
from propagation.space_weather.state.conditions import Conditions
from propagation.station.station import Station
from propagation.station.terminals import Terminal, Terminals, far_terminal, own_terminal

Verdict = Literal["expected", "fair", "against the odds", "no place"]
VERDICTS: Final[tuple[Verdict, ...]] = get_args(Verdict)
EXPECTED, FAIR, AGAINST, NO_PLACE = range(4)
EXPECTED_FROM: Final = 0.5  # chance from which an entry was to be expected (ours)
FAIR_FROM: Final = 0.1  # chance under which an entry came against the odds (ours)
RARE_SILENCE: Final = 0.2  # chance under which a silence is a surprise (ours)
TOGETHER: Final = np.timedelta64(
    90 * 60, "s"
)  # surprises on one band nearer in time and bearing are told as one
TOGETHER_DEG: Final = 30.0  # deg, likewise
MOST_ENTRIES: Final = 100_000  # entries that are looked at (ours: memory)
BEYOND_STATION_DB: Final = -25.0  # dB, a margin that no station of this kind explains (ours)


@dataclass(frozen=True)
class Surprise:
    """Something the forecast held unlikely.

    kind: "contact" or "silence". chance: what the forecast gave it (of several contacts told as one, the
    best). rows: numbers of the entries; silence: of the outing's silences, for a silence.
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
    """Everything a screen or a command shows of a log.

    entries, expected: rows of length n; verdict (n,): index of VERDICTS. problems: what was wrong in the
    files, lost: how many records were lost. days: conditions of every day of the log. outings: all of them;
    outing: the one looked at, None for an empty log. surprises: rarest first. learnt: what the log teaches
    (not stored by this).
    """

    station: Station
    entries: Entries
    expected: Expected
    verdict: IntArray
    problems: tuple[Problem, ...]
    lost: int
    days: tuple[DayConditions, ...]
    outings: tuple[Span, ...]
    outing: Outing | None
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


def entries_of(logs: Sequence[LogFile], station: Station, own_call: str = "") -> Entries:
    """The entries of log files; InputError where a list of reports has none of the station's own."""
    parts = [of_contacts(log.contacts, station) for log in logs if log.contacts is not None]
    for log in logs:
        if log.reports is None:
            continue
        own = of_reports(log.reports, station, own_call)
        if log.reports.size and not own.size:
            whose = (
                f"with the call {own_call.strip().upper()}"
                if own_call.strip()
                else "near the station's place"
            )
            raise InputError(
                f"None of the {log.reports.size} reception reports is of or by a station {whose}; name your "
                f"call with --call, or the station with --station."
            )
        parts.append(own)
    if not parts:
        raise InputError("There is no log to review.")
    return Entries.joined(parts)


def review(
    logs: Sequence[LogFile],
    station: Station,
    conditions_for: Callable[[TimeArray], Conditions],
    date: str,
    *,
    target: Target | None = None,
    day: np.datetime64 | None = None,
    own_call: str = "",
    measured: Measured = NOTHING_STORED,
    typed_kp: bool = False,
    near: Terminal | None = None,
    far: Terminal | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Review:
    """Review one or several files of one station.

    conditions_for: gives the conditions for times. date: today's, as text, noted with what is learnt.
    target: whom the lanes look at, anyone where None. day: the
    outing to look at, the last where None; InputError where the log has none on it. near, far: the terminals,
    made from the station where None. progress: told rows done and in all.
    """
    entries = entries_of(logs, station, own_call)
    problems = tuple(problem for log in logs for problem in log.problems)
    if entries.size > MOST_ENTRIES:
        reason = f"only the newest {MOST_ENTRIES} of {entries.size} entries are looked at"
        entries, problems = entries.take(slice(-MOST_ENTRIES, None)), (*problems, Problem(0, reason))
    state = conditions_for(entries.time if entries.size else np.array(["2000-01-01"], dtype="datetime64[s]"))
    terminals = Terminals(near or own_terminal(station), far or far_terminal(station.far_end))
    expected = expect(entries, station, state, near=terminals.near, far=terminals.far, progress=progress)
    spans = spans_of(entries.time)
    span = span_on(spans, day) if day is not None else (spans[-1] if spans else None)
    if day is not None and span is None and spans:
        known = ", ".join(str(one.start.astype("datetime64[D]")) for one in spans[-3:])
        raise InputError(f"The log has nothing on {day.astype('datetime64[D]')}; its last days are {known}.")
    outing = None
    if span is not None:
        aim = target or places.resolve("anyone")
        calls = _of_outing([one for log in logs for one in log.unanswered_calls], span)
        outing = outing_of(entries, expected.chance, span, calls, station, state, aim, terminals)
    return Review(
        station=station,
        entries=entries,
        expected=expected,
        verdict=verdicts(expected),
        problems=problems,
        lost=sum(log.lost for log in logs),
        days=day_conditions(state, np.unique(entries.time.astype("datetime64[D]")), measured, typed_kp),
        outings=spans,
        outing=outing,
        surprises=surprises(entries, expected, outing),
        learnt=_teach(logs, entries, expected, station, state, date, own_call, terminals),
        conditions=state,
    )


def _of_outing(calls: Sequence[UnansweredCalls], span: Span) -> list[UnansweredCalls]:
    """The told stretches that belong to an outing: those that end within it or shortly before."""
    early = np.timedelta64(4 * 3600, "s")
    return [one for one in calls if span.start - early <= one.end and one.start <= span.end]


def verdicts(expected: Expected) -> IntArray:
    """Verdict of every entry (n,)."""
    chance = expected.chance
    found = np.where(chance >= EXPECTED_FROM, EXPECTED, np.where(chance >= FAIR_FROM, FAIR, AGAINST))
    return np.where(np.isnan(chance), NO_PLACE, found).astype(np.int64)


def surprises(entries: Entries, expected: Expected, outing: Outing | None) -> tuple[Surprise, ...]:
    """What the forecast held unlikely, rarest first: contacts against the odds, and silences where much was
    due.

    Contacts on one band near each other in time and bearing are told as one; their chance is that of the
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


def _teach(
    logs: Sequence[LogFile],
    entries: Entries,
    expected: Expected,
    station: Station,
    conditions: Conditions,
    date: str,
    own_call: str,
    terminals: Terminals,
) -> Learnt:
    parts = [
        part
        for log in logs
        if log.reports is not None and (part := not_heard(log.reports, station, own_call)) is not None
    ]
    if not parts:
        return learn(entries, expected, station, date)
    silent = Entries.joined(parts)
    found = expect(silent, station, conditions, near=terminals.near, far=terminals.far)
    return learn(entries, expected, station, date, silent, found)
