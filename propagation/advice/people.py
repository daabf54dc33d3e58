"""People of a region: stations that hear you, contacts an hour, chance of a few, and countries to expect.

Stations in reach = stations on the air near each point (`on_air`) times the share of them, small, ordinary
and large (`far_ends`), with which a contact can be made on that kind of day. Contacts an hour follow from the
time each takes: the wait for an answer, and the exchange (`rate_of`). The days of a month are common to all
stations. So the rate is computed on each kind of day: its mean over the days is what to expect, and the
middle 80 % of the days give its range. The number of contacts on one day follows a Poisson law of the day's
rate. A band that opens on one day in ten never gets a higher chance than that, whatever the number of
listeners. The rate at a moment applies to the whole hour that follows. Shapes: P points, R routes (short,
long), T times, M half hours of computation (`between_times`), B bands, U and V kinds of day.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from propagation.advice.activity import USUAL, Habits, habits_of, listening
from propagation.advice.rates import Rates, over_days, rates_of
from propagation.base.errors import InputError
from propagation.base.units import FloatArray, FloatLike, IntArray, as_float, cosd, wrap_longitude_deg
from propagation.geo.gazetteer import gazetteer
from propagation.geo.regions import Target
from propagation.signal.chances.far_end_mixture import day_weights
from propagation.signal.chances.forecast import Forecast
from propagation.spectrum.modes import ModeName

NAMED_FROM: Final = 0.1  # share of the stations in reach from which a country is named (ours)
MOST_NAMED: Final = 4  # countries named at most (ours)
FIRST_MIN: Final = (15, 30, 60)  # minutes, spans in which the first few contacts are told (ours)
NEARLY_CERTAIN: Final = 0.95  # chance from which they are nearly certain (ours)
ALIKE_FROM: Final = 0.6  # of the foremost country's stations, from which another is named with it (ours)


@dataclass(frozen=True, eq=False)
class People:
    """Stations that can be worked; (T, B) unless stated.

    wanted: requested contacts N. ceiling: contacts an hour if every call were answered at once. on_air
    (P, T, B): stations on the air near each point. in_reach (P, T, B): of those, the stations with which a
    contact can be made, mean over the days, each by its better route. stations: all of them. by_day
    (T, B, U, V): contacts an hour on each kind of day. rate: the same, what to expect and its range. chance:
    of N contacts or more in the next hour. route_rate, route_chance (R, T, B): the same by one route alone.
    """

    wanted: int
    ceiling: float
    on_air: FloatArray
    in_reach: FloatArray
    stations: FloatArray
    by_day: FloatArray
    rate: Rates
    chance: FloatArray
    route_rate: Rates
    route_chance: FloatArray

    def first_few(self) -> tuple[IntArray, FloatArray]:
        """Least minutes of `FIRST_MIN` in which N contacts are nearly certain, else the last, and the chance
        within them; (T, B).
        """
        spans = np.array(FIRST_MIN, dtype=np.float64)
        within = np.stack([over_days(at_least(self.wanted, self.by_day * span / 60.0)) for span in spans])
        sure = np.concatenate([within[:-1] >= NEARLY_CERTAIN, np.ones((1, *self.chance.shape), np.bool_)])
        first = np.argmax(sure, axis=0)
        return np.asarray(FIRST_MIN)[first], as_float(np.take_along_axis(within, first[None], axis=0)[0])


@dataclass(frozen=True)
class Part:
    """Country with stations in reach (or a town, in a target of one country).

    stations: number of stations. share: of all in reach. first: whether it is among those to be expected
    first.
    """

    name: str
    stations: float
    share: float
    first: bool


def people_of(result: Forecast, wanted: int | None = None, habits: Habits | None = None) -> People:
    """Compute the people in a region's forecast, for `wanted` contacts and these habits, or else those of
    the station file.

    Raises InputError for a place, which is one station with a chance by days, and for `wanted` below one.
    """
    if not result.mixed.size:
        raise InputError(f"{result.target.name} is one station, not a region: ask for its chance by days.")
    wanted = result.wanted if wanted is None else wanted
    if wanted < 1:
        raise InputError(f"The number of contacts asked for is {wanted}: give 1 or more.")
    habits = habits_of(result.station.people) if habits is None else habits
    names, mode = [band.name for band in result.bands], result.mode.name
    between, weight = result.between, day_weights()
    on_air, counted = (
        listening(result.target, times, names, mode, habits) for times in (result.times, between.nodes)
    )
    # stations are counted at the half hours, and their numbers interpolated
    either = np.max(result.mixed, axis=1)  # (P, M, B, U, V)
    by_day = between.number(np.einsum("ptb,ptbuv->tbuv", counted, either)[None])[0]
    in_reach = on_air * between.chance(np.einsum("ptbuv,uv->ptb", either, weight))
    route_by_day = between.number(np.einsum("ptb,prtbuv->rtbuv", counted, result.mixed))
    rate, route_rate = (rate_of(stations, mode, habits) for stations in (by_day, route_by_day))
    return People(
        wanted=wanted,
        ceiling=habits.ceiling(mode),
        on_air=on_air,
        in_reach=in_reach,
        stations=as_float(np.sum(in_reach, axis=0)),
        by_day=rate,
        rate=rates_of(rate),
        chance=over_days(at_least(wanted, rate)),
        route_rate=rates_of(route_rate),
        route_chance=over_days(at_least(wanted, route_rate)),
    )


def rate_of(stations: FloatLike, mode: ModeName, habits: Habits = USUAL) -> FloatArray:
    """Contacts an hour of calling, from the number of stations in reach; broadcasts.

    Each contact takes the wait for an answer, 1/x hours, and the exchange, 1/m: x = stations times
    the share that answers in an hour, m = the most contacts an hour in the mode (ours). The rate is
    x m / (x + m): it rises with every station more and stays below m.
    """
    return limited(as_float(stations) * habits.answering, habits.ceiling(mode))


def limited(answers_per_hour: FloatLike, ceiling: float) -> FloatArray:
    """Contacts an hour, from the answers an hour of a caller who needs no time for an exchange."""
    answers = as_float(answers_per_hour)
    return as_float(answers * ceiling / np.maximum(answers + ceiling, 1e-300))


def unlimited(per_hour: FloatLike, ceiling: float) -> FloatArray:
    """Answers an hour from the contacts an hour: the inverse of `limited`."""
    rate = as_float(per_hour)
    return as_float(rate * ceiling / np.maximum(ceiling - rate, 1e-9 * ceiling))


def at_least(count: int, mean: FloatLike) -> FloatArray:
    """Chance of `count` or more where the number follows a Poisson law of this mean; broadcasts.

    1 - exp(-m) (1 + m + m^2/2! + ..), to the term of count - 1.
    """
    m = as_float(mean)
    fewer = term = np.ones_like(m)
    for order in range(1, count):
        term = term * (m / order)
        fewer = fewer + term
    return as_float(np.clip(1.0 - np.exp(-m) * fewer, 0.0, 1.0))


# --- countries to expect ---------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Crowd:
    """Stations in reach (G, T, B) by country, or by town of a target that lies in one country."""

    names: tuple[str, ...]
    stations: FloatArray

    def parts(self, time: int, band: int) -> tuple[Part, ...]:
        """Countries or towns to expect on a band at a time (indices), most stations first; may be empty."""
        each = self.stations[:, time, band]
        total = float(each.sum())
        if total <= 0.0:
            return ()
        order = np.argsort(-each, kind="stable")[:MOST_NAMED].tolist()
        most = float(each[order[0]])
        rows = [row for row in order if each[row] >= NAMED_FROM * total] or order[:1]
        return tuple(
            Part(self.names[row], float(each[row]), float(each[row]) / total, each[row] >= ALIKE_FROM * most)
            for row in rows
        )


def crowd(people: People, target: Target) -> Crowd:
    """Count the stations in reach of a target by country or town."""
    names, which = groups_of(target)
    member = (np.arange(len(names))[:, None] == which[None, :]).astype(np.float64)
    return Crowd(names, as_float(np.einsum("gp,ptb->gtb", member, people.in_reach)))


def whom(people: People, target: Target, time: int, band: int) -> tuple[Part, ...]:
    """Countries or towns to expect on a band at a time (indices)."""
    names, which = groups_of(target)
    each = np.bincount(which, weights=people.in_reach[:, time, band], minlength=len(names))
    return Crowd(names, as_float(each[:, None, None])).parts(0, 0)


@lru_cache(maxsize=16)
def groups_of(target: Target) -> tuple[tuple[str, ...], IntArray]:
    """Names of the groups of the points of a target, and the group of each point (P,)."""
    table = gazetteer()
    # the nearest town by latitude and longitude: only the country matters, not the distance
    east = wrap_longitude_deg(table.lon_deg[None, :] - target.lon_deg[:, None])
    east = east * cosd(target.lat_deg)[:, None]
    away = (table.lat_deg[None, :] - target.lat_deg[:, None]) ** 2 + east**2
    codes = np.array(table.country)[np.argmin(away, axis=1)]
    different, which = np.unique(codes, return_inverse=True)
    if different.size == 1 and target.kind == "region":
        labels, which = np.unique(np.array(target.labels), return_inverse=True)
        return tuple(labels.tolist()), which
    return tuple(table.country_names.get(code, code) for code in different.tolist()), which
