"""Review of a log in words: contacts, conditions, surprises, silences, and the station offset.

Every sentence is made from the numbers of the review. Texts from the log (calls, comments) have their control
characters made visible when the log is read. The caller must still not interpret them as markup.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from propagation.base.units import BoolArray
from propagation.geo.great_circle import EARTH_TURN_KM
from propagation.geo.locator import locator_of
from propagation.logbook.entries import BOTH, OUT
from propagation.logbook.outing import ReviewedOuting, Silence
from propagation.logbook.review import (
    AGAINST,
    BEYOND_STATION_DB,
    EXPECTED,
    FAIR,
    NO_PLACE,
    Review,
    Surprise,
)
from propagation.signal.rays.causes import CAUSES
from propagation.wording.causes import clause
from propagation.wording.plan_contacts import gain_sentence
from propagation.wording.quantities import (
    band_title,
    both_clocks,
    both_spans,
    clock,
    counted,
    date,
    day_title,
    days,
    decibels,
    end_clock,
    kilometres,
    listed,
    odds,
    other_clock,
    percent,
    promised,
    sentence,
    watts,
    whom_words,
    zone_word,
)
from propagation.wording.sky import day_sentence
from propagation.wording.station_offset import learnt_words

MOST_SURPRISES: Final = 5  # reported in the summary
MOST_SILENCES: Final = 6
UNLIKELY_SILENCE: Final = "No contacts although some were likely"
MOST_TIMES: Final = 10.0  # a larger ratio of two promises is not told: the smaller is next to nothing (ours)


def summary(found: Review) -> list[str]:
    """The whole review in sentences, most important first."""
    if not found.entries.size:
        return [_empty(found)]
    lines = [_made(found)]
    if found.lost:
        lines.append(f"{counted(found.lost, 'record')} could not be used; the list of problems says why.")
    lines.append(conditions_words(found))
    lines.append(verdict_words(found))
    lines.append(own_words(found))
    contacts = [one for one in found.surprises if one.silence is None]
    lines += [surprise_words(found, one) for one in contacts[:MOST_SURPRISES]]
    if found.outing is not None:
        lines += silences_words(found)
        lines += hindsight_words(found.outing)
    lines += learnt_words(found.learnt, found)
    return [sentence(line) for line in lines if line]


def _empty(found: Review) -> str:
    lost = f" {counted(found.lost, 'record')} could not be used." if found.lost else ""
    return f"The log holds no contact.{lost}"


def _made(found: Review) -> str:
    entries, expected = found.entries, found.expected
    kinds = []
    contacts = int(np.sum(entries.direction == BOTH))
    if contacts:
        kinds.append(counted(contacts, "contact"))
    for which, noun in ((OUT, "report of being heard"), (2, "report of hearing")):
        count = int(np.sum(entries.direction == which))
        if count:
            kinds.append(counted(count, noun, noun.replace("report", "reports")))
    used = list(dict.fromkeys(entries.band))
    used.sort(key=entries.band.count, reverse=True)
    on = listed([band_title(band) for band in used[:6]]) + (" and more" if len(used) > 6 else "")
    first, last = entries.time[0], entries.time[-1]
    clocks = both_spans(first, last) if clock(first) != clock(last) else f"at {both_clocks(first)}"
    when = (
        f"on {date(first)}, {clocks}"
        if date(first) == date(last)
        else f"from {date(first)} to {date(last)}, in {counted(len(found.outings), 'outing')}"
    )
    far = ""
    if np.any(np.isfinite(expected.distance_km)):
        short = np.minimum(expected.distance_km, EARTH_TURN_KM - expected.distance_km)
        row = int(np.nanargmax(short))
        far = f"; the farthest, {_who(found, row)}, {kilometres(float(short[row]))}"
    return f"{listed(kinds)} on {on}, {when}{far}."


def _who(found: Review, row: int) -> str:
    country = found.entries.country[row]
    return f"{found.entries.call[row]} ({country})" if country else found.entries.call[row]


def conditions_words(found: Review) -> str:
    """Solar and geomagnetic conditions of the outing, or of the log, or that they are not known."""
    outing = found.outing
    if outing is not None and len(found.outings) == 1:
        first, last = (time.astype("datetime64[D]") for time in (outing.span.start, outing.span.end))
        lines = [day_sentence(day) for day in found.days if first <= day.date <= last]
        if any("measured" in (day.flux, day.kp) for day in found.days):
            lines.append(f"Source: {found.conditions.source}.")
        return " ".join(lines)
    unknown = [day for day in found.days if not day.known]
    if len(found.days) == 1:
        return day_sentence(found.days[0])
    if not unknown:
        return f"The sun and the field of all {len(found.days)} days are on record."
    if len(unknown) == len(found.days):
        return (
            "The sun and the field of none of these days are known here: the forecast uses monthly means "
            "and a quiet field."
        )
    return (
        f"Of {len(unknown)} of the {len(found.days)} days the sun and the field are not known here; for "
        f"those the forecast uses monthly means and a quiet field."
    )


def heading(outing: ReviewedOuting) -> str:
    """Day, mode, power, place and target of the outing: what its lanes are drawn for."""
    locator = locator_of(outing.position.lat_deg, outing.position.lon_deg)
    ends = f"from {locator} to {outing.target}"
    return f"{day_title(outing.span.start)}, {outing.mode} {watts(outing.power_w)}, {ends}"


def verdict_words(found: Review) -> str:
    """Numbers of expected and unexpected entries."""
    counts = {verdict: found.count(verdict) for verdict in (EXPECTED, FAIR, AGAINST, NO_PLACE)}
    parts = []
    if counts[EXPECTED]:
        parts.append(f"{counts[EXPECTED]:,} {_were(counts[EXPECTED])} likely (5 days in 10 or more)")
    if counts[FAIR]:
        parts.append(f"{counts[FAIR]:,} {_were(counts[FAIR])} possible (1 to 5 days in 10)")
    if counts[AGAINST]:
        parts.append(f"{counts[AGAINST]:,} {_were(counts[AGAINST])} unlikely (less than 1 day in 10)")
    if counts[NO_PLACE]:
        parts.append(f"of {counts[NO_PLACE]:,} it is not known where the other station was")
    return listed(parts)


def _were(count: int) -> str:
    return "was" if count == 1 else "were"


def surprise_words(found: Review, one: Surprise) -> str:
    """One surprise in words."""
    if one.silence is not None:
        return (
            f"{UNLIKELY_SILENCE}: {band_title(one.band)}, {both_spans(one.start, one.end)}, where "
            f"{_due_words(one.silence, one.chance)}"
        )
    rows = list(one.rows)
    expected = found.expected
    best = rows[int(np.argmax(expected.margin_db[rows]))]
    margin = float(expected.margin_db[best])
    limit = CAUSES[int(expected.limit[best])]
    on = f"on {band_title(one.band)}"
    day = f", {date(one.start)}" if len(found.outings) > 1 else ""
    if len(rows) == 1:
        head = f"Unlikely contact: {_who(found, best)} {on}{day} at {both_clocks(one.start)}"
    else:
        names = _countries(found, rows)
        span = f", {both_spans(one.start, one.end)}"
        head = f"Unlikely: {len(rows)} contacts {on}{day}{span}{f', {names}' if names else ''}"
    beyond = (
        "; so far below that propagation differed from the forecast" if margin < BEYOND_STATION_DB else ""
    )
    what = (
        f"{decibels(margin)} below the required SNR on the median day"
        if margin < 0.0
        else "enough on the median day, but on too few others"
    )
    best_of = "the best of them " if len(rows) > 1 else "it "
    return f"{head}: the forecast gave {best_of}{days(one.chance)}, {what}; {clause(limit)}{beyond}"


def _due_words(silence: Silence, chance: float) -> str:
    """Contacts that were due on a silent stretch, and the chance of none."""
    due = f"some {silence.due:.0f}" if silence.due is not None else "some"
    unless = "" if silence.told else "; the log does not say that you were listening there"
    return (
        f"{due} contacts were expected at the pace of the rest of the outing ({odds(chance)} of none){unless}"
    )


def _countries(found: Review, rows: Sequence[int]) -> str:
    names = list(dict.fromkeys(found.entries.country[row] for row in rows if found.entries.country[row]))
    return listed(names[:4]) + (" and more" if len(names) > 4 else "")


def own_words(found: Review) -> str:
    """Source of the operator's place and power: the log, or the station file where it is silent."""
    entries, station = found.entries, found.station
    place, power = entries.place_given, entries.power_given
    if np.all(place) and np.all(power):
        return "Your place and your power are those that the log gives"
    here = station.site.position
    locator = locator_of(here.lat_deg, here.lon_deg)
    if not np.any(place) and not np.any(power):
        return (
            f"The log gives neither your place nor your power: the station file's are used ({locator}, "
            f"{watts(station.power_w)})"
        )
    parts = [
        _source("place", place, f"the station file's ({locator})"),
        _source("power", power, f"the station file's {watts(station.power_w)}"),
    ]
    return listed(parts)


def _source(what: str, given: BoolArray, fallback: str) -> str:
    count = int(np.sum(given))
    if count == given.size:
        return f"your {what} is the log's"
    if not count:
        return f"your {what} is {fallback}, since the log gives none"
    return f"your {what} is the log's for {count:,} of {given.size:,} entries, else {fallback}"


def silences_words(found: Review) -> list[str]:
    """Silent stretches of the outing, one paragraph for each band: the longest of them, in order of time."""
    silences = found.outing.silences if found.outing is not None else ()
    rare = {id(one.silence): one for one in found.surprises if one.silence is not None}
    longest = sorted(silences, key=lambda one: (id(one) not in rare, -one.minutes))[:MOST_SILENCES]
    by_band: dict[str, list[Silence]] = {}
    for one in sorted(longest, key=lambda one: one.start):
        by_band.setdefault(one.band, []).append(one)
    return [
        silence_words(stretches, next((one for one in stretches if id(one) in rare), None))
        for stretches in by_band.values()
    ]


def silence_words(stretches: Sequence[Silence], unlikely: Silence | None = None) -> str:
    """Silent stretches on one band in words: the forecast, the causes, and the better choice.

    Of several stretches the forecast is that of the best one, and the rest that of the longest. unlikely: the
    one of them that is a surprise; it is told first, and once.
    """
    best = max(stretches, key=lambda one: one.best.figure)
    one = max(stretches, key=lambda stretch: stretch.minutes)
    band = band_title(one.band)
    rest = [part for part in stretches if part is not unlikely]
    text = f"{band}, {_silent_hours(rest)}: " if unlikely is None else ""
    if unlikely is not None:
        text = (
            f"{UNLIKELY_SILENCE}: {band}, {_silent_hours([unlikely])}, where "
            f"{_due_words(unlikely, unlikely.chance or 0.0)}. "
        )
        text += f"Also on {band}: {_silent_hours(rest)}. " if rest else ""
    told = f"forecast gave {promised(best.best)} at best"
    text += f"{'the' if unlikely is None else 'The'} {told}"
    if best.expected is not None and best.expected.parts:
        text += f", with {whom_words(best.expected.parts)}"
    if one.causes:
        causes = [f"{clause(cause)} ({percent(weight)})" for cause, weight in one.causes]
        text += f". Limiting factors: {listed(causes)}"
    if one.other_band is not None and one.other.figure >= max(1.5 * one.mean.figure, 1e-4):
        there = f"{band_title(one.other_band)} would have offered {promised(one.other)}"
        text += f". On average {there}"
    return text


def _silent_hours(stretches: Sequence[Silence]) -> str:
    """Silent stretches on both clocks, calls unanswered first."""
    hours = []
    for told, how in ((True, "calls unanswered"), (False, "no contact")):
        some = [(part.start, part.end) for part in stretches if part.told == told]
        if some:
            hours.append(f"{spans_words(some)}, {how}")
    return "; ".join(hours)


def spans_words(spans: Sequence[tuple[np.datetime64, np.datetime64]]) -> str:
    """Spans on both clocks, each clock named once: `06:00 to 07:30 and 09:00 to 10:00 UTC (08:00 to ...)`."""
    others = [other_clock(end, start).removesuffix(f" {zone_word(True)}") for start, end in spans]
    beside = f" ({listed(others)} {zone_word(True)})" if all(others) else ""
    return f"{listed([f'{clock(a)} to {end_clock(b)}' for a, b in spans])} {zone_word()}{beside}"


def hindsight_words(outing: ReviewedOuting) -> list[str]:
    """Comparison of the best plan in hindsight with the actual outing."""
    plan = outing.plan
    if plan is None:
        return ["In hindsight the forecast favours no band that day."]
    stays = listed(
        [
            f"{band_title(stay.band)} from {both_spans(stay.start, stay.end)}"
            + _unanswered(stay.band, stay.start, stay.end, outing)
            for stay in plan.plan.stays
        ]
    )
    own, best = outing.own.figure, outing.planned.figure
    told = promised(outing.planned)
    if best >= MOST_TIMES * own:
        had = promised(outing.own) if own > 0.0 else "nothing"
        worth = f"would have offered {told} on average; the bands you used offered {had}"
    elif best >= 1.1 * own:
        worth = f"would have offered {told} on average, {best / own:.1f} times what you had"
    else:
        worth = "would have given about what you had"
    return [f"In hindsight the forecast's best plan, {stays}, {worth}", gain_sentence(plan)]


def _unanswered(band: str, start: np.datetime64, end: np.datetime64, outing: ReviewedOuting) -> str:
    """Stays of the plan on a band on which calls were unanswered then."""
    at = [one for one in outing.silences if one.told and one.band == band]
    met = [one for one in at if one.start < end and one.end > start]
    return f" (where nobody answered your calls at {both_clocks(met[0].start)})" if met else ""
