"""Sentences on appointments: a slot, its fallback, why there is none, and the calendar's entries."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, assert_never

import numpy as np

from propagation.advice.calendar import CalendarEntry
from propagation.wording.quantities import band_title, day_title, days, listed, megahertz, utc_clock

if TYPE_CHECKING:
    from propagation.advice.common_bands import Refusal
    from propagation.advice.sked import Party, Sked, SkedRow, SkedSlot

MOST_DATES = 4  # days of a row that are listed one by one (ours)
ALARM_MIN = 15  # minutes before a slot at which the calendar reminds
ALARM_AGAIN = np.timedelta64(3 * 3600, "s")  # no second alarm within this time after a slot (ours)


def local_clock(party: Party, time: np.datetime64) -> str:
    """A UTC time on a party's clock, `Fri 20 Mar 18:30 SAST`."""
    here = party.local(time)
    return f"{here:%a} {here.day} {here:%b} {here:%H:%M} {here.tzname() or party.zone.key}"


def local_short(party: Party, time: np.datetime64) -> str:
    """Short form of a UTC time on a party's clock, `Fri 18:30`."""
    return f"{party.local(time):%a %H:%M}"


def row_days(row: SkedRow) -> str:
    """Days of a row, `Fri 20 Mar`, `Fri 20 to Thu 26 Mar, every day`, `Fri 20, Sun 22 and Tue 24 Mar`."""
    dates = [slot.start.astype("datetime64[D]") for slot in row.slots]
    titles = [day_title(date)[:-5] for date in dates]
    if len(dates) == 1:
        return titles[0]
    count = len(dates)
    if int((dates[-1] - dates[0]).astype(int)) + 1 == count:
        first = titles[0][: None if titles[0][-3:] != titles[-1][-3:] else -4]
        return f"{first} to {titles[-1]}" + (", every day" if count > 2 else "")
    if count > MOST_DATES:
        return f"{count} days from {titles[0]} to {titles[-1]}"
    return listed([*(title.removesuffix(f" {titles[-1][-3:]}") for title in titles[:-1]), titles[-1]])


def changes_in_row(row: SkedRow, found: Sked) -> str:
    """Local times that a change of clocks makes differ within a row: `from Sun 29 Mar 13:30 at Ana's`."""
    told = []
    for party, where in ((found.home, "here"), (found.far, f"at {found.far.name}'s")):
        clocks = [f"{party.local(slot.start):%H:%M}" for slot in row.slots]
        later = next((i for i, one in enumerate(clocks) if one != clocks[0]), None)
        if later is not None:
            local = party.local(row.slots[later].start)
            told.append(f"from {local:%a} {local.day} {local:%b} at {clocks[later]} {where}: clocks change")
    return "; ".join(told)


def row_sentence(row: SkedRow, found: Sked) -> str:
    """Slots of a row in one sentence: that of the only slot, or the days and what repeats."""
    first, best = row.slots[0], row.best
    if len(row.slots) == 1:
        return slot_sentence(first, found)
    span = f"{utc_clock(first.start)} to {utc_clock(first.end, True)} UTC"
    changes = changes_in_row(row, found)
    text = (
        f"{row_days(row)}: {_of_day(found.home, first.start)} here, {_of_day(found.far, first.start)} at "
        f"{found.far.name}'s ({span}){f', {changes}' if changes else ''}: {band_title(first.band)}, "
        f"{megahertz(first.frequency_mhz)}, {days(row.chance)}"
    )
    return f"{text}; {fallback_words(best, found)}." if best.fallback is not None else f"{text}."


def _of_day(party: Party, time: np.datetime64) -> str:
    here = party.local(time)
    return f"{here:%H:%M} {here.tzname() or party.zone.key}"


def gets_up_sentence(found: Sked) -> str:
    """The better hour that suits one end alone; empty where there is none."""
    one = found.gets_up
    if one is None:
        return ""
    party, where = (found.home, "here") if one.who == "home" else (found.far, "there")
    what = "gets up" if one.asleep else "makes time"
    return (
        f"Best if one of you {what}: {days(one.chance)} at {utc_clock(one.start)} UTC, "
        f"{party.local(one.start):%H:%M} {where}, on {band_title(one.band)}."
    )


def slot_sentence(slot: SkedSlot, found: Sked) -> str:
    """One slot on both clocks, with its band, chance and fallback."""
    span = f"{utc_clock(slot.start)} to {utc_clock(slot.end, True)} UTC"
    text = (
        f"{local_clock(found.home, slot.start)} here, {local_clock(found.far, slot.start)} at "
        f"{found.far.name}'s ({span}): {band_title(slot.band)}, "
        f"{megahertz(slot.frequency_mhz)}, {days(slot.chance)}"
    )
    return f"{text}; {fallback_words(slot, found)}." if slot.fallback is not None else f"{text}."


def fallback_words(slot: SkedSlot, found: Sked) -> str:
    """Fallback when the band is dead, a later time on the clocks of the slot."""
    back = slot.fallback
    if back is None:
        return "no fallback"
    later = f" at {_of_day(found.home, back.start)} here ({utc_clock(back.start)} UTC)"
    when = "" if back.start == slot.start else later
    return (
        f"if it is dead, {band_title(back.band)}{when}, {megahertz(back.frequency_mhz)} ({days(back.chance)})"
    )


def fallback_short(slot: SkedSlot) -> str:
    """Short form of the fallback; empty where there is no fallback."""
    back = slot.fallback
    if back is None:
        return ""
    when = "" if back.start == slot.start else f" at {utc_clock(back.start)} UTC"
    return f"{band_title(back.band)} {back.frequency_mhz:.3f}{when}"


def refusal_words(refusal: Refusal, emission: str) -> str:
    """Reason why a band cannot be used between the two."""
    match refusal:
        case "licence of both":
            return f"neither licence allows {emission} there"
        case "own licence":
            return f"your licence does not allow {emission} there"
        case "their licence":
            return f"their licence does not allow {emission} there"
        case "no common part":
            return f"your segment for {emission} and theirs do not overlap"
        case "own antenna":
            return "your antenna does not tune there"
        case "their antenna":
            return "their antenna does not tune there"
    assert_never(refusal)


def left_out(found: Sked) -> list[tuple[str, str]]:
    """Bands that cannot be used, with the reason."""
    return [(band, refusal_words(refusal, found.mode.name)) for band, refusal in found.refused]


def one_place_sentence(target: str, asked: str = "") -> str:
    """Notice that an appointment is with one station, where a region was requested in any form."""
    named = f"{asked!r} is {target}," if asked and asked != target else f"{target} is"
    return f"An appointment needs one place; {named} a region."


def friends_there_sentence(names: Sequence[str], others: Sequence[str]) -> str:
    """Friends to choose from where a region was requested; empty where there are no friends."""
    if names:
        return f"Your friends there: {listed(names)}."
    return f"None of your friends is there; elsewhere: {listed(others)}." if others else ""


def none_sentence(found: Sked) -> str:
    """Reason why there is no slot."""
    if not found.candidates:
        return f"There is no band that both ends may use and tune for {found.mode.name}."
    if found.hours_both == 0.0:
        return f"{found.home.name} and {found.far.name} are never awake and free at the same time."
    return (
        f"In the {found.hours_both:.1f} hours a day that suit both, no band is likely enough with "
        f"{found.mode.name}: at best {days(float(np.nanmax(found.chance)))}."
    )


def days_words(found: Sked) -> str:
    """Days that were searched, `Sat 21 Mar 2026` or `Sat 21 Mar to Sun 22 Mar 2026`."""
    first, last = found.times[0], found.times[-1] - np.timedelta64(1, "s")
    if first.astype("datetime64[D]") >= last.astype("datetime64[D]"):
        return day_title(first)
    return f"{day_title(first)[:-5]} to {day_title(last)}"


def _just_before(start: np.datetime64, starts: Sequence[np.datetime64]) -> bool:
    """Return whether another slot begins so shortly before that its alarm is enough."""
    zero = np.timedelta64(0, "s")
    return any(zero < start - other < ALARM_AGAIN for other in starts)


def events(found: Sked, slots: Sequence[SkedSlot] | None = None) -> list[CalendarEntry]:
    """Slots as entries for a calendar, each with one alarm; of slots close together only the first has it."""
    wanted = found.slots if slots is None else slots
    starts = [slot.start for slot in wanted]
    return [
        CalendarEntry(
            start=slot.start,
            end=slot.end,
            summary=f"{found.mode.name} with {found.far.name}, {band_title(slot.band)}",
            description=f"{slot_sentence(slot, found)}\nChance by forecast of the month; slot {slot.rank}.",
            place=megahertz(slot.frequency_mhz),
            alarm_min=None if _just_before(slot.start, starts) else ALARM_MIN,
        )
        for slot in wanted
    ]
