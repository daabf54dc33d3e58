"""Parsers of prompts and forms: numbers with a range, hours, files; and the time grid of the cursor."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np

from propagation.base.errors import BandwhenError, InputError


def grid(when: np.datetime64) -> np.datetime64:
    """The start of the ten minutes that contain a time."""
    seconds = int(when.astype("datetime64[s]").astype(np.int64))
    return np.datetime64(seconds - seconds % 600, "s")


def fault(read: Callable[[], object]) -> str:
    """The sentence of an error, or an empty text."""
    try:
        read()
    except BandwhenError as error:
        return error.message
    return ""


def labelled(label: str, sentence: str) -> str:
    """An error sentence that begins with the label of its entry; empty if there is no error."""
    return f"{label}: {sentence}" if sentence else ""


_FIGURE = re.compile(r"\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([a-zµΩ%]*)\.?\s*", re.IGNORECASE)
UNITS: dict[str, tuple[str, ...]] = {
    "W": ("w", "watt", "watts"), "h": ("h", "hour", "hours", "hrs"), "hours": ("h", "hour", "hours", "hrs"),
    "m": ("m", "metre", "metres", "meter", "meters"), "mm": ("mm",), "MHz": ("mhz",), "kHz": ("khz",),
    "%": ("%",), "dB": ("db",), "deg": ("deg", "degrees"),
    "uH": ("uh", "µh"), "pF": ("pf",), "ohm": ("ohm", "ohms", "ω"),
}  # fmt: skip


def figure(text: str, unit: str = "") -> float:
    """The number in the typed text, with or without its unit: `5.6 m`, `4 h`, `5W`, `14,060`. NaN if there is
    none, or if another unit follows it.
    """
    found = _FIGURE.fullmatch(text)
    if found is None:
        return float("nan")
    behind = found[2].lower()
    fits = not behind or behind in UNITS.get(unit, (unit.lower(),))
    return float(found[1].replace(",", ".")) if fits else float("nan")


def number(text: str, low: float, high: float, what: str, unit: str = "") -> float:
    value = figure(text, unit)
    if not low <= value <= high:
        raise InputError(f"{what} {text!r} is not a number from {low:g} to {high:g}.")
    return value


def power(text: str) -> float:
    return number(text, 0.001, 3000.0, "Power", "W")


def hours(text: str) -> float:
    return number(text, 0.5, 24.0, "Hours", "h")


def files(prefix: str) -> list[str]:
    """Files and folders that begin with a path."""
    path = Path(prefix or ".").expanduser()
    folder = path if prefix.endswith(os.sep) or not prefix else path.parent
    try:
        found = sorted(
            entry
            for entry in folder.iterdir()
            if (entry.is_dir() or entry.suffix.lower() == ".s1p") and not entry.name.startswith(".")
        )
    except OSError:
        return []
    names = [f"{entry}{os.sep}" if entry.is_dir() else str(entry) for entry in found]
    return [name for name in names if not prefix or name.lower().startswith(str(path).lower())][:8]
