"""Sentences that answer "why was that band dead?": causes, margin, ledger, changes, near and far."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.advice.activity import ON_AIR_WITHIN, USUAL
from propagation.wording.causes import clause, short, without
from propagation.wording.experience import error_words, experience_sentence, whole_sentence
from propagation.wording.quantities import (
    MODE_WORDS,
    band_title,
    bearing,
    both_clocks,
    clock,
    counted,
    days,
    decibels,
    first_few,
    in_ten,
    kilometres,
    level,
    listed,
    noise_level,
    percent,
    promised,
    sentence,
    skip_words,
    take_off,
    two_figures,
    watts,
)
from propagation.wording.sky import event_clause, event_sentence
from propagation.wording.windows import route_and_mode

if TYPE_CHECKING:
    from propagation.advice.cause_weights import Weighted
    from propagation.advice.ledger import Ledger, Term, TermEnd, TermName
    from propagation.advice.why import Based, Change, Explanation, NearFar

LOST_IN: Final = {
    "coil": "coil",
    "earth": "earth",
    "connections": "joints",
    "other": "transformer",
    "unexplained": "unexplained loss",
}
LEAST_DB: Final = 0.05  # dB, a term that rounds to nothing has no line

# Name of a term, and its short form.
_PATH: Final[dict[str, tuple[str, str]]] = {
    "power": ("power", "power"),
    "free space": ("free space", "free space"),
    "absorption": ("absorption in the D and E layers", "D and E layers"),
    "flare": ("absorption by the solar flare", "solar flare"),
    "polar cap": ("solar protons over the polar cap", "solar protons"),
    "E screening": ("screening by the E layer", "E screening"),
    "ground reflections": ("ground reflections", "reflections"),
    "auroral zone": ("auroral zone", "auroral zone"),
    "stretched hops": ("hops near their longest", "stretched hops"),
    "focusing": ("focusing near the antipode", "focusing"),
    "other losses": ("polarisation and other losses", "all else"),
    "above the MUF": ("above the MUF", "above the MUF"),
    "above the E layer's MUF": ("above the E layer's MUF", "above E's MUF"),
    "absorption along the path": ("absorption along the path", "absorption"),
    "highest frequency": ("near the highest frequency", "near the MUF"),
    "long-path losses": ("other losses of long paths", "all else"),
    "scatter": ("backscatter into the skip zone", "scatter"),
    "ground wave": ("ground wave", "ground wave"),
    "sporadic E": ("sporadic E, on the median day", "sporadic E"),
    "not listed": ("not listed", "not listed"),
    "other modes": ("other propagation modes", "other modes"),
    "other modes and long paths": (
        "other propagation modes, and the method for long paths",
        "long-path method",
    ),
    "other days": ("spread of the days about the median", "other days"),
    "noise": ("noise", "noise"),
    "need": ("required SNR", "required SNR"),
}


def _end_names(name: str, end: TermEnd) -> tuple[str, str]:
    """Names of a term at one end of the path."""
    here = end == "here"
    where, whose = ("here", "my") if here else ("at the far end", "their")
    match name:
        case "antenna":
            return f"antenna {where}, without losses", f"{whose} antenna"
        case "antenna losses":
            return f"losses of the antenna {where}", "its losses"
        case "feed line":
            return f"feed line {where}", f"{whose} coax"
        case _:
            return f"{name} {where}", f"{whose} {name}"


def term_words(name: TermName, end: TermEnd = "") -> str:
    """Name of a term."""
    return (_end_names(name, end) if end else _PATH[name])[0]


def term_short(name: TermName, end: TermEnd = "") -> str:
    """Short name of a term."""
    return (_end_names(name, end) if end else _PATH[name])[1]


def note(account: Ledger, term: Term) -> str:
    """Note next to a term; empty for most."""
    match term.name:
        case "power":
            return f"{watts(account.power_w)}, over 1 W"
        case "antenna" if np.isfinite(account.elevation_deg) and account.mode != "ground wave":
            return take_off(account.elevation_deg)
        case "antenna losses":
            return listed([LOST_IN[part] for part in term.parts])
        case "above the MUF":
            return "F2 layer"
        case "noise":
            where = "at the far end" if account.towards_far_end else "at home"
            return (
                f"{where}, {noise_level(account.noise_level)}; external noise figure {account.fam_db:.0f} dB"
            )
        case "need":
            return f"{level(account.need_db)} in 2500 Hz"
        case _:
            return ""


def ledger_lines(account: Ledger) -> list[str]:
    """The terms and their sum, a sentence each; terms that round to nothing are left out."""
    told = []
    for term in account.terms:
        if abs(term.db) >= LEAST_DB:
            beside = note(account, term)
            name = term_words(term.name, term.end)
            told.append(f"{name}: {level(term.db)}{f' ({beside})' if beside else ''}.")
    return [*told, f"Margin: {level(account.margin_db)}, {error_words(account.experience)}."]


def direction(account: Ledger) -> str:
    """Direction described."""
    return "from here to the far end" if account.towards_far_end else "from the far end to here"


def margin_words(margin_db: float) -> str:
    """Margin in words: `12 dB above the required SNR`."""
    side = "above" if margin_db >= 0.0 else "below"
    return f"{decibels(margin_db)} {side} the required SNR"


def could_be_less(account: Ledger) -> str:
    """Largest losses that could be reduced; empty where there are none."""
    return listed(
        [f"{term_words(term.name, term.end)} {decibels(term.db)}" for term in account.could_be_less]
    )


def why_sentences(found: Explanation) -> list[str]:
    """Answer in plain sentences, without the ledger's lines."""
    lines = [] if found.event is None else [event_sentence(found.event)]
    lines.append(
        f"{band_title(found.band)} to {found.target} at {both_clocks(found.time)}: {verdict(found)}."
    )
    if found.people is not None:
        lines += people_sentences(found.people, found)
    lines += [causes_sentence(found), margin_sentence(found)]
    lines += [experience_sentence(found.ledger.experience), whole_sentence(), *change_sentences(found)]
    if found.near_far is not None:
        lines.append(near_far_sentence(found.near_far))
    return lines


LEAST_STATIONS: Final = 0.5  # stations, below which they are told as none


def people_sentences(people: Based, found: Explanation) -> list[str]:
    """The first few contacts with a region, and what its contacts an hour are based on."""
    few = first_few(found.promise.wanted, *people.few)
    told = leans_on(people.on_air, people.in_reach, found.band, found.target)
    return [sentence(few), sentence(f"Based on {told}")]


def leans_on(on_air: float, in_reach: float, band: str, region: str) -> str:
    """Basis of the contacts an hour: stations on the air, how well known, in reach, and who answers.

    `some 1,400 stations on 20 m in Europe now, within a factor of 3; some 900 in reach, of whom 3 in 10
    answer a caller within an hour`
    """
    where = {"anyone": "anywhere"}.get(region, region if region.startswith("within ") else f"in {region}")
    stations = counted(two_figures(on_air), "station")
    head = f"some {stations} on {band_title(band)} {where} now, within a factor of {ON_AIR_WITHIN:g}"
    if in_reach < LEAST_STATIONS:
        return f"{head}; none of them in reach"
    answer = f"{in_ten(USUAL.answering)} answer a caller within an hour"
    return f"{head}; some {two_figures(in_reach):,} in reach, of whom {answer}"


def verdict(found: Explanation) -> str:
    """What the band promises and its largest limit; a flare or a proton event is named before."""
    chance = promised(found.promise)
    if found.event is not None:
        what = event_clause(found.event, found.band)
        if found.band in found.event.taken:
            return f"{what}; {chance} meanwhile"
        besides = "open despite it" if found.limit == "open" else clause(found.limit)
        return f"{what}; {besides}, {chance}"
    return f"open, {chance}" if found.limit == "open" else f"{chance}; {clause(found.limit)}"


def margin_sentence(found: Explanation) -> str:
    """Strongest mode of the weaker direction, its margin, and the largest losses that could be reduced."""
    account = found.ledger
    losses = could_be_less(account)
    by = route_and_mode(account.mode, found.route, account.elevation_deg)
    place = f" ({found.place})" if found.promise.rate is not None else ""
    return (
        f"The weaker direction, {direction(account)}, {by}{place}, is "
        f"{margin_words(account.margin_db)} on the median day ({error_words(account.experience)})"
        + (f"; the largest losses that could be reduced: {losses}." if losses else ".")
    )


def causes_sentence(found: Explanation) -> str:
    """Causes by weight, and what the band would promise without the heaviest cause."""
    named = found.named[:4]
    if not named:
        few = found.limit == "few on the air"
        return "No limiting factor but the number of stations." if few else "No limiting factor."
    first = named[0]
    alone = f"Without the first alone ({without(first.cause)}) it would be {promised(first.alone)}."
    if found.limit == "open":  # no cause limits the band: the sentence is about what is still missing
        text = "; ".join(f"{percent(row.weight)}, {short(row.cause)}" for row in named)
        more = "on the other days" if found.promise.rate is None else "from more contacts"
        return f"What limits it {more}, by weight: {text}. {alone}"
    text = "; ".join(f"{percent(row.weight)}, {clause(row.cause)}" for row in named)
    return " ".join(
        part for part in (f"What limits it, by weight: {text}.", both_point(found), alone) if part
    )


def both_point(found: Explanation) -> str:
    """Reason why the lane names another limit than the heaviest cause; empty where both are the same."""
    lane, heaviest = found.limit, found.heaviest
    layers = ("above the MUF", "skip zone")
    if lane in ("open", heaviest) or heaviest == "open" or (lane in layers and heaviest in layers):
        return ""
    return (
        f"The lane shows {short(lane)}, the largest single loss; {short(heaviest)} weighs more because "
        f"its absence would bring more {'days' if found.promise.rate is None else 'contacts'}."
    )


def cause_line(row: Weighted) -> str:
    """One cause with its weight, and what the band would promise without it."""
    return f"Cause: {clause(row.cause)}, {percent(row.weight)}; without it, {promised(row.alone)}."


# --- changes -------------------------------------------------------------------------------------------


def change_words(one: Change) -> str:
    """A change in a few words: `20 m at the same hour`."""
    if one.kind == "hour" and one.time is not None:
        at_best = f", best at {clock(one.best)}" if one.best != one.time else ""
        return f"waiting until {both_clocks(one.time)}{at_best}"
    if one.kind == "band" and one.band is not None:
        return f"{band_title(one.band)} at the same hour"
    if one.radials is not None:
        return f"{one.radials[0]} radials instead of {one.radials[1]}"
    if one.power_w is not None:
        return f"{watts(one.power_w[0])} instead of {watts(one.power_w[1])}"
    assert one.mode is not None
    return f"{MODE_WORDS[one.mode[0]]} instead of {MODE_WORDS[one.mode[1]]}"


def change_sentences(found: Explanation) -> list[str]:
    """Changes that would help, and those with little effect."""
    lines = []
    if found.helpful:
        parts = [f"{change_words(one)}: {promised(one.promise)}" for one in found.helpful]
        lines.append(f"Changes that help: {'; '.join(parts)}.")
    if found.useless:
        useless = listed([change_words(one) for one in found.useless])
        lines.append(f"Changes with little effect: {useless}.")
    return lines


# --- near and far --------------------------------------------------------------------------------------


def near_far_heading(found: NearFar) -> str:
    """Band, hour and bearing of the sentence on near and far."""
    when = f"On {band_title(found.band)} at {both_clocks(found.time)}"
    return f"{when}, on a bearing of {bearing(found.bearing_deg)}"


def near_far_words(found: NearFar) -> str:
    """Skip distance, the distances that are heard as often and those that are not, and why."""
    skip = skip_words(found.skip_km)
    if found.near_to_km is None and found.far_to_km is None:
        most = f"at best {days(found.best)}, at {kilometres(found.best_km)}"
        return f"{skip}; no distance is heard as often: {most}."
    if found.gap_km is None:
        nearer = found.skip_km is not None and found.skip_km > float(found.distance_km[0])
        how = ", the nearer ones by ground wave or scatter" if nearer else ""
        return f"{skip}; no dead zone: heard as often from here out to {kilometres(found.near_to_km)}{how}."
    named = found.cause is not None and found.cause.cause != "skip zone"  # the skip distance says that
    why = f" In the dead zone {clause(found.cause.cause)}." if found.cause is not None and named else ""
    near = "" if found.near_to_km is None else f"out to {kilometres(found.near_to_km)} and "
    last, far = kilometres(found.gap_km[1]), kilometres(found.far_to_km)
    weaker = found.skip_km is not None and found.gap_km[1] < found.skip_km
    inside = ", weaker up to the skip distance" if weaker else ""
    other = "not between" if near else "not nearer"
    return f"{skip}; heard as often {near}from {last} to about {far}{inside}, {other}.{why}"


def near_far_sentence(found: NearFar) -> str:
    """Near and far in one sentence, with its heading."""
    return sentence(f"{near_far_heading(found)}, {near_far_words(found)}")
