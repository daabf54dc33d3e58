"""New plan from the current estimate: expected contacts by band, and whether a change is worth it.

`outing_estimate` gives the probability of every state of the outing. Here the expected contacts on every band
are averaged over the states. The current plan is compared with the best one from this moment on, minutes of
change included. A new plan is offered only where it gains more than a stated margin.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from propagation.advice.activity import Habits, habits_of, listening
from propagation.advice.outing_estimate import BAND_SHAPE, Estimate, Learning, ReachByState, estimate
from propagation.advice.people import at_least, groups_of, limited, unlimited
from propagation.advice.plan_contacts import OUTINGS, between
from propagation.advice.plan_promise import Aim, Promise
from propagation.advice.ranking import level, told_rate
from propagation.advice.rates import TAIL, Prospect, Rates
from propagation.advice.region_chance import chance_curve
from propagation.advice.switching import SHORTEST_STAY_MIN, BandStay, Plan, Rewards, replan, worth_of
from propagation.base.units import FloatArray, IntArray, TimeArray, as_float
from propagation.geo import sun
from propagation.geo.geomagnetic import geomagnetic_latitude_deg
from propagation.ionosphere.variability import muf_spread
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.station_offsets import shifted
from propagation.space_weather.indices.solar_index import r12_from_index
from propagation.station.terminals import Terminal

STEP: Final = np.timedelta64(1200, "s")  # between the times of the offsets' forecast (ours)
GRID: Final = np.timedelta64(300, "s")  # between the times at which a plan may change bands, as in `plan_day`
# Least gain of a new plan over the rest of the current plan: a share, and contacts (ours). From 5 to 25 % the
# simulated outings give the same result; the larger margin avoids needless changes.
WORTH_SHARE: Final = 0.2
WORTH_CONTACTS: Final = 1.0
# An unanswered call stands for five minutes of calling (ours). To leave a band after two costs 4 % of the
# contacts of 240 simulated outings, since few are to be expected on many; after two missed ones, under 0.5 %.
CALL_MIN: Final = 5.0
FEWEST_CALLS: Final = 2
MISSED: Final = 2.0  # contacts
CHANCE_OF: Final = 10  # one in so many simulated outings is enough for a chance (ours)
NEGLIGIBLE: Final = 0.02  # of the best band's contacts, below which a band is not planned (ours)


def ground_of(
    result: Forecast, near: Terminal, far: Terminal, start: np.datetime64, end: np.datetime64,
    habits: Habits | None = None,
) -> ReachByState:  # fmt: skip
    """Compute the data that an outing's events are compared with, from a region's forecast.

    It takes about as long as the forecast did.
    """
    first = start.astype("datetime64[s]")
    times = np.asarray(first + np.arange(int((end - first) / STEP) + 2) * STEP)
    target, mode = result.target, result.mode.name
    habits = habits_of(result.station.people) if habits is None else habits
    names, group = groups_of(target)

    def on_air(when: TimeArray, bands: list[str]) -> FloatArray:
        return listening(target, when, bands, mode, habits)

    stations = shifted(result, near, far, times, on_air, group)
    return ReachByState(stations, names, target.lat_deg, target.lon_deg, group, mode, habits)


def expected(learning: Learning) -> FloatArray:
    """Expected contacts an hour on every band at every time of the ground, after all events (T, B)."""
    ground = learning.ground
    weight = learning.posterior().ravel()
    columns = []
    for column, band in enumerate(ground.stations.bands):
        rate = ground.rate[:, column]
        if learning.minutes.get(band):
            rate = scaled(rate, learning.factors(band), ground.ceiling)
        columns.append(rate @ weight)
    return as_float(np.stack(columns, axis=-1))


def scaled(rate: FloatArray, factor: FloatArray, ceiling: float) -> FloatArray:
    """Contacts an hour where so many times the stations answer; broadcasts."""
    return limited(unlimited(rate, ceiling) * factor, ceiling)


def busy_of(learning: Learning, band: str) -> float:
    """Answers on a band relative to those expected from the likely states; 1 before any call there."""
    if not learning.minutes.get(band):
        return 1.0
    return float(learning.factors(band) @ learning.posterior().ravel())


@dataclass(frozen=True, eq=False)
class LearntOutings:
    """Simulated outings after all events: states (K,) of the estimate, and the activity of each band."""

    learning: Learning
    states: IntArray

    def per_hour(self, band: str, times: TimeArray) -> FloatArray:
        """Contacts an hour on a band at times (n,) in each outing (n, K)."""
        learning, ground = self.learning, self.learning.ground
        rate = ground.rate[:, ground.stations.bands.index(band)][:, self.states]
        shape = BAND_SHAPE + learning.contacts.get(band, 0)
        spread = np.random.default_rng(ground.stations.bands.index(band)).gamma(shape, 1.0 / shape, OUTINGS)
        factor = learning.factors(band)[self.states] * spread
        return scaled(between(ground.stations.times, rate, times), factor, ground.ceiling)


def learnt_promise(
    learning: Learning, name: str, wanted: int, start: np.datetime64, end: np.datetime64,
    bands: Collection[str],
) -> Promise:  # fmt: skip
    """Promise of a region on the plan's grid, after all events."""
    ground = learning.ground
    rewards = rewards_from(ground, expected(learning) / ground.ceiling, start, end).of(bands)
    shares = np.cumsum(learning.posterior().ravel())
    states = np.searchsorted(shares, (np.arange(OUTINGS) + 0.5) / OUTINGS * shares[-1])
    states = np.random.default_rng(OUTINGS).permutation(states)
    outings = LearntOutings(learning, states)
    middle = ground.ceiling * rewards.reward
    drawn = np.stack([outings.per_hour(band, rewards.times) for band in rewards.bands], axis=1)  # (T, B, K)
    low, high = np.quantile(drawn, (TAIL, 1.0 - TAIL), axis=-1)
    rates = Rates(as_float(np.minimum(low, middle)), middle, as_float(np.maximum(high, middle)))
    chance = at_least(wanted, drawn[..., ::CHANCE_OF]).mean(axis=-1)
    aim = Aim(name, 1.0, wanted, as_float(chance), rates)
    compared = level(rewards.reward, told_rate(middle), rates.low)
    return Promise(replace(rewards, ranked=compared), (aim,), aim, ground.ceiling, outings)


def rewards_from(
    ground: ReachByState, values: FloatArray, start: np.datetime64, end: np.datetime64
) -> Rewards:
    """Convert values from 0 to 1 over the ground's times (T, B) to rewards on the plan's grid."""
    count = max(int(np.floor((end - start) / GRID + 1e-9)), 1)
    times = start.astype("datetime64[s]") + np.arange(count + 1) * GRID
    columns = [chance_curve(ground.stations.times, values[:, b])(times) for b in range(values.shape[1])]
    return Rewards(times, ground.stations.bands, np.stack(columns, axis=-1))


def calls_until_dead(prospect: Prospect | None) -> int:
    """Number of unanswered calls after which a band may be taken as dead, from what it promises.

    Two, and with a region as many as would have brought `MISSED` contacts.
    """
    if prospect is None or prospect.rate is None:
        return FEWEST_CALLS
    each = max(prospect.rate.middle, 1e-3) * CALL_MIN / 60.0
    return max(FEWEST_CALLS, int(np.ceil(MISSED / each - 1e-9)))


def today(learning: Learning, result: Forecast, when: np.datetime64) -> Estimate:
    """Current estimate; the layer's score in per cent of the usual MUF over the site at a time."""
    site, index = result.station.site.position, result.conditions.index.linear_at(when)
    lower, upper = muf_spread(
        sun.local_solar_hour(site.lon_deg, when),
        geomagnetic_latitude_deg(site.lat_deg, site.lon_deg, result.circumstances.year),
        r12_from_index(index),
    )
    return estimate(learning.posterior(), float(lower), float(upper))


@dataclass(frozen=True, eq=False)
class Again:
    """Result of planning again.

    plan: the best from now on, None where the time is up. kept, best: contacts expected from the current plan
    and from the best one. better: whether the best is worth following instead.
    """

    plan: Plan | None
    kept: float
    best: float

    @property
    def better(self) -> bool:
        """Return whether a new plan is offered."""
        return self.plan is not None and self.best - self.kept >= max(WORTH_CONTACTS, WORTH_SHARE * self.kept)


def plan_again(
    rewards: Rewards, cost_min: FloatArray, at_hand: Sequence[BandStay], now: np.datetime64,
    *,
    most_per_hour: float, current: str | None = None, dead: Mapping[str, np.datetime64] | None = None,
    shortest_min: float = SHORTEST_STAY_MIN, change_worth: float = 0.0, least_gain: float = 0.0,
) -> Again:  # fmt: skip
    """Compare the stays of the current plan with the best plan from the grid's time at or after `now`.

    rewards: expected contacts over `most_per_hour`. current: the band the station is on.
    """
    contacts = most_per_hour / 60.0
    alive = rewards.with_dead(dead or {})
    later = alive.times >= now
    if np.count_nonzero(later) < 2 or not alive.bands:
        return Again(None, 0.0, 0.0)
    most = alive.reward[later].max(axis=0)
    bands = {alive.bands[b] for b in np.flatnonzero(most >= NEGLIGIBLE * most.max()).tolist()}
    alive = alive.of(bands | {current, *(stay.band for stay in at_hand)})
    rows = [rewards.index(band) for band in alive.bands]
    best = replan(
        alive, cost_min[np.ix_(rows, rows)], now,
        current=current, shortest_min=shortest_min, change_worth=change_worth, least_gain=least_gain,
    )  # fmt: skip
    kept, found = (worth_of(alive, stays, alive.times[later][0]) for stays in (at_hand, best.stays))
    return Again(best, contacts * kept, contacts * found)
