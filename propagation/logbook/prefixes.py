"""Origin of a call sign: country by its prefix, with a position and its uncertainty.

The table (`data/call_sign_series.tsv`) is recalled from memory; see its provenance. A call shows where the
licence was issued and, after a stroke, the declared place of the station. EA8/G0TEST is in the Canary
Islands, G0TEST/P somewhere in England, G0TEST/MM at sea without a position.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from typing import Final

import numpy as np

from propagation.base.units import cosd, sind
from propagation.geo.gazetteer import Region, fold, gazetteer
from propagation.geo.great_circle import distance_km

WITHIN_TOWNS_KM: Final = 75.0  # km; spread of amateurs around the towns that represent them (own estimate)
_SINGLE_LETTERS: Final = frozenset(
    "BFGIKMNRW"
)  # whole letters held by one country (Appendix 42, from memory)
_AFTER_STROKE: Final = frozenset("P M A B R T LH QRP QRPP PM LGT JOTA".split())  # noqa: SIM905 - portable, mobile...
_NOWHERE: Final = {"MM": "a ship", "AM": "an aircraft"}
_CALL = re.compile(r"(?=[A-Z0-9]*[A-Z])[A-Z0-9]{1,3}[0-9][A-Z0-9]*[A-Z]|[0-9]?[A-Z]{1,3}[0-9][A-Z0-9]*")


@dataclass(frozen=True)
class Origin:
    """Origin of a call sign.

    countries: names as in `places`, several where the prefix does not decide. lat_deg, lon_deg: mean position
    of their amateurs [deg]; uncertainty_km: root mean square distance of them from it [km]. All three are
    NaN, with no country, where the call gives no information; `note` says why, or what was assumed.
    """

    countries: tuple[str, ...]
    lat_deg: float
    lon_deg: float
    uncertainty_km: float
    note: str

    @property
    def ambiguous(self) -> bool:
        """Return whether the prefix belongs to several countries."""
        return len(self.countries) > 1


def _unknown(note: str) -> Origin:
    return Origin((), np.nan, np.nan, np.nan, note)


@lru_cache(maxsize=20_000)
def origin(call: str) -> Origin:
    """Find the origin of a call sign. Never fails: an invalid call sign gives an origin without country."""
    parts = [part for part in re.sub(r"\s", "", call.upper()).split("/") if part]
    if not parts or not all(re.fullmatch(r"[A-Z0-9]{1,15}", part) for part in parts):
        return _unknown(f"{call[:20]!r} is not a call sign")
    base = max(parts, key=lambda part: (_CALL.fullmatch(part) is not None, len(part)))
    others = list(parts)
    others.remove(base)
    for part in others:
        if part in _NOWHERE and parts[0] != part:
            return _unknown(f"{call} is on {_NOWHERE[part]}; its call does not tell where")
    if not _CALL.fullmatch(base):
        return _unknown(f"{call[:20]!r} is not a call sign")
    digit = None
    for position, part in enumerate(parts):
        if part == base:
            continue
        if part.isdigit():
            digit = part if len(part) == 1 else None
        elif position == 0 or (part not in _AFTER_STROKE and len(part) >= 2):
            found = _look_up(part, None)
            if found:
                return _of_codes(found, f"by the prefix {part}")
    found = _look_up(base, digit)
    if not found:
        return _unknown(f"the prefix of {call} is in no series known here")
    return _of_codes(found, "by the prefix")


def place_text(call: str, locator: str = "") -> str:
    """A station's place as it may be typed: its locator, else its country; empty where neither is known."""
    found = origin(call)
    return locator or ("" if found.ambiguous or not found.countries else found.countries[0])


def _look_up(text: str, digit: str | None) -> tuple[str, ...]:
    """Codes for a call sign or a bare prefix; `digit` replaces its own area digit where given."""
    head = _head(text[:2])
    rest = text[len(head) :]
    if len(head) == 1:
        if head not in _SINGLE_LETTERS:
            return ()
        key = f"{head}AA"
    else:
        key = head + (rest[0] if rest[:1].isalpha() else "A")
    return _codes(head, key, digit or next((mark for mark in rest if mark.isdigit()), ""))


@cache
def _head(begin: str) -> str:
    """The part of the first two characters that names the series: one letter, or both."""
    if begin[0].isdigit() or not begin[1:].isdigit():
        return begin
    known = any(first <= f"{begin}A" <= last for first, last, _, _ in _series())
    return begin if known else begin[0]


@lru_cache(maxsize=20_000)
def _codes(head: str, key: str, area: str) -> tuple[str, ...]:
    """Codes of the narrowest series with a head, three characters of it, and an area digit (or none)."""
    best: tuple[int, tuple[str, ...]] = (0, ())
    for first, last, digits, codes in _series():
        if len(first) == 1:
            fits, rank = head == first, 3
        else:
            fits, rank = first <= key <= last, (2 if digits else 1)
        if digits and not (area in digits if area else len(digits) == 10):
            fits = False
        if fits and rank > best[0]:
            best = (rank, codes)
    return best[1]


@cache
def _series() -> tuple[tuple[str, str, str, tuple[str, ...]], ...]:
    text = files("propagation").joinpath("data", "call_sign_series.tsv").read_text(encoding="utf-8")
    rows = [line.split("\t") for line in text.splitlines() if line and not line.startswith("#")][1:]
    return tuple(
        (first, last, digits, (codes,) if codes[0] in "+-" else tuple(codes.split()))
        for first, last, digits, codes in rows
    )


@cache
def _of_codes(codes: tuple[str, ...], basis: str) -> Origin:
    if codes[0].startswith("-"):
        return _unknown(f"a station of the {codes[0][1:].strip()}; its call does not tell where")
    regions = [region_of(code) for code in codes]
    table = gazetteer()
    rows = np.array([row for region in regions for row in region.rows])
    weight = np.array(
        [part / sum(region.parts) * max(region.amateurs, 1.0) for region in regions for part in region.parts]
    )
    weight = weight / np.sum(weight)
    lat, lon = table.lat_deg[rows], table.lon_deg[rows]
    x = float(np.sum(weight * cosd(lat) * cosd(lon)))
    y = float(np.sum(weight * cosd(lat) * sind(lon)))
    z = float(np.sum(weight * sind(lat)))
    mean_lat = float(np.degrees(np.arctan2(z, np.hypot(x, y))))
    mean_lon = float(np.degrees(np.arctan2(y, x)))
    apart = distance_km(mean_lat, mean_lon, lat, lon)
    spread = float(np.sqrt(np.sum(weight * apart**2) + WITHIN_TOWNS_KM**2))
    names = tuple(dict.fromkeys(region.name for region in regions))
    note = f"{basis}: {' or '.join(names)}"
    return Origin(names, mean_lat, mean_lon, spread, note)


def region_of(code: str) -> Region:
    """Region of the table for a code of the series: country, country-division, or +name."""
    table = gazetteer()
    if code.startswith("+"):
        return table.regions_by_name[fold(code[1:])][0]
    return _regions_by_code()[code]


@cache
def _regions_by_code() -> dict[str, Region]:
    return {region.code: region for region in gazetteer().regions if region.kind in ("country", "division")}
