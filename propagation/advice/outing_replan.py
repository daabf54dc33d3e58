"""The plan made again from what was learnt: expected contacts by band, and whether a change is worth it.

`learning_now` says how likely every state of the outing is; here the contacts to be expected on every band
are averaged over them, the plan at hand is weighed against the best one from this moment on, minutes of
change included, and a new one is offered only where it gains by more than a stated margin.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.advice.activity import USUAL, Habits, listening
from propagation.advice.outing_estimate import Estimate, Learning, ReachByState, estimate
from propagation.advice.people import at_least, groups_of
from propagation.advice.region_chance import chance_curve
from propagation.advice.switching import SHORTEST_STAY_MIN, BandStay, Plan, Rewards, replan, worth_of
from propagation.base.units import FloatArray, TimeArray, as_float
from propagation.geo import sun
from propagation.geo.geomagnetic import geomagnetic_latitude_deg
from propagation.ionosphere.variability import muf_spread
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.station_offsets import shifted
from propagation.space_weather.indices.solar_index import r12_from_index
from propagation.station.terminals import Terminal

STEP: Final = np.timedelta64(1200, "s")  # between the times of the offsets' forecast (ours)
GRID: Final = np.timedelta64(300, "s")  # between the times at which a plan may change, as in `plan_day`
# What a new plan must gain at least over what the one at hand still promises: a share, and contacts (ours).
# From 5 to 25 % the simulated outings come out alike; the larger margin spares the operator changes of mind.
WORTH_SHARE: Final = 0.2
WORTH_CONTACTS: Final = 1.0
NEGLIGIBLE: Final = 0.02  # of the best band's contacts, under which a band is no plan's (ours)


def ground_of(
    result: Forecast, near: Terminal, far: Terminal, start: np.datetime64, end: np.datetime64,
    habits: Habits = USUAL,
) -> ReachByState:  # fmt: skip
    """What an outing's events are held against, from a region's forecast; takes about as long as it did."""
    first = start.astype("datetime64[s]")
    times = np.asarray(first + np.arange(int((end - first) / STEP) + 2) * STEP)
    target = result.target
    names, group = groups_of(target)

    def on_air(when: TimeArray, bands: list[str]) -> FloatArray:
        return listening(target, when, bands, result.mode.name, habits)

    return ReachByState(
        shifted(result, near, far, times, on_air, group), names, target.lat_deg, target.lon_deg, group, habits
    )


def expected(learning: Learning) -> FloatArray:
    """Contacts an hour to be expected on every band at every time of the ground, after all events (T, B)."""
    ground = learning.ground
    weight = learning.posterior().ravel()
    columns = []
    for column, band in enumerate(ground.stations.bands):
        rate = ground.rate[:, column]
        if learning.minutes.get(band):
            rate = np.minimum(rate * learning.factors(band), ground.habits.most_per_hour)
        columns.append(rate @ weight)
    return as_float(np.stack(columns, axis=-1))


def busy_of(learning: Learning, band: str) -> float:
    """How many answer on a band against what the likely states promise; 1 before any call there."""
    if not learning.minutes.get(band):
        return 1.0
    return float(learning.factors(band) @ learning.posterior().ravel())


def expected_chance(learning: Learning, wanted: int) -> FloatArray:
    """The chance of so many contacts in the next hour, after all events (T, B)."""
    ground = learning.ground
    weight = learning.posterior().ravel()
    columns = []
    for column, band in enumerate(ground.stations.bands):
        rate = np.minimum(ground.rate[:, column] * learning.factors(band), ground.habits.most_per_hour)
        columns.append(at_least(wanted, rate) @ weight)
    return as_float(np.stack(columns, axis=-1))


def rewards_from(
    ground: ReachByState, values: FloatArray, start: np.datetime64, end: np.datetime64
) -> Rewards:
    """Values from 0 to 1 over the ground's times (T, B) as rewards on the plan's grid."""
    count = max(int(np.floor((end - start) / GRID + 1e-9)), 1)
    times = start.astype("datetime64[s]") + np.arange(count + 1) * GRID
    columns = [chance_curve(ground.stations.times, values[:, b])(times) for b in range(values.shape[1])]
    return Rewards(times, ground.stations.bands, np.stack(columns, axis=-1))


def today(learning: Learning, result: Forecast, when: np.datetime64) -> Estimate:
    """The estimate as it stands; the layer's score in per cent of the usual MUF over the site at a time."""
    site, index = result.station.site.position, result.conditions.index.linear_at(when)
    lower, upper = muf_spread(
        sun.local_solar_hour(site.lon_deg, when),
        geomagnetic_latitude_deg(site.lat_deg, site.lon_deg, result.circumstances.year),
        r12_from_index(index),
    )
    return estimate(learning.posterior(), float(lower), float(upper))


@dataclass(frozen=True, eq=False)
class Again:
    """The plan weighed again.

    plan: the best from now on, None where the time is up. kept, best: contacts that the plan at hand and the
    best one still promise. better: whether the best is worth following instead.
    """

    plan: Plan | None
    kept: float
    best: float

    @property
    def better(self) -> bool:
        """Whether a new plan is offered."""
        return self.plan is not None and self.best - self.kept >= max(WORTH_CONTACTS, WORTH_SHARE * self.kept)


def plan_again(
    rewards: Rewards, cost_min: FloatArray, at_hand: Sequence[BandStay], now: np.datetime64,
    *,
    most_per_hour: float, current: str | None = None, dead: Mapping[str, np.datetime64] | None = None,
    shortest_min: float = SHORTEST_STAY_MIN, change_worth: float = 0.0,
) -> Again:  # fmt: skip
    """Weigh the stays of the plan at hand against the best plan from the grid's time at or after `now`.

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
        current=current, shortest_min=shortest_min, change_worth=change_worth,
    )  # fmt: skip
    kept, found = (worth_of(alive, stays, alive.times[later][0]) for stays in (at_hand, best.stays))
    return Again(best, contacts * kept, contacts * found)
