"""Contacts of an outing as they are made: one typed line each, and its record of an ADIF file.

The file of an outing has its header once. Every contact is appended as one whole record, so the file is an
ordinary log at any moment. Unanswered calls before a contact are recorded in that contact's record
(`contacts`). Abbreviated reports are expanded: N is nine, T is zero (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.logbook import adif, contacts
from propagation.spectrum.modes import ModeName

MOST_PROMISED: Final = 200  # bytes of one field (ours): what a record cut off may take from the next ones
_MOST_MENDED: Final = 10_000  # blanks for one record cut off, of another program or an earlier version (ours)
_PROMISE: Final = re.compile(rb"<\w{1,60}:(\d{1,9})(?::\w{1,9})?>", re.ASCII)
HEAD_TEXT: Final = "An outing, written down contact by contact"
PROGRAM: Final = {"PROGRAMID": "bandwhen"}
_CALL: Final = re.compile(r"(?=[A-Z0-9/]{3,15}$)(?=.*[A-Z])(?=.*\d)[A-Z0-9]+(?:/[A-Z0-9]+){0,2}")
_EAR: Final = re.compile(r"[1-5][1-9][1-9]?")
_METER: Final = re.compile(r"[+-]\d{1,2}")
_CUT: Final = str.maketrans({"N": "9", "T": "0", "A": "1"})
USUAL: Final[dict[str, str]] = {"SSB": "59", "FM": "59", "CW": "599", "DIGITAL": "-10"}
ADIF_MODE: Final[dict[str, str]] = {"SSB": "SSB", "FM": "FM", "CW": "CW", "DIGITAL": "MFSK"}
CALLED_FOR: Final = np.timedelta64(60, "s")  # assumed duration of one unanswered call (ours)


@dataclass(frozen=True)
class Worked:
    """One contact: the other's call, both reports, time, band, frequency, mode and place."""

    call: str
    sent: str
    received: str
    time: np.datetime64
    band: str
    frequency_mhz: float
    mode: ModeName
    power_w: float
    locator: str = ""


def typed(text: str, mode: str) -> tuple[str, str, str]:
    """Call, report sent and report received from one line, `ZS1TEST 57 559`; missing reports are the usual
    ones.

    Raises InputError with what to write instead.
    """
    parts = text.upper().split()
    if not parts or len(parts) > 3:
        raise InputError("Write the call sign, the report sent and the one received: ZS1TEST 57 59.")
    if not _CALL.fullmatch(parts[0]):
        raise InputError(f"{parts[0][:20]!r} is not a call sign; write it first, as ZS1TEST 57 59.")
    sent, received = (*(report(part) for part in parts[1:]), *(USUAL[mode],) * 2)[:2]
    return parts[0], sent, received


def report(text: str) -> str:
    """Report as it is recorded: `5NN` is 599. Raises InputError for an invalid one."""
    plain = text.strip().upper()
    if _METER.fullmatch(plain):
        return plain
    repaired = plain.translate(_CUT)
    if _EAR.fullmatch(repaired):
        return repaired
    raise InputError(f"{text.strip()[:12]!r} is not a report; write it as 59, 599, 5NN or -12.")


def record(worked: Worked, in_vain: Sequence[tuple[str, np.datetime64]] = ()) -> bytes:
    """Contact as one whole ADIF record. in_vain: (band, time) of calls without an answer before it."""
    stamp = str(worked.time.astype("datetime64[s]"))
    fields = {
        "CALL": worked.call,
        "QSO_DATE": stamp[:10].replace("-", ""),
        "TIME_ON": stamp[11:19].replace(":", ""),
        "BAND": worked.band,
        "FREQ": f"{worked.frequency_mhz:.4f}",
        "MODE": ADIF_MODE[worked.mode],
        "RST_SENT": worked.sent,
        "RST_RCVD": worked.received,
        "TX_PWR": f"{worked.power_w:g}",
    }
    if worked.locator:
        fields["MY_GRIDSQUARE"] = worked.locator
    stretches = [
        f"{band} {_minute(at)}-{_minute(at + CALLED_FOR)}" for band, at in in_vain[-contacts.MOST_STRETCHES :]
    ]
    fields |= contacts.tried_fields(stretches, MOST_PROMISED)
    return adif.record_bytes(fields)


def mend(half: bytes) -> bytes:
    """What closes a record cut off: blanks for what its fields still promise, and its end.

    half: the record as far as it goes.
    """
    ends = [found.end() + int(found[1]) for found in _PROMISE.finditer(half)]
    missing = max([MOST_PROMISED, *(end - len(half) for end in ends)])
    return b" " * min(missing, _MOST_MENDED) + b"<EOR>\n"


def header() -> bytes:
    """Beginning of a new file."""
    return adif.write([], PROGRAM, HEAD_TEXT)


def _minute(at: np.datetime64) -> str:
    return str(at.astype("datetime64[m]"))[11:16].replace(":", "")


@dataclass(frozen=True)
class Made:
    """Contact as recorded."""

    call: str
    band: str
    time: np.datetime64
    sent: str
    received: str


def contacts_made(data: bytes) -> list[Made]:
    """Contacts of a file, in its order; those without a readable time are left out."""
    found = []
    for one in adif.read(data).records:
        date, clock = one.fields.get("QSO_DATE", ""), one.fields.get("TIME_ON", "").ljust(6, "0")
        if re.fullmatch(r"\d{8}", date) and re.fullmatch(r"\d{6}", clock) and one.fields.get("CALL"):
            try:
                time = np.datetime64(
                    f"{date[:4]}-{date[4:6]}-{date[6:]}T{clock[:2]}:{clock[2:4]}:{clock[4:]}", "s"
                )
            except ValueError:
                continue
            call, band = one.fields["CALL"].upper(), one.fields.get("BAND", "").lower()
            reports = (one.fields.get(name, "") for name in ("RST_SENT", "RST_RCVD"))
            found.append(Made(call, band, time, *reports))
    return found


def calls_worked(data: bytes) -> list[tuple[str, str, str]]:
    """(call, band, time of day) of every contact in a file, in its order."""
    found = []
    for one in adif.read(data).records:
        call, band = one.fields.get("CALL", "").upper(), one.fields.get("BAND", "").lower()
        time = one.fields.get("TIME_ON", "")
        if call:
            found.append((call, band, f"{time[:2]}:{time[2:4]}" if len(time) >= 4 else ""))
    return found


def duplicate(call: str, band: str, worked: Sequence[tuple[str, str, str]]) -> str:
    """Time at which that station was worked on that band before, `12:20`; empty where it was not."""
    return next((time for name, where, time in reversed(worked) if (name, where) == (call, band)), "")
