"""Reads the measured map of absorption: the highest frequency that loses 1 dB going straight up and down.

A text product. Header lines begin with "#" and hold the time of validity and messages on X-rays and
protons; then a line of longitudes [degrees east, 4 apart], a dashed line, and a row for each latitude
[degrees north, 2 apart], "lat | values" in MHz, 0 where nothing is absorbed. Faults are listed in `problems`;
nothing here raises for a damaged product.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.text import as_number, as_time, counted
from propagation.base.units import FloatArray, as_float
from propagation.space_weather.sources.product_data import WEB_PAGE, pack, unpack

LATITUDES_DEG: Final = as_float(np.arange(90) * 2.0 - 89.0)
LONGITUDES_DEG: Final = as_float(np.arange(90) * 4.0 - 178.0)
MHZ_RANGE: Final = (0.0, 60.0)  # the product's colours end at 35 MHz; more is another unit (ours)
LEAST_SHARE: Final = 0.5
_STEP_MHZ: Final = 0.01
_KIND: Final = "absorption"


@dataclass(frozen=True, eq=False)
class AbsorptionMap:
    """Highest frequency with 1 dB [MHz], (90 latitudes, 90 longitudes), NaN where nothing usable was given.

    valid_at: UTC. xray_words, proton_words: the product's own messages, empty where it has none.
    """

    valid_at: np.datetime64 | None
    highest_mhz: FloatArray
    xray_words: str = ""
    proton_words: str = ""
    problems: tuple[str, ...] = ()

    @property
    def time(self) -> np.datetime64 | None:
        """Time of the measurement, UTC."""
        return self.valid_at

    @property
    def empty(self) -> bool:
        """True where the map is not to be used."""
        return self.valid_at is None or float(np.mean(np.isfinite(self.highest_mhz))) < LEAST_SHARE


def read_absorption_map(body: bytes) -> AbsorptionMap:
    """The map out of the text product."""
    text = body.decode("utf-8-sig", errors="replace")
    grid = np.full((90, 90), np.nan)
    if text.lstrip()[:1] == "<":
        return AbsorptionMap(None, as_float(grid), problems=(WEB_PAGE,))
    lines = text.splitlines()
    if not text.strip():
        return AbsorptionMap(None, as_float(grid), problems=("it is empty",))
    problems = []
    if not text.endswith(("\n", "\r")):
        lines.pop()  # a number may be cut
        problems.append("it ends in the middle of a line")
    heads = [line.lstrip("# ").strip() for line in lines if line.lstrip().startswith("#")]
    valid_at = _valid_at(heads)
    if valid_at is None:
        problems.append("no readable 'Product Valid At' line")
    rows = [line for line in lines if line.strip() and not line.lstrip().startswith("#")]
    columns = _columns(rows)
    if columns is None:
        problems.append("no line of longitudes 4 degrees apart from -178 on: the grid is shifted or cut")
    else:
        _fill(grid, rows, problems)
    _declare(grid, problems)
    return AbsorptionMap(
        valid_at, as_float(grid), _message(heads, "x-ray"), _message(heads, "proton"), tuple(problems)
    )


def _valid_at(heads: list[str]) -> np.datetime64 | None:
    for head in heads:
        found = re.match(r"product valid at\s*:\s*(\d{4}-\d\d-\d\d)[ T](\d\d:\d\d)", head, re.IGNORECASE)
        if found:
            return as_time(f"{found[1]}T{found[2]}")
    return None


def _message(heads: list[str], name: str) -> str:
    """Text of a header line after "X-RAY Message :" or "Proton Message :"."""
    for head in heads:
        found = re.match(rf"{name} message\s*:\s*(.*)$", head, re.IGNORECASE)
        if found:
            return " ".join(found[1].split())[:200]
    return ""


def _columns(rows: list[str]) -> list[float] | None:
    """The longitudes, if there is a line of exactly those of the grid before the first row."""
    for row in rows:
        if "|" in row:
            return None
        numbers = [as_number(word) for word in row.split()]
        if len(numbers) > 2 and all(number is not None for number in numbers):
            found = [number for number in numbers if number is not None]
            fits = len(found) == 90 and bool(np.allclose(found, LONGITUDES_DEG, atol=0.02))
            return found if fits else None
    return None


def _fill(grid: FloatArray, rows: list[str], problems: list[str]) -> None:
    """Put the rows at their latitudes; what does not fit is counted."""
    shifted = short = negative = outside = 0
    for row in rows:
        place, stroke, rest = row.partition("|")
        if not stroke:
            continue
        latitude = as_number(place.strip())
        at = None if latitude is None else (latitude + 89.0) / 2.0
        if at is None or abs(at - round(at)) > 0.01 or not 0 <= round(at) < 90:
            shifted += 1
            continue
        numbers = [as_number(word) for word in rest.split()]
        if len(numbers) != 90:
            short += 1
            continue
        values = as_float([np.nan if number is None else number for number in numbers])
        negative += int(np.sum(values < 0.0))
        outside += int(np.sum(values > MHZ_RANGE[1]))
        grid[round(at)] = np.where((values < 0.0) | (values > MHZ_RANGE[1]), np.nan, values)
    for number, noun, words in (
        (shifted, "row", "off the latitudes 2 degrees apart left out: the grid is shifted"),
        (short, "row", "without 90 values left out"),
        (negative, "value", "below zero left out"),
        (outside, "value", f"above {MHZ_RANGE[1]:g} left out: not in MHz"),
    ):
        if number:
            problems.append(f"{counted(number, noun)} {words}")


def _declare(grid: FloatArray, problems: list[str]) -> None:
    found = int(np.sum(np.isfinite(grid)))
    if found < grid.size:
        few = ": too few for a map" if found < LEAST_SHARE * grid.size else ""
        problems.append(f"{found} of {grid.size} values are usable{few}")


def kept_absorption(found: AbsorptionMap) -> bytes:
    """The map in few bytes, to 0.01 MHz; its time must be known."""
    if found.valid_at is None:
        raise ValueError("a map without its time is not kept")
    steps = np.nan_to_num(np.round(found.highest_mhz / _STEP_MHZ) + 1.0, nan=0.0).astype(np.uint16)
    notes = [found.xray_words, found.proton_words, *found.problems]
    return pack(_KIND, {"time": found.valid_at}, steps, notes)


def absorption_of(body: bytes) -> AbsorptionMap | None:
    """Map from its stored bytes, or None where they are damaged; nothing beyond MHZ_RANGE."""
    found = unpack(_KIND, body, ("time",), (90, 90), 16)
    if found is None or len(found[2]) < 2:
        return None
    times, numbers, notes = found
    steps = numbers.astype(float)
    highest = (steps - 1.0) * _STEP_MHZ
    unknown = (steps == 0.0) | (highest > MHZ_RANGE[1] + 0.5 * _STEP_MHZ)
    grid = as_float(np.where(unknown, np.nan, highest))
    return AbsorptionMap(times["time"], grid, notes[0], notes[1], notes[2:])
