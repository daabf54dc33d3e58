"""What every cell of a forecast promises: the source for pages, plan, run sheet and commands.

For a friend or a place it is a share of days. For a region it is the contacts an hour to expect, and second
the chance of a few of them in the next hour (`people`). Everything ranks by the `worth`, compared as
`ranking` says. A region's limit is the forecast's, with two exceptions. Nothing limits a good chance. Low
activity limits a band on which the stations are in reach. The result is cached with the forecast.
`chance_curve` makes the chance on a grid of times a smooth function of time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeAlias
from weakref import WeakKeyDictionary

import numpy as np

from propagation.advice.nothing_now import best_equipped_chance
from propagation.advice.people import People, people_of
from propagation.advice.ranking import level, told_chance, told_rate
from propagation.advice.rates import Prospect
from propagation.base.units import FloatArray, IntArray, TimeArray, TimeLike, as_float
from propagation.signal.chances.far_end_mixture import day_weights
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.limiting import OPEN
from propagation.signal.rays.causes import CODE


@dataclass(frozen=True, eq=False)
class Outlook:
    """What a forecast promises; (T, B) unless stated.

    chance: of the requested contacts in the next hour with a region, of a contact by days with a place.
    by_route (R, T, B): the same by one route alone. worth, worth_by_route (R, T, B), 0 to 1: contacts an hour
    over `ceiling` with a region, the chance with a place (ceiling 1). ranked: the worth by which bands are
    compared, 0 where the band may not be used. limit: codes of `causes.CAUSES`. best_equipped: chance of a
    contact with the best-equipped station of the best part, 0 where the band may not be used. people: of a
    region, None for a place. wanted: contacts requested of a region, 0 for a place.
    """

    chance: FloatArray
    by_route: FloatArray
    worth: FloatArray
    worth_by_route: FloatArray
    ceiling: float
    ranked: FloatArray
    limit: IntArray
    best_equipped: FloatArray
    people: People | None
    wanted: int

    def at(self, time: int, band: int) -> Prospect:
        """What a band promises at a time (indices)."""
        rate = self.people.rate.at(time, band) if self.people is not None else None
        return Prospect(float(self.chance[time, band]), rate, self.wanted)


_MADE: Final[WeakKeyDictionary[Forecast, Outlook]] = WeakKeyDictionary()


def outlook(result: Forecast) -> Outlook:
    """Compute the outlook of a forecast.

    Raises InputError for a region's forecast that was made without its people.
    """
    if result not in _MADE:
        _MADE[result] = _outlook(result)
    return _MADE[result]


def chance(result: Forecast) -> FloatArray:
    """Chance of every time and band (T, B), 0 where licence or antenna rule the band out."""
    return as_float(np.where(result.usable[None, :], outlook(result).chance, 0.0))


def _outlook(result: Forecast) -> Outlook:
    best, usable = best_equipped_chance(result), result.usable[None, :]
    if not result.target.is_region:
        by_route = as_float(np.einsum("p,prtb->rtb", result.target.weight, result.chance))
        chance = result.region_chance
        ranked = level(np.where(usable, chance, 0.0), told_chance(chance), chance)
        return Outlook(chance, by_route, chance, by_route, 1.0, ranked, result.limit, best, None, 0)
    people = people_of(result)
    good = people.chance >= OPEN
    few = (result.limit == CODE["open"]) & ~good
    limit = np.where(few, CODE["few on the air"], result.limit)
    worth = people.rate.middle / people.ceiling
    return Outlook(
        chance=people.chance,
        by_route=people.route_chance,
        worth=worth,
        worth_by_route=people.route_rate.middle / people.ceiling,
        ceiling=people.ceiling,
        ranked=level(np.where(usable, worth, 0.0), told_rate(people.rate.middle), people.rate.low),
        limit=np.where(good & usable, CODE["open"], limit),
        best_equipped=best,
        people=people,
        wanted=people.wanted,
    )


def named_point(result: Forecast, time: int, band: int, route: int | None = None) -> int:
    """Point of the target that represents a cell: where most stations are in reach, by any route or one.

    A place has one. Where nobody is in reach, the point named by the forecast.
    """
    people = outlook(result).people
    routes = slice(None) if route is None else slice(route, route + 1)
    if people is None:
        counted = np.max(result.chance[:, routes, time, band], axis=1) * result.target.weight
    else:
        mixed = np.max(result.mixed[:, routes, result.between.place(time), band], axis=1)
        counted = np.einsum("puv,uv->p", mixed, day_weights()) * people.on_air[:, time, band]
    return int(np.argmax(counted)) if np.any(counted > 0.0) else int(result.best_point[time, band])


ChanceCurve: TypeAlias = Callable[[TimeLike], FloatArray]
LEAST: Final = 1e-4  # chances below it, or this near to one, count as equal (ours)


def chance_curve(times: TimeArray, chance: FloatArray) -> ChanceCurve:
    """Chance as a function of time [datetime64, any shape]; constant beyond the first and last sample.

    times: datetime64[s], ascending, shape (n,), n >= 1; chance: shape (n,), 0 to 1. Cubic Hermite through the
    samples with central slopes.
    """
    seconds = times.astype("datetime64[s]").astype(np.float64)
    clipped = np.clip(np.nan_to_num(chance), LEAST, 1.0 - LEAST)
    level = np.log(clipped / (1.0 - clipped))
    if seconds.size == 1:
        held = float(clipped[0])
        return lambda when: np.full(np.shape(when), held)
    slope = np.gradient(level, seconds)

    def at(when: TimeLike) -> FloatArray:
        x = np.clip(np.asarray(when).astype("datetime64[s]").astype(np.float64), seconds[0], seconds[-1])
        left = np.clip(np.searchsorted(seconds, x, side="right") - 1, 0, seconds.size - 2)
        width = seconds[left + 1] - seconds[left]
        u = (x - seconds[left]) / width
        value = (
            level[left] * (1.0 + 2.0 * u) * (1.0 - u) ** 2
            + level[left + 1] * u * u * (3.0 - 2.0 * u)
            + width * u * (1.0 - u) * (slope[left] * (1.0 - u) - slope[left + 1] * u)
        )
        return np.asarray(1.0 / (1.0 + np.exp(-value)))

    return at


def mean_over(curve: ChanceCurve, start: np.datetime64, end: np.datetime64) -> float:
    """Mean of a curve between two times, by trapezoids of at most five minutes."""
    span = float((end - start) / np.timedelta64(1, "s"))
    count = max(int(np.ceil(span / 300.0)), 1)
    ticks = start.astype("datetime64[s]") + np.linspace(0.0, span, count + 1).astype("timedelta64[s]")
    values = curve(ticks)
    return float(np.mean(0.5 * (values[1:] + values[:-1])))
