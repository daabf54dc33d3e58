"""Reading logs in ADX, the XML form of the open interchange format (`.adx`).

The elements are ADX, HEADER, RECORDS and RECORD. A field is an element named as in ADIF (from memory of the
specification). Each record is parsed separately, so a record that is not well-formed loses only itself.
Document types and external entities are never followed.
"""

from __future__ import annotations

import re
from typing import Final
from xml.etree import ElementTree

from propagation.logbook.adif import Log, Problem, Record
from propagation.logbook.text_blocks import Block

RECORD_END: Final = re.compile(rb"</RECORD\s*>", re.IGNORECASE)
_RECORD_TAG: Final = re.compile(rb"<RECORD(?:\s[^<>]*)?>|</RECORD\s*>", re.IGNORECASE)
_HEADER: Final = re.compile(rb"<HEADER(?:\s[^<>]*)?>", re.IGNORECASE)
_HEADER_END: Final = re.compile(rb"</HEADER\s*>", re.IGNORECASE)
_LATIN: Final = re.compile(
    rb"""<\?xml[^<>]*?encoding=["'](?:iso-8859-1|windows-1252|cp1252)["']""", re.IGNORECASE
)
_BEFORE_ROOT: Final = re.compile(rb"\s+|<\?xml[^<>]*>|<!--", re.IGNORECASE)
_ROOT: Final = re.compile(rb"<ADX\b", re.IGNORECASE)
NOTHING: Final = "the file holds no records"
_LOOK_BYTES: Final = 2000  # bytes in which the root of the document is searched for
_BYTE_ORDER_MARK: Final = b"\xef\xbb\xbf"


def looks_like_adx(data: bytes) -> bool:
    """Return whether the file is XML with an ADX root, based on its first bytes."""
    head = data[:_LOOK_BYTES].removeprefix(_BYTE_ORDER_MARK)
    place = 0
    while (found := _BEFORE_ROOT.match(head, place)) is not None:
        place = found.end()
        if found[0] == b"<!--":
            place = head.find(b"-->", place) + 3
            if place < 3:
                return False
    return _ROOT.match(head, place) is not None


def encoding_of(data: bytes) -> str:
    """Encoding that the first bytes of a document declare: UTF-8 unless they declare another."""
    head = data[:_LOOK_BYTES].removeprefix(_BYTE_ORDER_MARK).lstrip()
    return "cp1252" if _LATIN.match(head) else "utf-8"


def read(data: bytes) -> Log:
    """Read the log in the bytes of an ADX file. Never fails: unreadable parts are in `problems`."""
    log = read_block(Block(0, data, first=True, last=True), encoding_of(data))
    return log if log.records or log.problems else Log(log.header, (), (Problem(0, NOTHING),))


def read_block(block: Block, encoding: str) -> Log:
    """Read one block of a file; offsets count from the beginning of the file."""
    header, problems = _header(block.data, encoding) if block.first else ({}, [])
    records, further = records_in(block.data, encoding, block.offset)
    return Log(header, tuple(records), (*problems, *further))


def records_in(data: bytes, encoding: str, offset: int = 0) -> tuple[list[Record], list[Problem]]:
    """Records in a stretch of a document that begins at the byte `offset` of its file, and its problems.

    The tags that open and close records are found in one pass. So the time is proportional to the bytes, even
    with unclosed tags.
    """
    records: list[Record] = []
    problems: list[Problem] = []
    begun: re.Match[bytes] | None = None
    for tag in _RECORD_TAG.finditer(data):
        if not tag[0].startswith(b"</"):
            if begun is not None:
                place = offset + begun.start()
                problems.append(Problem(place, "a record without its closing tag", lost=True))
            begun = tag
        elif begun is not None:
            _take(data[begun.end() : tag.start()], encoding, offset + begun.start(), records, problems)
            begun = None
    if begun is not None:
        reason = "a record cut off by the end of the file"
        problems.append(Problem(offset + begun.start(), reason, lost=True))
    return records, problems


def _take(body: bytes, encoding: str, place: int, records: list[Record], problems: list[Problem]) -> None:
    """Turn one record's body into a record or a problem."""
    fields = _fields(body, encoding)
    if isinstance(fields, str):
        problems.append(Problem(place, fields, lost=True))
    elif fields:
        records.append(Record(place, fields))
    else:
        problems.append(Problem(place, "an empty record"))


def _header(data: bytes, encoding: str) -> tuple[dict[str, str], list[Problem]]:
    """Fields of the header, where there is one, and its fault."""
    begun = _HEADER.search(data)
    ended = _HEADER_END.search(data, begun.end()) if begun else None
    if begun is None or ended is None:
        return {}, []
    fields = _fields(data[begun.end() : ended.start()], encoding)
    if isinstance(fields, str):
        return {}, [Problem(begun.start(), f"the header: {fields}")]
    return fields, []


def _fields(body: bytes, encoding: str) -> dict[str, str] | str:
    """Fields of a record, or the reason why it cannot be read."""
    try:
        text = body.decode(encoding)
    except UnicodeDecodeError:
        text = body.decode("cp1252", errors="replace")
    try:
        root = ElementTree.fromstring(f"<RECORD>{text}</RECORD>")
    except (ElementTree.ParseError, ValueError) as error:
        return f"not well-formed: {str(error).partition(':')[0]}"
    fields: dict[str, str] = {}
    for element in root:
        name = (element.get("FIELDNAME") or element.tag).upper() if isinstance(element.tag, str) else ""
        if name and name not in fields:
            fields[name] = "".join(element.itertext())
    return fields
