"""Sentences on the current outing: time to the next change, events noted, and their evidence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from propagation.advice.outing_estimate import Estimate, EstimateShift, OutingEvent
from propagation.advice.rates import Prospect
from propagation.geo.great_circle import distance_km
from propagation.geo.locator import Position
from propagation.wording.quantities import band_title, clock, counted, listed, promised, sentence


def minutes_left(until: np.datetime64, now: np.datetime64) -> int:
    """Whole minutes from now to a moment, never under 0."""
    seconds = float((until - now).astype("timedelta64[s]").astype(np.int64))
    return max(int(np.ceil(seconds / 60.0)), 0)


def change_words(band: str, until: np.datetime64, now: np.datetime64, setup: str) -> str:
    """`17 m in 24 min: coil 3.4 µH`."""
    left = minutes_left(until, now)
    when = f"in {left} min" if left else "now"
    return f"{band_title(band)} {when}: {setup}" if setup else f"{band_title(band)} {when}"


def tally(
    contacts: Sequence[tuple[str, str, str]],
    in_vain: Sequence[tuple[str, np.datetime64]],
    one_way: Sequence[tuple[str, np.datetime64]],
) -> str:
    """Events noted so far, on one line."""
    parts = []
    if contacts:
        call, band, time = contacts[-1]
        parts.append(f"{counted(len(contacts), 'contact')}, the last {call} on {band_title(band)} at {time}")
    else:
        parts.append("no contact yet")
    for told, marks in (("no answer on", in_vain), ("heard one way on", one_way)):
        if marks:
            parts.append(
                f"{told} " + listed([f"{band_title(band)} at {clock(at)}" for band, at in marks[-2:]])
            )
    return "; ".join(parts)


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
