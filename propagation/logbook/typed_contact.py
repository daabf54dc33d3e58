"""One typed line as a contact: `ZS0ABC 599 579 40m 0912 first one today`, its parts in any order.

A part is recognised by its form: call sign, reports, band or frequency in MHz or kHz, time, locator,
reference; brackets and quotation marks around it do not count. `name Thandi` and `note ...` name their part.
Of what is left, one word with a capital letter, or one that a comma ends, is the name, and the rest is the
note. A part given twice is refused before the first word of the note; after it, it belongs to the note. What
could be meant otherwise is a doubt, told before the contact is written.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from propagation.base.errors import InputError
from propagation.base.text import one_line
from propagation.logbook import references
from propagation.logbook.journal import CALL, MOST_TEXT, USUAL, report
from propagation.spectrum.bands import BAND_NAMES, band_of, by_name

EXAMPLE: Final = "ZS1TEST 57 59 40m 0912 Thandi, first one today"
NOTE_FIRST: Final = "write `note` before what belongs to the note"
_METRES: Final = re.compile(r"\d{1,3}")
_BAND: Final = re.compile(r"\d{1,3}m|\d{1,3}cm", re.IGNORECASE)
_MHZ: Final = re.compile(r"\d{1,3}\.\d{1,6}(?:mhz)?", re.IGNORECASE)
_KHZ: Final = re.compile(r"\d{4,6}(?:\.\d{1,3})?(?:khz)?", re.IGNORECASE)
_CLOCK: Final = re.compile(r"\d{1,2}:\d{1,2}z?", re.IGNORECASE)  # a time, or meant as one
_TIME: Final = re.compile(r"\d{4}z?|\d{1,2}:\d{2}z?", re.IGNORECASE)
_REPORT: Final = re.compile(r"\d[\dNTA]{1,2}|R?[+-]\d{1,2}", re.IGNORECASE)
_BOTH: Final = re.compile(r"([1-5][1-9NA][1-9NA]?)[/-]([1-5][1-9NA][1-9NA]?)", re.IGNORECASE)  # 599/579
_FAINT: Final = ("1", "2")  # readability below which a number after the first word is no report (ours)
_PLUS: Final = re.compile(r"([1-5]9)\+\d{1,2}(?:db)?", re.IGNORECASE)
_LOCATOR: Final = re.compile(r"[A-R]{2}\d{2}(?:[A-X]{2}(?:\d{2})?)?", re.IGNORECASE)
_FIGURES: Final = re.compile(r"[+-]?\d+")
_QUANTITY: Final = re.compile(
    r"\d+[a-z]+", re.IGNORECASE
)  # `100w`: no call sign is figures, then letters alone
_CLOCKS: Final = ("local", "utc")
_AROUND: Final = "()[]{}<>\"'\N{LEFT DOUBLE QUOTATION MARK}\N{RIGHT DOUBLE QUOTATION MARK}"
Doubt = Literal["band", "time", "locator", "call", "reports", "received"]


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
    doubts: tuple[tuple[Doubt, str], ...] = field(default=(), compare=False)  # (what, as typed)


@dataclass
class _Parts:
    """Parts found so far, and the words left for the name and the note."""

    found: dict[str, str] = field(default_factory=dict)
    reports: list[str] = field(default_factory=list)
    calls: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    doubts: list[tuple[Doubt, str]] = field(default_factory=list)

    def take(self, kind: str, said: str, text: str) -> None:
        """Take a part once; later it is a word of the note, or refused. The same again counts once."""
        if self.found.setdefault(kind, text).lower() == text.lower():
            return
        if self.words:
            self.words.append(text)
        else:
            raise InputError(f"There are two {said}, {self.found[kind]} and {text}; {NOTE_FIRST}.")


def understood(text: str, mode: str, moment: Callable[[str], np.datetime64]) -> Typed:
    """The contact of a line. moment: the time typed, `0912` or `0912 local`, as UTC.

    Missing reports are the usual ones of the mode. InputError, one sentence, with what to write instead.
    """
    marked = re.sub(r"(?i)(^|\s)note(?:[:,;]\s*|\s|$)", "\0", _plain(text), count=1)
    line, _, note = marked.partition("\0")
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
        _doubts(parts, call),
    )


def _plain(text: str) -> str:
    """The text with figures of any script as ASCII figures, and without characters that steer a terminal."""
    signs = (str(unicodedata.decimal(sign)) if sign.isdecimal() else sign for sign in text)
    return one_line("".join(signs).replace("\0", " "))


def _doubts(parts: _Parts, call: str) -> tuple[tuple[Doubt, str], ...]:
    """What could be meant otherwise, or was not typed."""
    found = list(parts.doubts)
    time = parts.found.get("time", "")
    if (
        len(time) == 4
        and time.isdecimal()
        and not {"band", "mhz"} & set(parts.found)
        and band_of(int(time) / 1000.0)
    ):
        found.append(("time", time))
    if _LOCATOR.fullmatch(call):
        found.append(("locator", call))
    elif not max(call.split("/"), key=len)[-1:].isalpha():
        found.append(("call", call))
    if len(parts.reports) < 2:
        found.append(("received" if parts.reports else "reports", ""))
    return tuple(found)


def _sort(tokens: list[str], parts: _Parts) -> None:
    """Take the first of the words left, and the next one where it belongs to it."""
    token = tokens.pop(0)
    plain = token.strip(_AROUND + ",;") or token
    metres = _METRES.fullmatch(plain) and tokens and tokens[0].rstrip(",;").lower() == "m"
    if metres and (f"{plain}m" in BAND_NAMES or not parts.words):
        tokens.pop(0)
        if parts.words and "band" not in parts.found:
            parts.doubts.append(("band", plain))
        plain = token = f"{plain}m"
    both = _BOTH.fullmatch(plain)
    if plain.lower() == "at" and not parts.words and tokens and _is_time(tokens[0].strip(_AROUND + ",;")):
        return
    if plain.lower().rstrip(":") == "name" and tokens and "name" not in parts.found:
        parts.found["name"] = tokens.pop(0).strip(_AROUND + ",;")
    elif _BAND.fullmatch(plain) and (plain.lower() in BAND_NAMES or not parts.words):
        parts.take("band", "bands", by_name(plain).name)
    elif _is_frequency(plain, parts):
        parts.take("mhz", "frequencies", plain)
    elif both and not parts.reports:
        _report(both[1], parts)
        _report(both[2], parts)
    elif _is_time(plain):
        clock = f" {tokens.pop(0)}" if tokens and tokens[0].lower() in _CLOCKS else ""
        parts.take("time", "times", plain + clock)
    elif _REPORT.fullmatch(plain) or _PLUS.fullmatch(plain):
        _report(plain, parts)
    elif references.field_of(plain):
        parts.take("reference", "references", plain)
    elif (CALL.fullmatch(plain.upper()) and not _QUANTITY.fullmatch(plain)) or _LOCATOR.fullmatch(plain):
        _call(plain.upper(), token, parts)
    elif (_FIGURES.fullmatch(plain) or _CLOCK.fullmatch(plain)) and not parts.words:
        raise InputError(f"{token[:20]!r} is not a report, a time or a band; {NOTE_FIRST}.")
    else:
        parts.words.append(token)


def _is_frequency(text: str, parts: _Parts) -> bool:
    """Return whether a number is a frequency; after the first word, only one on a band, in MHz and exact."""
    if _MHZ.fullmatch(text):
        figures = text.lower().removesuffix("mhz").partition(".")[2]
        return not parts.words or (len(figures) > 1 and band_of(_mhz(text)) is not None)
    return (
        bool(_KHZ.fullmatch(text)) and not (parts.words or _is_time(text)) and band_of(_mhz(text)) is not None
    )


def _mhz(text: str) -> float:
    """A frequency as typed [MHz]: from four figures before the point on, it is in kHz."""
    number = float(re.sub(r"[a-z]", "", text.lower()))
    return number / 1000.0 if number >= 1000.0 else number


def _is_time(text: str) -> bool:
    if not _TIME.fullmatch(text):
        return False
    hour, minute = divmod(int(re.sub(r"\D", "", text)), 100)
    return hour < 24 and minute < 60


def _report(text: str, parts: _Parts) -> None:
    text = text.lstrip("Rr")
    if len(parts.reports) < 2 and not (parts.words and _is_no_report(text)):
        parts.reports.append(text.lower().removesuffix("db") if _PLUS.fullmatch(text) else _as_report(text))
    elif parts.words:
        parts.words.append(text)
    else:
        raise InputError("There are three reports; write the one sent, then the one received.")


def _as_report(text: str) -> str:
    """A report as recorded; InputError where it is none, naming the band that it may be."""
    try:
        return report(text)
    except InputError as error:
        if f"{text}m" in BAND_NAMES:
            raise InputError(f"{text!r} is not a report; the band is written {text}m.") from error
        raise


def _is_no_report(text: str) -> bool:
    """Return whether a number after the first word of the note is not a report."""
    if text.startswith(_FAINT):
        return True
    try:
        return not (_PLUS.fullmatch(text) or report(text))
    except InputError:
        return True


def _call(text: str, token: str, parts: _Parts) -> None:
    """Take a call sign or a locator; which of two is which is decided at the end."""
    if text in parts.calls:
        return
    kinds = [bool(_LOCATOR.fullmatch(one)) for one in (*parts.calls, text)]
    if len(kinds) <= 2 and kinds.count(False) <= 1:
        parts.calls.append(text)
    elif parts.words:
        parts.words.append(token)
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
    first = words[0].strip(_AROUND + ",;") if words else ""
    if first and (words[0].endswith((",", ";")) or (len(words) == 1 and first.istitle())):
        return first, words[1:]
    return "", words


def _band(parts: _Parts) -> tuple[str, float | None]:
    band, typed = parts.found.get("band", ""), parts.found.get("mhz", "")
    if not typed:
        return band, None
    frequency_mhz = _mhz(typed)
    inside = band_of(frequency_mhz)
    if inside is None:
        raise InputError(f"{typed} MHz is in no amateur band; write it as 7.032, or the band as 40m.")
    if band and by_name(band).name != inside.name:
        raise InputError(f"{typed} MHz is not on {band}; write one of the two.")
    return inside.name, frequency_mhz
