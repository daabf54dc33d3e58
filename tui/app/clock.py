"""The clock, and the parser of dates and of times in files; no other module reads the system clock.

`times_typed` reads times as people type them.

Times inside the program are UTC, `numpy.datetime64` in seconds. "Now" can be set: by `--now`, by the
environment variable BANDWHEN_NOW, or in a test by `set_now`.
"""

from __future__ import annotations

import os
import re
from datetime import UTC, date, datetime
from typing import Final

import numpy as np

from propagation.base.errors import InputError

NOW_VARIABLE: Final = "BANDWHEN_NOW"
FIRST_YEAR: Final = 1900  # the magnetic field model begins
LAST_YEAR: Final = 2035  # the magnetic field model ends, with its forecast extrapolated by five years

_fixed: np.datetime64 | None = None

_TIME = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)(?:[T ](\d\d):(\d\d)(?::(\d\d)(?:\.\d+)?)?)?\s*(?:Z|UTC|[+-]00:?00)?",
    re.IGNORECASE,
)
_ISO_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_OFFSET = re.compile(r"([+-])(\d\d):?(\d\d)?$")
_DAY_MONTH = re.compile(
    r"(?:(\d{1,2})\.?\s+([a-z]{3,9})|([a-z]{3,9})\s+(\d{1,2}))(?:,?\s+(\d{4}))?", re.IGNORECASE
)
MOST_DAYS: Final = 60  # days in one range, the same limit as in the search for an appointment
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
    "november", "december",
)  # fmt: skip
_HOUR = re.compile(r"(\d{1,2}):(\d\d)")


def _seconds(time: np.datetime64) -> np.datetime64:
    """A time in whole seconds."""
    found: np.datetime64 = time.astype("datetime64[s]")
    return found


def set_now(time: np.datetime64 | None) -> None:
    """Set the clock to a fixed time; None releases it."""
    global _fixed
    _fixed = None if time is None else _seconds(time)


def now() -> np.datetime64:
    """The present time, UTC, in whole seconds; or the time set by `set_now`."""
    if _fixed is not None:
        return _fixed
    text = os.environ.get(NOW_VARIABLE)
    if text:
        return parse_time(text)
    return np.datetime64(datetime.now(UTC).replace(tzinfo=None, microsecond=0), "s")


def today() -> np.datetime64:
    """The present date, UTC (`datetime64[D]`)."""
    day: np.datetime64 = now().astype("datetime64[D]")
    return day


def parse_time(text: str) -> np.datetime64:
    """Parse an ISO 8601 time, UTC: `2026-03-20T12:00Z`, or `now`; seconds and the Z may be left out.

    A bare date is its midnight; a bare `12:00` is today's. `tomorrow 08:00`, `saturday 08:00` and an ISO
    offset (`2026-03-20T14:00+02:00`) are accepted. `local` after a time applies this machine's own time zone.
    Raises InputError for anything else.
    """
    wanted = text.strip()
    if wanted.lower() == "now":
        return now()
    if wanted.lower().endswith(" local"):
        naive = parse_time(wanted[: -len(" local")]).astype("datetime64[s]").astype(datetime)
        return np.datetime64(naive.astimezone(UTC).replace(tzinfo=None), "s")
    day_words, _, hour_words = wanted.rpartition(" ")
    if day_words and _HOUR.fullmatch(hour_words.rstrip("Zz")) and not _ISO_DAY.fullmatch(day_words):
        return _seconds(parse_date(day_words)) + parse_hour(hour_words)
    offset = _OFFSET.search(wanted)
    if offset is not None and "T" in wanted.upper() and int(offset[2]) <= 14 and int(offset[3] or 0) <= 59:
        span = np.timedelta64(int(offset[2]) * 3600 + int(offset[3] or 0) * 60, "s")
        local = parse_time(wanted[: offset.start()])
        return local - span if offset[1] == "+" else local + span
    hour = _HOUR.fullmatch(wanted.rstrip("Zz"))
    if hour:
        return _seconds(today()) + parse_hour(wanted)
    match = _TIME.fullmatch(wanted)
    if not match:
        raise InputError(f"{text!r} is not a time; write it in UTC as 2026-03-20T12:00Z.")
    parts = [int(part or 0) for part in match.groups()]
    try:
        moment = datetime(*parts)  # type: ignore[arg-type]
    except ValueError as error:
        raise InputError(
            f"{text!r} is not in the calendar ({error}); write it as 2026-03-20T12:00Z."
        ) from None
    check_year(moment.year, text)
    return np.datetime64(moment, "s")


_AHEAD = re.compile(r"in (\d{1,3}) days?")
_WEEKDAY_FIRST = re.compile(rf"(?:{'|'.join(rf'{name[:3]}[a-z]*' for name in WEEKDAYS)}),?\s+(?=\d|[a-z])")
_NEAR: Final = {"yesterday": -1, "today": 0, "now": 0, "tonight": 0, "tomorrow": 1, "in a week": 7}


def parse_date(text: str, here: np.datetime64 | None = None) -> np.datetime64:
    """Parse a date `2026-03-20`, `27 June`, `saturday`, `today`, `in 3 days`, as `datetime64[D]`.

    `next saturday` is a week after `saturday`, the coming one. here: today's date where the day is counted,
    UTC by default. Raises InputError otherwise.
    """
    wanted, first = text.strip().lower(), today() if here is None else here
    ahead = _AHEAD.fullmatch(wanted)
    if wanted in _NEAR or ahead:
        return first + np.timedelta64(int(ahead[1]) if ahead else _NEAR[wanted], "D")
    week, _, name = wanted.partition(" ") if wanted.startswith(("next ", "this ")) else ("", "", wanted)
    named = _named_day(_WEEKDAY_FIRST.sub("", name), first) or _named_day(name, first)
    if named is not None and week == "next":
        return named + np.timedelta64(7, "D")
    if named is not None:
        return named
    try:
        day = date.fromisoformat(wanted)
    except ValueError:
        raise InputError(
            f"{text!r} is not a date; write it as 2026-03-20, 20 March, saturday, today or tomorrow."
        ) from None
    check_year(day.year, text)
    return np.datetime64(day, "D")


def parse_days(text: str) -> tuple[np.datetime64, int | None]:
    """Parse a range of days: the first (`datetime64[D]`) and their number, None if only a first is given.

    `weekend` and `this weekend` are the coming Saturday and Sunday, or the Sunday alone on a Sunday. `next
    weekend` is a week later. `saturday..sunday`, `27 June to 3 July` and `today..friday` name the first and
    the last. Raises InputError otherwise.
    """
    wanted = text.strip().lower()
    if wanted in ("weekend", "this weekend", "next weekend"):
        first = parse_date("saturday")
        count = 2
        if (int(today().astype(np.int64)) + 3) % 7 == 6:  # on a Sunday, only the Sunday is left
            first, count = today(), 1
        if wanted.startswith("next"):
            later = parse_date("saturday") if count == 1 else first + np.timedelta64(7, "D")
            return later, 2
        return first, count
    ends = re.split(r"\s*\.\.\s*|\s+to\s+|\s+until\s+", wanted)
    if len(ends) == 1:
        return parse_date(text), None
    if len(ends) != 2:
        raise InputError(f"{text!r} is not a span of days; write it as saturday..sunday, or this weekend.")
    first, last = parse_date(ends[0]), parse_date(ends[1])
    if len(ends[1]) >= 3 and any(name.startswith(ends[1]) for name in WEEKDAYS):
        last = first + (last - first) % np.timedelta64(7, "D")  # the one after the first
    count = int((last - first).astype(np.int64)) + 1
    if not 1 <= count <= MOST_DAYS:
        raise InputError(f"{text!r} is {count} days; name 1 to {MOST_DAYS}, the first one first.")
    return first, count


def _named_day(wanted: str, here: np.datetime64) -> np.datetime64 | None:
    """The coming day of that name, `saturday` or `sat` (today if it is one); or the coming `27 June`."""
    if len(wanted) >= 3:
        for number, name in enumerate(WEEKDAYS):
            if name.startswith(wanted):
                # day 0 of the calendar of datetime64, 1970-01-01, was a Thursday
                ahead = (number - (int(here.astype(np.int64)) + 3)) % 7
                return here + np.timedelta64(ahead, "D")
    found = _DAY_MONTH.fullmatch(wanted)
    if found is None:
        return None
    day, month = int(found[1] or found[4]), (found[2] or found[3])
    numbers = [n for n, name in enumerate(MONTHS, start=1) if name.startswith(month)]
    if not numbers:
        return None
    year = int(str(here)[:4])
    for candidate in [int(found[5])] if found[5] else [year, year + 1]:
        try:
            one = np.datetime64(date(candidate, numbers[0], day), "D")
        except ValueError:
            continue
        if found[5] or one >= here:
            check_year(candidate, wanted)
            return one
    return None


def parse_hour(text: str) -> np.timedelta64:
    """Parse a time of day `HH:MM` as the span since midnight. Raises InputError otherwise."""
    match = _HOUR.fullmatch(text.strip().rstrip("Zz"))
    if not match or int(match[1]) > 24 or int(match[2]) > 59 or (int(match[1]) == 24 and int(match[2])):
        raise InputError(f"{text!r} is not a time of day; write it in UTC as 07:30.")
    return np.timedelta64(int(match[1]) * 3600 + int(match[2]) * 60, "s")


def check_year(year: int, text: str) -> None:
    """Refuse a year for which there are no maps or no magnetic field: InputError."""
    if not FIRST_YEAR <= year < LAST_YEAR:
        raise InputError(
            f"{text!r} is outside the years {FIRST_YEAR} to {LAST_YEAR - 1} that the maps and the magnetic "
            f"field serve; choose a date inside them."
        )
