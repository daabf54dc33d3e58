"""Sentences that answer "why was that band dead?": causes, margin, ledger, changes, near and far."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.wording.causes import clause, short, without
from propagation.wording.experience import error_words, experience_sentence, whole_sentence
from propagation.wording.quantities import (
    MODE_WORDS,
    band_title,
    bearing,
    both_clocks,
    clock,
    days,
    decibels,
    kilometres,
    level,
    listed,
    noise_level,
    percent,
    reached,
    sentence,
    take_off,
    watts,
    zone_word,
)
from propagation.wording.sky import event_clause, event_sentence
from propagation.wording.windows import route_and_mode

if TYPE_CHECKING:
    from propagation.advice.cause_weights import Weighted
    from propagation.advice.ledger import Ledger, Term, TermEnd, TermName
    from propagation.advice.why import Change, Explanation, NearFar

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
            return "coil and earth"
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
    lines = [] if found.event is None else [event_sentence(found.event, found.wanted)]
    when = both_clocks(found.time)
    lines.append(f"{band_title(found.band)} to {found.target} at {when}: {verdict(found)}.")
    lines += [causes_sentence(found), margin_sentence(found)]
    lines += [experience_sentence(found.ledger.experience), whole_sentence(), *change_sentences(found)]
    if found.near_far is not None:
        lines.append(near_far_sentence(found.near_far))
    return lines


def verdict(found: Explanation) -> str:
    """Chance and its largest limit; a flare or a proton event is named before the chance."""
    chance = reached(found.chance, found.wanted)
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
    place = f" ({found.place})" if found.wanted else ""
    return (
        f"The weaker direction, {direction(account)}, {by}{place}, is "
        f"{margin_words(account.margin_db)} on the median day ({error_words(account.experience)})"
        + (f"; the largest losses that could be reduced: {losses}." if losses else ".")
    )


def causes_sentence(found: Explanation) -> str:
    """Causes by weight, and the chance without the heaviest cause."""
    named = found.named[:4]
    if not named:
        return "No limiting factor."
    first = named[0]
    where = ", at the worst-served places," if found.wanted else ""
    alone = f"Without the first alone ({without(first.cause)}){where} it would be {days(first.alone)}."
    if found.limit == "open":  # no cause limits the band: the sentence is about the few days that fail
        text = "; ".join(f"{percent(row.weight)}, {short(row.cause)}" for row in named)
        return f"What limits it on the other days, by weight: {text}. {alone}"
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
        f"its absence would open more days."
    )


def cause_line(row: Weighted) -> str:
    """One cause with its weight, and the chance without it."""
    return f"Cause: {clause(row.cause)}, {percent(row.weight)}; without it, {days(row.alone)}."


# --- changes -------------------------------------------------------------------------------------------


def change_words(one: Change) -> str:
    """A change in a few words: `20 m at the same hour`."""
    if one.kind == "hour" and one.time is not None:
        at_best = f", best at {clock(one.best)}" if one.best != one.time else ""
        return f"waiting until {clock(one.time)}{at_best} {zone_word()}"
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
        parts = [f"{change_words(one)}: {reached(one.chance, found.wanted)}" for one in found.helpful]
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
    """Distances that are heard and those that are not, and why."""
    if found.near_to_km is None and found.far_to_km is None:
        return f"no distance is heard: at best {days(found.best)}."
    if found.gap_km is None:
        return f"there is no dead zone: stations are heard from here out to {kilometres(found.near_to_km)}."
    near = "stations"
    if found.near_to_km is not None:
        near = f"stations out to {kilometres(found.near_to_km)} are heard, those"
    why = f" In the dead zone {clause(found.cause.cause)}." if found.cause is not None else ""
    first, last = (kilometres(km) for km in found.gap_km)
    return (
        f"{near} between {first} and {last} are not; farther ones are heard again, out to about "
        f"{kilometres(found.far_to_km)}.{why}"
    )


def near_far_sentence(found: NearFar) -> str:
    """Near and far in one sentence, with its heading."""
    return sentence(f"{near_far_heading(found)}, {near_far_words(found)}")
