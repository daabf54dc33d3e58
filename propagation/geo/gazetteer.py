"""The table of towns and regions that the program knows by name, read once.

Towns carry a position, a country and a number of people; a region is a list of towns with weights. Both come
from tables made at build time (`data/places.tsv`, `data/regions.tsv`; see `data/places.provenance.md`).
Names are compared folded: without accents, capitals and punctuation, "St" for "Saint", no leading "the".
"""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray

_LETTERS: Final = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i", "ß": "ss", "ħ": "h"}
)
_UMLAUTS: Final = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})
_SHORTER: Final = {"saint": "st", "sankt": "st"}
LONGEST_FOLDED: Final = 400  # characters; two names that differ only beyond are taken as one
_NOT_IN_NAMES: Final = re.compile(r"[^\w]+|_")


def fold(name: str) -> str:
    """A name as it is compared: no accents, capitals or punctuation; "the", "saint" and "&" made alike."""
    name = name[:LONGEST_FOLDED]  # to put accents in order takes a time that grows with the square of a run
    if name.isascii() and name.isalpha():  # one plain word, as most names are: nothing to take off
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
    """A region as the table gives it: `rows` of the town table with `parts` of the weight."""

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
        """The town with its division (where the table knows one) or country: "Portland, Oregon"."""
        return f"{self.names[row]}, {self.where(row)}"

    def where(self, row: int) -> str:
        """The division, where the table knows its name and many towns share names, else the country."""
        iso = self.country[row]
        if iso in ("US", "CA", "AU"):
            name = self.division_names.get(f"{iso}-{self.division[row]}")
            if name:
                return name
        return self.country_names.get(iso, iso)


def spellings(name: str) -> tuple[str, ...]:
    """The name, and as it is typed without the keys for its letters: "Koeln" for "Köln"."""
    return name, name.casefold().translate(_UMLAUTS)


def _lines(name: str) -> list[list[str]]:
    text = files("propagation").joinpath("data", name).read_text(encoding="utf-8")
    return [line.split("\t") for line in text.splitlines() if line and not line.startswith("#")]


@cache
def gazetteer() -> Gazetteer:
    """The tables, read at the first call and kept."""
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
