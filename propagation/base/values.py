"""Careful ways to read numbers and times that somebody else wrote; None where there is none."""

from __future__ import annotations

import re
from typing import Any

import numpy as np


def counted(number: int, noun: str) -> str:
    """A number with its noun, in the plural where that is due."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def as_number(value: Any) -> float | None:
    """A finite number out of a number or a string of one; anything else is None."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return None
    try:
        number = float(value)
    except (ValueError, OverflowError):
        return None
    return number if np.isfinite(number) else None


def as_time(value: Any) -> np.datetime64 | None:
    """A UTC time out of "2026-08-01T03:00:00Z", "2026-08-01 03:00:00.000", "2026-08-01" or "2026-08"."""
    if not isinstance(value, str) or not re.match(
        r"\d{4}-\d\d(-\d\d([T ]\d\d:\d\d(:\d\d(\.\d*)?)?Z?)?)?$", value
    ):
        return None
    try:
        time = np.datetime64(value.rstrip("Z").split(".")[0].replace(" ", "T"), "s")
    except ValueError:
        return None
    return time if np.datetime64("1700-01-01") < time < np.datetime64("2200-01-01") else None


def within(value: float, limits: tuple[float, float]) -> bool:
    """True inside the limits, both included."""
    return limits[0] <= value <= limits[1]


def age_words(age: np.timedelta64) -> str:
    """An age in words, from minutes to months."""
    minutes = float(age / np.timedelta64(60, "s"))
    if minutes < -10.0:
        return "from the future (check the clock)"
    if minutes < 2.0:
        return "just now"
    for limit, size, name in ((120.0, 1.0, "minutes"), (2880.0, 60.0, "hours"), (129600.0, 1440.0, "days")):
        if minutes < limit:
            return f"{minutes / size:.0f} {name} old"
    return f"{minutes / 43830.0:.0f} months old"
