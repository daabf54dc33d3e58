"""Names of towns and regions: the tables of places, read once, and the folded names used for comparison.

Two tables, both made at build time (`data/places.provenance.md`). The gazetteer (`data/places.tsv`,
`data/regions.tsv`) holds some thousand towns with position, country, inhabitants and licensed amateurs, and
regions as lists of these towns with weights. The town index (`data/towns.npz`) holds every town of some
thousand inhabitants. It finds a town by its name: exactly, without small words, by its beginning, or nearly.
It is bytes in order of the folded names, so that nothing is parsed before the first look-up. Its rows are in
order of the licensed amateurs in the town, most first, so a smaller row number is the likelier meaning.

Names are compared in folded form: without accents, capitals and punctuation, "St" for "Saint", no leading
"the".
"""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_left
from collections import defaultdict
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Final, TypeAlias

import numpy as np

from propagation.base.units import FloatArray, IntArray

_LETTERS: Final = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i", "ß": "ss", "ħ": "h"}
)
_UMLAUTS: Final = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})
_SHORTER: Final = {"saint": "st", "sankt": "st"}
LONGEST_FOLDED: Final = 400  # characters; names that differ only after these are treated as equal
_NOT_IN_NAMES: Final = re.compile(r"[^\w]+|_")


def fold(name: str) -> str:
    """Fold a name for comparison: no accents, capitals or punctuation; one form of "the", "saint" and "&"."""
    name = name[:LONGEST_FOLDED]  # the time to order accents grows with the square of their number
    if name.isascii() and name.isalpha():  # one plain word, as most names are: nothing to remove
        word = name.lower()
        return _SHORTER.get(word, word)
    plain = unicodedata.normalize("NFKD", name.casefold().translate(_LETTERS))
    plain = "".join(mark for mark in plain if not unicodedata.combining(mark)).translate(_LETTERS)
    plain = plain.replace("&", " and ").replace("'", "").replace("‘", "").replace("’", "").replace(".", "")
    words = _NOT_IN_NAMES.sub(" ", plain).split()
    if len(words) > 1 and words[0] == "the":
        words = words[1:]
    return " ".join(_SHORTER.get(word, word) for word in words)


@dataclass(frozen=True)
class Region:
    """Region as given in the table: `rows` of the town table with `parts` of the weight."""

    name: str
    others: tuple[str, ...]
    kind: str  # country, division, continent, sub-region, group, zone, anyone
    code: str  # ISO country code, country-division, number of the ITU zone, or empty
    amateurs: float  # licensed amateurs, order of magnitude
    time_zone: str
    rows: tuple[int, ...]
    parts: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Gazetteer:
    """Towns as columns of length n, and regions.

    names, others, country, division, time_zone: texts; lat_deg, lon_deg [deg]; people [thousands];
    amateurs: licensed amateurs in and around the town, order of magnitude.
    """

    names: tuple[str, ...]
    others: tuple[tuple[str, ...], ...]
    country: tuple[str, ...]
    division: tuple[str, ...]
    time_zone: tuple[str, ...]
    lat_deg: FloatArray
    lon_deg: FloatArray
    people: IntArray
    amateurs: FloatArray
    regions: tuple[Region, ...]
    regions_by_name: dict[str, list[Region]]  # folded name -> regions, in order of the table
    country_names: dict[str, str]  # ISO code -> name
    division_names: dict[str, str]  # country-division -> name

    def town_name(self, row: int) -> str:
        """The town with its division (where the table has one) or country: "Portland, Oregon"."""
        return f"{self.names[row]}, {self.where(row)}"

    def where(self, row: int) -> str:
        """The division, where the table has its name and many towns share names, else the country."""
        iso = self.country[row]
        if iso in ("US", "CA", "AU"):
            name = self.division_names.get(f"{iso}-{self.division[row]}")
            if name:
                return name
        return self.country_names.get(iso, iso)


def spellings(name: str) -> tuple[str, ...]:
    """The name and its spelling on a keyboard without its special letters: "Koeln" for "Köln"."""
    return name, name.casefold().translate(_UMLAUTS)


def _lines(name: str) -> list[list[str]]:
    text = (DATA / name).read_text(encoding="utf-8")
    return [line.split("\t") for line in text.splitlines() if line and not line.startswith("#")]


@cache
def gazetteer() -> Gazetteer:
    """Return the tables, which are read at the first call and cached."""
    towns = _lines("places.tsv")
    names = [row[0].split("|") for row in towns]
    country = tuple(row[1] for row in towns)
    people = np.array([int(row[5]) for row in towns], dtype=np.int64)

    regions: list[Region] = []
    for kind, label, code, amateurs, zone, points in _lines("regions.tsv"):
        pairs = [point.split(":") for point in points.split()]
        first, *rest = label.split("|")
        regions.append(
            Region(
                first, tuple(rest), kind, code, float(amateurs), zone,
                tuple(int(row) for row, _ in pairs), tuple(int(part) for _, part in pairs),
            )
        )  # fmt: skip
    countries = {region.code: region for region in regions if region.kind == "country"}
    in_country: dict[str, int] = defaultdict(int)
    for iso, thousands in zip(country, people.tolist(), strict=True):
        in_country[iso] += thousands
    share = np.array([countries[iso].amateurs / in_country[iso] for iso in country])
    amateurs_near: FloatArray = share * people.astype(np.float64)

    regions_by_name: dict[str, list[Region]] = defaultdict(list)
    for region in regions:
        for form in dict.fromkeys(fold(form) for form in (region.name, *region.others)):
            regions_by_name[form].append(region)
    return Gazetteer(
        names=tuple(forms[0] for forms in names),
        others=tuple(tuple(forms[1:]) for forms in names),
        country=country,
        division=tuple(row[2] for row in towns),
        time_zone=tuple(row[6] or countries[iso].time_zone for row, iso in zip(towns, country, strict=True)),
        lat_deg=np.array([float(row[3]) for row in towns]),
        lon_deg=np.array([float(row[4]) for row in towns]),
        people=people,
        amateurs=amateurs_near,
        regions=tuple(regions),
        regions_by_name=dict(regions_by_name),
        country_names={iso: region.name for iso, region in countries.items()},
        division_names={region.code: region.name for region in regions if region.kind == "division"},
    )


BytesArray: TypeAlias = np.ndarray[tuple[int, ...], np.dtype[np.bytes_]]

DATA: Final = Path(__file__).parent.parent / "data"
TABLE: Final = DATA / "towns.npz"
SMALL_WORDS: Final = frozenset(  # words often left out when a name is typed (ours)
    (
        *("a", "al", "am", "an", "and", "da", "das", "de", "del", "den", "der", "des", "di", "do", "dos"),
        *("du", "el", "en", "et", "in", "la", "las", "le", "les", "los", "of", "on", "sur", "the", "upon"),
        *("van", "y"),
    )
)


def loosely(folded: str) -> str:
    """Return a folded name without the small words often left out: "rio janeiro" for "rio de janeiro"."""
    return " ".join(word for word in folded.split() if word not in SMALL_WORDS)


@dataclass(frozen=True, eq=False)
class Names:
    """Folded names in order, as bytes between line feeds; `rows` holds the town's row for each name."""

    text: bytes
    rows: IntArray

    @cached_property
    def starts(self) -> IntArray:
        """Position of the line feed before each name."""
        return _starts(self.text)

    def __len__(self) -> int:
        return len(self.rows)

    def __getitem__(self, number: int) -> bytes:
        """The name at an index, for bisection."""
        start = int(self.starts[number]) + 1
        return self.text[start : self.text.index(b"\n", start)]

    def find(self, name: str) -> list[int]:
        """Rows of the towns of exactly this name, likeliest first."""
        line = b"\n" + name.encode() + b"\n"
        at = self.text.find(line)
        if at < 0:
            return []
        first = int(np.searchsorted(self.starts, at))
        count = 1
        while self.text.startswith(line, at + count * (len(line) - 1)):
            count += 1
        found: list[int] = self.rows[first : first + count].tolist()
        return found

    def beginning(self, start: str) -> IntArray:
        """Rows of the towns whose name begins with the text, likeliest first."""
        return np.unique(np.array(self._between(start.encode(), start.encode() + b"\xff"), dtype=np.int64))

    def with_word(self, start: str) -> IntArray:
        """Rows of the towns with a later word of the name that begins with the text, likeliest first."""
        found = [match.start() for match in re.finditer(re.escape(b" " + start.encode()), self.text)]
        return np.unique(self.rows[np.searchsorted(self.starts, found, side="right") - 1].astype(np.int64))

    def like(self, name: str) -> list[str]:
        """Names of about the same length with the same first letter, as candidates for a typing error."""
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
    """Town index: columns of length n, and the names. lat_deg, lon_deg [deg]; people: inhabitants."""

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

    def __len__(self) -> int:
        return len(self.people)

    @cached_property
    def _shown_starts(self) -> IntArray:
        return _starts(self._shown)

    def name(self, row: int) -> str:
        """The town's name as it is written."""
        start = int(self._shown_starts[row]) + 1
        return self._shown[start : self._shown.index(b"\n", start)].decode()

    def country(self, row: int) -> str:
        """ISO code of the town's country."""
        return bytes(self._country[row]).decode()

    def division(self, row: int) -> str:
        """Code of the division of the country that contains the town."""
        return bytes(self._division[row]).decode()

    def rows_of(self, folded: str) -> list[int]:
        """Towns of a folded name, likeliest first; if there are none, those that differ by small words."""
        return self.names.find(folded) or sorted(
            {*self.loose.find(loosely(folded)), *self.names.find(loosely(folded))}
        )

    def time_zone(self, row: int) -> str:
        """IANA name of the town's time zone."""
        return self._zones[int(self._zone[row])]


def _starts(text: bytes) -> IntArray:
    """Positions of the line feed before each name."""
    return np.flatnonzero(np.frombuffer(text, dtype=np.uint8) == ord("\n"))[:-1]


@cache
def towns() -> Towns:
    """Return the town index, which is read at the first call and cached."""
    with np.load(TABLE) as file:
        data = {name: file[name] for name in file.files}

    def names(name: str) -> Names:
        return Names(data[name].tobytes(), data[f"{name}_row"])

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
    )
