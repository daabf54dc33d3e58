"""Plan for the time on air: from forecasts and settings to steps an operator can follow.

`switching` finds the sequence, from the promise of one or several targets (`plan_promise`) and the minutes
that the settings of the antenna cost. For each stay this file reports how many contacts to expect and of
whom, what the change to it costs and wins, how the signal leaves, and why the stay ends, in codes and
numbers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from propagation.advice.edges import ASIDE, Edge, EdgeReason, explain
from propagation.advice.nothing_now import anything_at
from propagation.advice.people import Part, whom
from propagation.advice.plan_contacts import Contacts
from propagation.advice.plan_promise import Aim, Promise, promise_of
from propagation.advice.rates import Prospect
from propagation.advice.region_chance import named_point, outlook
from propagation.advice.setup_notes import BandSetup, Work, cost_matrix, work_between
from propagation.advice.switching import (
    SHORTEST_STAY_MIN,
    USED_WORTH,
    BandStay,
    Plan,
    Rewards,
    replan,
    worth_of,
)
from propagation.base.units import FloatArray, TimeArray
from propagation.signal.chances.forecast import ROUTES, Forecast
from propagation.station.terminals import Terminals

FORECAST_STEP: Final = np.timedelta64(600, "s")  # between the times of the forecast for a plan (ours)
STEADY: Final = 0.1  # of the larger figure; a smaller change around the time of leaving is ignored (ours)
# Least gain of a change as a share of the best single band's reward (ours). In 240 simulated outings 0.03
# makes a third fewer changes than 0.01, and 0.4 % more contacts.
CHANGE_WORTH: Final = 0.03
CHANGE_CONTACTS: Final = 0.5  # contacts, the least gain of a change: those that are told as one (ours)
WORTH_A_TRY: Final = 0.05  # mean chance of a stay below which its chance is reported as low (ours)
FEWEST: Final = 0.5  # contacts of a stay, likewise (ours)


@dataclass(frozen=True)
class TimeOnAir:
    """Input of the plan.

    used: bands already worked today; they earn `USED_WORTH` of a fresh one. dead: bands found dead, and when;
    they are not used again. current: the band the station is set up for now. extra_min: minutes lost with
    every change in addition to the work at the antenna. shortest_min: least time on the air of a stay.
    """

    start: np.datetime64
    end: np.datetime64
    used: tuple[str, ...] = ()
    dead: tuple[tuple[str, np.datetime64], ...] = ()
    current: str | None = None
    extra_min: float = 0.0
    shortest_min: float = SHORTEST_STAY_MIN


@dataclass(frozen=True)
class Expectation:
    """Expectation for one target: what it promises, the share of it in reach (of days, for a place).

    parts: the countries of a region with most stations in reach.
    """

    target: str
    prospect: Prospect
    share: float
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True)
class Leave:
    """Reason why a stay ends.

    band: the one that changes, or the better one. before, after: what it promises on either side of the
    moment. For a band that is merely better (`reason` None), they are what the old band and the new band
    promise from then on. target: to which that applies; empty where there is but one.
    """

    band: str
    before: Prospect
    after: Prospect
    reason: EdgeReason | None
    target: str = ""


@dataclass(frozen=True)
class Change:
    """Change of band, in contacts.

    from_band: the band that is left. costs: contacts that it would bring in the minutes of the change. wins:
    contacts in the stay beyond those of staying on it, the minutes of the change not counted.
    """

    from_band: str
    costs: float
    wins: float


@dataclass(frozen=True)
class Backup:
    """Band for the rest of a stay whose own band is dead, its contacts, and those of the stay's own band.

    contacts, instead_of: None unless all targets are regions.
    """

    band: str
    contacts: float | None
    instead_of: float | None


@dataclass(frozen=True)
class Step:
    """One stay with all details to follow it.

    contacts: of the stay; None without a region. prospect: mean of what it promises. expect: expectation for
    each target. elevation_deg, route, mode: of the strongest mode to the part with most in reach, in the
    middle of the stay. setup: of the band; work: at the antenna on arriving, None where the station is
    already set up for the band. change: the change to it, in contacts. leave: why the stay ends, None for the
    last.
    """

    stay: BandStay
    frequency_mhz: float
    contacts: Contacts | None
    prospect: Prospect
    expect: tuple[Expectation, ...]
    elevation_deg: float | None
    route: str
    mode: str
    setup: BandSetup
    work: Work | None
    change: Change | None
    leave: Leave | None
    backup: Backup | None

    @property
    def hopeful(self) -> bool:
        """Return whether the stay is worth trying."""
        if self.contacts is not None:
            return self.contacts.middle >= FEWEST
        return self.prospect.chance >= WORTH_A_TRY


@dataclass(frozen=True)
class DayPlan:
    """Plan with its steps, and the promise and costs it was made from.

    contacts: of all steps; None without a region.
    """

    wish: TimeOnAir
    plan: Plan
    steps: tuple[Step, ...]
    contacts: Contacts | None
    promise: Promise
    cost_min: FloatArray

    @property
    def lost_min(self) -> float:
        """Minutes lost by all changes of band."""
        return sum(step.stay.lost_min for step in self.steps)

    @property
    def rewards(self) -> Rewards:
        """Rewards that the plan was made from."""
        return self.promise.rewards

    @property
    def gain(self) -> float | None:
        """Contacts more than on the best single band; None unless all targets are regions."""
        return self.promise.contacts(self.plan.gain)

    def singles(self) -> tuple[tuple[str, float], ...]:
        """Contacts of each band alone, most first; empty unless all targets are regions."""
        found = [(band, self.promise.contacts(reward)) for band, reward in self.plan.singles]
        return tuple(sorted(((band, n) for band, n in found if n is not None), key=lambda one: -one[1]))


def times_on_air(start: np.datetime64, end: np.datetime64) -> TimeArray:
    """Times of the forecast that a plan is made from: every ten minutes, one beyond the end."""
    first = start.astype("datetime64[s]")
    return np.asarray(first + np.arange(int((end - first) / FORECAST_STEP) + 2) * FORECAST_STEP)


def worth_planning(results: Sequence[Forecast]) -> bool:
    """Return whether a plan is possible: at least the best-equipped station of a target is in reach."""
    return any(bool(anything_at(result).any()) for result in results)


def plan_day(
    results: Sequence[Forecast],
    terminals: Terminals,
    wish: TimeOnAir,
    setups: Mapping[str, BandSetup],
    weights: Sequence[float] | None = None,
) -> DayPlan:
    """Plan the time of a wish from the forecasts of its targets, which must cover it.

    setups: the plan uses only bands that have one. The first target's forecast gives take-off angles.
    """
    used = dict.fromkeys(wish.used, USED_WORTH)
    promise = promise_of(results, weights or [1.0] * len(results), wish.start, wish.end, list(setups), used)
    cost = cost_matrix(setups, promise.rewards.bands, results[0].station.band_change, wish.extra_min)
    # a grid point beyond the end, so that no dead band earns anything there either
    until = {band: wish.end + np.timedelta64(3600, "s") for band, _ in wish.dead}
    found = replan(
        promise.rewards,
        cost,
        wish.start,
        dead=until,
        current=wish.current,
        shortest_min=wish.shortest_min,
        change_worth=CHANGE_WORTH,
        least_gain=least_gain_min(promise),
    )
    return day_plan(results, terminals, wish, setups, promise, cost, found)


def least_gain_min(promise: Promise) -> float:
    """Least gain of a change [minutes of reward]: `CHANGE_CONTACTS` where all targets are regions."""
    return 60.0 * CHANGE_CONTACTS / promise.ceiling if promise.in_contacts else 0.0


def day_plan(
    results: Sequence[Forecast], terminals: Terminals, wish: TimeOnAir, setups: Mapping[str, BandSetup],
    promise: Promise, cost: FloatArray, found: Plan,
) -> DayPlan:  # fmt: skip
    """Plan that was found, with its steps. promise: what its steps report; cost: minutes."""
    each, whole = promise.sums(found.stays)
    steps = _steps(results, terminals, wish, found, setups, promise, cost, each)
    return DayPlan(wish, found, steps, whole, promise, cost)


def _steps(
    results: Sequence[Forecast], terminals: Terminals, wish: TimeOnAir, plan: Plan,
    setups: Mapping[str, BandSetup], promise: Promise, cost: FloatArray, each: Sequence[Contacts],
) -> tuple[Step, ...]:  # fmt: skip
    first = results[0]
    leaves = _leaves(results, terminals, plan, promise)
    steps = []
    before = wish.current
    for i, stay in enumerate(plan.stays):
        band = first.band_index(stay.band)
        middle = stay.start + (stay.end - stay.start) // 2
        at = first.time_index(middle)
        point = named_point(first, at, band)
        route = int(np.argmax(first.chance[point, :, at, band]))
        elevation = float(first.elevation_deg[point, route, at, band])
        setup = setups[stay.band]
        old = setups.get(before) if before is not None else None
        steps.append(
            Step(
                stay=stay,
                frequency_mhz=round(float(first.frequency_mhz[band]), 4),
                contacts=each[i] if each else None,
                prospect=promise.over(promise.main, stay.band, stay),
                expect=_expected(results, at, stay, promise),
                elevation_deg=elevation if np.isfinite(elevation) else None,
                route=ROUTES[route],
                mode=first.ray_path_name(point, route, at, band),
                setup=setup,
                work=work_between(old, setup) if old is not None and before != stay.band else None,
                change=_change(promise, plan.stays[i - 1].band, stay) if i else None,
                leave=leaves[i] if i < len(leaves) else None,
                backup=_backup(promise, plan.backups[i], stay, cost),
            )
        )
        before = stay.band
    return tuple(steps)


def _change(promise: Promise, from_band: str, stay: BandStay) -> Change | None:
    """Change to a stay from a band, in contacts; None unless all targets are regions."""
    if not promise.in_contacts:
        return None
    staying = BandStay(from_band, stay.start, stay.end, 0.0, 0.0)
    whole, after = (worth_of(promise.rewards, [staying], moment) for moment in (stay.start, stay.ready))
    costs, wins = (promise.contacts(reward) or 0.0 for reward in (whole - after, stay.reward - after))
    return Change(from_band, costs, wins)


def _backup(promise: Promise, band: str | None, stay: BandStay, cost: FloatArray) -> Backup | None:
    """Band for the rest of a stay, from the moment at which its own band is found dead."""
    if band is None:
        return None
    names = promise.rewards.bands
    lost = stay.lost_min + float(cost[names.index(stay.band), names.index(band)])
    other = BandStay(band, stay.start, stay.end, lost, 0.0)
    reward = worth_of(promise.rewards, [other], stay.start)
    return Backup(band, promise.contacts(reward), promise.contacts(stay.reward))


# --- why a stay ends -------------------------------------------------------------------------------------


def _leaves(results: Sequence[Forecast], terminals: Terminals, plan: Plan, promise: Promise) -> list[Leave]:
    """Reason why each stay but the last ends: the change of both bands' figures around that moment.

    The figures are those of the target that gains most. Only the first target's circuits are recomputed for a
    reason.
    """
    result, pairs = results[0], list(zip(plan.stays[:-1], plan.stays[1:], strict=True))
    aims = [_gaining(promise, stay.band, following) for stay, following in pairs]
    edges, turns = [], []
    for (stay, following), aim in zip(pairs, aims, strict=True):
        old, new = (_around(promise, aim, band, stay.end) for band in (stay.band, following.band))
        figures = [_figure(one) for one in (*old, *new)]
        opens = (
            figures[3] - figures[2] >= figures[0] - figures[1]
        )  # the new band rises more than the old falls
        name = following.band if opens else stay.band
        turns.append((name, *(new if opens else old)))
        band = result.band_index(name)
        at = result.time_index(stay.end)
        point = named_point(result, at, band)
        route = int(np.argmax(result.chance[point, :, at, band]))
        inside = stay.end + ASIDE if opens else stay.end - ASIDE
        edges.append(Edge(point, route, band, stay.end, opens, inside))
    found = []
    for (stay, following), aim, (name, low, high), reason in zip(
        pairs, aims, turns, explain(result, terminals, edges), strict=True
    ):
        whom_ = aim.name if len(results) > 1 else ""
        moved = abs(_figure(high) - _figure(low)) >= STEADY * max(_figure(high), _figure(low))
        if moved and aim is promise.aims[0]:
            found.append(Leave(name, low, high, reason, whom_))
        else:
            now, then = (promise.over(aim, band, following) for band in (stay.band, following.band))
            found.append(Leave(following.band, now, then, None, whom_))
    return found


def _figure(prospect: Prospect) -> float:
    return prospect.chance if prospect.rate is None else prospect.rate.middle


def _gaining(promise: Promise, before: str, stay: BandStay) -> Aim:
    """Target whose part of the reward gains most by a stay over staying on the band before."""

    def gain(aim: Aim) -> float:
        old, new = (_figure(promise.over(aim, band, stay)) for band in (before, stay.band))
        return aim.part * (new - old) / (1.0 if aim.rates is None else promise.ceiling)

    return max(promise.aims, key=gain)


def _around(promise: Promise, aim: Aim, band: str, at: np.datetime64) -> tuple[Prospect, Prospect]:
    """What a band promises a while before a moment and a while after."""
    times, column = promise.rewards.times, promise.rewards.index(band)
    early, late = (int(np.abs(times - moment).argmin()) for moment in (at - ASIDE, at + ASIDE))
    before, after = (aim.over(slice(row, row + 1), column) for row in (early, late))
    return before, after


# --- expectation -----------------------------------------------------------------------------------------


def _expected(
    results: Sequence[Forecast], at: int, stay: BandStay, promise: Promise
) -> tuple[Expectation, ...]:
    """Expectation for each target in a stay: mean promise, and the countries in its middle (an index)."""
    middle = expected_of(results, at, stay.band)
    return tuple(
        replace(one, prospect=promise.over(aim, stay.band, stay))
        for one, aim in zip(middle, promise.aims, strict=True)
    )


def expected_of(results: Sequence[Forecast], at: int, band: str) -> tuple[Expectation, ...]:
    """Expectation on a band at a time (an index), for each target."""
    found = []
    for result in results:
        b, seen = result.band_index(band), outlook(result)
        parts = whom(seen.people, result.target, at, b) if seen.people is not None else ()
        share = float(result.region_chance[at, b])
        found.append(Expectation(result.target.name, seen.at(at, b), share, parts))
    return tuple(found)
