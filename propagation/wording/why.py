"""The answer to "why was that band dead?": causes, the margin, changes, near and far, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.wording import ledger
from propagation.wording.causes import clause, short, without
from propagation.wording.events import event_clause, event_sentence
from propagation.wording.quantities import (
    MODE_WORDS,
    band_title,
    bearing,
    clock,
    days,
    kilometres,
    listed,
    percent,
    reached,
    sentence,
    watts,
)
from propagation.wording.windows import route_and_mode

if TYPE_CHECKING:
    from propagation.advice.cause_weights import Weighted
    from propagation.advice.why import Change, NearFar, Why


def why_sentences(found: Why) -> list[str]:
    """The answer in plain sentences, without the ledger's lines."""
    lines = [] if found.event is None else [event_sentence(found.event, found.wanted)]
    lines.append(f"{band_title(found.band)} to {found.target} at {clock(found.time)} UTC: {verdict(found)}.")
    lines += [causes_sentence(found), margin_sentence(found), *change_sentences(found)]
    if found.near_far is not None:
        lines.append(near_far_sentence(found.near_far))
    return lines


def verdict(found: Why) -> str:
    """The chance, and what limits it most; a flare or a proton event stands before the chance."""
    chance = reached(found.chance, found.wanted)
    if found.event is not None:
        what = event_clause(found.event, found.band)
        if found.band in found.event.taken:
            return f"{what}; {chance} meanwhile"
        besides = "open in spite of it" if found.limit == "open" else clause(found.limit)
        return f"{what}; {besides}, {chance}"
    return f"open, {chance}" if found.limit == "open" else f"{chance}; {clause(found.limit)}"


def margin_sentence(found: Why) -> str:
    """The strongest mode of the weaker direction, its margin, and the largest losses that could be less."""
    account = found.ledger
    losses = ledger.could_be_less(account)
    by = route_and_mode(account.mode, found.route, account.elevation_deg)
    place = f" ({found.place})" if found.wanted else ""
    return (
        f"The weaker direction, {ledger.direction(account)}, {by}{place}, ends "
        f"{ledger.margin_words(account.margin_db)} on the median day"
        + (f"; the largest losses that could be less: {losses}." if losses else ".")
    )


def causes_sentence(found: Why) -> str:
    """What is missing, by weight, and the chance with the heaviest cause taken away."""
    named = found.named[:4]
    if not named:
        return "Nothing is missing."
    first = named[0]
    where = ", where most is missing," if found.wanted else ""
    alone = f"With only the first taken away ({without(first.cause)}){where} it would be {days(first.alone)}."
    if found.limit == "open":  # nothing stands in the way: of the few days that fail
        text = "; ".join(f"{percent(row.weight)}, {short(row.cause)}" for row in named)
        return f"What keeps it from being surer, by weight: {text}. {alone}"
    text = "; ".join(f"{percent(row.weight)}, {clause(row.cause)}" for row in named)
    return " ".join(
        part for part in (f"What is missing, by weight: {text}.", both_point(found), alone) if part
    )


def both_point(found: Why) -> str:
    """Why the lane names another limit than the cause that weighs most; empty where they are one."""
    lane, heaviest = found.limit, found.heaviest
    layers = ("above the MUF", "skip zone")
    if lane in ("open", heaviest) or heaviest == "open" or (lane in layers and heaviest in layers):
        return ""
    return (
        f"The lane says {short(lane)}, the largest loss of its own; {short(heaviest)} weighs more because "
        f"taking it away brings back more days."
    )


def cause_line(row: Weighted) -> str:
    """One cause with its weight, and the chance were it harmless."""
    return f"Cause: {clause(row.cause)}, {percent(row.weight)}; were it harmless, {days(row.alone)}."


# --- changes -------------------------------------------------------------------------------------------


def change_words(one: Change) -> str:
    """A change in a few words: `20 m at the same hour`."""
    if one.kind == "hour" and one.time is not None:
        at_best = f", best at {clock(one.best)}" if one.best != one.time else ""
        return f"a wait until {clock(one.time)}{at_best} UTC"
    if one.kind == "band" and one.band is not None:
        return f"{band_title(one.band)} at the same hour"
    if one.radials is not None:
        return f"{one.radials[0]} radials instead of {one.radials[1]}"
    if one.power_w is not None:
        return f"{watts(one.power_w[0])} instead of {watts(one.power_w[1])}"
    assert one.mode is not None
    return f"{MODE_WORDS[one.mode[0]]} instead of {MODE_WORDS[one.mode[1]]}"


def change_sentences(found: Why) -> list[str]:
    """What would change it, and what would hardly."""
    lines = []
    if found.helpful:
        parts = [f"{change_words(one)}: {reached(one.chance, found.wanted)}" for one in found.helpful]
        lines.append(f"What would change it: {'; '.join(parts)}.")
    if found.useless:
        useless = listed([change_words(one) for one in found.useless])
        lines.append(f"What would hardly change it: {useless}.")
    return lines


# --- near and far --------------------------------------------------------------------------------------


def near_far_heading(found: NearFar) -> str:
    """Of which band, hour and bearing the sentence on near and far speaks."""
    when = f"On {band_title(found.band)} at {clock(found.time)} UTC"
    return f"{when}, on a bearing of {bearing(found.bearing_deg)}"


def near_far_words(found: NearFar) -> str:
    """Which distances are heard and which are not, and why."""
    if found.near_to_km is None and found.far_to_km is None:
        return f"neither near nor far ones are heard: at best {days(found.best)} at any distance."
    if found.gap_km is None:
        return f"there is no dead zone: stations are heard from here out to {kilometres(found.near_to_km)}."
    near = "stations"
    if found.near_to_km is not None:
        near = f"stations out to {kilometres(found.near_to_km)} are heard, those"
    why = f" In the dead zone {clause(found.cause.cause)}." if found.cause is not None else ""
    first, last = (kilometres(km) for km in found.gap_km)
    return (
        f"{near} between {first} and {last} are not, and farther ones are again, the farthest at about "
        f"{kilometres(found.far_to_km)}.{why}"
    )


def near_far_sentence(found: NearFar) -> str:
    """Near and far in one sentence, with its heading."""
    return sentence(f"{near_far_heading(found)}, {near_far_words(found)}")
