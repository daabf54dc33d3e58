"""Appointments as an iCalendar file (RFC 5545), written without a library.

Times are UTC, so no time zone definitions are needed; every calendar shows them in its owner's zone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Final

import numpy as np

from propagation.base.text import shown

PRODUCT: Final = "-//bandwhen//plan//EN"
CALENDAR_MARK: Final = f"PRODID:{PRODUCT}".encode()  # identifies a calendar written by this program
FOLD_OCTETS: Final = 75  # longest line without its line break (RFC 5545 section 3.1)


@dataclass(frozen=True)
class CalendarEntry:
    """One entry: `start` and `end` in UTC; `place` may be empty; `alarm_min`: minutes before at which to
    remind.
    """

    start: np.datetime64
    end: np.datetime64
    summary: str
    description: str = ""
    place: str = ""
    alarm_min: int | None = None

    @property
    def uid(self) -> str:
        """Identifier; the same time and summary give the same one, so that a second import makes no
        duplicates.
        """
        text = f"{_stamp(self.start)} {_stamp(self.end)} {self.summary}"
        return f"{sha256(text.encode()).hexdigest()[:32]}@bandwhen"


def calendar_text(events: Sequence[CalendarEntry], written: np.datetime64, name: str = "") -> str:
    """Text of the calendar of some entries; lines end with CR LF as the RFC requires.

    written: time at which it is made (UTC).
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"]
    if name:
        lines.append(f"X-WR-CALNAME:{_escaped(name)}")
    for event in events:
        lines += ["BEGIN:VEVENT", f"UID:{event.uid}", f"DTSTAMP:{_stamp(written)}"]
        lines += [f"DTSTART:{_stamp(event.start)}", f"DTEND:{_stamp(event.end)}"]
        lines.append(f"SUMMARY:{_escaped(event.summary)}")
        if event.description:
            lines.append(f"DESCRIPTION:{_escaped(event.description)}")
        if event.place:
            lines.append(f"LOCATION:{_escaped(event.place)}")
        lines.append("TRANSP:OPAQUE")
        if event.alarm_min is not None:
            lines += ["BEGIN:VALARM", "ACTION:DISPLAY", f"DESCRIPTION:{_escaped(event.summary)}"]
            lines += [f"TRIGGER:-PT{event.alarm_min}M", "END:VALARM"]
        lines.append("END:VEVENT")
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _stamp(moment: np.datetime64) -> str:
    """A UTC time in the basic form, `20260320T120000Z`."""
    text = str(moment.astype("datetime64[s]"))
    return text.replace("-", "").replace(":", "") + "Z"


def _escaped(text: str) -> str:
    """TEXT as RFC 5545 section 3.3.11 requires; control characters are made visible."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    plain = shown(plain)
    for sign, instead in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        plain = plain.replace(sign, instead)
    return plain


def _folded(line: str) -> str:
    """Line folded into pieces of at most 75 octets, never inside a character.

    Later pieces begin with a blank.
    """
    pieces, piece, size = [], "", 0
    for sign in line:
        octets = len(sign.encode())
        if size + octets > FOLD_OCTETS:
            pieces.append(piece)
            piece, size = " ", 1
        piece += sign
        size += octets
    return "\r\n".join([*pieces, piece])
