"""Reads the map of the auroral oval: how likely aurora is over each degree, as modelled from the solar wind.

JSON with "Observation Time", "Forecast Time" and "coordinates", a list of [longitude 0 to 359, latitude -90
to 90, value 0 to 100]. Faults are listed in `problems`; nothing here raises for a damaged product.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.text import as_number, as_time, counted
from propagation.base.units import FloatArray, as_float
from propagation.space_weather.sources.product_data import json_of, pack, unpack

LATITUDES_DEG: Final = as_float(np.arange(181) - 90.0)
LONGITUDES_DEG: Final = as_float(np.arange(360))
POINTS: Final = 181 * 360
LARGEST: Final = 100.0
LEAST_SHARE: Final = 0.5
_KIND: Final = "aurora"


@dataclass(frozen=True, eq=False)
class AuroraMap:
    """Likelihood of aurora, 0 to 100, (181 latitudes, 360 longitudes), NaN where nothing usable was given.

    observed: UTC of the solar wind behind it; valid_at: the time it is made for.
    """

    observed: np.datetime64 | None
    valid_at: np.datetime64 | None
    value: FloatArray
    problems: tuple[str, ...] = ()

    @property
    def time(self) -> np.datetime64 | None:
        """Time of the measurement of the solar wind, UTC."""
        return self.observed

    @property
    def empty(self) -> bool:
        """True where the map is not to be used."""
        known = float(np.mean(np.isfinite(self.value)))
        return self.observed is None or self.valid_at is None or known < LEAST_SHARE


def read_aurora_map(body: bytes) -> AuroraMap:
    """The map out of the JSON product."""
    value, problem = json_of(body.decode("utf-8-sig", errors="replace"))
    product = value if isinstance(value, dict) else {}
    listed = product.get("coordinates")
    if problem is None and not isinstance(listed, list):
        problem = "no list of 'coordinates'"
    elif problem is None and not listed:
        problem = "no points in it"
    if problem is not None or not isinstance(listed, list):
        return AuroraMap(None, None, as_float(np.full((181, 360), np.nan)), (problem or "not understood",))
    named = {str(key).strip().lower().replace("_", " "): item for key, item in product.items()}
    observed, valid_at = (as_time(named.get(f"{kind} time")) for kind in ("observation", "forecast"))
    problems = [
        f"no readable '{name} Time'"
        for name, time in (("Observation", observed), ("Forecast", valid_at))
        if time is None
    ]
    return AuroraMap(observed, valid_at, _gridded(listed, problems), tuple(problems))


def _gridded(listed: list[object], problems: list[str]) -> FloatArray:
    """The points on their grid, (181, 360); what does not fit is counted in `problems`."""
    triples = [
        [as_number(number) for number in point]
        for point in listed
        if isinstance(point, list) and len(point) == 3
    ]
    points = np.array([[np.nan if n is None else n for n in triple] for triple in triples], float)
    points = points.reshape(-1, 3)
    points = points[np.all(np.isfinite(points), axis=1)]
    shapeless = len(listed) - len(points)
    places = np.round(points[:, :2])
    on_grid = (
        np.all(np.abs(points[:, :2] - places) <= 0.01, axis=1)
        & (places[:, 0] >= 0.0)
        & (places[:, 0] <= 359.0)
        & (np.abs(places[:, 1]) <= 90.0)
    )
    negative, large = points[:, 2] < 0.0, points[:, 2] > LARGEST
    good = on_grid & ~negative & ~large
    grid = np.full((181, 360), np.nan)
    grid[places[good, 1].astype(int) + 90, places[good, 0].astype(int)] = points[good, 2]
    for number, words in (
        (shapeless, "without three numbers left out"),
        (int(np.sum(~on_grid)), "off the whole degrees 0 to 359 left out: the grid is shifted"),
        (int(np.sum(on_grid & negative)), "below zero left out"),
        (int(np.sum(on_grid & large)), f"above {LARGEST:g} left out: another unit"),
    ):
        if number:
            problems.append(f"{counted(number, 'point')} {words}")
    found = int(np.sum(np.isfinite(grid)))
    if found < POINTS:
        few = ": too few for a map" if found < LEAST_SHARE * POINTS else ""
        problems.append(f"{found} of {POINTS} points are usable{few}")
    return as_float(grid)


def kept_aurora(found: AuroraMap) -> bytes:
    """The map in few bytes, to 1 in 100; its times must be known."""
    if found.observed is None or found.valid_at is None:
        raise ValueError("a map without its times is not kept")
    steps = np.nan_to_num(np.round(found.value) + 1.0, nan=0.0).astype(np.uint8)
    return pack(_KIND, {"time": found.observed, "valid_at": found.valid_at}, steps, list(found.problems))


def aurora_of(body: bytes) -> AuroraMap | None:
    """Map from its stored bytes, or None where they are damaged; nothing above LARGEST."""
    found = unpack(_KIND, body, ("time", "valid_at"), (181, 360), 8)
    if found is None:
        return None
    times, numbers, notes = found
    steps = numbers.astype(float)
    value = as_float(np.where((steps == 0.0) | (steps - 1.0 > LARGEST), np.nan, steps - 1.0))
    return AuroraMap(times["time"], times["valid_at"], value, notes)
