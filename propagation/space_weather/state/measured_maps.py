"""Stored copies of the measured maps, and which of them are in force."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from propagation.base.store import Store, StoreError
from propagation.base.text import age_words, counted
from propagation.space_weather.sources.absorption_map import AbsorptionMap, absorption_of
from propagation.space_weather.sources.aurora_map import AuroraMap, aurora_of
from propagation.space_weather.sources.density_map import DensityFrame, density_of
from propagation.space_weather.sources.hosts import DAYS_KEPT, DENSITY, FUTURE, MAP_PRODUCTS

Map = TypeVar("Map")


@dataclass(frozen=True)
class InForce:
    """A stored map. in_force: young enough to be used; age: of the measurement itself."""

    product: str
    what: str
    time: np.datetime64
    age: np.timedelta64
    in_force: bool
    fetched: np.datetime64
    origin: str
    problems: tuple[str, ...]


def kept_frames(store: Store) -> list[DensityFrame]:
    """The newest density frame and the last of each day of the week before it, newest first; what is damaged
    or older is left out."""
    frames = {}
    for name in (DENSITY, *(f"{DENSITY}-day-{number + 1}" for number in range(DAYS_KEPT))):
        frame = _read_again(store, name, density_of)
        if frame is not None and frame.time is not None:
            frames[frame.time] = frame
    times = sorted(frames, reverse=True)
    week = np.timedelta64(DAYS_KEPT, "D")
    return [frames[time] for time in times if times[0] - time < week]


def kept_absorption_map(store: Store) -> AbsorptionMap | None:
    """The absorption map that is kept, or None."""
    return _read_again(store, "measured-absorption", absorption_of)


def kept_aurora_map(store: Store) -> AuroraMap | None:
    """The auroral oval that is kept, or None."""
    return _read_again(store, "measured-aurora", aurora_of)


def _read_again(store: Store, name: str, again: Callable[[bytes], Map | None]) -> Map | None:
    try:
        stored = store.get(name)
    except StoreError:
        return None
    return None if stored is None else again(stored.body)


def measured_of(store: Store, now: np.datetime64) -> tuple[list[InForce], list[str]]:
    """Stored maps with their ages, and what was wrong with the copies."""
    listed: list[InForce] = []
    notes: list[str] = []
    for name, product in MAP_PRODUCTS.items():
        try:
            stored = store.get(name)
        except StoreError as damage:
            notes.append(damage.message)
            continue
        if stored is None:
            continue
        kept = product.restored(stored.body)
        if kept is None or kept.time is None:
            notes.append(f"The stored {product.what} cannot be read; it is left out until the next fetch.")
            continue
        age = now - kept.time
        counts = -FUTURE <= age <= product.valid_for
        listed.append(
            InForce(
                name, product.what, kept.time, age, bool(counts), stored.fetched, stored.origin, kept.problems
            )
        )
    return listed, notes


def measured_words(one: InForce) -> str:
    """A stored map in a line: what, its time and age, and whether it is still in force."""
    state = "" if one.in_force else ", too old to count" if one.age > FUTURE else ", not of this time"
    faults = f" ({counted(len(one.problems), 'fault')}: {'; '.join(one.problems)})" if one.problems else ""
    return f"{one.what}: measured {str(one.time)[:16]}Z, {age_words(one.age)}{state}{faults}"
