"""What a forecast promises: the one place from which pages, plan, run sheet and commands take their chances.

To a friend or a place the chance is a share of days. To a region it is the chance of making a few contacts in
the next hour (`people`), and a band is limited there by what the forecast says, unless the chance is good
(then nothing limits it), or the stations are in reach and too few of them on the air. A forecast is asked
once; the answer stays with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from weakref import WeakKeyDictionary

import numpy as np

from propagation.advice.nothing_now import best_equipped_chance
from propagation.advice.people import People, people_of
from propagation.base.units import FloatArray, IntArray, as_float
from propagation.signal.chances.far_end_mixture import day_weights
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.limiting import OPEN
from propagation.signal.rays.causes import CODE


@dataclass(frozen=True, eq=False)
class Outlook:
    """What a forecast promises; (T, B) unless said.

    chance: of the contacts that are wanted in the next hour with a region, of a contact by days with a place.
    by_route (R, T, B): the same by one route alone. limit: codes of `causes.CAUSES`. best_equipped: chance of
    a contact with the best-equipped station of the best part, 0 where the band may not be used. people: of a
    region, None for a place.
    """

    chance: FloatArray
    by_route: FloatArray
    limit: IntArray
    best_equipped: FloatArray
    people: People | None


_MADE: Final[WeakKeyDictionary[Forecast, Outlook]] = WeakKeyDictionary()


def outlook(result: Forecast) -> Outlook:
    """The outlook of a forecast.

    Raises InputError for a region's forecast that was made without its people.
    """
    if result not in _MADE:
        _MADE[result] = _outlook(result)
    return _MADE[result]


def chance(result: Forecast) -> FloatArray:
    """The chance of every time and band (T, B), 0 where licence or antenna leave no place."""
    return as_float(np.where(result.usable[None, :], outlook(result).chance, 0.0))


def _outlook(result: Forecast) -> Outlook:
    if not result.target.is_region:
        by_route = as_float(np.einsum("p,prtb->rtb", result.target.weight, result.chance))
        best = best_equipped_chance(result)
        return Outlook(result.region_chance, by_route, result.limit, best, None)
    people = people_of(result)
    good = people.chance >= OPEN
    few = (result.limit == CODE["open"]) & ~good
    limit = np.where(few, CODE["few on the air"], result.limit)
    limit = np.where(good & result.usable[None, :], CODE["open"], limit)
    return Outlook(people.chance, people.route_chance, limit, best_equipped_chance(result), people)


def named_point(result: Forecast, time: int, band: int, route: int | None = None) -> int:
    """The point of the target that a cell is told of: where most stations are in reach, by any route or one.

    A place has one. Where nobody is in reach, the point the forecast speaks of.
    """
    people = outlook(result).people
    routes = slice(None) if route is None else slice(route, route + 1)
    if people is None:
        counted = np.max(result.chance[:, routes, time, band], axis=1) * result.target.weight
    else:
        mixed = np.max(result.mixed[:, routes, result.between.place(time), band], axis=1)
        counted = np.einsum("puv,uv->p", mixed, day_weights()) * people.on_air[:, time, band]
    return int(np.argmax(counted)) if np.any(counted > 0.0) else int(result.best_point[time, band])
