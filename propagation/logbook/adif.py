"""Reading and writing logs in ADIF, the open interchange format of amateur logs (`.adi`).

A file is a header, ended by <EOH>, and records of fields `<NAME:LENGTH[:TYPE]>value`, each ended by <EOR>. A
file that begins with "<" may have no header (ADIF specification, from memory). Many programs write invalid
files, so reading works like this:

- A record whose every field agrees with its length is taken at once (the fast way).
- Any other is read field by field. A length is tried in bytes, then in characters, then with line ends
  counted once. It is accepted where a tag, an end or only space follows. A length that runs over the next tag
  is cut there.
- Reading continues after the next <EOR>, whatever happened before it.
- Every stretch of the file becomes part of a record or of a problem with its byte offset and the reason.

Bytes are UTF-8 where they are valid UTF-8, else cp1252, value by value.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np

from propagation.base.units import IntArray
from propagation.logbook.text_blocks import UTF16_MARKS, Block

SPACE: Final = " \t\r\n"  # allowed between fields; other blanks belong to the text around them
_BARE: Final = "CALL|QSO_DATE|TIME_ON|TIME_OFF|BAND|FREQ|MODE|SUBMODE|RST_SENT|RST_RCVD|GRIDSQUARE|COMMENT"
BARE_FIELDS: Final = frozenset(_BARE.split("|"))  # recognised even where their length is missing or broken

_TAG = re.compile(
    r"<\s{0,9}(?:EO(?P<end>[RH])|(?P<name>\w{1,60})\s{0,9}:\s{0,9}\d{1,18}\s{0,9}(?::[^<>]{0,60})?"
    rf"|(?:{_BARE})(?::[^<>]{{0,60}})?)\s{{0,9}}>",
    re.IGNORECASE | re.ASCII,
)
_NAMED = re.compile(r"<\s{0,9}(CALL|QSO_DATE)\s{0,9}:", re.IGNORECASE)


class Marks:
    """The tags of a text of one character per byte, and its places where bytes and characters differ."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.end = len(text)

    @cached_property
    def _tags(self) -> tuple[list[int], list[int], list[int]]:
        """Start, end, and where the blanks before it begin, of every tag; last the end of the text."""
        starts, ends, blanks = [], [], []
        before = 0
        for found in _TAG.finditer(self.text):
            starts.append(found.start())
            ends.append(found.end())
            blanks.append(self._blank_from(before, found.start()))
            before = found.end()
        starts.append(self.end)
        ends.append(self.end)
        blanks.append(self._blank_from(before, self.end))
        return starts, ends, blanks

    def _blank_from(self, start: int, stop: int) -> int:
        return start + len(self.text[start:stop].rstrip(SPACE))

    def tag_follows(self, place: int) -> bool:
        """Return whether only blanks are between a place and the next tag, or the end of the text."""
        starts, _, blanks = self._tags
        return place <= self.end and blanks[bisect_left(starts, place)] <= place

    def next_tag(self, place: int, limit: int) -> int | None:
        """Start of the next tag that ends by the limit; None where there is none."""
        starts, ends, _ = self._tags
        number = bisect_left(starts, place)
        return starts[number] if starts[number] < self.end and ends[number] <= limit else None

    @cached_property
    def _landmarks(self) -> tuple[list[int], list[int], list[int]]:
        """Starts of the ends of records, of the CALL and of the QSO_DATE fields."""
        ends = [found.start() for found in _TAG.finditer(self.text) if (found["end"] or "").upper() == "R"]
        calls: list[int] = []
        dates: list[int] = []
        for found in _NAMED.finditer(self.text):
            (calls if found[1].upper() == "CALL" else dates).append(found.start())
        return ends, calls, dates

    def names_a_contact(self, place: int, reach: int) -> bool:
        """Return whether a CALL and a QSO_DATE are between a place and the next end of record.

        The end of record is at most `reach` bytes on.
        """
        ends, calls, dates = self._landmarks
        number = bisect_left(ends, place)
        limit = min([place + reach, *ends[number : number + 1]])
        return all(
            at < len(found) and found[at] < limit
            for found in (calls, dates)
            for at in (bisect_left(found, place),)
        )

    @cached_property
    def _bytes(self) -> tuple[IntArray, IntArray, IntArray]:
        """Places of bytes beyond ASCII, of those that continue a UTF-8 character, and of CR LF pairs."""
        data = np.frombuffer(self.text.encode("latin-1"), dtype=np.uint8)
        high = np.flatnonzero(data >= 0x80)
        return (
            high,
            high[data[high] < 0xC0],
            np.flatnonzero((data[:-1] == 13) & (data[1:] == 10)) if data.size else high,
        )

    def other_ends(self, start: int, length: int) -> list[int]:
        """Possible ends of a value whose declared length was not counted in bytes.

        The length may be in UTF-8 characters, or with each line end counted once.
        """
        if start + length > self.end:
            return []
        high, continued, line_ends = self._bytes
        found = []
        if _any_between(high, start, start + length):
            found.append(_skipped_end(continued, start, length, "right"))
        if _any_between(line_ends, start, start + length - 1):
            found.append(_skipped_end(line_ends, start, length, "left"))
        reach = min(self.end, start + 4 * length + 4)  # UTF-8 has four bytes to a character at most
        return [end for end in found if end <= reach and end != start + length]


def _any_between(places: IntArray, start: int, stop: int) -> bool:
    return bool(np.searchsorted(places, start) < np.searchsorted(places, stop))


def _skipped_end(skipped: IntArray, start: int, length: int, side: str) -> int:
    """End of `length` bytes from `start`, not counting those at the places `skipped`.

    side: "right" where a skipped byte belongs to what was counted before it, "left" to what comes after.
    """
    first = int(np.searchsorted(skipped, start))
    low, high = first, skipped.size
    while low < high:  # how many are passed: skipped[n] - n never falls
        middle = (low + high) // 2
        counted = int(skipped[middle]) - middle + first - start  # bytes counted before this one
        if counted < length or (side == "right" and counted == length):
            low = middle + 1
        else:
            high = middle
    return start + length + low - first


LONGEST_RECORD: Final = (
    20_000  # bytes; search range for the rest of a record when the record before has no end
)
MOST_NOTES: Final = 8  # per record; damaged data are reported once
NO_END: Final = "the file ends without an end of record"
TOO_LONG: Final = "the record is longer than some megabytes and is cut here"
LONGEST_SHOWN: Final = 40  # characters of a text that is reported
HEADER_FIELDS: Final = frozenset({"ADIF_VER", "PROGRAMID", "PROGRAMVERSION", "CREATED_TIMESTAMP"})

_FIELD = re.compile(r"<(\w+):(\d{1,9})(?::\w+)?>([^<]*)", re.ASCII)
RECORD_END: Final = re.compile(rb"<\s{0,9}EOR\s{0,9}>", re.IGNORECASE)
_EOR = re.compile(r"<\s{0,9}EOR\s{0,9}>", re.IGNORECASE)
_EOH = re.compile(r"<\s{0,9}EOH\s{0,9}>", re.IGNORECASE)
_MARK = re.compile(
    r"<\s{0,9}(?:(EO[RH])|(\w{1,60})\s{0,9}(?::([^<>:]{0,30}))?(?::[^<>]{0,60})?)\s{0,9}>",
    re.IGNORECASE | re.ASCII,
)
_CALL_TAG = re.compile(r"<\s{0,9}CALL\s{0,9}:", re.IGNORECASE)


class Record(NamedTuple):
    """One record: the byte offset of its first field, and its fields by name in capitals."""

    offset: int
    fields: dict[str, str]


@dataclass(frozen=True, slots=True)
class Problem:
    """Fault and its place: byte offset, and line counted from 1 (0: not counted).

    lost: a record could not be used at all.
    """

    offset: int
    reason: str
    lost: bool = False
    line: int = field(default=0, compare=False)


@dataclass(frozen=True)
class Log:
    """A log as read: header fields, records in the order of the file, problems in that order."""

    header: dict[str, str]
    records: tuple[Record, ...]
    problems: tuple[Problem, ...]


def read(data: bytes) -> Log:
    """Read the log in the bytes of a file. Never fails: unreadable parts are in `problems`."""
    if data[:2] in UTF16_MARKS:
        data = data.decode("utf-16", errors="replace").encode("utf-8", errors="replace")
    log = read_block(Block(0, data, first=True, last=True))
    reason = nothing_in(log.header)
    return log if log.records or log.problems else Log(log.header, (), (Problem(0, reason),))


def read_block(block: Block) -> Log:
    """Read one block of a file; offsets count from the beginning of the file."""
    reader = _Reader(block.data.decode("latin-1"), block)  # a character per byte: offsets are byte offsets
    reader.run()
    records, problems = reader.records, reader.problems
    if block.offset:
        records = [Record(block.offset + one.offset, one.fields) for one in records]
        problems = [Problem(block.offset + one.offset, one.reason, one.lost) for one in problems]
    return Log(reader.header, tuple(records), tuple(problems))


def nothing_in(header: dict[str, str]) -> str:
    """Problem reported for a file without a record."""
    return "the file holds a header and no records" if header else "the file is empty"


def decode(raw: str) -> str:
    """Decode a value read as one character per byte: UTF-8 where it is valid, else cp1252, else Latin-1."""
    if raw.isascii():
        return raw
    data = raw.encode("latin-1")
    for encoding in ("utf-8", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    return raw


class _Reader:
    """One pass over a text of one character per byte."""

    def __init__(self, text: str, block: Block) -> None:
        self.text = text
        self.block = block
        self.end = len(text)
        self.marks = Marks(text)
        self.header: dict[str, str] = {}
        self.records: list[Record] = []
        self.problems: list[Problem] = []

    def run(self) -> None:
        text = self.text
        position = self._header() if self.block.first else 0
        if position < self.end and not text[position:].strip(SPACE + "\x00\x1a"):
            position = self.end
        while position < self.end:
            stop = _EOR.search(text, position)
            fields = None if stop is None else _well_formed(text[position : stop.start()])
            if stop is None or fields is None:
                position = self._careful(position)
                continue
            if fields:
                self.records.append(Record(text.index("<", position), fields))
            else:
                self.problems.append(Problem(stop.start(), "an empty record"))
            position = stop.end()
        if self.block.first:
            self._take_header_fields()

    def _header(self) -> int:
        """Read the header and return where the records begin."""
        text = self.text
        start = 3 if text.startswith("\xef\xbb\xbf") else 0  # the byte order mark of UTF-8
        stop = _EOH.search(text)
        first = _EOR.search(text)
        if stop and (first is None or stop.start() < first.start()):
            head = text[start : stop.start()]
            if not _CALL_TAG.search(head):
                for name, length, raw in _FIELD.findall(head):
                    self.header.setdefault(name.upper(), decode(raw[: int(length)].rstrip(SPACE)))
                return stop.end()
        mark = self.marks.next_tag(start, self.end)
        if mark is not None and text[start:mark].strip(SPACE + "\x00\x1a"):
            self._note(start, "text before the first field, and no end of header")
            return mark
        return start

    def _take_header_fields(self) -> None:
        """Take header fields from the first record, where the end of the header was missing."""
        if self.records and not HEADER_FIELDS.isdisjoint(self.records[0].fields):
            fields = self.records[0].fields
            for name in HEADER_FIELDS & fields.keys():
                self.header.setdefault(name, fields.pop(name))
            if not fields:
                self.records.pop(0)

    def _note(self, offset: int, reason: str, lost: bool = False) -> None:
        self.problems.append(Problem(offset, reason, lost))

    def _careful(self, position: int) -> int:
        """Read field by field to the next end of record or of file; return the place to continue."""
        text = self.text
        current = _Draft(position)
        while True:
            mark = _MARK.search(text, position)
            gap = text[position : mark.start() if mark else self.end].lstrip(SPACE)
            stray = gap.rstrip(SPACE + "\x00\x1a")
            if stray:
                place = (mark.start() if mark else self.end) - len(gap)
                current.note(place, f"text that belongs to no field is ignored: {_excerpt(stray)}")
            if mark is None:
                if current.fields or current.notes:
                    current.note(current.offset, TOO_LONG if self.block.cut else NO_END)
                    self._finish(current)
                return self.end
            position = mark.end()
            ending, name = (mark[1] or "").upper(), (mark[2] or "").upper()
            if ending == "EOR":
                self._finish(current)
                return position
            if ending == "EOH":
                self._end_of_header(current, mark.start())
                continue
            if name in current.fields and self._begins_record(current, name, mark.start()):
                current.note(mark.start(), "an end of record is missing before this field")
                self._finish(current)
                current = _Draft(mark.start())
            position = self._field(current, name, mark)

    def _field(self, current: _Draft, name: str, mark: re.Match[str]) -> int:
        """Take one field into the draft; return where it ends."""
        text, start = self.text, mark.end()
        length = (mark[3] or "").strip()
        if not (length.isascii() and length.isdigit()):
            following = text.find("<", start)
            stop = self.end if following < 0 else following
            if name in BARE_FIELDS:
                current.note(mark.start(), f"{name} has no usable length; its text is taken to the next tag")
                current.put(mark.start(), name, decode(text[start:stop].strip(SPACE)))
                return stop
            if mark[3] is not None:
                current.note(mark.start(), f"{name} has no usable length and is ignored")
                return stop
            current.note(mark.start(), f"text that belongs to no field is ignored: {_excerpt(mark[0])}")
            return start
        raw, stop, reason = self._value(start, int(length[:18]))
        if reason:
            current.note(mark.start(), f"{name}: {reason}")
        if raw is not None:
            current.put(mark.start(), name, decode(raw))
        return stop

    def _value(self, start: int, length: int) -> tuple[str | None, int, str]:
        """Raw value at a place with a declared length: the value, its end, and its fault."""
        text, marks = self.text, self.marks
        stop = start + length
        if marks.tag_follows(stop):
            return text[start:stop], stop, ""
        for other in marks.other_ends(start, length):
            if marks.tag_follows(other):
                return text[start:other], other, ""
        following = marks.next_tag(start, min(stop + 80, self.end))
        if following is not None and following < stop:
            value = text[start:following].rstrip(SPACE)
            return value, following, f"the length {length} is too long; cut at the next tag"
        if stop > self.end:
            return (
                None,
                self.end,
                f"cut off by the end of the file after {self.end - start} of {length} bytes",
            )
        while stop < self.end and "\x80" <= text[stop] <= "\xbf":  # never through the middle of a character
            stop += 1
        return text[start:stop], stop, f"more text follows than the length {length} tells"

    def _begins_record(self, current: _Draft, name: str, offset: int) -> bool:
        """Return whether a repeated field is the first of a new record, the record before having no end."""
        if name != current.first or not {"CALL", "QSO_DATE"} <= current.fields.keys():
            return False
        return self.marks.names_a_contact(offset, LONGEST_RECORD)

    def _end_of_header(self, current: _Draft, offset: int) -> None:
        if "CALL" in current.fields:
            current.note(offset, "an end of header stands inside a record and is ignored")
            return
        for name, value in current.fields.items():
            self.header.setdefault(name, value)
        if self.records or not self.block.first:
            self._note(current.offset, "a second header in the middle of the file")
        current.fields.clear()
        current.notes.clear()
        current.untold = 0

    def _finish(self, current: _Draft) -> None:
        """Turn the draft into a record; its notes, or the reason why there is none, become problems."""
        if current.fields:
            self.records.append(Record(current.offset, current.fields))
        elif not current.notes:
            current.note(current.offset, "an empty record")
        lost = bool(current.notes) and not current.fields and current.notes[0].reason != "an empty record"
        for number, problem in enumerate(current.notes):
            self.problems.append(Problem(problem.offset, problem.reason, lost and number == 0))
        if current.untold:
            reason = f"and {current.untold} more of the like in this record"
            self.problems.append(Problem(current.offset, reason))


class _Draft:
    """Record under construction."""

    def __init__(self, offset: int) -> None:
        self.offset = offset
        self.fields: dict[str, str] = {}
        self.notes: list[Problem] = []
        self.untold = 0  # notes beyond MOST_NOTES
        self.first = ""

    def note(self, offset: int, reason: str) -> None:
        if len(self.notes) < MOST_NOTES:
            self.notes.append(Problem(offset, reason))
        else:
            self.untold += 1

    def put(self, offset: int, name: str, value: str) -> None:
        if not self.fields:
            self.first, self.offset = name, offset
        before = self.fields.get(name)
        if before is None:
            self.fields[name] = value
        elif before == value:
            self.note(offset, f"{name} stands there twice, the same")
        elif not before.strip():
            self.note(offset, f"{name} stands there twice; the one that is not empty is used")
            self.fields[name] = value
        else:
            self.note(offset, f"{name} stands there twice; the first is used, not {_shown(value)}")


def _well_formed(chunk: str) -> dict[str, str] | None:
    """Fields of a record in which everything agrees; None where anything does not."""
    found = _FIELD.findall(chunk)
    if len(found) != chunk.count("<") or (found and not chunk.lstrip(SPACE).startswith("<")):
        return None
    fields = {}
    for name, length, raw in found:
        count = int(length)
        if count == len(raw):
            fields[name.upper()] = raw
        elif count < len(raw) and not raw[count:].strip(SPACE):
            fields[name.upper()] = raw[:count]
        else:
            return None
    if len(fields) != len(found) or (not found and chunk.strip(SPACE)):
        return None
    if not chunk.isascii():
        fields = {name: decode(value) for name, value in fields.items()}
    return fields


def _excerpt(raw: str) -> str:
    """Beginning of a text of one character per byte, as it is reported."""
    return _shown(decode(raw[: 4 * LONGEST_SHOWN]) if len(raw) > 4 * LONGEST_SHOWN else decode(raw))


def _shown(text: str) -> str:
    return repr(text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}...")


def write(
    records: Iterable[Mapping[str, str]], header: Mapping[str, str] | None = None, text: str = ""
) -> bytes:
    """Return the records as the bytes of an ADIF file, UTF-8, lengths in bytes.

    records: fields by name. header: further header fields. text: a line or more for a human reader, put
    before the header's fields; angle brackets in it are replaced.
    """
    plain = text.replace("<", "(").replace(">", ")").strip() or "A log"
    head = {"ADIF_VER": "3.1.4", **(header or {})}
    lines = [plain, "".join(_written(name, value) for name, value in head.items()) + "<EOH>"]
    begin = ("\n".join(lines) + "\n").encode("utf-8", errors="replace")
    return begin + b"".join(record_bytes(record) for record in records)


def record_bytes(record: Mapping[str, str]) -> bytes:
    """One record as it is in a file, with its line end."""
    line = "".join(_written(name, value) for name, value in record.items()) + "<EOR>\n"
    return line.encode("utf-8", errors="replace")


def _written(name: str, value: str) -> str:
    size = len(value.encode("utf-8", errors="replace"))
    return f"<{name.upper()}:{size}>{value} "
