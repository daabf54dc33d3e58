"""Text in a given width: sentences completed, broken into lines, shortened at a comma."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final


def sentence(text: str) -> str:
    """A piece of text with an initial capital and a full stop."""
    plain = text.strip()
    if not plain:
        return ""
    return plain[0].upper() + plain[1:] + ("" if plain[-1] in ".!?" else ".")


CUT = " …"  # end of a shortened text


def in_room(text: str, room: int) -> str:
    """The text without its last parts after a comma or semicolon, until it fits, else without its last words;
    shortened text ends in an ellipsis.
    """
    if len(text) <= room:
        return text
    while len(text) + len(CUT) > room:
        cut = max(text.rfind(", "), text.rfind("; "))
        if cut < 0:
            blank = text.rfind(" ", 0, max(room - len(CUT), 0) + 1)
            while blank > 0 and text[blank - 1].isdigit():  # a figure stays with its unit
                blank = text.rfind(" ", 0, blank)
            text = text[:blank] if blank > 0 else text
            break
        text = text[:cut]
    return text + CUT


def without_middle(text: str, room: int) -> str:
    """The text with an ellipsis in place of its middle if it does not fit; as many of its digits as possible
    are kept.
    """
    lost = len(text) - room + 1
    if lost <= 1:
        return text if len(text) <= room else text[: max(room, 0)]
    middle = (len(text) - lost) / 2.0

    def cost(begin: int) -> tuple[int, float]:
        return sum(sign.isdigit() for sign in text[begin : begin + lost]), abs(begin - middle)

    begin = min(range(1, max(len(text) - lost, 2)), key=cost)
    return f"{text[:begin].rstrip()}…{text[begin + lost :].lstrip()}" if room > 2 else text[: max(room, 0)]


UNITS: Final = frozenset(
    ("deg", "km", "m", "cm", "mm", "MHz", "kHz", "µH", "uH", "pF", "W", "dB", "sfu", "ohm", "%", "min", "h",
     "UTC", "local")
)  # fmt: skip


def _words(text: str, width: int) -> list[str]:
    """Words of a text; a figure and its unit are one, where they fit."""
    found: list[str] = []
    for word in text.split(" "):
        before = found[-1] if found else ""
        belongs = before[-1:].isdigit() and word.rstrip(".,;:)") in UNITS
        if belongs and len(before) + 1 + len(word) <= width:
            found[-1] = f"{before} {word}"
        else:
            found.append(word)
    return found


def wrap(text: str, width: int) -> list[str]:
    """Break a sentence into lines of at most `width` cells, at blanks, but not between figure and unit."""
    if width <= 0:
        return []
    lines: list[str] = []
    line = ""
    for word in _words(text, width):
        while len(word) > width:
            if line:
                lines.append(line)
                line = ""
            lines.append(word[:width])
            word = word[width:]
        if not line:
            line = word
        elif len(line) + 1 + len(word) <= width:
            line = f"{line} {word}"
        else:
            lines.append(line)
            line = word
    lines.append(line)
    return lines


def wrap_all(texts: Sequence[str], width: int) -> list[str]:
    """Several sentences, each wrapped; continuation lines are indented."""
    out: list[str] = []
    for text in texts:
        first, *rest = wrap(text, width) or [""]
        out.append(first)
        if rest:
            indent = "  " if width >= 12 else ""
            out.extend(indent + line for line in wrap(" ".join(rest), max(width - len(indent), 1)))
    return out
