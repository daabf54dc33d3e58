"""The round of international beacons: schedule, bands, distances and bearings.

The schedule is that published (from memory) and is in `data/beacons.toml`, which an edited copy can replace.
Stations are named by place, not by call sign.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from propagation.base import strict_toml
from propagation.base.errors import InputError
from propagation.base.time_series import as_times, later
from propagation.base.units import IntArray, TimeLike
from propagation.geo.great_circle import bearing_deg, distance_km
from propagation.geo.locator import Position, position_of
from propagation.spectrum import bands

SCHEDULE_FILE: Final = Path(__file__).parent.parent / "data" / "beacons.toml"
NOTE: Final = "recalled from the published schedule; check before relying on it"
_BEACON_KEYS: Final = frozenset({"name", "locator", "active"})
_KEYS: Final = frozenset({"frequencies_mhz", "slot_s", "power_w", "beacon"})


@dataclass(frozen=True)
class Beacon:
    """Station of the round."""

    name: str
    locator: str
    position: Position
    active: bool = True


@dataclass(frozen=True)
class Turn:
    """Turn of a beacon on one frequency, with distance and bearing from a place. Times are UTC."""

    beacon: Beacon
    frequency_mhz: float
    band: str
    start: np.datetime64
    end: np.datetime64
    distance_km: float
    bearing_deg: float


@dataclass(frozen=True)
class Schedule:
    """The round: in slot s, counted from 0 h UTC, beacon (s - b) modulo their count is on frequency b."""

    frequencies_mhz: tuple[float, ...]
    slot_s: int
    power_w: float
    beacons: tuple[Beacon, ...]

    @property
    def round_s(self) -> int:
        """Length of the whole round [s]."""
        return self.slot_s * len(self.beacons)

    def on_air(self, times: TimeLike) -> IntArray:
        """Number of the beacon on each frequency: times' shape and a last axis over the frequencies."""
        slot = as_times(times).astype(np.int64) // self.slot_s
        return (slot[..., None] - np.arange(len(self.frequencies_mhz))) % len(self.beacons)

    def turns(self, time: np.datetime64, place: Position) -> list[Turn]:
        """Turns on the air at a time, one for each frequency, with distance and bearing from a place."""
        second = int(as_times(time).astype(np.int64))
        start = np.datetime64(second // self.slot_s * self.slot_s, "s")
        return [
            self._turn(int(number), index, start, place) for index, number in enumerate(self.on_air(time))
        ]

    def next_turn(self, name: str, frequency_mhz: float, time: np.datetime64, place: Position) -> Turn:
        """Current or next turn of a beacon on a frequency. InputError for unknown names."""
        number = self.number_of(name)
        index = int(np.argmin(np.abs(np.array(self.frequencies_mhz) - frequency_mhz)))
        second = int(as_times(time).astype(np.int64))
        slots = np.arange(len(self.beacons)) + second // self.slot_s
        slot = int(slots[(slots - index) % len(self.beacons) == number][0])
        return self._turn(number, index, np.datetime64(slot * self.slot_s, "s"), place)

    def number_of(self, name: str) -> int:
        """Number of a beacon in the round, by its name or the start of it, or by its locator."""
        wanted = name.strip().casefold()
        exact = [i for i, b in enumerate(self.beacons) if wanted in (b.name.casefold(), b.locator.casefold())]
        begun = [i for i, b in enumerate(self.beacons) if wanted and b.name.casefold().startswith(wanted)]
        found = exact or begun
        if len(found) != 1:
            known = ", ".join(beacon.name for beacon in self.beacons)
            raise InputError(f"{name!r} names no single beacon; the round has {known}.")
        return found[0]

    def _turn(self, number: int, index: int, start: np.datetime64, place: Position) -> Turn:
        beacon, frequency = self.beacons[number], self.frequencies_mhz[index]
        band = bands.band_of(frequency)
        there = beacon.position
        return Turn(
            beacon,
            frequency,
            band.name if band is not None else f"{frequency:g} MHz",
            start,
            later(start, np.timedelta64(self.slot_s, "s")),
            float(distance_km(place.lat_deg, place.lon_deg, there.lat_deg, there.lon_deg)),
            float(bearing_deg(place.lat_deg, place.lon_deg, there.lat_deg, there.lon_deg)),
        )


def load(path: Path | None = None) -> Schedule:
    """Load the schedule of a file, or the program's own. InputError names the fault and its position."""
    file = path or SCHEDULE_FILE
    return loads(strict_toml.read_text(file), str(file))


def loads(text: str, where: str) -> Schedule:
    """Read the schedule from TOML text; `where` names it in errors."""
    table = strict_toml.parse(text, where)
    unknown = sorted(set(table) - _KEYS)
    if unknown:
        raise InputError(f"{where}: {unknown[0]!r} is not known; the keys are {', '.join(sorted(_KEYS))}.")
    frequencies = table.get("frequencies_mhz")
    if not isinstance(frequencies, list) or not frequencies or not all(_positive(f) for f in frequencies):
        raise InputError(f"{where}: frequencies_mhz must be a list of megahertz, such as [14.1, 18.11].")
    slot, power = table.get("slot_s", 10), table.get("power_w", 100)
    if not isinstance(slot, int) or not 1 <= slot <= 3600:
        raise InputError(f"{where}: slot_s must be whole seconds from 1 to 3600.")
    if not _positive(power):
        raise InputError(f"{where}: power_w must be watts above 0.")
    listed = table.get("beacon")
    if not isinstance(listed, list) or len(listed) < len(frequencies):
        raise InputError(f"{where}: there must be as many [[beacon]] tables as frequencies, or more.")
    beacons = tuple(_beacon(item, number, where) for number, item in enumerate(listed, start=1))
    return Schedule(tuple(float(f) for f in frequencies), slot, float(power), beacons)


def _positive(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 < value < 1e6


def _beacon(item: Any, number: int, where: str) -> Beacon:
    if not isinstance(item, dict):
        raise InputError(f"{where}: beacon {number} must be a [[beacon]] table.")
    unknown = sorted(set(item) - _BEACON_KEYS)
    if unknown:
        raise InputError(
            f"{where}: beacon {number} has an unknown key {unknown[0]!r}; use name, locator, active."
        )
    name, locator, active = item.get("name"), item.get("locator"), item.get("active", True)
    if not isinstance(name, str) or not name.strip() or not isinstance(active, bool):
        raise InputError(f"{where}: beacon {number} needs a name, and active may be true or false.")
    try:
        position = position_of(locator if isinstance(locator, str) else "")
    except InputError as error:
        raise InputError(f"{where}: beacon {number} ({name}): {error.message}") from None
    return Beacon(name.strip(), str(locator), position, active)
