"""Reading and writing logs in ADIF, the open interchange format of amateur logs (`.adi`).

A file is a header, ended by <EOH>, and records of fields `<NAME:LENGTH[:TYPE]>value`, each ended by <EOR>;
a file that begins with "<" may have no header (ADIF specification, from memory). Programs write it in
many broken ways, so reading works like this:

- A record whose every field agrees with its length is taken at once (the fast way).
- Any other is read field by field. A length is tried in bytes, then in characters, then with line ends
  counted once; it is believed where a tag, an end or nothing but space follows. A length that runs over the
  next tag is cut there.
- Reading goes on after the next <EOR>, whatever happened before it.
- Every stretch of the file ends up in a record or in a problem that tells its byte offset and the reason.

Bytes are UTF-8 where they are valid UTF-8, else cp1252, value by value.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

SPACE: Final = " \t\r\n"  # what may stand between fields; other blanks belong to the text around them
LONGEST_COUNTED: Final = 10_000  # bytes; a longer value is tried as counted in bytes only
LONGEST_RECORD: Final = (
    20_000  # bytes; how far is looked for the rest of a record whose forerunner has no end
)
MOST_NOTES: Final = 8  # per record; a heap of junk is told once
HEADER_FIELDS: Final = frozenset({"ADIF_VER", "PROGRAMID", "PROGRAMVERSION", "CREATED_TIMESTAMP"})
_BARE: Final = "CALL|QSO_DATE|TIME_ON|TIME_OFF|BAND|FREQ|MODE|SUBMODE|RST_SENT|RST_RCVD|GRIDSQUARE|COMMENT"
_BARE_FIELDS: Final = frozenset(_BARE.split("|"))  # recognised even where their length is missing or broken

_FIELD = re.compile(r"<(\w+):(\d{1,9})(?::\w+)?>([^<]*)", re.ASCII)
_EOR = re.compile(r"<\s{0,9}EOR\s{0,9}>", re.IGNORECASE)
_EOH = re.compile(r"<\s{0,9}EOH\s{0,9}>", re.IGNORECASE)
_MARK = re.compile(
    r"<\s{0,9}(?:(EO[RH])|(\w{1,60})\s{0,9}(?::([^<>:]{0,30}))?(?::[^<>]{0,60})?)\s{0,9}>",
    re.IGNORECASE | re.ASCII,
)
_TAG = (
    r"<\s{0,9}(?:EO[RH]|\w{1,60}\s{0,9}:\s{0,9}\d{1,18}\s{0,9}(?::[^<>]{0,60})?"
    rf"|(?:{_BARE})(?::[^<>]{{0,60}})?)\s{{0,9}}>"
)
_NEXT_TAG = re.compile(_TAG, re.IGNORECASE | re.ASCII)
_TAG_FOLLOWS = re.compile(rf"[{SPACE}]*+(?:{_TAG}|\Z)", re.IGNORECASE | re.ASCII)
_CALL_TAG = re.compile(r"<\s{0,9}CALL\s{0,9}:", re.IGNORECASE)
_DATE_TAG = re.compile(r"<\s{0,9}QSO_DATE\s{0,9}:", re.IGNORECASE)
_LEAD_BYTE = re.compile(r"[^\x80-\xbf]")


class Record(NamedTuple):
    """One record: the byte offset of its first field, and its fields by name in capitals."""

    offset: int
    fields: dict[str, str]


@dataclass(frozen=True)
class Problem:
    """What was wrong, and where: byte offset, and line counted from 1 (0: not counted). `lost`: a record
    could not be used at all.
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
    """The log in the bytes of a file. Never fails: what cannot be read is in `problems`."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        data = data.decode("utf-16", errors="replace").encode("utf-8")
    reader = _Reader(data.decode("latin-1"))  # one character per byte, so offsets are byte offsets
    reader.run()
    return Log(reader.header, tuple(reader.records), tuple(reader.problems))


def decode(raw: str) -> str:
    """A value read as one character per byte: UTF-8 where it is valid, else cp1252, else Latin-1."""
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

    def __init__(self, text: str) -> None:
        self.text = text
        self.end = len(text)
        self.header: dict[str, str] = {}
        self.records: list[Record] = []
        self.problems: list[Problem] = []

    def run(self) -> None:
        text = self.text
        position = self._header()
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
        self._take_header_fields()
        if not self.records and not self.problems:
            reason = "the file holds a header and no records" if self.header else "the file is empty"
            self.problems.append(Problem(0, reason))

    def _header(self) -> int:
        """Reads the header and returns where the records begin."""
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
        mark = _NEXT_TAG.search(text, start)
        lead = text[start : mark.start() if mark else self.end].strip(SPACE + "\x00\x1a")
        if mark and lead:
            self._note(start, "text before the first field, and no end of header")
            return mark.start()
        return start

    def _take_header_fields(self) -> None:
        """Header fields that ended up in the first record, where the end of the header was missing."""
        if self.records and not HEADER_FIELDS.isdisjoint(self.records[0].fields):
            fields = self.records[0].fields
            for name in HEADER_FIELDS & fields.keys():
                self.header.setdefault(name, fields.pop(name))
            if not fields:
                self.records.pop(0)

    def _note(self, offset: int, reason: str, lost: bool = False) -> None:
        self.problems.append(Problem(offset, reason, lost))

    def _careful(self, position: int) -> int:
        """Reads field by field to the next end of record or of file; returns where to go on."""
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
                    current.note(current.offset, "the file ends without an end of record")
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
        """Takes one field into the draft; returns where it ends."""
        text, start = self.text, mark.end()
        length = (mark[3] or "").strip()
        if not (length.isascii() and length.isdigit()):
            following = text.find("<", start)
            stop = self.end if following < 0 else following
            if name in _BARE_FIELDS:
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
        """The raw value at a place with a declared length: value, where it ends, and what was wrong."""
        text = self.text
        stop = start + length
        if stop <= self.end and _TAG_FOLLOWS.match(text, stop):
            return text[start:stop], stop, ""
        for other in self._other_ends(start, length):
            if _TAG_FOLLOWS.match(text, start + other):
                return text[start : start + other], start + other, ""
        following = _NEXT_TAG.search(text, start, min(stop + 80, self.end))
        if following and following.start() < stop:
            value = text[start : following.start()].rstrip(SPACE)
            return value, following.start(), f"the length {length} is too long; cut at the next tag"
        if stop > self.end:
            return (
                None,
                self.end,
                f"cut off by the end of the file after {self.end - start} of {length} bytes",
            )
        while stop < self.end and "\x80" <= text[stop] <= "\xbf":  # never through the middle of a character
            stop += 1
        return text[start:stop], stop, f"more text follows than the length {length} tells"

    def _other_ends(self, start: int, length: int) -> list[int]:
        """Byte lengths that a declared length may mean when it was not counted in bytes."""
        if start + length > self.end or length > LONGEST_COUNTED:
            return []
        declared = self.text[start : start + length]
        window = self.text[start : start + 4 * length + 4]
        ends = [] if declared.isascii() else [_characters_end(window, length)]
        ends += [_lines_end(window, length)] if "\r\n" in declared else []
        return [end for end in ends if end is not None and end != length]

    def _begins_record(self, current: _Draft, name: str, offset: int) -> bool:
        """Whether a repeated field is the first of a new record whose forerunner lacks its end."""
        if name != current.first or not {"CALL", "QSO_DATE"} <= current.fields.keys():
            return False
        stop = _EOR.search(self.text, offset, offset + LONGEST_RECORD)
        rest = self.text[offset : stop.start() if stop else offset + LONGEST_RECORD]
        return bool(_CALL_TAG.search(rest) and _DATE_TAG.search(rest))

    def _end_of_header(self, current: _Draft, offset: int) -> None:
        if "CALL" in current.fields:
            current.note(offset, "an end of header stands inside a record and is ignored")
            return
        for name, value in current.fields.items():
            self.header.setdefault(name, value)
        if self.records:
            self._note(current.offset, "a second header in the middle of the file")
        current.fields.clear()
        current.notes.clear()

    def _finish(self, current: _Draft) -> None:
        """The draft becomes a record; its notes, or the reason why there is none, become problems."""
        if current.fields:
            self.records.append(Record(current.offset, current.fields))
        elif not current.notes:
            current.note(current.offset, "an empty record")
        lost = bool(current.notes) and not current.fields and current.notes[0].reason != "an empty record"
        for number, problem in enumerate(current.notes[:MOST_NOTES]):
            self.problems.append(Problem(problem.offset, problem.reason, lost and number == 0))
        if len(current.notes) > MOST_NOTES:
            more = len(current.notes) - MOST_NOTES
            self.problems.append(Problem(current.offset, f"and {more} more of the like in this record"))


class _Draft:
    """A record in the making."""

    def __init__(self, offset: int) -> None:
        self.offset = offset
        self.fields: dict[str, str] = {}
        self.notes: list[Problem] = []
        self.first = ""

    def note(self, offset: int, reason: str) -> None:
        self.notes.append(Problem(offset, reason))

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
            self.note(offset, f"{name} stands there twice; the first is used, not {_excerpt(value)}")


def _well_formed(chunk: str) -> dict[str, str] | None:
    """The fields of a record in which everything agrees; None where anything does not."""
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


def _characters_end(window: str, length: int) -> int | None:
    """Where a value of so many UTF-8 characters ends; None where the window is too short."""
    for number, lead in enumerate(_LEAD_BYTE.finditer(window)):
        if number == length:
            return lead.start()
    return None


def _lines_end(window: str, length: int) -> int | None:
    """Where a value ends whose line ends were counted as one character each but stand there as two."""
    position = counted = 0
    for line in window.split("\r\n"):
        if counted + len(line) >= length:
            return position + length - counted
        position += len(line) + 2
        counted += len(line) + 1
    return None


def _excerpt(text: str) -> str:
    shown = decode(text if len(text) <= 40 else text[:40] + "...")
    return repr(shown)


def write(
    records: Iterable[Mapping[str, str]], header: Mapping[str, str] | None = None, text: str = ""
) -> bytes:
    """Records as the bytes of an ADIF file, UTF-8, lengths in bytes.

    records: fields by name. header: further header fields. text: a line or more for a human reader, put
    before the header's fields; angle brackets in it are replaced.
    """
    plain = text.replace("<", "(").replace(">", ")").strip() or "A log"
    head = {"ADIF_VER": "3.1.4", **(header or {})}
    lines = [plain, "".join(_written(name, value) for name, value in head.items()) + "<EOH>"]
    lines += [
        "".join(_written(name, value) for name, value in record.items()) + "<EOR>" for record in records
    ]
    return ("\n".join(lines) + "\n").encode("utf-8", errors="replace")


def _written(name: str, value: str) -> str:
    size = len(value.encode("utf-8", errors="replace"))
    return f"<{name.upper()}:{size}>{value} "
