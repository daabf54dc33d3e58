"""Sentences on the current outing: time to the next change, events noted, and their evidence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from propagation.advice.outing_estimate import Estimate, EstimateShift, OutingEvent
from propagation.advice.rates import Prospect
from propagation.geo.great_circle import distance_km
from propagation.geo.locator import Position
from propagation.logbook.journal import Made, Worked
from propagation.wording.quantities import (
    band_title,
    both_clocks,
    counted,
    date,
    day_title,
    days,
    listed,
    promised,
    sentence,
)

LONG_H: Final = 10  # h, from which the minutes are left out (ours)


def minutes_left(until: np.datetime64, now: np.datetime64) -> int:
    """Whole minutes from now to a moment, never under 0."""
    seconds = float((until - now).astype("timedelta64[s]").astype(np.int64))
    return max(int(np.ceil(seconds / 60.0)), 0)


def in_words(until: np.datetime64, now: np.datetime64) -> str:
    """`in 24 min`, `in 3 h 20 min`, `now`."""
    hours, minutes = divmod(minutes_left(until, now), 60)
    if not hours:
        return f"in {minutes} min" if minutes else "now"
    return f"in {hours} h {minutes} min" if minutes and hours < LONG_H else f"in {hours} h"


def from_words(start: np.datetime64, now: np.datetime64) -> str:
    """`from 14:00 UTC`, on another day `from Sat 14 Mar 2026 14:00 UTC, in 20 h,`."""
    if date(start) == date(now):
        return f"from {both_clocks(start)}"
    return f"from {day_title(start)} {both_clocks(start)}, {in_words(start, now)},"


def change_words(band: str, until: np.datetime64, now: np.datetime64, setup: str) -> str:
    """`17 m in 24 min: coil 3.4 µH`."""
    when = in_words(until, now)
    return f"{band_title(band)} {when}: {setup}" if setup else f"{band_title(band)} {when}"


MARK_WORDS: Final = {"in vain": "no answer on", "one way": "heard one way on"}


def tally(
    contacts: Sequence[Made],
    in_vain: Sequence[tuple[str, np.datetime64]],
    one_way: Sequence[tuple[str, np.datetime64]],
) -> str:
    """Events noted so far, on one line; the list of them has the rest."""
    parts = ["no contact yet"]
    if contacts:
        last = max(contacts, key=lambda one: one.time)
        parts = [
            f"{counted(len(contacts), 'contact')}, the last {last.call} on {band_title(last.band)} "
            f"at {both_clocks(last.time)}"
        ]
    parts += [f"{counted(len(in_vain), 'call')} without an answer"] if in_vain else []
    parts += [f"{counted(len(one_way), 'station')} heard one way"] if one_way else []
    return "; ".join(parts)


def worked_words(worked: Worked, now: np.datetime64, before: Made | None) -> str:
    """A typed contact as understood, in one line. before: a contact with the station on that band."""
    day = "" if date(worked.time) == date(now) else f"{date(worked.time)} "
    on = f"{worked.frequency_mhz:.4f} MHz" if worked.frequency_mhz is not None else band_title(worked.band)
    parts = [
        f"{worked.call} on {on} at {day}{both_clocks(worked.time)}",
        f"sent {worked.sent}, received {worked.received}",
        f"name {worked.name}" if worked.name else "",
        worked.far_locator,
        worked.far_reference,
        f"note: {worked.note}" if worked.note else "",
    ]
    told = ", ".join(part for part in parts if part) + "."
    return f"{told} {again_words(before)}" if before is not None else told


def doubt_words(doubts: Sequence[tuple[str, str]]) -> str:
    """Sentences on what a typed line leaves open and how it was taken; empty if nothing is open."""
    told = {
        "band": "{0} m is taken as the band; if it is a length, write `note` before it.",
        "time": "{0} is taken as the time; as a frequency write {1}.{2}.",
        "locator": "{0} is taken as the call sign; it could be a locator.",
        "call": "{0} is unusual as a call sign: it ends in a figure.",
        "reports": "No report is typed; the usual ones are taken.",
        "received": "One report is typed; it is taken as the one sent.",
    }
    return " ".join(told[what].format(text, text[:1], text[1:]) for what, text in doubts)


def again_words(before: Made) -> str:
    """Notice of a duplicate."""
    return f"Duplicate: worked on {band_title(before.band)} at {both_clocks(before.time)} already."


def choice_words(band: str, before: str, more: float | None) -> str:
    """Notice of the band in use by choice. more: contacts beyond the plan's; None: not known."""
    told = f"{band_title(band)} by your choice"
    if more is None or not before or before == band:
        return f"{told}."
    count = round(abs(more))
    if not count:
        return f"{told}: about as many contacts as with {band_title(before)}, which the plan had."
    side = "more" if more > 0.0 else "fewer"
    return (
        f"{told}: about {_count(count, 'contact')} {side} than with {band_title(before)}, which the plan had."
    )


def choice_days_words(band: str, before: str, mine: float, its: float) -> str:
    """Notice of the band in use by choice, with a place.

    mine, its: share of days on that band and on the plan's, over the same time.
    """
    told, tenths = f"{band_title(band)} by your choice: {days(mine)}", round(10.0 * abs(mine - its))
    if days(mine) == days(its):
        return f"{told}, about as with {band_title(before)}, which the plan had."
    side = "more" if mine > its else "fewer"
    by = f"about {counted(tenths, 'day')} in 10 {side}" if tenths else f"a little {side}"
    return f"{told}, {by} than with {band_title(before)}, which the plan had ({days(its)})."


def half_words(band: str, mine: Prospect, best: str, its: Prospect) -> str:
    """Notice that another band is twice as good as the one in use."""
    return f"{band_title(band)} is down to {promised(mine)}; {band_title(best)} has {promised(its)}."


def offer_words(count: int) -> str:
    """Offer to take a band as dead after so many unanswered calls."""
    return sentence(f"{_count(count, 'call')} without an answer: x takes the band as dead")


TELLING: Final = 0.4  # standard deviations that an estimate must have moved to be reported as a reason (ours)
OTHERWISE: Final = 0.25  # by which a band must be busier or quieter to be reported (ours)
AS_USUAL: Final = 0.5  # of a per cent or a decibel, below which a change is not reported
_NUMBERS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def better_words(band: str, now_on: str, why: str, more: float) -> str:
    """Notice of a better plan: `Better to 20 m now: two answers from 1,500 km say the layer is up ...`.

    more: contacts from it beyond those of the current plan, the minutes of the changes counted.
    """
    gain = f"about {_count(max(round(more), 1), 'contact')} more than the plan"
    if band == now_on:
        return f"{band_title(band)} continues, with other changes after it, {gain}: {why}."
    return f"Better to {band_title(band)} now, {gain}: {why}."


def stands_words(why: str) -> str:
    """Notice that the plan is kept."""
    return f"Keep the plan: {why}."


def why_words(found: Estimate, events: Sequence[OutingEvent], site: Position, band: str, busy: float) -> str:
    """Largest change of the estimates and its evidence; a notice of no change where nothing moved.

    band: in use. busy: answers there relative to the number currently expected of all bands.
    """
    moved = {
        "layer": found.layer, "sporadic E": found.sporadic_e, "station": found.station, "noise": found.noise,
    }  # fmt: skip
    name, most = max(moved.items(), key=lambda item: abs(item[1].by))
    if abs(most.by) >= TELLING:
        evidence, many = _evidence(events, (most.by > 0.0) != (name == "noise"), site)
        return f"{evidence} {'say' if many else 'says'} {_told(name, most)}"
    mine = [event for event in events if event.band == band]
    if mine and abs(busy - 1.0) >= OTHERWISE:
        evidence, many = _evidence(mine, busy > 1.0, site)
        told = "better than expected" if busy > 1.0 else "quieter than expected"
        return f"{evidence} {'say' if many else 'says'} {band_title(band)} is {told}"
    evidence, _ = _evidence(events, events[-1].kind == "contact", site)
    return f"{evidence} cannot separate the layer from the station or from how many are on the air"


def estimate_words(found: Estimate) -> str:
    """Three estimates with their uncertainty, in one line."""
    return (
        f"Estimate: the layer {_signed(found.layer.mean)} % against the usual (within "
        f"{found.layer.sd:.0f}), the station {_signed(found.station.mean)} dB against its description "
        f"(within {found.station.sd:.0f}), the noise {_signed(found.noise.mean)} dB "
        f"(within {found.noise.sd:.0f})."
    )


def _signed(value: float) -> str:
    return "0" if abs(value) < AS_USUAL else f"{value:+.0f}".replace("-", "\N{MINUS SIGN}")


def _told(name: str, moved: EstimateShift) -> str:
    up, by = moved.by > 0.0, moved.mean - moved.before
    size = f"{abs(by):.0f}" if abs(by) >= 1.0 else "1"
    if name == "layer":
        return f"the layer is {'up' if up else 'down'} (about {size} % {'over' if up else 'under'} the usual)"
    if name == "sporadic E":
        return "sporadic E is present" if up else "there is little sporadic E"
    if name == "station":
        return f"the station is about {size} dB {'better' if up else 'worse'} than described"
    return f"the noise is about {size} dB {'over' if up else 'under'} what is assumed"


def _evidence(events: Sequence[OutingEvent], good: bool, site: Position) -> tuple[str, bool]:
    """Events that are evidence for better, or for worse, and whether they are several."""
    contacts = [event for event in events if event.kind == "contact"]
    if contacts and (good or len(contacts) == len(events)):
        away = [
            float(distance_km(site.lat_deg, site.lon_deg, event.lat_deg, event.lon_deg))
            for event in contacts
            if np.isfinite(event.lat_deg)
        ]
        where = f" from about {_round(float(np.median(away))):,} km" if away else ""
        few = "" if good else "only "
        return f"{few}{_count(len(contacts), 'answer')}{where}", len(contacts) > 1
    parts: list[tuple[str, str]] = []
    total = 0
    for kind, noun in (("in vain", "call"), ("one way", "station")):
        some = [event for event in events if event.kind == kind]
        if some:
            bands = listed(list(dict.fromkeys(band_title(event.band) for event in some)))
            words = f"{_count(len(some), noun)} " + ("in vain" if kind == "in vain" else "heard one way")
            parts.append((words, bands))
            total += len(some)
    if len(parts) > 1 and parts[0][1] == parts[1][1]:  # the same bands, named once
        parts[0] = (parts[0][0], "")
    return listed([f"{words} on {bands}" if bands else words for words, bands in parts]), total > 1


def _count(count: int, noun: str) -> str:
    return f"{_NUMBERS[count]} {noun}{'s' if count != 1 else ''}" if count <= 10 else counted(count, noun)


def _round(away_km: float) -> int:
    step = 100 if away_km < 2000.0 else 500
    return max(round(away_km / step), 1) * step
