"""Where the tags of an ADIF text stand: found once, in rising order, so that every question about what lies
beyond a place is a search in a sorted list. That keeps the time of reading in proportion to the text, however
many lengths in it are wrong.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from functools import cached_property
from typing import Final

import numpy as np

from propagation.base.units import IntArray

SPACE: Final = " \t\r\n"  # what may stand between fields; other blanks belong to the text around them
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
        """Whether nothing but blanks lies between a place and the next tag, or the end of the text."""
        starts, _, blanks = self._tags
        return place <= self.end and blanks[bisect_left(starts, place)] <= place

    def next_tag(self, place: int, limit: int) -> int | None:
        """Where the next tag begins that ends by the limit; None where there is none."""
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
        """Whether from a place to the next end of record, at most `reach` bytes on, a CALL and a QSO_DATE
        stand.
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
        """Where a value may end whose declared length was not counted in bytes but in UTF-8 characters, or
        with each line end as one.
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
    """Where `length` bytes from `start` end, not counting those at the places `skipped`.

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
