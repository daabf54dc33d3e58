"""Cabrillo logs, the contest sponsors' open format, read into the records of ADIF.

A file begins with `START-OF-LOG:`. Each line is a tag, a colon and a value. A contact is

    QSO: freq mode date time call sent-exchange call received-exchange [transmitter]

in columns parted by blanks; the length of the exchange differs from contest to contest. The frequency is in
kHz, or the name of a band in MHz from 50 upwards. `X-QSO:` marks a contact that does not count in the contest
and is read as well. Published description of the format, version 3, from memory; so are the names of the
bands above 30 MHz. `CATEGORY-POWER` is a class, no number of watts, and is not used.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from propagation.logbook.adif import Log, Problem, Record, decode
from propagation.logbook.text_blocks import Block

START: Final = b"START-OF-LOG:"
NOTHING: Final = "the file holds a heading and no contacts"
FEWEST_CELLS: Final = 6  # frequency, mode, date, time and both calls
LONGEST_LINE: Final = 1_000  # bytes; a longer line is no contact (ours)
MODES: Final = {"CW": "CW", "PH": "SSB", "FM": "FM", "RY": "RTTY", "DG": "DIGITAL"}
BANDS_MHZ: Final = {"50": "6m", "70": "4m", "144": "2m", "222": "1.25m", "432": "70cm"}
LOWEST_KHZ: Final = 1000.0  # a smaller number is the name of a band in MHz
_CALL = re.compile(r"(?=[A-Z0-9/]*\d)[A-Z0-9/]*[A-Z0-9]{2}[A-Z](?:/[A-Z0-9]+)?", re.ASCII)
_LOCATOR = re.compile(r"[A-R]{2}\d{2}(?:[A-X]{2})?", re.ASCII)
_REPORT = re.compile(r"[1-5][1-9N][1-9N]?|[+-]\d{1,2}", re.ASCII)
_LINE = re.compile(rb"[^\n]+")


@dataclass(frozen=True)
class Heading:
    """What the heading says of the operator: the locator of the station, or nothing."""

    locator: str = ""


def looks_like_cabrillo(data: bytes) -> bool:
    """Whether the first bytes of a file are those of this format."""
    start = data[:200].replace(b"\x00", b"").lstrip(b"\xff\xfe\xef\xbb\xbf \t\r\n")
    return start[: len(START)].upper() == START or start[:4].upper() == b"QSO:"


def read_block(block: Block, heading: Heading) -> tuple[Log, Heading]:
    """Read one block of a file; heading: of the blocks before it, and returned as known after it."""
    records: list[Record] = []
    problems: list[Problem] = []
    for line in _LINE.finditer(block.data):
        offset = block.offset + line.start()
        raw = line[0][:LONGEST_LINE].decode("latin-1")
        tag, mark, value = decode(raw).strip("\ufeff \t\r\x00\x1a").partition(":")
        tag = tag.strip().upper()
        if tag in ("QSO", "X-QSO"):
            found = _contact(value.upper().split(), heading)
            if isinstance(found, str):
                problems.append(Problem(offset, found, lost=True))
            else:
                records.append(Record(offset, found))
        elif tag == "GRID-LOCATOR":
            heading = Heading(value.strip().upper())
        elif tag and not mark:
            problems.append(
                Problem(offset, f"{tag[:40]!r} is no line of a log: a tag and a colon are missing")
            )
    return Log({}, tuple(records), tuple(problems)), heading


def _contact(cells: list[str], heading: Heading) -> dict[str, str] | str:
    """Fields of ADIF of one contact, or the reason why it cannot be used."""
    if len(cells) < FEWEST_CELLS:
        return f"a contact of {len(cells)} columns; frequency, mode, date, time and two calls are needed"
    frequency, mode, date, time, _, *rest = cells
    at = _other_call(rest)
    fields = {
        "CALL": rest[at],
        "QSO_DATE": date,
        "TIME_ON": time,
        "MODE": MODES.get(mode, mode),
        "MY_GRIDSQUARE": heading.locator,
        "RST_SENT": _first(_REPORT, rest[:at][:1]),
        "RST_RCVD": _first(_REPORT, rest[at + 1 :][:1]),
        "GRIDSQUARE": _first(_LOCATOR, rest[at + 1 :]),
        **_band(frequency),
    }
    own = _first(_LOCATOR, rest[:at])
    if own and not heading.locator:
        fields["MY_GRIDSQUARE"] = own
    return {name: value for name, value in fields.items() if value}


def _band(frequency: str) -> dict[str, str]:
    """Frequency or band, in the fields of ADIF."""
    if frequency in BANDS_MHZ:
        return {"BAND": BANDS_MHZ[frequency]}
    try:
        khz = float(frequency)
    except ValueError:
        return {"BAND": frequency}
    return {"FREQ": f"{khz / 1000.0:.6f}"} if khz >= LOWEST_KHZ else {"BAND": frequency}


def _other_call(rest: list[str]) -> int:
    """Place of the other station's call after the own one: of what looks like a call, the middlemost.

    Both exchanges have the same number of columns; a transmitter's number may follow.
    """
    middle = (len(rest) - 1) // 2
    calls = [at for at, cell in enumerate(rest) if _CALL.fullmatch(cell) and not _LOCATOR.fullmatch(cell)]
    return min(calls, key=lambda at: abs(at - middle), default=middle)


def _first(form: re.Pattern[str], cells: list[str]) -> str:
    return next((cell for cell in cells if form.fullmatch(cell)), "")
