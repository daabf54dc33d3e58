"""The clock, and the reading of dates and times: the one place that knows what time it is.

Times inside the program are UTC, `numpy.datetime64` in seconds. "Now" can be set: by `--now`, by the
environment variable BANDWHEN_NOW, or in a test by `set_now`.
"""

from __future__ import annotations

import os
import re
from datetime import UTC, date, datetime
from typing import Final, cast

import numpy as np

from propagation.base.errors import InputError

NOW_VARIABLE: Final = "BANDWHEN_NOW"
FIRST_YEAR: Final = 1900  # the magnetic field model begins
LAST_YEAR: Final = 2035  # the magnetic field model ends, with its forecast stretched by five years

_fixed: np.datetime64 | None = None

_TIME = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)(?:[T ](\d\d):(\d\d)(?::(\d\d)(?:\.\d+)?)?)?\s*(?:Z|UTC|[+-]00:?00)?",
    re.IGNORECASE,
)
_HOUR = re.compile(r"(\d{1,2}):(\d\d)")


def set_now(time: np.datetime64 | None) -> None:
    """Hold the clock at a time; None lets it run."""
    global _fixed
    _fixed = None if time is None else cast(np.datetime64, time.astype("datetime64[s]"))


def now() -> np.datetime64:
    """The present time, UTC, in whole seconds; or the one that was set."""
    if _fixed is not None:
        return _fixed
    text = os.environ.get(NOW_VARIABLE)
    if text:
        return parse_time(text)
    return np.datetime64(datetime.now(UTC).replace(tzinfo=None, microsecond=0), "s")


def today() -> np.datetime64:
    """The present date, UTC (`datetime64[D]`)."""
    return cast(np.datetime64, now().astype("datetime64[D]"))


def parse_time(text: str) -> np.datetime64:
    """A time as written by ISO 8601, UTC: `2026-03-20T12:00Z`; seconds and the Z may be left out, and `now`.

    A bare date is its midnight; a bare `12:00` is today's. Raises InputError for anything else.
    """
    wanted = text.strip()
    if wanted.lower() == "now":
        return now()
    hour = _HOUR.fullmatch(wanted.rstrip("Zz"))
    if hour:
        return cast(np.datetime64, today().astype("datetime64[s]") + parse_hour(wanted))
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
    _check_year(moment.year, text)
    return np.datetime64(moment, "s")


def parse_date(text: str) -> np.datetime64:
    """A date `2026-03-20`, or `today` or `tomorrow`, as `datetime64[D]`. Raises InputError otherwise."""
    wanted = text.strip().lower()
    if wanted in ("today", "now"):
        return today()
    if wanted == "tomorrow":
        return today() + np.timedelta64(1, "D")
    try:
        day = date.fromisoformat(wanted)
    except ValueError:
        raise InputError(f"{text!r} is not a date; write it as 2026-03-20.") from None
    _check_year(day.year, text)
    return np.datetime64(day, "D")


def parse_hour(text: str) -> np.timedelta64:
    """A time of day `HH:MM` as the span since midnight. Raises InputError otherwise."""
    match = _HOUR.fullmatch(text.strip().rstrip("Zz"))
    if not match or int(match[1]) > 24 or int(match[2]) > 59 or (int(match[1]) == 24 and int(match[2])):
        raise InputError(f"{text!r} is not a time of day; write it in UTC as 07:30.")
    return np.timedelta64(int(match[1]) * 3600 + int(match[2]) * 60, "s")


def _check_year(year: int, text: str) -> None:
    if not FIRST_YEAR <= year < LAST_YEAR:
        raise InputError(
            f"{text!r} is outside the years {FIRST_YEAR} to {LAST_YEAR - 1} that the maps and the magnetic "
            f"field serve; choose a date inside them."
        )
