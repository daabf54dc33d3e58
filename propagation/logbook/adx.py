"""Reading logs in ADX, the XML form of the open interchange format (`.adx`).

The elements are ADX, HEADER, RECORDS and RECORD; a field is an element named as in ADIF (from memory of the
specification). Each record is parsed by itself, so one that is not well-formed costs itself alone, and no
document type or outside entity is ever followed.
"""

from __future__ import annotations

import re
from typing import Final
from xml.etree import ElementTree

from propagation.logbook.adif import Log, Problem, Record

_RECORD: Final = re.compile(rb"<RECORD(?:\s[^<>]*)?>(.*?)</RECORD\s*>", re.IGNORECASE | re.DOTALL)
_OPENING: Final = re.compile(rb"<RECORD(?:\s[^<>]*)?>", re.IGNORECASE)
_HEADER: Final = re.compile(rb"<HEADER(?:\s[^<>]*)?>(.*?)</HEADER\s*>", re.IGNORECASE | re.DOTALL)
_LATIN: Final = re.compile(
    rb"""<\?xml[^>]*encoding=["'](?:iso-8859-1|windows-1252|cp1252)["']""", re.IGNORECASE
)


def looks_like_adx(data: bytes) -> bool:
    """Whether the file is XML with an ADX root, told from its first bytes."""
    return bool(
        re.match(
            rb"(?:\xef\xbb\xbf)?\s*(?:<\?xml[^>]*>\s*)?(?:<!--.*?-->\s*)*<ADX\b", data[:2000], re.I | re.S
        )
    )


def read(data: bytes) -> Log:
    """The log in the bytes of an ADX file. Never fails: what cannot be read is in `problems`."""
    encoding = "cp1252" if _LATIN.match(data.lstrip(b"\xef\xbb\xbf \t\r\n")) else "utf-8"
    found = _HEADER.search(data)
    header = _fields(found[1], encoding) if found else {}
    records, problems = [], []
    position = 0
    for match in _RECORD.finditer(data):
        problems += _unclosed(data, position, match.start())
        position = match.end()
        start, body = match.start(), match[1]
        inner = list(_OPENING.finditer(body))
        if inner:  # a record that was never closed swallowed the next one
            problems.append(Problem(start, "a record without its closing tag", lost=True))
            start, body = match.start(1) + inner[-1].start(), body[inner[-1].end() :]
        fields = _fields(body, encoding)
        if isinstance(fields, str):
            problems.append(Problem(start, fields, lost=True))
        elif fields:
            records.append(Record(start, fields))
        else:
            problems.append(Problem(start, "an empty record"))
    problems += _unclosed(data, position, len(data))
    if not records and not problems:
        problems.append(Problem(0, "the file holds no records"))
    if isinstance(header, str):
        problems.insert(0, Problem(found.start() if found else 0, f"the header: {header}"))
        header = {}
    return Log(header, tuple(records), tuple(problems))


def _unclosed(data: bytes, start: int, end: int) -> list[Problem]:
    return [
        Problem(start + match.start(), "a record cut off by the end of the file", lost=True)
        for match in _OPENING.finditer(data[start:end])
    ]


def _fields(body: bytes, encoding: str) -> dict[str, str] | str:
    """The fields of a record, or the reason why it cannot be read."""
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
