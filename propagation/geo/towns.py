"""Every town of some thousand people, found by its name: exactly, loosely, by its beginning, or nearly.

The table (`data/towns.npz`, see `data/places.provenance.md`) is bytes in order of the folded names, so that
nothing is parsed before the first look-up. Rows are in order of the licensed amateurs in the town, most
first, so that a smaller row number is the likelier meaning of a name.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final, TypeAlias

import numpy as np

from propagation.base.units import FloatArray, IntArray

BytesArray: TypeAlias = np.ndarray[tuple[int, ...], np.dtype[np.bytes_]]

TABLE: Final = Path(__file__).parent.parent / "data" / "towns.npz"
SMALL_WORDS: Final = frozenset(  # left out when a name is typed in a hurry (ours)
    (
        *("a", "al", "am", "an", "and", "da", "das", "de", "del", "den", "der", "des", "di", "do", "dos"),
        *("du", "el", "en", "et", "in", "la", "las", "le", "les", "los", "of", "on", "sur", "the", "upon"),
        *("van", "y"),
    )
)


def loosely(folded: str) -> str:
    """A folded name without the small words that people leave out: "rio janeiro" for "rio de janeiro"."""
    return " ".join(word for word in folded.split() if word not in SMALL_WORDS)


@dataclass(frozen=True, eq=False)
class Names:
    """Folded names in order, as bytes between line feeds; `rows` says whose name each is."""

    text: bytes
    starts: IntArray  # place of the line feed before each name
    rows: IntArray

    def __len__(self) -> int:
        return len(self.rows)

    def __getitem__(self, number: int) -> bytes:
        """The name of a number, for bisection."""
        start = int(self.starts[number]) + 1
        return self.text[start : self.text.index(b"\n", start)]

    def find(self, name: str) -> list[int]:
        """Rows of the towns of exactly this name, likeliest first."""
        return self._between(name.encode(), name.encode() + b"\x00")

    def beginning(self, start: str) -> IntArray:
        """Rows of the towns whose name begins so, likeliest first."""
        return np.unique(np.array(self._between(start.encode(), start.encode() + b"\xff"), dtype=np.int64))

    def with_word(self, start: str) -> IntArray:
        """Rows of the towns of whose name a later word begins so, likeliest first."""
        found = [match.start() for match in re.finditer(re.escape(b" " + start.encode()), self.text)]
        return np.unique(self.rows[np.searchsorted(self.starts, found, side="right") - 1].astype(np.int64))

    def like(self, name: str) -> list[str]:
        """Names of about the same length with the same first letter: among these a slip is looked for."""
        if not name:
            return []
        low, high = self._range(name[0].encode(), name[0].encode() + b"\xff")
        ends = np.append(self.starts[1:], len(self.text) - 1)
        lengths = (ends - self.starts - 1)[low:high]
        near = np.flatnonzero(np.abs(lengths - len(name)) <= 2) + low
        return [self[number].decode() for number in near.tolist()]

    def _range(self, first: bytes, last: bytes) -> tuple[int, int]:
        return bisect_left(self, first), bisect_left(self, last)

    def _between(self, first: bytes, last: bytes) -> list[int]:
        low, high = self._range(first, last)
        found: list[int] = self.rows[low:high].tolist()
        return found


@dataclass(frozen=True, eq=False)
class Towns:
    """The table: columns of length n, and the names. lat_deg, lon_deg [deg]; people: inhabitants."""

    lat_deg: FloatArray
    lon_deg: FloatArray
    people: IntArray
    names: Names
    loose: Names
    _country: BytesArray
    _division: BytesArray
    _zone: IntArray
    _zones: tuple[str, ...]
    _shown: bytes
    _shown_starts: IntArray

    def __len__(self) -> int:
        return len(self.people)

    def name(self, row: int) -> str:
        """The town's name as it is written."""
        start = int(self._shown_starts[row]) + 1
        return self._shown[start : self._shown.index(b"\n", start)].decode()

    def country(self, row: int) -> str:
        """ISO code of the town's country."""
        return bytes(self._country[row]).decode()

    def division(self, row: int) -> str:
        """Code of the division of the country in which the town lies."""
        return bytes(self._division[row]).decode()

    def rows_of(self, folded: str) -> list[int]:
        """Towns of a folded name, likeliest first; where there are none, those that differ by small words."""
        return self.names.find(folded) or sorted(
            {*self.loose.find(loosely(folded)), *self.names.find(loosely(folded))}
        )

    def time_zone(self, row: int) -> str:
        """IANA name of the town's time zone."""
        return self._zones[int(self._zone[row])]


def _starts(blob: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> IntArray:
    """Places of the line feed before each text."""
    return np.flatnonzero(blob == ord("\n"))[:-1]


@cache
def towns() -> Towns:
    """The table, read at the first call and kept."""
    with np.load(TABLE) as file:
        data = {name: file[name] for name in file.files}

    def names(name: str) -> Names:
        return Names(data[name].tobytes(), _starts(data[name]), data[f"{name}_row"])

    return Towns(
        lat_deg=data["lat_cdeg"] / 100.0,
        lon_deg=data["lon_cdeg"] / 100.0,
        people=data["people"],
        names=names("keys"),
        loose=names("loose"),
        _country=data["country"],
        _division=data["division"],
        _zone=data["zone"],
        _zones=tuple(data["zones"].tobytes().decode()[1:-1].split("\n")),
        _shown=data["names"].tobytes(),
        _shown_starts=_starts(data["names"]),
    )
