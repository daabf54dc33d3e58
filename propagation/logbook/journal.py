"""Contacts of an outing as they are made: records of an ADIF file.

The file of an outing has its header once. Every contact is appended as one whole record, so the file is an
ordinary log at any moment. Unanswered calls before a contact are recorded in that contact's record
(`contacts`). Abbreviated reports are expanded: N is nine, T is zero (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.logbook import adif, contacts, references
from propagation.spectrum.modes import ModeName

MOST_TEXT: Final = 200  # bytes of a name or a note (ours)
MOST_PROMISED: Final = 1600  # bytes of one field (ours): what a record cut off may take from the next ones
_MOST_MENDED: Final = 10_000  # blanks for one record cut off, of another program or an earlier version (ours)
_PROMISE: Final = re.compile(rb"<\w{1,60}:(\d{1,9})(?::\w{1,9})?>", re.ASCII)
HEAD_TEXT: Final = "An outing, written down contact by contact"
REFERENCES: Final = ("SOTA_REF", "WWFF_REF", "POTA_REF", "IOTA")
PROGRAM: Final = {"PROGRAMID": "bandwhen"}
CALL: Final = re.compile(r"(?=[A-Z0-9/]{3,15}$)(?=.*[A-Z])(?=.*\d)[A-Z0-9]+(?:/[A-Z0-9]+){0,2}")
_EAR: Final = re.compile(r"[1-5][1-9][1-9]?")
_METER: Final = re.compile(r"[+-]\d{1,2}")
_CUT: Final = str.maketrans({"N": "9", "T": "0", "A": "1"})
USUAL: Final[dict[str, str]] = {"SSB": "59", "FM": "59", "CW": "599", "DIGITAL": "-10"}
ADIF_MODE: Final[dict[str, str]] = {"SSB": "SSB", "FM": "FM", "CW": "CW", "DIGITAL": "MFSK"}
_TYPED: Final = frozenset(
    ("CALL", "QSO_DATE", "TIME_ON", "RST_SENT", "RST_RCVD", "NAME", "GRIDSQUARE", "COMMENT", *REFERENCES)
)  # fields that a typed line always sets
CALLED_FOR: Final = np.timedelta64(60, "s")  # assumed duration of one unanswered call (ours)


@dataclass(frozen=True)
class Worked:
    """One contact: the other's call, both reports, time, band, frequency, mode and power.

    frequency_mhz: None where only the band is known.
    name, far_locator, far_reference: of the other station. locator, own_call, own_reference: the operator's.
    """

    call: str
    sent: str
    received: str
    time: np.datetime64
    band: str
    frequency_mhz: float | None
    mode: ModeName
    power_w: float
    locator: str = ""
    own_call: str = ""
    own_reference: str = ""
    name: str = ""
    far_locator: str = ""
    far_reference: str = ""
    note: str = ""


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
    return adif.record_bytes(_fields(worked) | _tried_field(in_vain))


def _fields(worked: Worked) -> dict[str, str]:
    """Fields of a contact; empty ones are left out (names: ADIF 3.1.4, from memory)."""
    stamp = str(worked.time.astype("datetime64[s]"))
    fields = {
        "CALL": worked.call,
        "QSO_DATE": stamp[:10].replace("-", ""),
        "TIME_ON": stamp[11:19].replace(":", ""),
        "BAND": worked.band,
        "FREQ": f"{worked.frequency_mhz:.4f}" if worked.frequency_mhz is not None else "",
        "MODE": ADIF_MODE[worked.mode],
        "RST_SENT": worked.sent,
        "RST_RCVD": worked.received,
        "TX_PWR": f"{worked.power_w:g}",
        "NAME": worked.name,
        "GRIDSQUARE": worked.far_locator,
        "COMMENT": worked.note,
        references.field_of(worked.far_reference): worked.far_reference,
        "STATION_CALLSIGN": worked.own_call.upper(),
        "MY_GRIDSQUARE": worked.locator,
        **references.own_fields(worked.own_reference),
    }
    return {name: value for name, value in fields.items() if value}


def _tried_field(in_vain: Sequence[tuple[str, np.datetime64]]) -> dict[str, str]:
    """The one private field; empty where no call was without an answer."""
    stretches = [
        f"{band} {_minute(at)}-{_minute(at + CALLED_FOR)}" for band, at in in_vain[-contacts.MOST_STRETCHES :]
    ]
    return {contacts.TRIED_FIELD: "; ".join(stretches)} if stretches else {}


def changed(old: bytes, worked: Worked) -> bytes:
    """A record with what was typed anew; all that no line holds stays. The frequency stays on its band.

    InputError where the bytes are not exactly one whole record.
    """
    read = adif.read(old)
    if len(read.records) != 1 or read.problems:
        raise InputError("The record of this contact is damaged in the log; it was not changed.")
    before, new = read.records[0].fields, _fields(worked)
    same = before.get("BAND", "").lower() == worked.band and worked.frequency_mhz is None
    typed = _TYPED if same else _TYPED | {"BAND", "FREQ"}
    fields = {name: new.get(name, "") if name in typed else value for name, value in before.items()}
    fields |= {name: new[name] for name in new if name in typed}
    return adif.record_bytes({name: value for name, value in fields.items() if value})


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
    """Contact as recorded. offset, size: its bytes in the file."""

    call: str
    band: str
    time: np.datetime64
    sent: str
    received: str
    fields: Mapping[str, str] = field(default_factory=dict, compare=False, repr=False)
    offset: int = field(default=0, compare=False)
    size: int = field(default=0, compare=False)

    def record_in(self, data: bytes) -> bytes:
        """The bytes of the contact in its log. InputError where they are another's by now, or damaged."""
        found = data[self.offset : self.offset + self.size]
        read = adif.read(found)
        if [one.fields for one in read.records] != [self.fields]:
            raise InputError("The log has changed, or this record is damaged in it; nothing was changed.")
        return found

    @property
    def line(self) -> str:
        """The contact as it may be typed again."""
        known = self.fields
        far = next((known[name] for name in REFERENCES if known.get(name)), "")
        stamp = str(self.time.astype("datetime64[m]"))
        parts = [self.call, self.sent, self.received, known.get("FREQ") or self.band]
        parts += [f"{stamp[11:16].replace(':', '')}z"]
        parts += [known.get("GRIDSQUARE", ""), far]
        parts += [f"name {known['NAME']}" if known.get("NAME") else ""]
        parts += [f"note {known['COMMENT']}" if known.get("COMMENT") else ""]
        return " ".join(part for part in parts if part)


def contacts_made(data: bytes) -> list[Made]:
    """Contacts of a file, in its order; those without a readable time are left out."""
    found = []
    records = adif.read(data).records
    limits = [*(one.offset for one in records[1:]), len(data)]
    for one, limit in zip(records, limits[: len(records)], strict=True):
        date, clock = one.fields.get("QSO_DATE", ""), one.fields.get("TIME_ON", "").ljust(6, "0")
        if re.fullmatch(r"\d{8}", date) and re.fullmatch(r"\d{6}", clock) and one.fields.get("CALL"):
            try:
                time = np.datetime64(
                    f"{date[:4]}-{date[4:6]}-{date[6:]}T{clock[:2]}:{clock[2:4]}:{clock[4:]}", "s"
                )
            except ValueError:
                continue
            call, band = one.fields["CALL"].upper(), one.fields.get("BAND", "").lower()
            sent, received = (one.fields.get(name, "") for name in ("RST_SENT", "RST_RCVD"))
            close = data.upper().rfind(b"<EOR>", one.offset, limit)
            end = limit if close < 0 else close + len("<EOR>")
            size = end + (data[end : end + 1] == b"\n") - one.offset
            found.append(Made(call, band, time, sent, received, one.fields, one.offset, size))
    return found


def replaced(data: bytes, old: bytes, new: bytes) -> bytes:
    """A log with one record replaced, or taken out where `new` is empty; every other byte stays.

    InputError where the record is no longer in the log.
    """
    before, found, after = data.rpartition(old)
    if not found:
        raise InputError("This contact is no longer in the log; nothing was changed.")
    return before + new + after


def duplicate(made: Sequence[Made], call: str, band: str) -> Made | None:
    """The last contact with that station on that band; None where there is none."""
    return next((one for one in reversed(made) if (one.call, one.band) == (call, band)), None)


def duplicates(made: Sequence[Made]) -> list[bool]:
    """For each contact whether the station was worked on that band earlier that outing."""
    order = sorted(range(len(made)), key=lambda at: made[at].time)
    seen: set[tuple[str, str]] = set()
    marked = [False] * len(made)
    for at in order:
        key = (made[at].call, made[at].band)
        marked[at] = key in seen
        seen.add(key)
    return marked
