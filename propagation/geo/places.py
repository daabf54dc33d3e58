"""Positions and targets from typed text: locators, coordinates, names, regions, rings.

Accepted forms, in the order in which they are tried:
1. latitude and longitude in decimal degrees, "-29.5,29.5", or with the
   hemisphere, "51.5 N 0.1 W";
2. a locator of 4, 6 or 8 characters (a point), or of two letters A to R (the field, a region). Two such
   letters are always the field, never a country: KG is the field, Kyrgyzstan is KGZ or its name. Two letters
   that are not a field (US, ZA, UY) are the ISO country code;
3. a ring around the site: "within 500 km", "300 to 800 km", also in miles;
4. "anyone"; a country, part of a country, continent, sub-region or usual group by name; "ITU zone 57";
   "country KG" or "field KG" to be explicit;
5. a town, alone or with its country, division or locator of 4 to 8 characters: "Durban", "Cambridge,
   Massachusetts", "La Paz, FF89". Of several towns with one name, the one far larger than the others is
   chosen, and the note names another; where there is none, `AmbiguousPlaceError` lists them.
Every spelling offered in a list, a note or a completion resolves to exactly the place it is offered for.
Capitals, accents, punctuation and small words such as "de" do not matter.
"""

from __future__ import annotations

import re
from difflib import get_close_matches
from functools import cache
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import IntArray
from propagation.geo.gazetteer import Region, fold, gazetteer, towns
from propagation.geo.great_circle import distance_km
from propagation.geo.locator import Position, locator_of, parse_position
from propagation.geo.regions import Target, field, of_region, point, ring

KM_PER_MILE: Final = 1.609_344  # km, international mile (exact)
LONGEST_NAME: Final = 100  # characters; no name is longer
FAR_LARGER: Final = 8.0  # times the people of the next town of the same name, for it to be chosen (ours)
ONE_TOWN_KM: Final = 30.0  # km within which two entries of one name count as a town and its suburb (ours)
LARGE_TOWN: Final = 100_000  # people from which a town takes precedence over a region of its name (ours)
ZONE_TOWN: Final = 15_000  # people of a town whose time zone is used for the area around it (ours)
LISTED_AT_MOST: Final = 8  # towns of one name in a list of them
WITH_DIVISION: Final = ("US", "CA", "AU", "GB")  # countries whose towns are named with their division


class AmbiguousPlaceError(InputError):
    """Error: several towns have the name; `choices` are their full names, likeliest first."""

    def __init__(self, message: str, choices: tuple[str, ...]) -> None:
        super().__init__(message)
        self.choices = choices


_FIELD = re.compile(r"(?:field\s+)?([A-R]{2})", re.IGNORECASE)
_COUNTRY_CODE = re.compile(r"country\s+([A-Z]{2,3})", re.IGNORECASE)
_DISTANCE = r"(\d{1,3}(?:,\d{3})+|\d{1,6}(?:\.\d+)?)"
_RING = re.compile(
    rf"(?:(?:within|up to|<)\s*{_DISTANCE}|{_DISTANCE}\s*(?:to|-|–|and)\s*{_DISTANCE})"
    r"\s*(km|kilometres|kilometers|mi|miles)?(?:\s+(?:away|of (?:here|me)))?",
    re.IGNORECASE,
)
_ZONE = re.compile(r"(?:itu\s*)?zone\s*(\d{1,9})|itu\s*(\d{1,9})", re.IGNORECASE)
_COORDINATES = re.compile(r"[+\-\N{MINUS SIGN}\d.\s]+,[+\-\N{MINUS SIGN}\d.\s]+")
_HEMISPHERES = re.compile(r"(\d+(?:\.\d+)?)\s*°?\s*([NS])[,;\s]*(\d+(?:\.\d+)?)\s*°?\s*([EW])", re.IGNORECASE)
_LOCATOR_LIKE = re.compile(r"[A-Za-z]{2}\d{2}([A-Za-z]{2}(\d{2})?)?")


def resolve(text: str, site: Position | None = None) -> Target:
    """Resolve a text to a target; see the module docstring for the accepted forms.

    text: as typed. site: the operator's position, needed for a ring only.
    Raises InputError, with the nearest known names, for an unknown text.
    """
    plain = _checked(text)
    if _COORDINATES.fullmatch(plain) or _LOCATOR_LIKE.fullmatch(plain):
        return point(_spelt(plain), parse_position(plain))
    found = _FIELD.fullmatch(plain)
    if found:
        code = found[1].upper()
        country = None if len(plain) > 2 else _country_by_code(code)
        note = f"{code} is read as the locator field; for {country.name} write its name." if country else ""
        return field(code, note)
    found = _RING.fullmatch(plain)
    if found:
        return _ring(found, site, plain)
    region = _region(plain)
    rows = _towns(plain)
    if region is not None:
        return of_region(region, _other_reading(plain, region, rows))
    if rows:
        return _town(plain, rows)
    raise _unknown(plain)


def place(text: str) -> Position:
    """Resolve a text to a position: coordinates, a locator of 4 to 8 characters, or a name.

    A town takes precedence over a region of the same name. A country or division means its largest town (see
    `named_place` for its name). Raises InputError for anything larger and for unknown names.
    """
    return named_place(text)[1]


def named_place(text: str, hint: bool = True) -> tuple[str, Position]:
    """Resolve as `place` does, with the name of the place: ("Montevideo, Uruguay", Position(...)).

    hint: search for the nearest names where there is no such place, which takes a hundred times longer.
    """
    plain = _checked(text)
    if _COORDINATES.fullmatch(plain) or _LOCATOR_LIKE.fullmatch(plain):
        return _spelt(plain), parse_position(plain)
    if _FIELD.fullmatch(plain):
        code = _FIELD.fullmatch(plain)
        raise InputError(
            f"{text!r} is a locator field, 2000 km across, not a place: add two digits, as in"
            f" {code[1].upper() if code else 'KG'}30."
        )
    rows = _towns(plain)
    region = _region(plain)
    if rows and (region is None or _before_region(rows[0], region)):
        target = _town(plain, rows)
        return target.name, target.centre
    if region is not None and region.kind in ("country", "division"):
        largest = region.rows[int(np.argmax(region.parts))]
        table = gazetteer()
        return table.town_name(largest), of_region(region).centre
    if region is not None or _RING.fullmatch(plain):
        raise InputError(f"{text!r} is a region, not a place: name a town in it, or give a locator.")
    raise _unknown(plain) if hint else InputError(f"{plain!r} is not a place known here.")


def suggest(prefix: str, limit: int = 8) -> list[str]:
    """Suggest completions of a text, best first; `resolve` accepts each of them.

    prefix: the text typed so far; empty gives initial suggestions. limit: the largest number of names.
    Names that begin with the text come before names with a later word that does; regions before towns. A
    region appears once, under its first matching name.
    """
    wanted = fold(prefix)
    if not wanted:
        return list(_STARTERS[: max(limit, 0)])
    starts: dict[int, str] = {}  # meaning -> the name to show
    inside: dict[int, str] = {}
    for folded, shown, meant in _regions_to_complete():
        if folded.startswith(wanted):
            starts.setdefault(meant, shown)
        elif f" {wanted}" in folded:
            inside.setdefault(meant, shown)
    found = list(starts.values())
    found += _addresses(towns().names.beginning(wanted), limit - len(found))
    found += [shown for meant, shown in inside.items() if meant not in starts]
    if len(found) < limit:
        found += _addresses(towns().names.with_word(wanted), limit - len(found))
    return list(dict.fromkeys(found))[: max(limit, 0)]


def time_zone(position: Position) -> str:
    """The IANA time zone of the nearest town of 15,000 people; may be wrong near a border."""
    table = towns()
    rows = np.flatnonzero(table.people >= ZONE_TOWN)
    away = distance_km(position.lat_deg, position.lon_deg, table.lat_deg[rows], table.lon_deg[rows])
    return table.time_zone(int(rows[np.argmin(away)]))


_STARTERS: Final = (
    "anyone", "within 500 km", "Europe", "North America", "South America", "Africa", "Asia", "Oceania",
)  # fmt: skip


def _checked(text: str) -> str:
    plain = _signed(" ".join(text.split()))
    if not plain:
        raise InputError("No place was given: type a locator such as KG30, a town, a country, or anyone.")
    if len(plain) > LONGEST_NAME:
        raise InputError(f"A place of {len(plain)} characters is too long to be one: {plain[:30]!r}...")
    return plain


def _spelt(plain: str) -> str:
    """A locator as it is written, `KG30rs`; coordinates unchanged."""
    return plain[:4].upper() + plain[4:].lower() if _LOCATOR_LIKE.fullmatch(plain) else plain


def _signed(plain: str) -> str:
    """Convert `51.5 N 0.1 W` to `51.5,-0.1`; return anything else unchanged."""
    found = _HEMISPHERES.fullmatch(plain)
    if found is None:
        return plain
    lat = f"-{found[1]}" if found[2].upper() == "S" else found[1]
    lon = f"-{found[3]}" if found[4].upper() == "W" else found[3]
    return f"{lat},{lon}"


def _country_by_code(code: str) -> Region | None:
    code = code.upper()
    for region in gazetteer().regions:
        if region.kind == "country" and (region.code == code or region.others[-1:] == (code,)):
            return region
    return None


def _region(plain: str) -> Region | None:
    table = gazetteer()
    found = _ZONE.fullmatch(plain)
    if found:
        number = int(found[1] or found[2])
        for region in table.regions:
            if region.kind == "zone" and region.code == str(number):
                return region
        if not 1 <= number <= 90:
            raise InputError(f"There is no ITU zone {number}; they run from 1 to 90.")
        raise InputError(
            f"ITU zone {number} is open sea or polar and not in the table: give a locator in it."
        )
    found = _COUNTRY_CODE.fullmatch(plain)
    if found:
        return _country_by_code(found[1])
    matches = table.regions_by_name.get(fold(plain))
    if matches:
        return matches[0]
    if len(plain) == 2 and plain.isalpha():
        return _country_by_code(plain)
    return None


def _towns(plain: str) -> list[int]:
    """Rows of the towns a text may mean, likeliest first."""
    table = towns()
    parts = plain.split(",")
    for names in range(1, len(parts)):  # a name may contain a comma
        wheres = [where for where in map(fold, parts[names:]) if where]
        named = table.rows_of(fold(",".join(parts[:names])))
        rows = [row for row in named if _lies_in(row, wheres)]
        if rows:
            return rows
    return table.rows_of(fold(plain))


def _lies_in(row: int, wheres: list[str]) -> bool:
    """Return whether all the folded words after a town's name match the town.

    Matches are names of its country or division, which may contain commas, or its locator.
    """
    table = towns()
    names = _names_around(table.country(row), table.division(row))
    left = wheres
    while left:
        stops = (stop for stop in range(len(left), 0, -1) if " ".join(left[:stop]) in names)
        stop = next(stops, 0)
        if not stop and not (_LOCATOR_LIKE.fullmatch(left[0]) and _is_in_square(row, left[0])):
            return False
        left = left[stop or 1 :]
    return True


def _is_in_square(row: int, folded_locator: str) -> bool:
    return _locator(row, len(folded_locator)).lower() == folded_locator


@cache
def _names_around(iso: str, division: str) -> frozenset[str]:
    """The folded names and codes of a country and of its division."""
    return _names_of(iso) | _names_of(f"{iso}-{division}") | {fold(iso), fold(division)}


def _locator(row: int, length: int) -> str:
    table = towns()
    return locator_of(float(table.lat_deg[row]), float(table.lon_deg[row]), length)


def _country(row: int) -> str:
    return gazetteer().country_names.get(towns().country(row), towns().country(row))


def _division(row: int) -> str:
    """The name of the division of the country, empty where unknown."""
    table = towns()
    return gazetteer().division_names.get(f"{table.country(row)}-{table.division(row)}", "")


def town_name(row: int) -> str:
    """The town with its division (where a country's towns are named so) or country: "Portland, Oregon"."""
    table = towns()
    division = _division(row)
    where = division if division and table.country(row) in WITH_DIVISION else _country(row)
    return f"{table.name(row)}, {where}"


def _full_name(row: int) -> str:
    """The town with its country, and its division where a country's towns are named so."""
    name, country = town_name(row), _country(row)
    return name if name.endswith(f", {country}") else f"{name}, {country}"


def address(row: int) -> str:
    """The shortest spelling that `resolve` resolves to this town of the table: "Portland, Oregon"."""
    return _first_that_means(row, town_name(row))


def full_address(row: int) -> str:
    """Address as `address`, always with the country: "Portland, Oregon, United States"."""
    return _first_that_means(row, _full_name(row))


def _first_that_means(row: int, short: str) -> str:
    """Extend `short` until it means this town: by division, or by a locator of 4, 6 or 8 characters."""
    division = _division(row)
    longer = (f"{towns().name(row)}, {division}, {_country(row)}",) if division else ()
    spellings: tuple[str, ...] = (
        short,
        *longer,
        *(f"{short}, {_locator(row, length)}" for length in (4, 6, 8)),
    )
    return next((text for text in spellings if _means(text, row)), spellings[-1])


def _means(text: str, row: int) -> bool:
    rows = _towns(text)
    return bool(rows) and _meant(rows)[0] == row


def _addresses(rows: IntArray, limit: int) -> list[str]:
    return list(dict.fromkeys(address(row) for row in rows[: 2 * max(limit, 0)].tolist()))[: max(limit, 0)]


def _meant(rows: list[int]) -> tuple[int, list[int]]:
    """Choose a town among those of one name and return the others; -1 where none is far larger."""
    table = towns()
    first = rows[0]
    if len(rows) == 1:
        return first, []
    away = distance_km(table.lat_deg[first], table.lon_deg[first], table.lat_deg[rows], table.lon_deg[rows])
    others = [row for row, km in zip(rows, away.tolist(), strict=True) if km > ONE_TOWN_KM]
    if others and table.people[first] < FAR_LARGER * max(int(table.people[row]) for row in others):
        return -1, others
    return first, others


def _before_region(row: int, region: Region) -> bool:
    """Return whether a town takes precedence over the region of its name: if large, or in that region."""
    table = towns()
    codes = (table.country(row), f"{table.country(row)}-{table.division(row)}")
    return bool(table.people[row] >= LARGE_TOWN) or region.code in codes


@cache
def _names_of(code: str) -> frozenset[str]:
    """The folded names of a country or division, by its code."""
    return frozenset(
        fold(name)
        for region in gazetteer().regions
        if region.code == code and region.kind in ("country", "division")
        for name in (region.name, *region.others)
    )


def _town(plain: str, rows: list[int]) -> Target:
    table = towns()
    first, others = _meant(rows)
    if first < 0:
        choices = tuple(dict.fromkeys(full_address(row) for row in rows))
        shown = "; ".join(choices[:LISTED_AT_MOST])
        more = f"; and {len(choices) - LISTED_AT_MOST} more" if len(choices) > LISTED_AT_MOST else ""
        raise AmbiguousPlaceError(
            f"{plain!r} is the name of several towns: {shown}{more}. Write one of them in full.", choices
        )
    note = ""
    if others:
        note = f"{town_name(first)} is meant; there is also {' and '.join(map(address, others[:2]))}."
    return point(town_name(first), Position(float(table.lat_deg[first]), float(table.lon_deg[first])), note)


def _other_reading(plain: str, region: Region, rows: list[int]) -> str:
    table = gazetteer()
    others = [other for other in table.regions_by_name.get(fold(plain), []) if other is not region]
    if others:
        kind = "part of a country" if others[0].kind == "division" else others[0].kind
        return f"The {region.kind} {region.name} is meant; there is also the {kind} of that name."
    if rows and _before_region(rows[0], region) and len(region.rows) > 1:
        return f"All of {region.name} is meant; for the town write {address(rows[0])}."
    return ""


def _ring(found: re.Match[str], site: Position | None, plain: str) -> Target:
    if site is None:
        raise InputError(f"{plain!r} is a ring around the site, and no site is known: give one.")
    factor = KM_PER_MILE if (found[4] or "km").lower().startswith("mi") else 1.0
    texts = found.groups(default="0")[:3]
    within, inner, outer = (float(text.replace(",", "")) * factor for text in texts)
    return ring(site, within or outer, inner)


@cache
def _regions_to_complete() -> tuple[tuple[str, str, int], ...]:
    """Folded name, shown name and number of every ring and region offered as a completion, best first."""
    table = gazetteer()
    entries = [(fold(text), text, -1 - number) for number, text in enumerate(_RINGS)]
    ranked = sorted(
        enumerate(table.regions), key=lambda pair: (_ORDER.index(pair[1].kind), -pair[1].amateurs)
    )
    for number, region in ranked:
        for name in (region.name, *region.others):
            if len(name) > 3 and table.regions_by_name[fold(name)][0] is region:
                entries.append((fold(name), name, number))
    return tuple(entries)


_ORDER: Final = ("anyone", "continent", "country", "group", "sub-region", "division", "zone")
_RINGS: Final = ("within 300 km", "within 500 km", "within 1000 km", "within 2000 km")


def _unknown(plain: str) -> InputError:
    table = gazetteer()
    wanted = fold(plain.partition(",")[0]) or plain.lower()
    names = [*table.regions_by_name, *towns().names.like(wanted)]
    shown = []
    for form in get_close_matches(wanted, names, n=3, cutoff=0.72):
        regions = table.regions_by_name.get(form)
        shown.append(regions[0].name if regions else address(towns().rows_of(form)[0]))
    shown = list(dict.fromkeys(shown + suggest(plain, 3)))[:3] if len(wanted) > 2 else []
    if shown:
        return InputError(f"{plain!r} is not a place known here; did you mean {' or '.join(shown)}?")
    return InputError(
        f"{plain!r} is not a place known here; give a locator such as KG30, a larger town, or a country."
    )
