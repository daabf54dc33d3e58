"""Season in words: its best slots on both clocks, the solar cycle's uncertainty, and two sides compared."""

from __future__ import annotations

from calendar import monthrange
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

import numpy as np

from propagation.advice.calendar import CalendarEntry
from propagation.advice.season import HIGH, LEAST_CHANCE, LEAST_PER_H, LOW, MIDDLE, days_of
from propagation.advice.season_changes import best_hour
from propagation.signal.rays.causes import CAUSES
from propagation.wording.causes import clause
from propagation.wording.clocks import difference_words, local_first
from propagation.wording.quantities import (
    band_title,
    counted,
    days,
    first_few,
    listed,
    mean_an_hour,
    nearest,
    promised,
    rate_figure,
    watts,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from propagation.advice.rates import Prospect
    from propagation.advice.season import Season, SeasonSlot
    from propagation.advice.season_changes import SeasonChange
    from propagation.advice.sked import Party
    from propagation.base.units import FloatArray

MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
FAR_APART: Final = 0.15  # of chance between low and high prediction from which both are reported (ours)
RATES_APART: Final = 0.25  # of the middle contacts an hour, likewise (ours)
ALIKE: Final = 0.05  # share of the hours of contact, or of the rate, below which two sides are alike (ours)


def month_title(month: np.datetime64) -> str:
    """Month and year, `October 2026`."""
    number = int(month.astype("datetime64[M]").astype(np.int64))
    return f"{MONTHS[number % 12]} {1970 + number // 12}"


def month_short(month: np.datetime64) -> str:
    """Short month and year, `Oct 26`."""
    number = int(month.astype("datetime64[M]").astype(np.int64))
    return f"{MONTHS[number % 12][:3]} {(1970 + number // 12) % 100:02d}"


def hours_words(found: Season, month: np.datetime64, start: int, end: int | None = None) -> str:
    """Hours of a month's days on the clocks of both ends, the clock told first in front.

    `14:00 to 16:00 UTC (16:00 to 18:00 local, 11:00 to 13:00 there)`; end: None for a time. `start` and `end`
    are hours UTC of the month's day. A clock that agrees with an earlier one is left out.
    """
    day = days_of(np.array([month]))[0].astype("datetime64[s]")
    hours = [start] if end is None else [start, end]
    times = [day + np.timedelta64(hour * 3600, "s") for hour in hours]

    def on(clock: Callable[[np.datetime64], str]) -> str:
        return " to ".join(clock(time) for time in times)

    utc = (on(lambda time: str(time)[11:16]), "UTC")
    local = (on(lambda time: f"{found.home.local(time):%H:%M}"), "local")
    clocks = [local, utc] if local_first() else [utc, local]
    if utc[0] == local[0]:
        clocks = [clocks[0]]
    far = found.far
    if far is not None:
        there = on(lambda time: f"{far.local(time):%H:%M}")
        clocks += [(there, "there")] if there != utc[0] else []
    first, *others = [f"{span} {where}" for span, where in clocks]
    return f"{first} ({', '.join(others)})" if others else first


def slot_words(slot: SeasonSlot, found: Season) -> str:
    """One slot: month, band, hours on both ends' clocks, what it promises, and a change of clocks then."""
    text = (
        f"{month_title(slot.month)}, {band_title(slot.band)}, "
        f"{hours_words(found, slot.month, slot.start, slot.end)}: {promised(slot.mean)}"
        f"{sun_words(slot.low, slot.mean, slot.high)}"
    )
    changes = clock_changes(slot.month, found)
    return f"{text}{f'; {changes}' if changes else ''}."


def sun_words(low: Prospect, middle: Prospect, high: Prospect) -> str:
    """Effect of low and high solar activity, `; 8 an hour if solar activity is low, 14 if it is high`.

    Empty where they are near each other.
    """
    if low.rate is None or middle.rate is None or high.rate is None:
        if abs(high.chance - low.chance) < FAR_APART:
            return ""
        return f"; {days(low.chance)} if solar activity is low, {days(high.chance)} if it is high"
    if abs(high.rate.middle - low.rate.middle) < max(RATES_APART * middle.rate.middle, 1.0):
        return ""
    few, many = rate_figure(low.rate.middle), rate_figure(high.rate.middle)
    return f"; {few} an hour if solar activity is low, {many} if it is high"


def cell_words(found: Season, month: int, hour: int) -> str:
    """One hour of a month (index): its best band, what it promises, the cause if that is too poor for a slot,
    and who is asleep.
    """
    title, span = month_title(found.months[month]), hours_words(found, found.months[month], hour, hour + 1)
    when = f"{title}, {span}"
    if not found.bands:
        return f"{when}."
    band = int(found.best_band[month, hour])
    low, middle, high = (found.at(month, hour, band, prediction) for prediction in (LOW, MIDDLE, HIGH))
    asleep = "" if found.suits[month, hour] else f"; {_asleep(found)}"
    cause = CAUSES[int(found.limit[month, hour, band])]
    poor = middle.figure < (LEAST_CHANCE if middle.rate is None else LEAST_PER_H) and cause != "open"
    if poor:
        more = f"; {clause(cause)}"
    else:
        more = f"; {first_few(middle.wanted, 60, middle.chance)}" if middle.rate is not None else ""
    name = band_title(found.bands[band].name)
    return f"{when}: {name}, {promised(middle)}{more}{sun_words(low, middle, high)}{asleep}."


def _asleep(found: Season) -> str:
    return "you are asleep" if found.far is None else "one of the two is asleep"


def best_of_month(found: Season, month: int) -> str:
    """Best waking hour of a month (index) and its band."""
    best = np.where(found.suits[month], found.of_best(found.worth)[MIDDLE, month], 0.0)
    hour = int(np.argmax(best))
    band = int(found.best_band[month, hour])
    told = promised(found.at(month, hour, band))
    name = band_title(found.bands[band].name)
    when = hours_words(found, found.months[month], hour)
    return f"{month_title(found.months[month])}: best about {when} on {name}, {told}."


def clock_changes(month: np.datetime64, found: Season) -> str:
    """Notice of a clock change, `after 25 October the clocks there change`; empty where there is none that
    month.
    """
    parties = [("here", found.home)] + ([("there", found.far)] if found.far is not None else [])
    days = [(where, _change_day(month, party.zone)) for where, party in parties]
    known = [(where, day) for where, day in days if day is not None]
    if not known:
        return ""
    number = int(month.astype("datetime64[M]").astype(np.int64))
    if len(known) == 2 and known[0][1] == known[1][1]:
        return f"from {known[0][1]} {MONTHS[number % 12]} the clocks of both ends change"
    return "; ".join(f"from {day} {MONTHS[number % 12]} the clocks {where} change" for where, day in known)


def _change_day(month: np.datetime64, zone: ZoneInfo) -> int | None:
    """The first day of a month whose noon has another offset from UTC than the noon of the day before."""
    number = int(month.astype("datetime64[M]").astype(np.int64))
    year, name = 1970 + number // 12, number % 12 + 1
    noon = datetime(year, name, 1, 12, tzinfo=UTC)
    before = (noon - timedelta(days=1)).astimezone(zone).utcoffset()
    for day in range(1, monthrange(year, name)[1] + 1):
        offset = datetime(year, name, day, 12, tzinfo=UTC).astimezone(zone).utcoffset()
        if offset != before:
            return day
    return None


def none_words(found: Season) -> str:
    """Reason why a season has no slot: its best waking hour, and what limits it then."""
    if not found.bands:
        return f"There is no band that licence and antenna allow for {found.mode}."
    best = best_hour(found)
    if best is None:
        return "The two ends are never awake at the same time."
    month = found.months[best.month]
    when = f"{month_title(month)} at {hours_words(found, month, best.hour)}"
    why = "" if best.limit == "open" else f"; {clause(best.limit)}"
    return (
        f"No hour of these months is likely enough with {found.mode} and {watts(found.power_w)}: at best "
        f"{promised(best.promise)}, in {when} on {band_title(best.band)}{why}."
    )


def hopeless_words(found: Season, names: Sequence[str], changes: Sequence[SeasonChange]) -> list[str]:
    """Reason why a season has no slot, and what would help: friends there, more power, another mode."""
    return [told for told in (none_words(found), friends_words(names), changes_words(found, changes)) if told]


def changes_words(found: Season, changes: Sequence[SeasonChange]) -> str:
    """Effect of more power and of another mode on the best hour; empty where there is no such hour."""
    if best_hour(found) is None:
        return ""
    if not changes:
        return "In that hour neither more power, up to 100 W, nor a narrower mode would bring more."
    told = [
        f"with {watts(one.power_w) if one.mode == found.mode else one.mode}: {promised(one.promise)} on "
        f"{band_title(one.band)}"
        for one in changes
    ]
    return f"In that hour, {'; '.join(told)}."


def friends_words(names: Sequence[str]) -> str:
    """Friends in the region, as targets of a year; empty where there are none."""
    if not names:
        return ""
    one = "is a friend there: with that" if len(names) == 1 else "are friends there: with one as the"
    told = "the year tells on how many days a contact by appointment is possible"
    return f"{listed(names)} {one} target, {told}."


def zone_words(found: Season) -> str:
    """Local time in the course of the months, `Local time is UTC+2 until October 2026, then UTC+1.`

    Empty where its difference from UTC is the same in all of them.
    """
    offsets = [offset_on(found.home, day) for day in days_of(found.months)]
    last = [m for m in range(len(offsets)) if m + 1 == len(offsets) or offsets[m + 1] != offsets[m]]
    if len(last) < 2:
        return ""
    runs = [f"{offsets[m]} until {month_title(found.months[m])}" for m in last[:-1]]
    return f"Local time is {', '.join(runs)}, then {offsets[-1]}."


def offset_on(party: Party, day: np.datetime64) -> str:
    """Difference of a party's clock from UTC at noon of a day, `UTC+2`, `UTC-3:30`."""
    noon = party.local(day.astype("datetime64[s]") + np.timedelta64(43200, "s")).utcoffset() or timedelta()
    return difference_words(round(noon.total_seconds() / 60.0))


def progress_words(finished: int, months: int, other: int | None = None) -> str:
    """Months finished so far, of the season and, where two sides are compared, of the other side."""
    told = f"{finished} of {counted(months, 'month')} worked out so far"
    also = f", {other} of the other side" if other is not None else ""
    return f"{told}{also}; Esc stops it."


def cycle_words(found: Season) -> str:
    """Prediction of solar activity, and its uncertainty."""
    low, middle, high = found.index[:, -1]
    if low == high:
        return f"The index is fixed at {middle:.0f}, as given."
    first = found.index[:, 0]
    return (
        f"Predicted index {first[MIDDLE]:.0f} ({first[LOW]:.0f} to {first[HIGH]:.0f}) in "
        f"{month_title(found.months[0])}, {middle:.0f} ({low:.0f} to {high:.0f}) in "
        f"{month_title(found.months[-1])}; 4 years in 5 end inside these ranges."
    )


def contact_hours_words(hours: FloatArray) -> str:
    """Hours of contact over all months, middle and span: `some 3,320 hours (2,950 to 3,460)`."""
    low, middle, high = (nearest(float(h)) for h in np.sum(hours, axis=1))
    if low == high == middle:
        return f"some {counted(int(middle), 'hour')}"
    return f"some {counted(int(middle), 'hour')} ({low:,.0f} to {high:,.0f})"


def contact_sentence(found: Season) -> str:
    """Amount of contact in the season."""
    if found.rates is not None:
        mean = np.mean(found.mean_per_hour(), axis=1).tolist()
        low, high = rate_figure(mean[LOW]), rate_figure(mean[HIGH])
        span = f" ({low} with low solar activity, {high} with high)" if low != high else ""
        return f"Mean of the waking hours, on the best band: {mean_an_hour(mean[MIDDLE])}{span}."
    hours = contact_hours_words(found.hours_of_contact())
    return (
        f"Of the hours at which both are awake, {hours} of contact in "
        f"{counted(found.months.size, 'month')}, always on the best band."
    )


def beside_sentence(one: Season, other: Season, one_name: str, other_name: str) -> str:
    """Advantage of the better of two sides."""
    if one.rates is not None:
        mine, theirs = (float(np.mean(side.mean_per_hour()[MIDDLE])) for side in (one, other))
    else:
        mine, theirs = (float(np.sum(side.hours_of_contact()[MIDDLE])) for side in (one, other))
    alike = abs(mine - theirs) <= ALIKE * max(mine, theirs, 1.0)
    better, worse = (one_name, other_name) if mine > theirs else (other_name, one_name)
    more, less = max(mine, theirs), min(mine, theirs)
    if one.rates is not None:
        if alike:
            return f"{one_name} and {other_name} give the same result: on average {mean_an_hour(more)}."
        return f"On average {better} brings {mean_an_hour(more)}, {worse} {mean_an_hour(less)}."
    if alike:
        apart, most = counted(int(nearest(more - less)), "hour"), int(nearest(more))
        span = "a year" if one.months.size == 12 else f"in {counted(one.months.size, 'month')}"
        return (
            f"{one_name} and {other_name} give the same result: {apart} of contact {span} apart, of {most:,}."
        )
    return (
        f"{better} brings {more:,.0f} hours of contact, {worse} {less:,.0f}: {more - less:,.0f} more in "
        f"{counted(one.months.size, 'month')}."
    )


def events(found: Season) -> list[CalendarEntry]:
    """Slots as entries for a calendar, each on the day that represents its month."""
    entries = []
    for slot in found.slots():
        day = days_of(np.array([slot.month]))[0].astype("datetime64[s]")
        entries.append(
            CalendarEntry(
                start=day + np.timedelta64(slot.start * 3600, "s"),
                end=day + np.timedelta64(slot.end * 3600, "s"),
                summary=f"{found.mode} to {found.target.name}, {band_title(slot.band)}",
                description=f"{slot_words(slot, found)}\nAny day of the month will do; this is its middle.",
            )
        )
    return entries
