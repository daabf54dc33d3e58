"""Opening a log or a file of reports in any form: recognised by its first bytes, not by its name."""

from __future__ import annotations

import io
import os
import re
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, BinaryIO, Final, Literal

import numpy as np

from propagation.base.errors import InputError
from propagation.base.files import open_binary, reason_of
from propagation.logbook import adif, adx, cabrillo, contacts, reports
from propagation.logbook.adif import Log, Problem
from propagation.logbook.columns import shared
from propagation.logbook.contacts import Contacts, UnansweredCalls
from propagation.logbook.reports import Reports
from propagation.logbook.text_blocks import BLOCK_BYTES, Block, blocks_of, source_of

Form = Literal["ADIF", "ADX", "Cabrillo", "CSV"]
MOST_BYTES: Final = 500_000_000  # bytes; far more than any operator's lifetime of contacts
MOST_CONTACTS: Final = 100_000  # contacts of one file that are used, the last ones (ours: memory)
MOST_REPORTS: Final = 300_000  # likewise reception reports, most of which are of other stations
MOST_STRETCHES: Final = 10_000  # unanswered stretches that are kept, the last ones
MOST_PROBLEMS: Final = 2_000  # problems listed one by one; more are counted
_LINE_END: Final = re.compile(rb"\n")


@dataclass(frozen=True, eq=False)
class LogFile:
    """File as read: contacts (of a log) or reports (of a CSV file), and every problem in order of place.

    unanswered_calls: the unanswered stretches recorded in a log. lost_untold: records lost whose problem is
    not listed.
    """

    form: Form
    contacts: Contacts | None
    reports: Reports | None
    problems: tuple[Problem, ...]
    unanswered_calls: tuple[UnansweredCalls, ...] = ()
    lost_untold: int = 0

    @property
    def lost(self) -> int:
        """Number of records that could not be used."""
        return sum(problem.lost for problem in self.problems) + self.lost_untold


def form_of(data: bytes) -> Form:
    """Form of a file by its content."""
    if adx.looks_like_adx(data):
        return "ADX"
    if cabrillo.looks_like_cabrillo(data):
        return "Cabrillo"
    start = data[:4].replace(b"\x00", b"").lstrip(b"\xff\xfe\xef\xbb\xbf \t\r\n")
    head = data[:100_000].replace(b"\x00", b"").upper()
    if start.startswith(b"<") or b"<EOR>" in head or b"<EOH>" in head or b"<CALL:" in head:
        return "ADIF"
    line = head.lstrip(b"\xff\xfe\xef\xbb\xbf\r\n ").partition(b"\n")[0]
    return "CSV" if max(line.count(mark) for mark in (b",", b";", b"\t")) >= 2 else "ADIF"


def read(data: bytes, block_bytes: int = BLOCK_BYTES) -> LogFile:
    """Read the contacts or reports in the bytes of a file. Never fails: see `problems`."""
    return _read(io.BytesIO(data), block_bytes)


def load(path: Path | str, progress: Callable[[int, int], None] | None = None) -> LogFile:
    """Read the contacts or reports in a file, in blocks. InputError where the file itself cannot be read.

    progress is called with the bytes read and the total of bytes; an exception in it ends the reading.
    """
    with open_binary(path) as file:
        whole = os.fstat(file.fileno()).st_size
        if whole > MOST_BYTES:
            raise InputError(f"{str(path)!r} is larger than {MOST_BYTES // 1_000_000} MB; it is not a log.")
        try:
            return _read(
                file, BLOCK_BYTES, None if progress is None else lambda: progress(file.tell(), whole)
            )
        except OSError as error:
            raise InputError(f"{str(path)!r} cannot be read: {reason_of(error)}.") from None


def _read(file: BinaryIO, block_bytes: int, go_on: Callable[[], None] | None = None) -> LogFile:
    source = source_of(file)
    begun = source.read(block_bytes)
    form = form_of(begun)
    gathered = _Gathered(go_on)
    # every block is counted before it is read, so that a problem has its line
    counted = gathered.counting
    if form == "CSV":
        _gather_reports(counted(blocks_of(source, begun, _LINE_END, block_bytes)), gathered)
    elif form == "Cabrillo":
        heading = cabrillo.Heading()
        for block in counted(blocks_of(source, begun, _LINE_END, block_bytes)):
            log, heading = cabrillo.read_block(block, heading)
            gathered.take_log(log)
    elif form == "ADX":
        encoding = adx.encoding_of(begun)
        for block in counted(blocks_of(source, begun, adx.RECORD_END, block_bytes)):
            gathered.take_log(adx.read_block(block, encoding))
    else:
        for block in counted(blocks_of(source, begun, adif.RECORD_END, block_bytes)):
            gathered.take_log(adif.read_block(block))
    return gathered.file(form)


def _gather_reports(blocks: Iterator[Block], gathered: _Gathered) -> None:
    layout: reports.Layout | None = None
    for block in blocks:
        found, problems, layout = reports.read_block(block, layout)
        gathered.take(gathered.reports, found, MOST_REPORTS)
        gathered.tell(problems)
        if layout is None and problems and problems[0].lost:
            return  # neither a heading nor the archive's columns: nothing of the file can be used


class _Gathered:
    """Content of the blocks read so far: the last rows, up to the limit, and the first problems."""

    def __init__(self, go_on: Callable[[], None] | None = None) -> None:
        self.go_on = go_on  # called before each block is read
        self.contacts: deque[Contacts] = deque()
        self.reports: deque[Reports] = deque()
        self.unanswered_calls: list[UnansweredCalls] = []
        self.problems: list[Problem] = []
        self.header: dict[str, str] = {}
        self.untold = self.untold_lost = self.passed_over = 0
        self.texts: dict[str, str] = {}
        self._block_offset = 0
        self._line_ends = np.empty(0, dtype=np.int64)  # of the block, within it
        self._lines_before = 0

    def counting(self, blocks: Iterator[Block]) -> Iterator[Block]:
        """Return the blocks unchanged and count their line ends."""
        for block in blocks:
            if self.go_on is not None:
                self.go_on()
            self._lines_before += self._line_ends.size
            self._block_offset = block.offset
            self._line_ends = np.flatnonzero(np.frombuffer(block.data, dtype=np.uint8) == ord("\n"))
            yield block

    def _placed(self, problem: Problem) -> Problem:
        """Problem with its line, counted from 1."""
        line = int(np.searchsorted(self._line_ends, problem.offset - self._block_offset))
        return replace(problem, line=self._lines_before + line + 1)

    def take_log(self, log: Log) -> None:
        """Add contacts, unanswered calls and problems of one block."""
        self.header.update(log.header)
        made, further = contacts.of_log(log)
        stretches, misread = contacts.unanswered_calls(log)
        self.take(self.contacts, shared(made, self.texts), MOST_CONTACTS)
        self.unanswered_calls += stretches
        del self.unanswered_calls[:-MOST_STRETCHES]
        self.tell(sorted((*log.problems, *further, *misread), key=lambda problem: problem.offset))

    def take(self, kept: deque[Any], rows: Any, most: int) -> None:
        """Add some rows; the oldest in the file are dropped where there are too many."""
        if rows.size or not kept:
            kept.append(rows)
        while len(kept) > 1 and sum(part.size for part in kept) - kept[0].size >= most:
            self.passed_over += kept.popleft().size

    def tell(self, problems: Sequence[Problem]) -> None:
        """Add some problems: listed up to a readable number, the others counted."""
        room = max(MOST_PROBLEMS - len(self.problems), 0)
        self.problems += [self._placed(problem) for problem in problems[:room]]
        self.untold += len(problems[room:])
        self.untold_lost += sum(problem.lost for problem in problems[room:])

    def file(self, form: Form) -> LogFile:
        """Return everything as one file."""
        made = Contacts.joined(list(self.contacts)) if form != "CSV" else None
        heard = Reports.joined(list(self.reports)) if form == "CSV" else None
        rows = made if made is not None else heard
        if rows is not None and not rows.size and not self.problems:
            nothing = {"CSV": reports.NOTHING, "ADX": adx.NOTHING, "Cabrillo": cabrillo.NOTHING}
            reason = nothing.get(form, adif.nothing_in(self.header))
            self.problems.append(Problem(0, reason))
        end = self.problems[-1].offset if self.problems else 0
        if self.untold:
            self.problems.append(Problem(end, f"and {self.untold} more problems, which are not listed"))
        if self.passed_over and rows is not None:
            reason = (
                f"the file is very long: its last {rows.size} entries are used, the {self.passed_over} "
                "before them are not; cut it in two to look at those"
            )
            self.problems.append(Problem(0, reason))
        stretches = sorted(self.unanswered_calls, key=lambda one: (one.start, one.band))
        return LogFile(form, made, heard, tuple(self.problems), tuple(stretches), self.untold_lost)
