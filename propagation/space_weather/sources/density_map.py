"""Reads the measured map of the ionosphere's density: its list of frames and a frame; keeps a frame small.

The list is JSON, `{url, time_tag}` an entry. A frame is a GeoJSON FeatureCollection with a point for every
centre of 72 x 72 cells, 5 degrees of longitude and 2.5 of latitude, and the properties `tec` and `anomaly`
[TECU], `hmF2` [km], `NmF2` [1/m3] and `quality_flag`: how many observations of the F region went into the
column on the mean, rounded up, five at most. At 0 nothing was observed there and the frame gives its own
background: so it is over most of the oceans, while over Europe and North America it is 5. What is missing,
shifted, negative or in another unit is left out and reported in `problems`; nothing here raises for a damaged
frame.

Critical frequency: the plasma frequency squared is N e^2 / (4 pi^2 eps0 m) = 80.6 Hz^2 m^3 times N (CODATA
constants), so foF2 = 8.98 MHz times the root of NmF2 in 1e12 / m3.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from propagation.base.text import as_number, as_time, counted, within
from propagation.base.units import FloatArray, IntArray, as_float
from propagation.space_weather.sources.product_data import json_of, pack, unpack

LATITUDES_DEG: Final = as_float(np.arange(72) * 2.5 - 88.75)
LONGITUDES_DEG: Final = as_float(np.arange(72) * 5.0 - 177.5)
CELLS: Final = 72 * 72
HZ2_M3: Final = 80.6163  # e^2 / (4 pi^2 eps0 m_e)
NMF2_RANGE_M3: Final = (1e9, 1e13)  # outside: another unit or a fill value; nature stays well within (ours)
HMF2_RANGE_KM: Final = (100.0, 608.0)
LEAST_SHARE: Final = 0.5  # of the cells; with fewer a frame is not a map of the world (ours)
MOST_OBSERVATIONS: Final = 5  # where the flag ends
_OFF_DEG: Final = 0.02  # a point this far from a cell's centre is another grid's
_HEIGHT_STEP_KM: Final = 2.0
_KIND: Final = "density"


@dataclass(frozen=True)
class DensityIndex:
    """Frames on offer as (time, address), newest last."""

    frames: tuple[tuple[np.datetime64, str], ...] = ()
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class DensityFrame:
    """A measured frame; arrays are (72 latitudes, 72 longitudes), NaN where nothing usable was given.

    time: UTC, None where not known. observations: of each cell, 0 (none: the background alone, or not given)
    to MOST_OBSERVATIONS.
    """

    time: np.datetime64 | None
    nmf2_m3: FloatArray
    hmf2_km: FloatArray
    observations: IntArray
    problems: tuple[str, ...] = ()

    @property
    def share(self) -> float:
        """Share of the cells with a usable density, 0 to 1."""
        return float(np.mean(np.isfinite(self.nmf2_m3)))

    @property
    def empty(self) -> bool:
        """True where the frame is not to be used."""
        return self.time is None or self.share < LEAST_SHARE

    @property
    def fof2_mhz(self) -> FloatArray:
        """Critical frequency of the F2 layer, ordinary wave [MHz], (72, 72)."""
        return fof2_mhz(self.nmf2_m3)


def fof2_mhz(nmf2_m3: FloatArray) -> FloatArray:
    """Critical frequency [MHz] of a peak density [1/m3], any shape."""
    return as_float(np.sqrt(HZ2_M3 * as_float(nmf2_m3)) * 1e-6)


def read_density_index(body: bytes) -> DensityIndex:
    """The list of frames; entries without time or address are left out."""
    value, problem = json_of(body.decode("utf-8-sig", errors="replace"))
    if problem is not None:
        return DensityIndex(problems=(problem,))
    if not isinstance(value, list) or not value:
        return DensityIndex(problems=("an empty list of frames" if value == [] else "not a list of frames",))
    frames = []
    for entry in value:
        time = as_time(entry.get("time_tag")) if isinstance(entry, dict) else None
        address = entry.get("url") if isinstance(entry, dict) else None
        if time is not None and isinstance(address, str) and address.strip():
            frames.append((time, address.strip()))
    lost = len(value) - len(frames)
    problems = (f"{counted(lost, 'frame')} without time or address left out",) if lost else ()
    return DensityIndex(tuple(sorted(frames)), problems)


def read_density_frame(body: bytes, time: np.datetime64 | None = None) -> DensityFrame:
    """A frame. time: that of its entry in the list, used where the frame itself has none."""
    value, problem = json_of(body.decode("utf-8-sig", errors="replace"))
    frame = value if isinstance(value, dict) else {}
    features = frame.get("features")
    if problem is None and not isinstance(features, list):
        problem = "not a collection of features"
    elif problem is None and not features:
        problem = "no cells in it"
    if problem is not None or not isinstance(features, list):
        return _nothing(time, problem or "not a collection of features")
    own = as_time(frame.get("time_tag"))
    problems = [] if own is not None or time is not None else ["no readable time"]
    grids, flags = _gridded(features, problems)
    nmf2 = _checked(grids[0], "NmF2", NMF2_RANGE_M3, "1/m3", problems)
    return DensityFrame(
        own if own is not None else time,
        nmf2,
        _checked(grids[1], "hmF2", HMF2_RANGE_KM, "km", problems),
        flags,
        (*problems, *_gaps(nmf2)),
    )


def _nothing(time: np.datetime64 | None, problem: str) -> DensityFrame:
    blank = as_float(np.full((72, 72), np.nan))
    return DensityFrame(time, blank, blank, np.zeros((72, 72), np.int64), (problem,))


def _gridded(features: list[object], problems: list[str]) -> tuple[FloatArray, IntArray]:
    """NmF2 and hmF2 as (2, 72, 72), and the flags; what has no cell is counted."""
    grids = np.full((2, 72, 72), np.nan)
    flags = np.zeros((72, 72), np.int64)
    seen = np.zeros((72, 72), bool)
    shapeless = shifted = twice = 0
    for feature in features:
        place, properties = _place_and_properties(feature)
        if place is None:
            shapeless += 1
            continue
        row, column = (place[1] + 88.75) / 2.5, ((place[0] + 182.5) % 360.0 - 5.0) % 360.0 / 5.0
        at = (round(row), round(column) % 72)
        off = max(abs(row - round(row)) * 2.5, abs(column - round(column)) * 5.0)
        if off > _OFF_DEG or not 0 <= at[0] < 72:
            shifted += 1
            continue
        twice += bool(seen[at])
        seen[at] = True
        numbers = [as_number(properties.get(name)) for name in ("NmF2", "hmF2")]
        grids[(slice(None), *at)] = [np.nan if number is None else number for number in numbers]
        flag = as_number(properties.get("quality_flag"))
        flags[at] = int(flag) if flag is not None and 0 <= flag <= MOST_OBSERVATIONS else 0
    for number, words in (
        (shapeless, "without a readable place left out"),
        (shifted, "off the centres of 5 by 2.5 degrees left out: the grid is shifted"),
        (twice, "there twice: the last counts"),
    ):
        if number:
            problems.append(f"{counted(number, 'cell')} {words}")
    return as_float(grids), flags


def _place_and_properties(feature: object) -> tuple[tuple[float, float] | None, dict[str, object]]:
    """(longitude, latitude) of a point feature, or None, and its properties."""
    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    pair = geometry.get("coordinates") if isinstance(geometry, dict) else None
    properties = feature.get("properties") if isinstance(feature, dict) else None
    if not isinstance(pair, list) or len(pair) < 2 or not isinstance(properties, dict):
        return None, {}
    longitude, latitude = as_number(pair[0]), as_number(pair[1])
    if longitude is None or latitude is None or not within(latitude, (-90.0, 90.0)) or abs(longitude) > 360.0:
        return None, {}
    return (longitude, latitude), properties


def _checked(
    grid: FloatArray, name: str, limits: tuple[float, float], unit: str, problems: list[str]
) -> FloatArray:
    """Grid with NaN outside the limits; all of it NaN where the median is outside."""
    known = grid[np.isfinite(grid)]
    negative = int(np.sum(known < 0.0))
    outside = np.isfinite(grid) & ((grid < limits[0]) | (grid > limits[1]))
    if negative:
        problems.append(f"{counted(negative, 'cell')} with a negative '{name}' left out")
    rest = known[known >= 0.0]
    if rest.size and not limits[0] <= float(np.median(rest)) <= limits[1]:
        problems.append(f"'{name}' is not in {unit}: its middle value is {float(np.median(rest)):.3g}")
        return as_float(np.full_like(grid, np.nan))
    beyond = int(np.sum(outside)) - negative
    if beyond > 0:
        problems.append(
            f"{counted(beyond, 'cell')} with '{name}' outside {limits[0]:g} to {limits[1]:g} left out"
        )
    return as_float(np.where(outside, np.nan, grid))


def _gaps(nmf2: FloatArray) -> tuple[str, ...]:
    found = int(np.sum(np.isfinite(nmf2)))
    if found == CELLS:
        return ()
    few = ": too few for a map" if found < LEAST_SHARE * CELLS else ""
    return (f"{found} of {CELLS} cells have a usable density{few}",)


def kept_density(frame: DensityFrame) -> bytes:
    """The frame in at most 20 000 bytes: NmF2 to 0.01 %, hmF2 to 1 km, the flag; time must be known.

    16 bits of log density, 8 of height and 4 of the flag a cell are 18 144 bytes before they are packed.
    """
    if frame.time is None:
        raise ValueError("a frame without its time is not kept")
    low, high = np.log(NMF2_RANGE_M3)
    scaled = 1.0 + (np.log(frame.nmf2_m3) - low) / (high - low) * 65534.0
    density = np.nan_to_num(np.round(scaled), nan=0.0).astype("<u2")
    steps = 1.0 + (frame.hmf2_km - HMF2_RANGE_KM[0]) / _HEIGHT_STEP_KM
    height = np.nan_to_num(np.round(steps), nan=0.0).astype(np.uint8)
    flags = frame.observations.astype(np.uint8).ravel()
    halves = (flags[::2] << 4) | flags[1::2]
    numbers: NDArray[np.uint8] = np.concatenate(
        [np.frombuffer(density.tobytes(), np.uint8), height.ravel(), halves]
    )
    return pack(_KIND, {"time": frame.time}, numbers, list(frame.problems))


def density_of(body: bytes) -> DensityFrame | None:
    """Frame from its stored bytes, or None where they are damaged."""
    found = unpack(_KIND, body, ("time",), (CELLS * 7 // 2,), 8)
    if found is None:
        return None
    times, numbers, notes = found
    density = np.frombuffer(numbers[: 2 * CELLS].tobytes(), "<u2").astype(float).reshape(72, 72)
    height = numbers[2 * CELLS : 3 * CELLS].astype(float).reshape(72, 72)
    halves = numbers[3 * CELLS :]
    flags = np.stack([halves >> 4, halves & 15], axis=-1).reshape(72, 72)
    flags = np.minimum(flags, MOST_OBSERVATIONS).astype(np.int64)
    low, high = np.log(NMF2_RANGE_M3)
    nmf2 = np.where(density == 0.0, np.nan, np.exp(low + (density - 1.0) / 65534.0 * (high - low)))
    hmf2 = np.where(height == 0.0, np.nan, HMF2_RANGE_KM[0] + (height - 1.0) * _HEIGHT_STEP_KM)
    return DensityFrame(times["time"], as_float(nmf2), as_float(hmf2), flags, notes)
