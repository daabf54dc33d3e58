"""Text that is safe to show and to write: what would steer a terminal, turn the direction of writing or be
run by a spreadsheet is made visible instead.

Control characters: C0 and C1 sets and DEL (ISO/IEC 6429); direction: the marks, embeddings and isolates of
the Unicode Bidirectional Algorithm (UAX 9). Lone surrogates, which no file can hold, are treated alike.
"""

from __future__ import annotations

import re
from typing import Final

SIGN: Final = "\N{MIDDLE DOT}"  # stands for a character that is not shown, as everywhere in this program
_STEERING: Final = (
    "\x00-\x08\x0b-\x1f\x7f-\x9f"  # controls but for tab and line feed
    "\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff"
)
_HIDDEN: Final = re.compile(f"[{_STEERING}]")
_BREAKS: Final = re.compile(r"\s*[\t\n]+\s*")
_RUN_BY_SPREADSHEETS: Final = "=+-@\t\r"
_NUMBERS: Final = re.compile(r"[-+][\d.,: eE+-]*")  # a number, a pair of coordinates, an offset: harmless


def shown(text: str) -> str:
    """The text with every steering character as a sign; line feeds and tabs stay."""
    return text if text.isascii() and text.isprintable() else _HIDDEN.sub(SIGN, text)


def one_line(text: str) -> str:
    """The same, with line feeds and tabs as blanks: for a name among other words."""
    return shown(_BREAKS.sub(" ", text) if not text.isprintable() else text)


def in_json(text: str) -> str:
    """JSON with every steering character inside its strings written as an escape, so that nothing is lost."""
    return text if text.isascii() else _HIDDEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def text_cell(text: str) -> str:
    """A cell of a CSV file that is text: shown, and an apostrophe before what a spreadsheet would run."""
    plain = shown(text)
    if text[:1] in _RUN_BY_SPREADSHEETS and text and not _NUMBERS.fullmatch(text):
        return f"'{plain}"
    return plain
