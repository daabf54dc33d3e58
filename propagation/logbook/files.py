"""Opening a log or a file of reports, whatever its form: told by its first bytes, not by its name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal

import numpy as np

from propagation.base.errors import InputError
from propagation.logbook import adif, adx, contacts, reports, unanswered
from propagation.logbook.adif import Problem
from propagation.logbook.contacts import Contacts
from propagation.logbook.reports import Reports
from propagation.logbook.unanswered import UnansweredCalls

Form = Literal["ADIF", "ADX", "CSV"]
MOST_BYTES: Final = 500_000_000  # bytes; far more than any operator's life on the air


@dataclass(frozen=True, eq=False)
class LogFile:
    """A file as read: contacts (of a log) or reports (of a CSV file), and every problem in order of place.

    unanswered_calls: the stretches without an answer that a log tells of.
    """

    form: Form
    contacts: Contacts | None
    reports: Reports | None
    problems: tuple[Problem, ...]
    unanswered_calls: tuple[UnansweredCalls, ...] = ()

    @property
    def lost(self) -> int:
        """Number of records that could not be used."""
        return sum(problem.lost for problem in self.problems)


def form_of(data: bytes) -> Form:
    """The form of a file by its content."""
    if adx.looks_like_adx(data):
        return "ADX"
    start = data[:4].replace(b"\x00", b"").lstrip(b"\xff\xfe\xef\xbb\xbf \t\r\n")
    head = data[:100_000].replace(b"\x00", b"").upper()
    if start.startswith(b"<") or b"<EOR>" in head or b"<EOH>" in head or b"<CALL:" in head:
        return "ADIF"
    line = head.lstrip(b"\xff\xfe\xef\xbb\xbf\r\n ").partition(b"\n")[0]
    return "CSV" if max(line.count(mark) for mark in (b",", b";", b"\t")) >= 2 else "ADIF"


def read(data: bytes) -> LogFile:
    """The contacts or reports in the bytes of a file. Never fails: see `problems`."""
    form = form_of(data)
    if form == "CSV":
        found, problems = reports.read(data)
        return LogFile(form, None, found, _in_place(data, problems))
    log = adx.read(data) if form == "ADX" else adif.read(data)
    made, further = contacts.of_log(log)
    stretches, misread = unanswered.of_log(log)
    return LogFile(form, made, None, _in_place(data, (*log.problems, *further, *misread)), stretches)


def _in_place(data: bytes, problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The problems in order of place, each with its line."""
    ordered = sorted(problems, key=lambda problem: problem.offset)
    if not ordered:
        return ()
    ends = np.flatnonzero(np.frombuffer(data, dtype=np.uint8) == ord("\n"))
    lines = np.searchsorted(ends, [problem.offset for problem in ordered]) + 1
    return tuple(replace(problem, line=int(line)) for problem, line in zip(ordered, lines, strict=True))


def load(path: Path | str) -> LogFile:
    """The contacts or reports in a file. Raises InputError where the file itself cannot be read."""
    file = Path(path)
    try:
        if file.stat().st_size > MOST_BYTES:
            raise InputError(f"{str(path)!r} is larger than {MOST_BYTES // 1_000_000} MB; it is not a log.")
        data = file.read_bytes()
    except FileNotFoundError:
        raise InputError(f"There is no file {str(path)!r}.") from None
    except IsADirectoryError:
        raise InputError(f"{str(path)!r} is a folder; give the file inside it.") from None
    except OSError as error:
        raise InputError(f"{str(path)!r} cannot be read: {error.strerror or error}.") from None
    return read(data)
