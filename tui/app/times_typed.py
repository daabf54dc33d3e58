"""Times and spans of time as people type them, for every field of a form and every option of a command.

A time is a day, a time of day and a clock, in any order that is clear: `saturday 09:00`, `1400z`,
`10:00 local`, `9pm`, `tomorrow after sunset`, `30 min before sunrise`, `in 2 hours`, `now`, or ISO 8601. A
span is two times, a time and a length, or a part of a day: `sat 9-13`, `10:00 to 12:00 local`, `now for 3
hours`, `sunday morning`. A time without a word for its clock is of the clock that is told first
(`quantities.set_clock_face`): UTC, unless the operator has turned it over.
Files hold ISO 8601 alone, which `clock.parse_time` reads.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.geo.locator import Position
from propagation.wording import quantities as say
from tui.app import clock

AT_ONCE: Final = np.timedelta64(0, "s")
HOUR: Final = np.timedelta64(3600, "s")
DAY: Final = np.timedelta64(86400, "s")
LONGEST: Final = 100  # characters of a typed time (ours)
EXAMPLES: Final = (
    "14:00, 1400z, 10:00 local, saturday 09:00, tomorrow after sunset, in 2 hours, 2026-03-20T12:00Z"
)
SPAN_EXAMPLES: Final = (
    "saturday 09:00-13:00, 10:00 to 12:00 local, now for 3 hours, sunday morning, tomorrow after sunset"
)

_NUMBER: Final = r"(\d{1,3}(?:[.,]\d{1,2})?|an?|half an)"
_UNIT: Final = r"(h|hours?|hrs?|m|min|minutes?|d|days?)"
_AHEAD = re.compile(rf"in\s+{_NUMBER}\s*{_UNIT}|\+\s*{_NUMBER}\s*{_UNIT}")
_LENGTH = re.compile(rf"{_NUMBER}\s*{_UNIT}")
_ISO = re.compile(r"\d{4}-\d\d-\d\d(?:t\d\d:\d\d\S*| \d\d:\d\d(?::\d\d)?)")
_COLON = re.compile(r"(\d{1,2})[:.h](\d\d)\s*(am|pm)?")
_FIGURES = re.compile(r"(\d\d)(\d\d)")
_BARE = re.compile(r"(\d{1,2})\s*(am|pm|h)?")
_ZULU = re.compile(r"(.*\d)z")
_SUN = re.compile(rf"(?:{_NUMBER}\s*{_UNIT}\s+)?(?:(at|after|before|from)\s+)?(dawn|sunrise|sunset|dusk)")
_FILLERS: Final = frozenset(("at", "on", "from", "the"))
_CLOCKS: Final = {"z": False, "utc": False, "gmt": False, "local": True}
_WORD: Final = {None: "", False: " utc", True: " local"}
_EVENINGS: Final = ("tonight", "this evening")
_PART = re.compile(r"(?:(.+?)\s+)?(?:in the\s+)?(morning|afternoon)")
_BEGINS_H: Final = {"morning": 6, "afternoon": 12}  # on the local clock (ours)
_PART_H: Final = 6.0  # length of a part of a day (ours)
_SEPARATOR = re.compile(r"\s*(?:\.\.|[-–—])\s*|\s+(?:to|until|till)\s+")
_FOR = re.compile(r"(.*?)\s*\bfor\s+(.+)")
BEFORE: Final = HOUR  # `before sunset` alone begins so long before it (ours)


@dataclass(frozen=True, slots=True)
class Here:
    """The place whose sun and clock a typed time may name."""

    position: Position
    zone: tzinfo


@dataclass(frozen=True, slots=True)
class Span:
    """A typed span: its start [s], UTC, and its length [h]; None where no end was typed."""

    start: np.datetime64
    hours: float | None = None


@dataclass(frozen=True, slots=True)
class _OfDay:
    """A time of day as typed: minutes since midnight, or an event of the sun and the time after it."""

    minutes: int = 0
    event: str = ""
    after: np.timedelta64 = AT_ONCE


def moment(
    text: str, here: Callable[[], Here] | None = None, day: np.datetime64 | None = None
) -> np.datetime64:
    """The time typed [s], UTC. InputError, one sentence, if it is none.

    here: the place, called for `local` and for the sun alone; without it `local` is this machine's zone.
    day: the day (`datetime64[D]`) of a time that names none, instead of today.
    """
    found = _moment(_plain(text), here, day)
    if found is None:
        raise InputError(f"{text[:LONGEST]!r} is not a time; write it as {EXAMPLES}.")
    return _checked(found, text)


def span(text: str, here: Callable[[], Here] | None = None, day: np.datetime64 | None = None) -> Span:
    """The span typed; a time alone begins one without an end. InputError, one sentence, if it is none."""
    found = _span(_plain(text), here, day)
    if found is None:
        raise InputError(f"{text[:LONGEST]!r} is not a time or a span of hours; write it as {SPAN_EXAMPLES}.")
    _checked(found.start, text)
    return found


def length_hours(text: str) -> float | None:
    """The length typed [h], `3 hours`, `90 min`; None if it is none."""
    found = _LENGTH.fullmatch(_plain(text))
    return float(_length(found[1], found[2]) / HOUR) if found else None


def _plain(text: str) -> str:
    return " ".join(text[:LONGEST].lower().split())


def _checked(time: np.datetime64, text: str) -> np.datetime64:
    clock.check_year(int(str(time)[:4]), text)
    return time


def _length(number: str, unit: str) -> np.timedelta64:
    count = {"a": 1.0, "an": 1.0, "half an": 0.5}.get(number) or float(number.replace(",", "."))
    each = {"h": 3600, "m": 60, "d": 86400}[unit[0]]
    return np.timedelta64(round(count * each), "s")


# -- times ----------------------------------------------------------------------------------------------


def _moment(
    text: str, here: Callable[[], Here] | None, day: np.datetime64 | None, bare: bool = False
) -> np.datetime64 | None:
    """The time of a plain text, None if it is none. bare: a figure alone, `9`, is a time of day."""
    if text == "now":
        return clock.now()
    ahead = _AHEAD.fullmatch(text)
    if ahead:
        return clock.now() + _length(ahead[1] or ahead[3], ahead[2] or ahead[4])
    text, local = _clock_named(text, here)
    is_local = _is_local(None, local)
    if _ISO.fullmatch(text):
        wall = clock.parse_time(text.upper())
        return _from_local(wall, here) if local else wall
    whole = _day_named(text, is_local, here) if text not in _EVENINGS else None
    if whole is not None:
        midnight = whole.astype("datetime64[s]")
        return _from_local(midnight, here) if is_local else midnight
    for day_words, hour_words in _splits(text):
        time = _of_day(hour_words, bare or bool(day_words))
        named = None if time is None else _day_named(day_words, _is_local(time, local), here)
        if time is not None and (named is not None or not day_words):
            return _at(named if day_words else day, time, local, here)
    return None


def _clock_named(text: str, here: Callable[[], Here] | None) -> tuple[str, bool | None]:
    """The text without the word for its clock, and whether that is local time; None if there is no word."""
    zulu = _ZULU.fullmatch(text)
    if zulu:
        return zulu[1], False
    rest, _, last = text.rpartition(" ")
    if rest and last in _CLOCKS:
        return rest, _CLOCKS[last]
    if rest and here is not None and re.fullmatch(r"[a-z]{3,5}", last) and not _is_day(last):
        names = {datetime(2026, month, 1, tzinfo=here().zone).tzname() for month in (1, 7)}
        if last.upper() in names:
            return rest, True
    return text, None


def _is_day(word: str) -> bool:
    return any(name.startswith(word) for name in (*clock.WEEKDAYS, *clock.MONTHS, "today", "tomorrow"))


def _splits(text: str) -> Iterator[tuple[str, str]]:
    """The ways to part a text into a day and a time of day, either of them first; first without a day."""
    words = text.split(" ")
    yield "", text
    for at in range(1, len(words)):
        yield " ".join(words[:at]), " ".join(words[at:])
        yield " ".join(words[at:]), " ".join(words[:at])


def _of_day(text: str, bare: bool) -> _OfDay | None:
    """A time of day: `09:00`, `9.30`, `1400z`, `9pm`, `noon`, `after sunset`; with `bare` also `9`."""
    text = _unfilled(text)
    if text in _EVENINGS or text in ("evening", "in the evening"):
        return _OfDay(event="sunset")
    if text == "noon":
        return _OfDay(12 * 60)
    sun = _SUN.fullmatch(text)
    if sun:
        return _by_sun(sun)
    found = _COLON.fullmatch(text)
    if found:
        return _by_clock(int(found[1]), int(found[2]), found[3])
    found = _FIGURES.fullmatch(text)
    if found:
        return _by_clock(int(found[1]), int(found[2]), None)
    found = _BARE.fullmatch(text)
    if found and (bare or found[2]):
        return _by_clock(int(found[1]), 0, found[2] if found[2] != "h" else None)
    return None


def _by_sun(sun: re.Match[str]) -> _OfDay | None:
    length = _length(sun[1], sun[2]) if sun[1] else None
    if length is not None and sun[3] not in ("after", "before"):
        return None
    if sun[3] == "before":
        return _OfDay(event=sun[4], after=-(BEFORE if length is None else length))
    return _OfDay(event=sun[4], after=AT_ONCE if length is None else length)


def _by_clock(hour: int, minute: int, half: str | None) -> _OfDay | None:
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    if minute > 59 or hour > 24 or (hour == 24 and minute):
        return None
    return _OfDay(hour * 60 + minute)


def _is_local(time: _OfDay | None, local: bool | None) -> bool:
    """Return whether a time is of the local clock: by the sun, as named behind it, or as told first."""
    if time is not None and time.event:
        return True
    return say.local_first() if local is None else local


def _day_named(text: str, local: bool, here: Callable[[], Here] | None) -> np.datetime64 | None:
    try:
        return clock.parse_date(_unfilled(text), _today(local, here)) if text else None
    except InputError:
        return None


def _unfilled(text: str) -> str:
    """The text without `at`, `on` and the like before it."""
    words = text.split(" ")
    while len(words) > 1 and words[0] in _FILLERS:
        words = words[1:]
    return " ".join(words)


def _at(
    day: np.datetime64 | None, time: _OfDay, local: bool | None, here: Callable[[], Here] | None
) -> np.datetime64:
    """A time of a day, None for today; for the sun, None is the next such event."""
    if time.event:
        return _sun(day, time, here)
    is_local = _is_local(time, local)
    whole = _today(is_local, here) if day is None else day
    wall = whole.astype("datetime64[s]") + np.timedelta64(time.minutes * 60, "s")
    return _from_local(wall, here) if is_local else wall


def _sun(day: np.datetime64 | None, time: _OfDay, here: Callable[[], Here] | None) -> np.datetime64:
    from propagation.geo.sun import sun_events

    if here is None:
        raise InputError(f"{time.event} needs a place; write a time of day, as 18:00.")
    place = here()
    first = _today(True, here) if day is None else day
    for ahead in range(1 if day is not None else 2):
        events = sun_events(place.position, first + np.timedelta64(ahead, "D"))
        event: np.datetime64 | None = getattr(events, time.event)
        if event is None:
            why = {"day": "the sun is up all day", "night": "the sun stays down all day"}
            told = why.get(events.polar or "", "twilight lasts all night")
            raise InputError(f"There is no {time.event} here on {first} ({told}); write a time, as 18:00.")
        found = event + time.after
        if day is not None or found >= clock.now():
            break
    return found


def days_of(time: np.datetime64, here: Callable[[], Here] | None) -> set[np.datetime64]:
    """The dates (`datetime64[D]`) that a time has, on the clock of UTC and on the local one."""
    local = datetime.fromtimestamp(int(time.astype(np.int64)), UTC).astimezone(_zone(here)).date()
    return {time.astype("datetime64[D]"), np.datetime64(local, "D")}


# -- the local clock ------------------------------------------------------------------------------------


def _today(local: bool, here: Callable[[], Here] | None) -> np.datetime64:
    """Today's date on a clock."""
    if not local:
        return clock.today()
    stamp = datetime.fromtimestamp(int(clock.now().astype(np.int64)), UTC)
    return np.datetime64(stamp.astimezone(_zone(here)).date(), "D")


def _zone(here: Callable[[], Here] | None) -> tzinfo | None:
    """The zone of the place; without a place that told on the screens, else None: the machine's own."""
    if here is not None:
        return here().zone
    return say.clock_face().zone if say.local_first() else None


def _from_local(wall: np.datetime64, here: Callable[[], Here] | None) -> np.datetime64:
    """UTC of a time on the local clock; of a time that occurs twice in a night, the first."""
    naive = wall.astype("datetime64[s]").astype(datetime)
    zone = _zone(here)
    known = naive.replace(tzinfo=zone) if zone is not None else naive.astimezone()
    return np.datetime64(known.astimezone(UTC).replace(tzinfo=None), "s")


# -- spans ----------------------------------------------------------------------------------------------


def _span(text: str, here: Callable[[], Here] | None, day: np.datetime64 | None) -> Span | None:
    found = _FOR.fullmatch(text)
    if found:
        start = _moment(found[1], here, day, bare=True) if found[1] else clock.now()
        length = _LENGTH.fullmatch(found[2])
        if start is None or length is None:
            return None
        return Span(start, float(_length(length[1], length[2]) / HOUR))
    part = _PART.fullmatch(text)
    if part:
        return _part_of_day(part[1] or "today", _BEGINS_H[part[2]], here)
    alone = _moment(text, here, day)
    if alone is not None:
        return Span(alone)
    for separator in reversed(list(_SEPARATOR.finditer(text))):
        both = _ends(text[: separator.start()].strip(), text[separator.end() :].strip(), here, day)
        if both is not None:
            return both
    return None


def _part_of_day(day_words: str, begins_h: int, here: Callable[[], Here] | None) -> Span | None:
    """The morning or afternoon of a day, by the local clock."""
    day = _today(True, here) if day_words == "this" else _day_named(day_words, True, here)
    if day is None:
        return None
    return Span(_from_local(day.astype("datetime64[s]") + begins_h * HOUR, here), _PART_H)


def _ends(first: str, last: str, here: Callable[[], Here] | None, day: np.datetime64 | None) -> Span | None:
    """The span from one typed time to another; a clock named with one of them is of both."""
    first, own = _clock_named(first, here)
    last, theirs = _clock_named(last, here)
    own, theirs = (theirs if own is None else own), (own if theirs is None else theirs)
    if _of_day(first, bare=True) is not None:  # a day behind the end is of both
        last, day = _day_behind(last, _is_local(None, theirs), here) or (last, day)
    start = _moment(f"{first}{_WORD[own]}", here, day, bare=True) if first else None
    time = _of_day(last, bare=True)
    if start is None:
        return None
    end: np.datetime64 | None
    if time is None:  # the end names its own day, or none at all
        end = _moment(f"{last}{_WORD[theirs]}", here, day) if last else None
    elif time.event:
        end = _sun(start.astype("datetime64[D]"), time, here)
        end = end if end > start else end + DAY  # to a minute or two, that of the day after
    else:
        end = _following(start, time.minutes, _is_local(time, theirs), here)
    return Span(start, float((end - start) / HOUR)) if end is not None and end > start else None


def _day_behind(text: str, local: bool, here: Callable[[], Here] | None) -> tuple[str, np.datetime64] | None:
    """A time of day and the day typed behind it, as `13:00 on saturday`; None if there is no such."""
    words = text.split(" ")
    for at in range(1, len(words)):
        named = _day_named(" ".join(words[at:]), local, here)
        if named is not None and _of_day(" ".join(words[:at]), bare=True) is not None:
            return " ".join(words[:at]), named
    return None


def _following(
    start: np.datetime64, minutes: int, local: bool, here: Callable[[], Here] | None
) -> np.datetime64:
    """The first time after `start` at which a clock shows so many minutes since midnight."""
    stamp = datetime.fromtimestamp(int(start.astype(np.int64)), UTC)
    zone = _zone(here)
    whole = np.datetime64((stamp.astimezone(zone) if local else stamp).date(), "D")
    for ahead in range(3):
        wall = (whole + np.timedelta64(ahead, "D")).astype("datetime64[s]") + np.timedelta64(
            minutes * 60, "s"
        )
        end = _from_local(wall, here) if local else wall
        if end > start:
            break
    return end
