"""When "nothing" is the honest answer, and what would do instead.

Nothing is said only where even the best-equipped station of the target, on the best band, is worked on fewer
than one day in twenty. Then the nearest hour of the same mode, and the narrower mode at once or soonest, are
named.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, as_float
from propagation.signal.causes import CAUSES, Cause
from propagation.signal.forecast import Forecast

HARDLY: Final = 0.05  # chance with the best-equipped under which nothing is said to be there (ours)


@dataclass(frozen=True)
class Instead:
    """What would do: a mode on a band at a time, and the chance with the best-equipped of the target."""

    mode: str
    band: str
    time: np.datetime64
    chance: float
    at_once: bool


@dataclass(frozen=True)
class Nothing:
    """That there is nothing now: the best band with its chance and limit (band None: none may be used).

    later: the nearest later hour in this mode; narrower: with the next narrower mode. None where it does not.
    """

    band: str | None
    chance: float
    limit: Cause | None
    later: Instead | None
    narrower: Instead | None


def best_equipped_chance(result: Forecast) -> FloatArray:
    """Chance of a contact with the best-equipped station of the best part of the target (T, B); 0 where the
    band may not be used. For a place, of the one station."""
    chance = result.best_equipped if result.mixed.size else result.chance
    best = np.max(chance, axis=(0, 1))
    return as_float(np.where(result.usable[None, :], best, 0.0))


def anything_at(result: Forecast) -> BoolArray:
    """Whether anybody can be hoped for at each time (T,)."""
    return np.asarray(np.max(best_equipped_chance(result), axis=1, initial=0.0) >= HARDLY)


def nothing_at(
    result: Forecast, time: int, narrower: Callable[[], Forecast | None] | None = None
) -> Nothing | None:
    """The answer "nothing" for a time (an index), with what would do; None where there is something.

    narrower: makes the forecast of the next narrower mode for the same times, called only where it is asked.
    """
    chance = best_equipped_chance(result)
    best = int(np.argmax(chance[time])) if chance.shape[1] else -1
    if best >= 0 and chance[time, best] >= HARDLY:
        return None
    again = narrower() if narrower is not None else None
    known = bool(result.usable.any())
    return Nothing(
        band=result.bands[best].name if known else None,
        chance=float(chance[time, best]) if known else 0.0,
        limit=CAUSES[int(result.limit[time, best])] if known else None,
        later=_soonest(result, chance, time),
        narrower=_soonest(again, best_equipped_chance(again), time) if again is not None else None,
    )


def _soonest(result: Forecast, chance: FloatArray, start: int) -> Instead | None:
    """The first time from `start` on at which a band does, and the best band then."""
    does = np.flatnonzero(np.max(chance[start:], axis=1, initial=0.0) >= HARDLY)
    if not does.size:
        return None
    at = start + int(does[0])
    band = int(np.argmax(chance[at]))
    return Instead(
        result.mode.name, result.bands[band].name, result.times[at], float(chance[at, band]), at == start
    )
