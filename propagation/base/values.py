"""Careful ways to read numbers and times that somebody else wrote; None where there is none."""

from __future__ import annotations

import math
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
    return number if math.isfinite(number) else None


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
