"""Positions and their Maidenhead locators.

A locator divides its cell by letters and digits in turn: field (20 x 10 degrees), square (2 x 1 degrees),
subsquare (5 x 2.5 minutes of arc), extended square (30 x 15 seconds of arc), longitude first.
A point on an edge belongs to the cell to its north and east. At the two outer edges, latitude +90 and
longitude +180, it belongs to the last cell: (90, 180) is RR99xx.
Source: IARU Region 1 VHF Managers Handbook, locator definition (from memory).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import FloatArray

LENGTHS: Final = (2, 4, 6, 8)  # characters, the locator lengths in use
_BASES: Final = (18, 10, 24, 10)  # cells per side at each pair of characters (locator definition)
_FIRST: Final = ("A", "0", "A", "0")  # first character of each pair's alphabet
_EDGE: Final = 1e-9  # cells; a point this close below an edge is on it (rounding of decimal degrees)

_SHAPE = re.compile(r"[A-R]{2}(?:[0-9]{2}(?:[A-X]{2}(?:[0-9]{2})?)?)?")
_NUMBER = r"([+-]?(?:\d+\.?\d*|\.\d+))"
_LAT_LON = re.compile(rf"\s*{_NUMBER}\s*,\s*{_NUMBER}\s*")


@dataclass(frozen=True)
class Position:
    """Point on the Earth.

    lat_deg: latitude [deg], north positive, -90..90. lon_deg: longitude [deg], east positive, -180..180.
    Raises InputError for a value that is out of range or not a number.
    """

    lat_deg: float
    lon_deg: float

    def __post_init__(self) -> None:
        if not -90.0 <= self.lat_deg <= 90.0:
            raise InputError(
                f"Latitude {self.lat_deg:g} is not on the Earth: give -90 to 90 degrees, north positive."
            )
        if not -180.0 <= self.lon_deg <= 180.0:
            raise InputError(
                f"Longitude {self.lon_deg:g} is out of range: give -180 to 180 degrees, east positive."
            )


def position_of(locator: str) -> Position:
    """Centre of the cell of a locator.

    locator: 2, 4, 6 or 8 characters, capitals or not. Raises InputError for anything else.
    Source: locator definition (module docstring).
    """
    text = locator.strip().upper()
    if not _SHAPE.fullmatch(text):
        raise InputError(
            f"{locator!r} is not a locator: write two letters A-R, two digits, and if you like two letters"
            " A-X and two more digits, as in JN58td."
        )
    east = north = 0  # cells counted from the south-west corner
    columns = rows = 1
    for pair, (base, first) in enumerate(zip(_BASES, _FIRST, strict=True)):
        if 2 * pair >= len(text):
            break
        east = east * base + ord(text[2 * pair]) - ord(first)
        north = north * base + ord(text[2 * pair + 1]) - ord(first)
        columns, rows = columns * base, rows * base
    return Position((north + 0.5) * 180.0 / rows - 90.0, (east + 0.5) * 360.0 / columns - 180.0)


def locator_of(lat_deg: float, lon_deg: float, characters: int = 6) -> str:
    """Locator of the cell that contains a point.

    lat_deg, lon_deg: [deg]; longitudes beyond +-180 are wrapped. characters: 2, 4, 6 or 8.
    Letters of the subsquare are lower case, as is common practice (JN58td). Raises InputError for a latitude
    beyond +-90, a value that is not a number, or another length. Edges: see the module docstring.
    """
    if characters not in LENGTHS:
        raise InputError(f"A locator has 2, 4, 6 or 8 characters, not {characters}.")
    if not math.isfinite(lon_deg):
        raise InputError(f"Longitude {lon_deg} is not a number of degrees.")
    if abs(lon_deg) > 180.0:
        lon_deg = (lon_deg + 180.0) % 360.0 - 180.0
    Position(lat_deg, lon_deg)
    bases = _BASES[: characters // 2]
    cells = math.prod(bases)
    east = min(math.floor((lon_deg + 180.0) / 360.0 * cells + _EDGE), cells - 1)
    north = min(math.floor((lat_deg + 90.0) / 180.0 * cells + _EDGE), cells - 1)
    pairs: list[str] = []
    for base, first in zip(reversed(bases), reversed(_FIRST[: len(bases)]), strict=True):
        east, column = divmod(east, base)
        north, row = divmod(north, base)
        pairs.append(chr(ord(first) + column) + chr(ord(first) + row))
    pairs.reverse()
    if len(pairs) > 2:
        pairs[2] = pairs[2].lower()
    return "".join(pairs)


def parse_position(text: str) -> Position:
    """Parse the position a user typed: a locator of 4, 6 or 8 characters, or "lat,lon" in decimal degrees.

    Raises InputError, with the accepted forms, for anything else.
    """
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    found = _LAT_LON.fullmatch(plain)
    if found:
        return Position(float(found[1]), float(found[2]))
    if len(plain) in LENGTHS[1:] and _SHAPE.fullmatch(plain.upper()):
        return position_of(plain)
    raise InputError(
        f"{text!r} is not a position: give a locator such as KG30 or KG30ek, or latitude and longitude in"
        " decimal degrees such as -29.5,29.5."
    )


def positions_of(locators: Sequence[str]) -> tuple[FloatArray, FloatArray]:
    """Centres of many locators at once: (lat_deg, lon_deg) [deg], each of shape (n,).

    A text that is not a locator gives NaN in both, so that a caller can report its row.
    """
    texts = np.char.upper(np.char.strip(np.asarray(locators, dtype=np.str_)))
    n = texts.size
    lat, lon = np.full(n, np.nan), np.full(n, np.nan)
    if n == 0:
        return lat, lon
    width = max(texts.dtype.itemsize // 4, 1)
    codes = np.ascontiguousarray(texts).view(np.uint32).reshape(n, width).astype(np.int64)
    lengths = np.char.str_len(texts)
    for characters in LENGTHS:
        rows = np.flatnonzero(lengths == characters)
        if rows.size == 0:
            continue
        east, north = np.zeros(rows.size), np.zeros(rows.size)
        good = np.ones(rows.size, dtype=bool)
        cells = 1
        for pair, (base, first) in enumerate(zip(_BASES, _FIRST, strict=True)):
            if 2 * pair >= characters:
                break
            column = codes[rows, 2 * pair] - ord(first)
            row = codes[rows, 2 * pair + 1] - ord(first)
            good &= (column >= 0) & (column < base) & (row >= 0) & (row < base)
            east, north, cells = east * base + column, north * base + row, cells * base
        lat[rows] = np.where(good, (north + 0.5) * 180.0 / cells - 90.0, np.nan)
        lon[rows] = np.where(good, (east + 0.5) * 360.0 / cells - 180.0, np.nan)
    return lat, lon
