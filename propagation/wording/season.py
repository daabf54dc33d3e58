"""Season in words: its best slots on both clocks, the solar cycle's uncertainty, and two sides compared."""

from __future__ import annotations

from calendar import monthrange
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

import numpy as np

from propagation.advice.calendar import CalendarEntry
from propagation.advice.season import HIGH, HOURS, LOW, MIDDLE, days_of
from propagation.wording.quantities import (
    band_title,
    counted,
    days,
    first_few,
    mean_an_hour,
    nearest,
    promised,
    rate_figure,
    watts,
)

if TYPE_CHECKING:
    from propagation.advice.rates import Prospect
    from propagation.advice.season import Season, SeasonSlot
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


def hour_span(start: int, end: int) -> str:
    """Hours of a slot, `14:00 to 16:00`."""
    return f"{start % HOURS:02d}:00 to {end % HOURS:02d}:00"


def slot_words(slot: SeasonSlot, found: Season) -> str:
    """One slot: month, band, hours on both ends' clocks, what it promises, and a change of clocks then."""
    text = (
        f"{month_title(slot.month)}, {band_title(slot.band)}, {hour_span(slot.start, slot.end)} UTC"
        f"{_clocks(slot, found)}: {promised(slot.mean)}"
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
    """One hour of a month (index): its best band, what it promises, and who is asleep."""
    when = f"{month_title(found.months[month])}, {hour_span(hour, hour + 1)} UTC"
    if not found.bands:
        return when
    band = int(found.best_band[month, hour])
    low, middle, high = (found.at(month, hour, band, prediction) for prediction in (LOW, MIDDLE, HIGH))
    few = f"; {first_few(middle.wanted, 60, middle.chance)}" if middle.rate is not None else ""
    asleep = "" if found.suits[month, hour] else f"; {_asleep(found)}"
    name = band_title(found.bands[band].name)
    return f"{when}: {name}, {promised(middle)}{few}{sun_words(low, middle, high)}{asleep}."


def _asleep(found: Season) -> str:
    return "you are asleep" if found.far is None else "one of the two is asleep"


def best_of_month(found: Season, month: int) -> str:
    """Best waking hour of a month (index) and its band."""
    best = np.where(found.suits[month], found.of_best(found.worth)[MIDDLE, month], 0.0)
    hour = int(np.argmax(best))
    band = int(found.best_band[month, hour])
    told = promised(found.at(month, hour, band))
    name = band_title(found.bands[band].name)
    return f"{month_title(found.months[month])}: best about {hour:02d}:00 UTC on {name}, {told}."


def _clocks(slot: SeasonSlot, found: Season) -> str:
    """Hours of the slot on both ends' clocks, where these are not UTC."""
    parties = [("here", found.home)] + ([("there", found.far)] if found.far is not None else [])
    told = []
    for where, party in parties:
        begin, end = (_on_clock(party, slot.month, hour) for hour in (slot.start, slot.end))
        if begin != f"{slot.start % HOURS:02d}:00":
            told.append(f"{begin} to {end} {where}")
    return f" ({', '.join(told)})" if told else ""


def _on_clock(party: Party, month: np.datetime64, hour: int) -> str:
    day = days_of(np.array([month]))[0].astype("datetime64[s]")
    return f"{party.local(day + np.timedelta64(hour * 3600, 's')):%H:%M}"


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
    """Reason why a season has no slot."""
    if not found.bands:
        return f"There is no band that licence and antenna allow for {found.mode}."
    if not found.suits.any():
        return "The two ends are never awake at the same time."
    best = np.where(found.suits, found.of_best(found.worth)[MIDDLE], -1.0)
    month, hour = (int(i) for i in np.unravel_index(int(np.argmax(best)), best.shape))
    told = promised(found.at(month, hour, int(found.best_band[month, hour])))
    who = f"{found.mode} and {watts(found.power_w)}"
    return f"No hour of these months is likely enough with {who}: at best {told}."


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


def hours_words(hours: FloatArray) -> str:
    """Hours of contact over all months, middle and span: `some 320 hours (250 to 360)`."""
    low, middle, high = (nearest(float(h)) for h in np.sum(hours, axis=1))
    if low == high == middle:
        return f"some {counted(int(middle), 'hour')}"
    return f"some {counted(int(middle), 'hour')} ({low:.0f} to {high:.0f})"


def contact_sentence(found: Season) -> str:
    """Amount of contact in the season."""
    if found.rates is not None:
        mean = np.mean(found.mean_per_hour(), axis=1).tolist()
        low, high = rate_figure(mean[LOW]), rate_figure(mean[HIGH])
        span = f" ({low} with low solar activity, {high} with high)" if low != high else ""
        return f"Mean of the waking hours, on the best band: {mean_an_hour(mean[MIDDLE])}{span}."
    return (
        f"Of the hours at which both are awake, {hours_words(found.hours_of_contact())} of contact in "
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
