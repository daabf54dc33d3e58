"""What an attacker gives the program: hostile names, mutated files, shapes that cost a bad reader dear."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[2]
FIXTURES: Final = ROOT / "fixtures"

STEERING: Final = [
    *(chr(code) for code in (*range(9), *range(11, 32), *range(127, 160))),
    *"\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069",
]  # what must never reach a terminal: C0 but tab and line feed, DEL, C1, direction
NAMES: Final = (
    "Al\x1b[31mX\x1b]0;T\x07",
    "Bob [/]",
    "[bold red]Cy",
    "D\u202eno\u2066",
    "Ed\x9b2J",
    '=HYPERLINK("http://x")',
    "Fay\nGus: added",
    'O\'Neil \\ "Q"',
    "[@click=app.quit]Kim[/]",
    "[red]x",
)
PIECES: Final = tuple(
    piece.encode("utf-8", "surrogatepass")
    for piece in (
        *NAMES, "\x00", "\x1b[2J", "\x9b", "\u202e", "\ud800", "\ufeff", "é", "€", "𝒳", "\r\n", "\r", "\n\n",
        "<", ">", "<EOR>", "<EOH>", "<CALL:7>", "<COMMENT:99999>", "<X:-1>", "<RECORD>", "</RECORD>",
        "<!--", "-->", "<!DOCTYPE a [<!ENTITY x 'y'>]>", "&x;", "]]>", '"', "'", "'''", '"""', "[[", "[[[[",
        "{a=", "]", "=", "#", "!", ",", ";", "\t", "-", "+", "1e999", "-1e999", "nan", "inf", "-0", "0x",
        "9" * 400, "1" * 5000, "99999999999999999999", "2026-13-45T99:99Z", "1900-01-01", "9999-12-31T00:00Z",
        "AA00", "RR99XX99", "91,181", "a." * 30, "\\u0000", "\\", "null", "true", "[" * 300, "{" * 300,
    )
)  # fmt: skip


def mutated(seed: bytes, chance: random.Random, most: int = 60_000) -> bytes:
    """The bytes with a few wounds: bits flipped, stretches cut, doubled, moved, or hostile pieces put in.

    most: bytes of what comes back; of a seed that is longer, a tenth more than the seed.
    """
    most = max(most, len(seed) * 11 // 10)
    data = bytearray(seed)
    for _ in range(chance.randint(1, 6)):
        place = chance.randrange(len(data) + 1)
        stretch = chance.choice((1, 3, 20, 200))
        wound = chance.random()
        if wound < 0.15 and data:
            data[place % len(data)] ^= 1 << chance.randrange(8)
        elif wound < 0.3:
            del data[place : place + stretch]
        elif wound < 0.75:
            data[place:place] = chance.choice(PIECES) * chance.choice((1, 1, 1, 2, 30))
        elif wound < 0.85:
            data[place:place] = data[place : place + stretch] * chance.choice((1, 2, 50))
        elif wound < 0.95:
            del data[place:]
        else:
            data[place:place] = bytes(chance.randrange(256) for _ in range(stretch))
        del data[most:]
    return bytes(data)


# Shapes of a few hundred kilobytes: the time for 2n is to be at most 2.5 times that for n.
LOG_SHAPES: Final[dict[str, Callable[[int], bytes]]] = {
    "ADX, records never closed": lambda n: b"<ADX><RECORDS>" + b"<RECORD>" * n,
    "ADX, headers never closed": lambda n: b"<ADX>" + b"<HEADER>" * n,
    "ADX, closing tags cut off": lambda n: b"<ADX><RECORD>" + b"</RECORD " * n,
    "ADX, empty comments first": lambda n: b"<!---->" * n,
    "ADX, elements in elements": lambda n: b"<ADX><RECORD>" + b"<a>" * n + b"</a>" * n + b"</RECORD>",
    "ADX, many fields": lambda n: (
        b"<ADX><RECORD>" + b"".join(b"<F%d>x</F%d>" % (i, i) for i in range(n)) + b"</RECORD>"
    ),
    "ADIF, wrong lengths": lambda n: b"<CALL:9999>Q0TEST<COMMENT:7000>x" * (n // 2),
    "ADIF, one field again and again": lambda n: b"<CALL:1>A" * n,
    "ADIF, records without end": lambda n: b"<CALL:1>A<QSO_DATE:8>20260101" * (n // 3),
    "ADIF, lengths in characters": lambda n: "<COMMENT:5000>é\r\n".encode() * n,
    "ADIF, lengths into blanks": lambda n: b"<CALL:%d>A" % n * (n // 50) + b" " * n,
    "ADIF, only brackets": lambda n: b"<" * (5 * n),
    "ADIF, brackets and blanks": lambda n: b"<         " * n,
    "ADIF, ends of header": lambda n: b"<CALL:1>A<EOH>" * n,
    "ADIF, empty records": lambda n: b"<EOR>" * n,
    "ADIF, fields without length": lambda n: b"<CALL>x" * n,
    "ADIF, a long word": lambda n: b"<" + b"A" * (20 * n),
    "ADIF, stretches in vain": lambda n: b"<CALL:1>A<APP_BANDWHEN_TRIED:%d>" % (2 * n) + b"x;" * n + b"<EOR>",
    "CSV, only commas": lambda n: b"time,call,band\n" + b"," * (10 * n),
    "CSV, only quotes": lambda n: b"time,call,band\n" + b'"' * (10 * n),
    "CSV, short lines": lambda n: b"time,call,band\n" + b'x,"\n' * n,
    "CSV, a wide heading": lambda n: b"time,call,band" + b",x" * (5 * n) + b"\n1,2,3",
}
TOML_SHAPES: Final[dict[str, Callable[[int], str]]] = {
    "a key of many parts": lambda n: "a." * n + "a = 1",
    "a table of many parts": lambda n: "[" + "a." * n + "a]",
    "brackets in brackets": lambda n: "a = " + "[" * n,
    "tables in tables": lambda n: "a = " + "{a = " * n,
    "a number of many digits": lambda n: "a = " + "1" * n,
    "a number of many hexadecimal digits": lambda n: "a = 0x" + "f" * n,
    "a word without end": lambda n: "a" * (10 * n),
    "a quoted word without end": lambda n: '"' + "a" * (10 * n),
    "many tables": lambda n: "[[a]]\n" * n,
}
