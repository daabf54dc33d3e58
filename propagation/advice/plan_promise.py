"""Promise of the targets of a plan on the plan's grid, and the rewards made of it.

A region promises contacts an hour, a place a share of days. The reward is the `worth` of `region_chance`: the
contacts an hour over the ceiling, or the share of days. Several regions count as one: a call is heard in all
of them. Places and regions together share the reward by their weights. Bands are compared as `ranking` says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.advice.activity import habits_of
from propagation.advice.people import People, limited, unlimited
from propagation.advice.plan_contacts import (
    Contacts,
    ForecastOutings,
    Outings,
    between,
    contacts_of,
    expected_in,
)
from propagation.advice.ranking import level, told_chance, told_rate
from propagation.advice.rates import Prospect, Rates, rates_of
from propagation.advice.region_chance import chance_curve, outlook
from propagation.advice.switching import MINUTE, BandStay, Rewards, worth_of
from propagation.base.units import FloatArray, TimeArray, as_float
from propagation.signal.chances.forecast import Forecast

GRID_MIN: Final = 5.0  # minutes between the times at which a plan may change bands (ours)


@dataclass(frozen=True, eq=False)
class Aim:
    """Promise of one target on the plan's grid (T, B).

    part: weight of the target, sum 1. wanted: contacts requested of a region, 0 for a place. chance: of those
    in the next hour, or of days. rates: contacts an hour with a region, None for a place.
    """

    name: str
    part: float
    wanted: int
    chance: FloatArray
    rates: Rates | None

    @property
    def figure(self) -> FloatArray:
        """What is told: contacts an hour, or the share of days (T, B)."""
        return self.chance if self.rates is None else self.rates.middle

    def at_each(self, band: int) -> tuple[Prospect, ...]:
        """What a band promises at each time of the grid."""
        return tuple(self.over(slice(row, row + 1), band) for row in range(self.chance.shape[0]))

    def over(self, times: slice, band: int) -> Prospect:
        """Mean of some of the times on a band (indices)."""
        chance = float(np.mean(self.chance[times, band]))
        if self.rates is None:
            return Prospect(chance)
        columns = Rates(
            *(rows[times].mean(axis=0) for rows in (self.rates.low, self.rates.middle, self.rates.high))
        )
        return Prospect(chance, columns.at(band), self.wanted)


@dataclass(frozen=True, eq=False)
class Promise:
    """What the time on air promises.

    rewards: worth of every band (T, B), 0 to 1. aims: of each target. together: of all regions as one, whose
    figures a plan adds up; None without a region. ceiling: contacts an hour of a worth of one, 0 without a
    region. outings: simulated, behind the ranges. part: of the contacts on some bands that count.
    """

    rewards: Rewards
    aims: tuple[Aim, ...]
    together: Aim | None = None
    ceiling: float = 0.0
    outings: Outings | None = None

    @property
    def in_contacts(self) -> bool:
        """Return whether the rewards are contacts alone: every target is a region."""
        return all(aim.rates is not None for aim in self.aims)

    @property
    def main(self) -> Aim:
        """The promise that is told of a plan: of the regions, without one of the first place."""
        return self.aims[0] if self.together is None else self.together

    def contacts(self, reward: float) -> float | None:
        """Contacts of a reward [minutes], where the rewards are contacts alone."""
        return reward * self.ceiling / 60.0 if self.in_contacts else None

    def number(self, stays: Sequence[BandStay]) -> FloatArray:
        """Contacts to expect in each stay (stays,), with all regions."""
        if self.together is None or self.together.rates is None:
            return np.zeros(len(stays))
        middle = Rewards(self.rewards.times, self.rewards.bands, self.together.rates.middle / 60.0)
        return as_float([worth_of(middle, [stay], stay.start) for stay in stays])

    def over(self, aim: Aim, band: str, stay: BandStay) -> Prospect:
        """Mean of what a target promises on a band over a stay."""
        first, last = np.searchsorted(self.rewards.times, [stay.start, stay.end])
        return aim.over(slice(int(first), int(last) + 1), self.rewards.index(band))

    def sums(self, stays: Sequence[BandStay]) -> tuple[tuple[Contacts, ...], Contacts | None]:
        """Contacts of each stay, and of all; nothing without a region."""
        if self.outings is None or not stays:
            return (), None
        middles, expected = self.number(stays), expected_in(self.outings, stays)
        each = tuple(contacts_of(*pair) for pair in zip(middles.tolist(), expected, strict=True))
        return each, contacts_of(float(middles.sum()), as_float(expected.sum(axis=0)))


def promise_of(
    results: Sequence[Forecast],
    weights: Sequence[float],
    start: np.datetime64,
    end: np.datetime64,
    bands: Sequence[str],
    used: Mapping[str, float] | None = None,
) -> Promise:
    """Promise of one or several targets (same station and bands) on the plan's grid.

    weights: of each target, in any unit. bands: those that a plan may use. used: part of the contacts, or of
    the worth of a place, that counts on some bands.
    """
    first = results[0]
    count = max(int(np.floor(float((end - start) / MINUTE) / GRID_MIN + 1e-9)), 1)
    times = start.astype("datetime64[s]") + (np.arange(count + 1) * GRID_MIN * 60).astype("timedelta64[s]")
    rows = [row for row in np.flatnonzero(first.usable).tolist() if first.bands[row].name in bands]
    names = tuple(first.bands[row].name for row in rows)
    scale = as_float([(used or {}).get(name, 1.0) for name in names])
    parts = as_float(weights) / np.sum(weights)
    aims = tuple(
        _aim(result, part, times, rows, scale) for result, part in zip(results, parts.tolist(), strict=True)
    )
    regions = [result for result in results if result.target.is_region]
    if not regions:
        return Promise(rewards_of(times, names, aims, None, 0.0, scale), aims)
    ceiling = habits_of(first.station.people).ceiling(first.mode.name)
    outings = _outings(regions, rows, names, ceiling, dict(zip(names, scale.tolist(), strict=True)))
    mine = [aim for aim in aims if aim.rates is not None]
    together = mine[0] if len(mine) == 1 else _together(outings, mine, times, scale)
    return Promise(rewards_of(times, names, aims, together, ceiling, scale), aims, together, ceiling, outings)


def _aim(result: Forecast, part: float, times: TimeArray, rows: list[int], scale: FloatArray) -> Aim:
    seen, region = outlook(result), result.target.is_region
    curves = [chance_curve(result.times, seen.chance[:, row])(times) for row in rows]
    chance = np.stack(curves, axis=-1) if rows else np.zeros((times.size, 0))
    rates = _between(result.times, seen.people.rate, rows, times, scale) if seen.people is not None else None
    return Aim(result.target.name, part, result.wanted if region else 0, as_float(chance), rates)


def _between(known: TimeArray, rates: Rates, rows: list[int], times: TimeArray, scale: FloatArray) -> Rates:
    """Rates on the grid, linear between the forecast's times."""
    return Rates(
        *(scale * between(known, values[:, rows], times) for values in (rates.low, rates.middle, rates.high))
    )


def _outings(
    regions: Sequence[Forecast], rows: list[int], names: tuple[str, ...], ceiling: float,
    part: Mapping[str, float],
) -> ForecastOutings:  # fmt: skip
    """Simulated outings with all regions; "anyone" holds the others already."""
    everybody = [one for one in regions if one.target.kind == "anyone"][:1] or regions
    people: list[People] = [seen for one in everybody if (seen := outlook(one).people) is not None]
    answers = sum(unlimited(one.by_day[:, rows], ceiling) for one in people)
    answering = habits_of(regions[0].station.people).answering
    most = sum(answering * one.on_air[:, :, rows].sum(axis=0) for one in people)
    by_day = people[0].by_day[:, rows] if len(people) == 1 else limited(answers, ceiling)
    return ForecastOutings(regions[0].times, names, by_day, as_float(most), ceiling, part)


def _together(outings: ForecastOutings, aims: Sequence[Aim], times: TimeArray, scale: FloatArray) -> Aim:
    """Promise of several regions as one; the chance of the better of them."""
    rates = _between(outings.times, rates_of(outings.by_day), list(range(scale.size)), times, scale)
    chance = np.max(np.stack([aim.chance for aim in aims]), axis=0)
    names = " and ".join(aim.name for aim in aims)
    return Aim(names, sum(aim.part for aim in aims), max(aim.wanted for aim in aims), as_float(chance), rates)


def rewards_of(
    times: TimeArray, bands: tuple[str, ...], aims: Sequence[Aim], together: Aim | None, ceiling: float,
    scale: FloatArray,
) -> Rewards:  # fmt: skip
    """Rewards of the targets: the worth that is added up, and the one by which bands are compared."""
    places = [aim for aim in aims if aim.rates is None]
    worth = sum((scale * aim.part * aim.chance for aim in places), np.zeros((times.size, len(bands))))
    low = worth
    if together is not None and together.rates is not None:
        part = sum(aim.part for aim in aims if aim.rates is not None)
        worth, low = (before + part * rates / ceiling for before, rates in
                      ((worth, together.rates.middle), (low, together.rates.low)))  # fmt: skip
        if not places:
            return Rewards(times, bands, as_float(worth), level(worth, told_rate(ceiling * worth), low))
    return Rewards(times, bands, as_float(worth), level(worth, told_chance(worth), low))
