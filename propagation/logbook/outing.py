"""One outing: bands in use, silent stretches, the forecast, and the best plan in hindsight.

A log records when contacts were made, not where the operator listened in between. Between two contacts less
than 20 minutes apart the band is taken as in use. Longer gaps are silent stretches on the band of the
adjacent contacts, unless the log itself records unanswered calls. The reach of a band is the share of the
target's amateurs that the forecast had in reach. The target is the whole world unless another is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from propagation.advice.cause_weights import reasons
from propagation.advice.plan_day import DayPlan, Expectation, TimeOnAir, expected_of, plan_day
from propagation.advice.rates import Prospect
from propagation.advice.region_chance import outlook
from propagation.advice.setup_notes import setup_notes
from propagation.base.units import FloatArray, TimeArray, as_float
from propagation.geo.great_circle import distance_km
from propagation.geo.locator import Position
from propagation.logbook.contacts import UnansweredCalls
from propagation.logbook.entries import BOTH, LogEntries
from propagation.logbook.expected import MOVED_KM
from propagation.logbook.minutes import MINUTE, Minutes, Stretch, by_minute
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.chances.request import Request
from propagation.signal.rays.causes import Cause
from propagation.spectrum.modes import MODE_NAMES
from propagation.station.station import Station
from propagation.station.terminals import Terminals

PARTED: Final = np.timedelta64(4 * 3600, "s")  # a longer gap between contacts separates two outings (ours)
LONGEST: Final = np.timedelta64(24 * 3600, "s")  # an outing is cut after a day
SILENT_MIN: Final = 20.0  # minutes without a contact that count as a silent stretch (ours)
AROUND: Final = np.timedelta64(5 * 60, "s")  # time in use before the first contact
STEP: Final = np.timedelta64(900, "s")  # between the times of the lanes
MOST_EXPLAINED: Final = 8  # silent stretches whose causes are computed, the longest first
NAMED_FROM: Final = 0.002  # chance from which its parts are named (ours)
NAMED_CAUSES: Final = 3  # causes reported of each
FEWEST_FAIR: Final = (
    1 / 3
)  # share of contacts the forecast must have allowed before its silences are counted (ours)


@dataclass(frozen=True)
class Span:
    """One outing of a log: first and last time, and the row numbers from `first` up to `stop`."""

    start: np.datetime64
    end: np.datetime64
    first: int
    stop: int


@dataclass(frozen=True)
class OnBand:
    """Stretch with a band in use, and the contacts made in it."""

    band: str
    start: np.datetime64
    end: np.datetime64
    contacts: int


@dataclass(frozen=True)
class Silence:
    """Stretch on a band without a contact.

    told: the log itself records it; otherwise it is between two contacts. mean: what the band promised on the
    mean of the stretch (`advice.region_chance`). best, best_time, expected: at its best, the time, and the
    countries of the target to expect then (None where almost nobody). due: contacts expected at the
    pace of the whole outing; chance: chance of none all the same. Both are None where the forecast allowed
    too little of the outing to judge. causes: causes where most people are, with their weights. other_band,
    other: the band that would have been best, and what it promised on the mean.
    """

    band: str
    start: np.datetime64
    end: np.datetime64
    told: bool
    mean: Prospect
    best: Prospect
    best_time: np.datetime64
    expected: Expectation | None
    due: float | None
    chance: float | None
    causes: tuple[tuple[Cause, float], ...]
    other_band: str | None
    other: Prospect

    @property
    def minutes(self) -> float:
        """Length in minutes."""
        return float((self.end - self.start) / MINUTE)


@dataclass(frozen=True, eq=False)
class ReviewedOuting:
    """Outing compared with its forecast.

    position: where it was. forecast: towards the target, over the lanes' times (T,). share (T, B): the
    target's share in reach. on: the bands as they were used. own: what they promised on the mean while in
    use. planned: the same for the plan in hindsight over the whole time, changes included. plan: None where
    no band reaches anybody.
    """

    span: Span
    position: Position
    target: str
    mode: str
    power_w: float
    forecast: Forecast
    on: tuple[OnBand, ...]
    silences: tuple[Silence, ...]
    plan: DayPlan | None
    own: Prospect
    planned: Prospect

    @property
    def times(self) -> TimeArray:
        """Times of the lanes."""
        return self.forecast.times

    @property
    def bands(self) -> tuple[str, ...]:
        """Bands of the lanes."""
        return tuple(band.name for band in self.forecast.bands)

    @property
    def share(self) -> FloatArray:
        """Share of the target in reach (T, B)."""
        return self.forecast.region_chance

    @property
    def chance(self) -> FloatArray:
        """Chance of a few contacts in an hour with a region, of days for a place (T, B)."""
        return outlook(self.forecast).chance

    @property
    def figure(self) -> FloatArray:
        """Figure that ranks (T, B): contacts an hour with a region, the chance of days for a place."""
        seen = outlook(self.forecast)
        return as_float(seen.ceiling * seen.worth)


def spans_of(times: TimeArray) -> tuple[Span, ...]:
    """Outings in rising times (n,): separated by gaps of more than four hours, cut after a day."""
    if not times.size:
        return ()
    gap = np.flatnonzero(np.diff(times) > PARTED) + 1
    found = []
    for part in np.split(np.arange(times.size), gap):
        day = ((times[part] - times[part[0]]) // LONGEST).astype(np.int64)
        for rows in np.split(part, np.flatnonzero(np.diff(day)) + 1):
            found.append(Span(times[rows[0]], times[rows[-1]], int(rows[0]), int(rows[-1]) + 1))
    return tuple(found)


def span_on(spans: Sequence[Span], date: np.datetime64) -> Span | None:
    """Outing with the largest part of a UTC date, or None where none includes it."""
    start = date.astype("datetime64[D]").astype("datetime64[s]")
    inside = [span for span in spans if span.end >= start and span.start < start + LONGEST]
    return max(inside, key=lambda span: span.stop - span.first, default=None)


def silent_stretches(
    times: TimeArray, bands: Sequence[str], calls: Sequence[UnansweredCalls]
) -> list[tuple[str, np.datetime64, np.datetime64, bool]]:
    """Stretches without a contact: band, start, end, and whether the log records it; in order of time.

    times (n,) rising and bands: of the contacts. Between two contacts, the rest after the recorded stretches
    counts from 20 minutes on. It counts on their band, or half on each where they are on two.
    """
    least = np.timedelta64(round(SILENT_MIN * 60), "s")
    calls = _met(calls)
    found = [(one.band, one.start, one.end, True) for one in calls]
    for i in range(len(bands) - 1):
        for start, end in _free(times[i], times[i + 1], calls):
            middle = start + (end - start) // 2
            same = bands[i] == bands[i + 1]
            parts = (
                [(bands[i], start, end)] if same else [(bands[i], start, middle), (bands[i + 1], middle, end)]
            )
            found += [(band, first, last, False) for band, first, last in parts if last - first >= least]
    return sorted(found, key=lambda part: (part[1], part[2]))


def _met(calls: Sequence[UnansweredCalls]) -> list[UnansweredCalls]:
    """Recorded stretches, those on one band joined that overlap or are a few minutes apart."""
    found: list[UnansweredCalls] = []
    for one in sorted(calls, key=lambda call: (call.band, call.start)):
        last = found[-1] if found else None
        if last is not None and last.band == one.band and one.start <= last.end + AROUND:
            found[-1] = replace(last, end=max(last.end, one.end))
        else:
            found.append(one)
    return found


def _free(
    start: np.datetime64, end: np.datetime64, calls: Sequence[UnansweredCalls]
) -> list[tuple[np.datetime64, np.datetime64]]:
    """Rest of a gap without the recorded stretches."""
    free = [(start, end)]
    for one in calls:
        cut = []
        for first, last in free:
            if one.end <= first or one.start >= last:
                cut.append((first, last))
                continue
            cut += [part for part in ((first, one.start), (one.end, last)) if part[1] > part[0]]
        free = cut
    return free


def bands_used(
    times: TimeArray, bands: Sequence[str], silences: Sequence[tuple[str, np.datetime64, np.datetime64, bool]]
) -> tuple[OnBand, ...]:
    """Bands in use through the outing, adjacent stretches on one band joined."""
    least = np.timedelta64(round(SILENT_MIN * 60), "s")
    silent = [(start, end) for _, start, end, _ in silences]
    pieces = [(bands[0], times[0] - AROUND, times[0], 1)] if len(bands) else []
    for i in range(len(bands) - 1):
        short = times[i + 1] - times[i] < (least if bands[i] == bands[i + 1] else 2 * least)
        covered = any(start < times[i + 1] and end > times[i] for start, end in silent)
        if short and not covered and bands[i] == bands[i + 1]:
            pieces.append((bands[i], times[i], times[i + 1], 1))
        elif short and not covered:
            middle = times[i] + (times[i + 1] - times[i]) // 2
            pieces += [(bands[i], times[i], middle, 0), (bands[i + 1], middle, times[i + 1], 1)]
        else:
            before = max([end for _, end in silent if end <= times[i + 1]], default=times[i])
            pieces.append((bands[i + 1], max(times[i + 1] - AROUND, before, times[i]), times[i + 1], 1))
    pieces += [(band, start, end, 0) for band, start, end, _ in silences]
    pieces.sort(key=lambda piece: (piece[1], piece[2]))
    joined: list[OnBand] = []
    for band, start, end, count in pieces:
        last = joined[-1] if joined else None
        if last is not None and last.band == band and start <= last.end + AROUND:
            joined[-1] = replace(last, end=max(last.end, end), contacts=last.contacts + count)
        else:
            joined.append(OnBand(band, start, end, count))
    return tuple(joined)


def outing_of(
    entries: LogEntries, chance: FloatArray, span: Span, calls: Sequence[UnansweredCalls], request: Request
) -> ReviewedOuting:
    """Compare one outing of the entries with the forecast towards the request's target.

    chance (n,): of each entry. The mode is the one most used in the outing, the power its median, the place
    the one that most of its entries have.
    """
    rows = np.arange(span.first, span.stop)
    inside = entries.take(rows)
    request = replace(request, station=_where_it_was(inside, request.station))
    terminals = request.terminals
    first = min([span.start, *(one.start for one in calls)])
    last = max([span.end, *(one.end for one in calls)])
    mode = max(MODE_NAMES, key=inside.mode_class.count)
    power = float(np.median(inside.power_w))
    start, end = _grid(first - 2 * STEP, False), _grid(last + 2 * STEP, True)
    times = np.arange(start, end + STEP, STEP)
    result = forecast(replace(request, times=times, mode=mode, power_w=power))
    contacts = inside.direction == BOTH
    when = inside.time[contacts]
    bands = [band for band, is_contact in zip(inside.band, contacts, strict=True) if is_contact]
    stretches = silent_stretches(when, bands, calls) if when.size else []
    on = bands_used(when, bands, stretches)
    minutes = by_minute(result)
    used = [(one.band, one.start, one.end) for one in on]
    answers = float(np.sum([np.sum(minutes.figure[minutes.between(*one)]) for one in used]))
    busy = sum(float((one.end - one.start) / MINUTE) for one in on)
    pace = _pace(np.nan_to_num(chance[rows][contacts]), answers)
    longest = sorted(range(len(stretches)), key=lambda i: stretches[i][1] - stretches[i][2])[:MOST_EXPLAINED]
    plan = _hindsight(result, terminals, on[0].start if on else first, on[-1].end if on else last)
    return ReviewedOuting(
        span=replace(span, start=first, end=last),
        position=request.station.site.position,
        target=request.target.name,
        mode=mode,
        power_w=power,
        forecast=result,
        on=on,
        silences=tuple(
            _silence(stretch, result, terminals, minutes, pace, explained=i in longest)
            for i, stretch in enumerate(stretches)
        ),
        plan=plan,
        own=minutes.mean(used, max(busy, 1.0)),
        planned=minutes.mean(_on_air(plan), max(float((last - first) / MINUTE), 1.0)),
    )


def _where_it_was(inside: LogEntries, station: Station) -> Station:
    """Station at the place that most entries of the outing have; a skyline applies at its own site alone."""
    places = np.stack([inside.own_lat_deg, inside.own_lon_deg], axis=1)
    found, count = np.unique(places, axis=0, return_counts=True)
    position = Position(*found[int(np.argmax(count))].tolist())
    site = station.site
    here = site.position
    away = distance_km(here.lat_deg, here.lon_deg, position.lat_deg, position.lon_deg)
    if away <= MOVED_KM:
        return station
    return replace(station, site=replace(site, position=position, horizon=(), itu_region=0, time_zone=""))


def _on_air(plan: DayPlan | None) -> list[Stretch]:
    """Stays of a plan without the time of the changes."""
    return [
        (stay.band, stay.start + np.timedelta64(round(60.0 * stay.lost_min), "s"), stay.end)
        for stay in (plan.plan.stays if plan is not None else ())
    ]


def _pace(allowed: FloatArray, answers: float) -> float | None:
    """Contacts made relative to those expected from the people in reach.

    It is None where the forecast allowed too little. allowed: chance of every contact (n,). answers: expected
    contacts an hour, or for a place its chance, summed over the minutes on the air.
    """
    fair = bool(allowed.size and np.mean(allowed >= 0.1) >= FEWEST_FAIR and answers > 0.0)
    return allowed.size / answers if fair else None


def _grid(time: np.datetime64, up: bool) -> np.datetime64:
    step = int(STEP / np.timedelta64(1, "s"))
    seconds = int(time.astype("datetime64[s]").astype(np.int64))
    return np.datetime64(-(-seconds // step) * step if up else seconds // step * step, "s")


def _silence(
    stretch: tuple[str, np.datetime64, np.datetime64, bool],
    result: Forecast,
    terminals: Terminals,
    minutes: Minutes,
    pace: float | None,
    *,
    explained: bool,
) -> Silence:
    band, start, end, told = stretch
    column = result.band_index(band)
    inside, _ = minutes.between(band, start, max(end, start + MINUTE))
    figure = minutes.figure[inside]
    mean = figure.mean(axis=0)
    peak = int(inside[np.argmax(figure[:, column])])
    when = minutes.times[peak]
    at = result.time_index(when)
    best = int(np.argmax(np.where(result.usable, mean, -1.0)))
    due = None if pace is None else pace * float(np.sum(figure[:, column]))
    middle = result.time_index(start + (end - start) // 2)
    most = minutes.at(peak, column)
    whole = (start, max(end, start + MINUTE))
    return Silence(
        band=band,
        start=start,
        end=end,
        told=told,
        mean=minutes.mean([(band, *whole)], float(inside.size)),
        best=most,
        best_time=when,
        expected=expected_of([result], at, band)[0] if most.chance >= NAMED_FROM else None,
        due=due,
        chance=None if due is None else float(np.exp(-due)),
        causes=_causes(result, terminals, column, middle) if explained else (),
        other_band=result.bands[best].name if best != column and mean[best] > mean[column] else None,
        other=minutes.mean([(result.bands[best].name, *whole)], float(inside.size)),
    )


def _causes(result: Forecast, terminals: Terminals, band: int, time: int) -> tuple[tuple[Cause, float], ...]:
    found = reasons(result, terminals, band, time)
    return tuple(
        (cause.cause, cause.weight) for cause in found.causes[:NAMED_CAUSES] if cause.cause != "open"
    )


def _hindsight(
    result: Forecast, terminals: Terminals, start: np.datetime64, end: np.datetime64
) -> DayPlan | None:
    """Plan with the greatest reach, made with the conditions of the day."""
    setups = setup_notes(result, terminals.near)
    begin = max(_grid(start, False), result.times[0])
    if not setups or end - begin < STEP:
        return None
    plan = plan_day([result], terminals, TimeOnAir(begin, min(end, result.times[-1])), setups)
    return plan if plan.plan.reward > 0.0 else None
