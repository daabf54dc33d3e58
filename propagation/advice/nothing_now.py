"""Answer "nothing", and the alternatives.

"Nothing" is reported only where even the best-equipped station of the target, on the best band, is worked on
fewer than one day in twenty. Then the nearest later time of the same mode is named. The next narrower mode is
named too, at once or at its earliest time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from propagation.advice.band_now import HARDLY
from propagation.advice.recompute import at_power, request_of
from propagation.base.units import BoolArray, FloatArray, as_float
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.rays.causes import CAUSES, Cause
from propagation.spectrum.modes import ModeName, narrower
from propagation.station.terminals import Terminals


@dataclass(frozen=True)
class Instead:
    """Alternative that works: a mode on a band at a time, and the chance with the target's best-equipped
    station.

    at_once: whether that is the requested time.
    """

    mode: ModeName
    band: str
    time: np.datetime64
    chance: float
    at_once: bool


@dataclass(frozen=True)
class Nothing:
    """Answer "nothing", with the best band nevertheless, its time, chance and limit.

    band: None where licence and antenna leave none. later: in this mode, after the requested times. tried:
    the next narrower mode, None where it was not requested; narrower: the result with it. Either is None
    where it does not work.
    """

    band: str | None
    time: np.datetime64
    chance: float
    limit: Cause | None
    later: Instead | None
    narrower: Instead | None
    tried: ModeName | None = None


def best_equipped_chance(result: Forecast) -> FloatArray:
    """Chance of a contact with the best-equipped station of the best part of the target (T, B).

    It is 0 where the band may not be used. For a place, it is the chance with the one station.
    """
    chance = result.best_equipped if result.mixed.size else result.chance
    best = np.max(chance, axis=(0, 1))
    return as_float(np.where(result.usable[None, :], best, 0.0))


def anything_at(result: Forecast) -> BoolArray:
    """Return whether any contact can be expected at each time (T,)."""
    return np.asarray(np.max(best_equipped_chance(result), axis=1, initial=0.0) >= HARDLY)


def narrower_forecast(result: Forecast, terminals: Terminals) -> Forecast | None:
    """Forecast again with the next narrower mode; None where there is none."""
    mode = narrower(result.mode)
    if mode is None:
        return None
    return forecast(replace(request_of(result, at_power(terminals, result)), mode=mode.name))


def nothing_between(
    result: Forecast, start: int, stop: int, again: Callable[[], Forecast | None] | None = None
) -> Nothing | None:
    """Answer "nothing" for the times from start to stop - 1 (indices); None where some band works.

    again: makes the forecast of the next narrower mode for the same times; called only where it is needed.
    """
    chance = best_equipped_chance(result)
    asked = chance[start:stop]
    if np.any(asked >= HARDLY):
        return None
    other = again() if again is not None else None
    tried = other.mode.name if other is not None else None
    narrow = soonest(other, start, start) if other is not None else None
    if not result.usable.any():
        return Nothing(None, result.times[start], 0.0, None, None, narrow, tried)
    at, band = (int(i) for i in np.unravel_index(int(np.argmax(asked)), asked.shape))
    return Nothing(
        band=result.bands[band].name,
        time=result.times[start + at],
        chance=float(asked[at, band]),
        limit=CAUSES[int(result.limit[start + at, band])],
        later=soonest(result, stop, start),
        narrower=narrow,
        tried=tried,
    )


def soonest(result: Forecast, start: int, asked: int) -> Instead | None:
    """First time from `start` on at which a band works, and the best band then; None where there is none.

    asked: the requested time (an index).
    """
    chance = best_equipped_chance(result)
    does = np.flatnonzero(np.max(chance[start:], axis=1, initial=0.0) >= HARDLY)
    if not does.size:
        return None
    at = start + int(does[0])
    band = int(np.argmax(chance[at]))
    return Instead(
        result.mode.name, result.bands[band].name, result.times[at], float(chance[at, band]), at == asked
    )
