"""One typed line as a contact: `ZS0ABC 599 579 40m 0912 first one today`, its parts in any order.

A part is recognised by its form: call sign, reports, band or frequency in MHz, time, locator, reference.
`name Thandi` and `note ...` name their part. Of what is left, one word with a capital letter, or one that a
comma ends, is the name, and the rest is the note. A part given twice is refused before the first word of the
note; after it, it belongs to the note.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.logbook import references
from propagation.logbook.journal import CALL, MOST_TEXT, USUAL, report
from propagation.spectrum.bands import BAND_NAMES, band_of, by_name

EXAMPLE: Final = "ZS1TEST 57 59 40m 0912 Thandi, first one today"
NOTE_FIRST: Final = "write `note` before what belongs to the note"
_SPLIT_BAND: Final = re.compile(r"(?<!\S)(\d{1,3})\s+m(?!\S)", re.IGNORECASE)
_BAND: Final = re.compile(r"\d{1,3}m|\d{1,3}cm", re.IGNORECASE)
_MHZ: Final = re.compile(r"\d{1,3}\.\d{2,6}(?:mhz)?", re.IGNORECASE)
_TIME: Final = re.compile(r"\d{4}z?|\d{1,2}:\d{2}z?", re.IGNORECASE)
_REPORT: Final = re.compile(r"\d[\dNTA]{1,2}|[+-]\d{1,2}", re.IGNORECASE)
_PLUS: Final = re.compile(r"([1-5]9)\+\d{1,2}(?:db)?", re.IGNORECASE)
_LOCATOR: Final = re.compile(r"[A-R]{2}\d{2}(?:[A-X]{2}(?:\d{2})?)?", re.IGNORECASE)
_FIGURES: Final = re.compile(r"[+-]?\d+")
_QUANTITY: Final = re.compile(
    r"\d+[a-z]+", re.IGNORECASE
)  # `100w`: no call sign is figures, then letters alone
_CLOCKS: Final = ("local", "utc")


@dataclass(frozen=True)
class Typed:
    """Contact as typed. Empty or None: not typed."""

    call: str
    sent: str
    received: str
    band: str = ""
    frequency_mhz: float | None = None
    time: np.datetime64 | None = None
    name: str = ""
    locator: str = ""
    reference: str = ""
    note: str = ""


@dataclass
class _Parts:
    """Parts found so far, and the words left for the name and the note."""

    found: dict[str, str] = field(default_factory=dict)
    reports: list[str] = field(default_factory=list)
    calls: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)

    def take(self, kind: str, said: str, text: str) -> None:
        """Take a part once; later it is a word of the note, or refused."""
        if kind not in self.found:
            self.found[kind] = text
        elif self.words:
            self.words.append(text)
        else:
            raise InputError(f"There are two {said}, {self.found[kind]} and {text}; {NOTE_FIRST}.")


def understood(text: str, mode: str, moment: Callable[[str], np.datetime64]) -> Typed:
    """The contact of a line. moment: the time typed, `0912` or `0912 local`, as UTC.

    Missing reports are the usual ones of the mode. InputError, one sentence, with what to write instead.
    """
    line, _, note = re.sub(r"(?i)(^|\s)note:?\s", "\0", _SPLIT_BAND.sub(r"\1m", text), count=1).partition(
        "\0"
    )
    parts = _Parts()
    tokens = line.split()
    while tokens:
        _sort(tokens, parts)
    call, locator = _call_and_locator(parts)
    reports = [*parts.reports, *(USUAL[mode],) * 2][:2]
    name, words = _name(parts)
    told = " ".join([*words, *note.split()])
    for what, said in ((told, "note"), (name, "name")):
        size = len(what.encode("utf-8", errors="replace"))
        if size > MOST_TEXT:
            raise InputError(f"The {said} has {size} bytes and {MOST_TEXT} fit; shorten it.")
    band, frequency_mhz = _band(parts)
    return Typed(
        call,
        reports[0],
        reports[1],
        band,
        frequency_mhz,
        moment(parts.found["time"]) if "time" in parts.found else None,
        name,
        locator,
        parts.found.get("reference", "").upper(),
        told,
    )


def _sort(tokens: list[str], parts: _Parts) -> None:
    """Take the first of the words left, and the next one where it belongs to it."""
    token = tokens.pop(0)
    plain = token.rstrip(",;")
    if plain.lower().rstrip(":") == "name" and tokens and "name" not in parts.found:
        parts.found["name"] = tokens.pop(0).rstrip(",;")
    elif _BAND.fullmatch(plain) and (plain.lower() in BAND_NAMES or not parts.words):
        parts.take("band", "bands", by_name(plain).name)
    elif _MHZ.fullmatch(plain):
        parts.take("mhz", "frequencies", plain)
    elif _is_time(plain):
        clock = f" {tokens.pop(0)}" if tokens and tokens[0].lower() in _CLOCKS else ""
        parts.take("time", "times", plain + clock)
    elif _REPORT.fullmatch(plain) or _PLUS.fullmatch(plain):
        _report(plain, parts)
    elif references.field_of(plain):
        parts.take("reference", "references", plain)
    elif (CALL.fullmatch(plain.upper()) and not _QUANTITY.fullmatch(plain)) or _LOCATOR.fullmatch(plain):
        _call(plain.upper(), parts)
    elif _FIGURES.fullmatch(plain) and not parts.words:
        raise InputError(f"{token[:20]!r} is not a report, a time or a band; {NOTE_FIRST}.")
    else:
        parts.words.append(token)


def _is_time(text: str) -> bool:
    if not _TIME.fullmatch(text):
        return False
    hour, minute = divmod(int(re.sub(r"\D", "", text)), 100)
    return hour < 24 and minute < 60


def _report(text: str, parts: _Parts) -> None:
    if len(parts.reports) < 2 and not (parts.words and _is_no_report(text)):
        parts.reports.append(text.lower().removesuffix("db") if _PLUS.fullmatch(text) else report(text))
    elif parts.words:
        parts.words.append(text)
    else:
        raise InputError("There are three reports; write the one sent, then the one received.")


def _is_no_report(text: str) -> bool:
    try:
        return not (_PLUS.fullmatch(text) or report(text))
    except InputError:
        return True


def _call(text: str, parts: _Parts) -> None:
    """Take a call sign or a locator; which of two is which is decided at the end."""
    kinds = [bool(_LOCATOR.fullmatch(one)) for one in (*parts.calls, text)]
    if len(kinds) <= 2 and kinds.count(False) <= 1:
        parts.calls.append(text)
    elif parts.words:
        parts.words.append(text)
    else:
        raise InputError(f"There are two call signs, {parts.calls[0]} and {text}; {NOTE_FIRST}.")


def _call_and_locator(parts: _Parts) -> tuple[str, str]:
    """The call, and the locator: of two words that could be either, the first is the call."""
    calls = [one for one in parts.calls if not _LOCATOR.fullmatch(one)]
    either = [one for one in parts.calls if _LOCATOR.fullmatch(one)]
    if not calls and either and CALL.fullmatch(either[0]):
        calls.append(either.pop(0))
    if not calls:
        raise InputError(f"There is no call sign in it; write {EXAMPLE}, in any order.")
    if len(either) > 1:
        raise InputError(f"There are two locators, {either[0]} and {either[1]}; write one.")
    return calls[0], either[0] if either else ""


def _name(parts: _Parts) -> tuple[str, list[str]]:
    words = parts.words
    if "name" in parts.found:
        return parts.found["name"], words
    if words and (words[0].endswith(",") or (len(words) == 1 and words[0].istitle())):
        return words[0].rstrip(","), words[1:]
    return "", words


def _band(parts: _Parts) -> tuple[str, float | None]:
    band, typed = parts.found.get("band", ""), parts.found.get("mhz", "")
    if not typed:
        return band, None
    frequency_mhz = float(typed.lower().removesuffix("mhz"))
    inside = band_of(frequency_mhz)
    if inside is None:
        raise InputError(f"{typed} MHz is in no amateur band; write it as 7.032, or the band as 40m.")
    if band and by_name(band).name != inside.name:
        raise InputError(f"{typed} MHz is not on {band}; write one of the two.")
    return inside.name, frequency_mhz
