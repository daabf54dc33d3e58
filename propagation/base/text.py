"""Text that is safe to show and to write, and numbers and times read from untrusted text.

Shown text: a visible sign replaces characters that would control a terminal, change the direction of writing
or be run by a spreadsheet. Control characters: C0 and C1 sets and DEL (ISO/IEC 6429); direction: the marks,
embeddings and isolates of the Unicode Bidirectional Algorithm (UAX 9). Lone surrogates, which no file can
contain, are replaced too.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Any, Final

import numpy as np

SIGN: Final = "\N{MIDDLE DOT}"  # replaces a character that is not shown, everywhere in this program
_STEERING: Final = (
    "\x00-\x08\x0b-\x1f\x7f-\x9f"  # control characters except tab and line feed
    "\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff"
)
_HIDDEN: Final = re.compile(f"[{_STEERING}]")
# What is drawn as nothing: formats (category Cf: zero width, soft hyphen, tags, direction) are found by their
# category; these are the other ones (Unicode, Default_Ignorable_Code_Point, from memory).
_NO_WIDTH: Final = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2060-\u206f\u3164\ufe00-\ufe0f\uffa0\ufff0-\ufff8\U000e0000-\U000e0fff]"
)
MOST_MARKS: Final = 2  # accents on one letter, as Vietnamese has them (ours)
_BREAKS: Final = re.compile(r"\s*[\t\n]+\s*")
_RUN_BY_SPREADSHEETS: Final = "=+-@\t\r"
_NUMBERS: Final = re.compile(r"[-+][\d.,: eE+-]*")  # a number, a pair of coordinates, an offset: harmless


def shown(text: str) -> str:
    """Return the text with a sign for every control or direction character; line feeds and tabs stay."""
    return text if text.isascii() and text.isprintable() else _HIDDEN.sub(SIGN, text)


def one_line(text: str) -> str:
    """Return the text as `shown`, with line feeds and tabs as blanks: for a name within a sentence."""
    return shown(_BREAKS.sub(" ", text) if not text.isprintable() else text)


def visible_name(text: str) -> str:
    """A name as it is seen: composed (NFC), nothing without width, `MOST_MARKS` marks on a letter at most.

    The result is its own visible name. Steering characters with a category of their own stay, for `shown`.
    """
    if text.isascii():
        return text
    kept = "".join(sign for sign in _NO_WIDTH.sub("", text) if unicodedata.category(sign) != "Cf")
    signs: list[str] = []
    marks = 0
    for sign in unicodedata.normalize("NFD", kept):
        marks = marks + 1 if unicodedata.category(sign) in ("Mn", "Me") else 0
        if marks <= MOST_MARKS:
            signs.append(sign)
    return unicodedata.normalize("NFC", "".join(signs))


def in_json(text: str) -> str:
    """Return JSON with control and direction characters in its strings as escapes, so nothing is lost."""
    return text if text.isascii() else _HIDDEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def text_cell(text: str) -> str:
    """Text cell of a CSV file: as `shown`, with an apostrophe before text that a spreadsheet would run."""
    plain = shown(text)
    if text[:1] in _RUN_BY_SPREADSHEETS and text and not _NUMBERS.fullmatch(text):
        return f"'{plain}"
    return plain


def counted(number: int, noun: str) -> str:
    """Number with its noun, in the plural where needed."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def as_number(value: Any) -> float | None:
    """Convert a number or its text to a finite number; None for anything else."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return None
    try:
        number = float(value)
    except (ValueError, OverflowError):
        return None
    return number if np.isfinite(number) else None


def as_time(value: Any) -> np.datetime64 | None:
    """Convert to a UTC time: "2026-08-01T03:00:00Z", "2026-08-01 03:00:00.000", "2026-08-01" or "2026-08"."""
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
    """Return whether a value is inside the limits, both included."""
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
