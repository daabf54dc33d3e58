"""Plan for the time on air: from forecasts and settings to steps an operator can follow.

`switching` finds the sequence. This file supplies its rewards (chances of one or several targets) and its
costs (minutes from the settings of the antenna). For each stay it reports whom to expect, how the signal
leaves, and why the stay ends, in codes and numbers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.advice.edges import ASIDE, Edge, EdgeReason, explain
from propagation.advice.nothing_now import anything_at
from propagation.advice.people import Part, whom
from propagation.advice.region_chance import chance_curve, named_point, outlook
from propagation.advice.setup_notes import BandSetup, Work, cost_matrix, work_between
from propagation.advice.switching import (
    MINUTE,
    SHORTEST_STAY_MIN,
    USED_WORTH,
    BandStay,
    Plan,
    Rewards,
    replan,
)
from propagation.base.units import FloatArray, TimeArray
from propagation.signal.chances.forecast import ROUTES, Forecast
from propagation.station.terminals import Terminals

FORECAST_STEP: Final = np.timedelta64(600, "s")  # between the times of the forecast for a plan (ours)
GRID_MIN: Final = 5.0  # minutes between the times at which a plan may change bands
STEADY: Final = 0.1  # of the larger chance; a smaller change around the time of leaving is ignored (ours)
CHANGE_WORTH: Final = 0.01  # of the best single band's reward, the least gain of a change (ours)
WORTH_A_TRY: Final = 0.05  # mean chance of a stay below which its chance is reported as low (ours)


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
    """Expectation for one target: its chance, the share of it in reach (of days, for a place), and countries.

    The countries are those of a region with most stations in reach. wanted: contacts requested of a region, 0
    for a place.
    """

    target: str
    wanted: int
    chance: float
    share: float
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True)
class Leave:
    """Reason why a stay ends.

    band: the one that changes, or the better one. before, after: its chance on either side of the moment. For
    a band that is merely better (`reason` None), they are the chance of the old band and of the new band from
    then on.
    """

    band: str
    before: float
    after: float
    wanted: int
    reason: EdgeReason | None


@dataclass(frozen=True)
class Step:
    """One stay with all details to follow it.

    chance: mean over the stay of the reward: of a few contacts in an hour, or of days. expect: expectation
    for each target. elevation_deg, route, mode: of the strongest mode to the part with most in reach, in the
    middle of the stay. setup: of the band; work: at the antenna on arriving, None where the station is
    already set up for the band. leave: why the stay ends, None for the last. backup: band, or None.
    """

    stay: BandStay
    frequency_mhz: float
    chance: float
    expect: tuple[Expectation, ...]
    elevation_deg: float | None
    route: str
    mode: str
    setup: BandSetup
    work: Work | None
    leave: Leave | None
    backup: str | None

    @property
    def hopeful(self) -> bool:
        """Return whether the stay is worth trying."""
        return self.chance >= WORTH_A_TRY


@dataclass(frozen=True)
class DayPlan:
    """Plan with its steps, and the rewards and costs it was made from."""

    wish: TimeOnAir
    plan: Plan
    steps: tuple[Step, ...]
    rewards: Rewards
    cost_min: FloatArray
    wanted: int

    @property
    def lost_min(self) -> float:
        """Minutes lost by all changes of band."""
        return sum(step.stay.lost_min for step in self.steps)


def times_on_air(start: np.datetime64, end: np.datetime64) -> TimeArray:
    """Times of the forecast that a plan is made from: every ten minutes, one beyond the end."""
    first = start.astype("datetime64[s]")
    return np.asarray(first + np.arange(int((end - first) / FORECAST_STEP) + 2) * FORECAST_STEP)


def rewards_of(
    results: Sequence[Forecast], weights: Sequence[float], start: np.datetime64, end: np.datetime64
) -> Rewards:
    """Rewards on the plan's grid from the forecasts of one or several targets (same station and bands).

    weights: weight of each target; scaled to a sum of one. Only usable bands are included.
    """
    first = results[0]
    count = max(int(np.floor(float((end - start) / MINUTE) / GRID_MIN + 1e-9)), 1)
    times = start.astype("datetime64[s]") + (np.arange(count + 1) * GRID_MIN * 60).astype("timedelta64[s]")
    usable = np.flatnonzero(first.usable)
    parts = np.asarray(weights, dtype=np.float64) / np.sum(weights)
    reward = np.zeros((times.size, usable.size))
    for part, result in zip(parts.tolist(), results, strict=True):
        for column, band in enumerate(usable.tolist()):
            reward[:, column] += part * chance_curve(result.times, outlook(result).chance[:, band])(times)
    return Rewards(times, tuple(first.bands[b].name for b in usable.tolist()), reward)


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

    setups: the plan uses only bands that have one. The first target's forecast gives take-off angles and
    reasons.
    """
    rewards = rewards_of(results, weights or [1.0] * len(results), wish.start, wish.end).of(setups)
    cost = cost_matrix(setups, rewards.bands, results[0].station.band_change, wish.extra_min)
    return _planned(results, terminals, wish, setups, rewards, cost)


def _planned(
    results: Sequence[Forecast], terminals: Terminals, wish: TimeOnAir, setups: Mapping[str, BandSetup],
    rewards: Rewards, cost: FloatArray,
) -> DayPlan:  # fmt: skip
    # a grid point beyond the end, so that no dead band earns anything there either
    until = {band: wish.end + np.timedelta64(3600, "s") for band, _ in wish.dead}
    found = replan(
        rewards.with_used(dict.fromkeys(wish.used, USED_WORTH)),
        cost,
        wish.start,
        dead=until,
        current=wish.current,
        shortest_min=wish.shortest_min,
        change_worth=CHANGE_WORTH,
    )
    return day_plan(results, terminals, wish, setups, rewards, cost, found)


def day_plan(
    results: Sequence[Forecast], terminals: Terminals, wish: TimeOnAir, setups: Mapping[str, BandSetup],
    rewards: Rewards, cost: FloatArray, found: Plan,
) -> DayPlan:  # fmt: skip
    """Plan that was found, with its steps. rewards: the chances reported in its steps; cost: minutes."""
    wanted = max(result.wanted for result in results)
    steps = _steps(results, terminals, wish, found, setups, rewards)
    return DayPlan(wish, found, steps, rewards, cost, wanted)


def _steps(
    results: Sequence[Forecast], terminals: Terminals, wish: TimeOnAir, plan: Plan,
    setups: Mapping[str, BandSetup], rewards: Rewards,
) -> tuple[Step, ...]:  # fmt: skip
    first = results[0]
    leaves = _leaves(first, terminals, plan, rewards)
    steps = []
    before = wish.current
    for i, stay in enumerate(plan.stays):
        band = first.band_index(stay.band)
        middle = stay.start + (stay.end - stay.start) // 2
        at = first.time_index(middle)
        point = named_point(first, at, band)
        route = int(np.argmax(first.chance[point, :, at, band]))
        elevation = float(first.elevation_deg[point, route, at, band])
        column = rewards.index(stay.band)
        inside = (rewards.times >= stay.start) & (rewards.times <= stay.end)
        setup = setups[stay.band]
        old = setups.get(before) if before is not None else None
        steps.append(
            Step(
                stay=stay,
                frequency_mhz=round(float(first.frequency_mhz[band]), 4),
                chance=float(np.mean(rewards.reward[inside, column])),
                expect=expected_of(results, at, stay.band),
                elevation_deg=elevation if np.isfinite(elevation) else None,
                route=ROUTES[route],
                mode=first.ray_path_name(point, route, at, band),
                setup=setup,
                work=work_between(old, setup) if old is not None and before != stay.band else None,
                leave=leaves[i] if i < len(leaves) else None,
                backup=plan.backups[i],
            )
        )
        before = stay.band
    return tuple(steps)


def _leaves(result: Forecast, terminals: Terminals, plan: Plan, rewards: Rewards) -> list[Leave]:
    """Reason why each stay but the last ends: the change of both bands' chances around that moment."""
    pairs = list(zip(plan.stays[:-1], plan.stays[1:], strict=True))
    edges, turns = [], []
    for stay, following in pairs:
        old, new = (_around(rewards, band, stay.end) for band in (stay.band, following.band))
        opens = new[1] - new[0] >= old[0] - old[1]  # the new band rises more than the old one falls
        name = following.band if opens else stay.band
        turns.append((name, *(new if opens else old)))
        band = result.band_index(name)
        at = result.time_index(stay.end)
        point = named_point(result, at, band)
        route = int(np.argmax(result.chance[point, :, at, band]))
        inside = stay.end + ASIDE if opens else stay.end - ASIDE
        edges.append(Edge(point, route, band, stay.end, opens, inside))
    reasons = explain(result, terminals, edges)
    found = []
    for (stay, following), (name, low, high), reason in zip(pairs, turns, reasons, strict=True):
        if abs(high - low) >= STEADY * max(high, low):
            found.append(Leave(name, low, high, result.wanted, reason))
        else:
            now, then = (_mean(rewards, band, following) for band in (stay.band, following.band))
            found.append(Leave(following.band, now, then, result.wanted, None))
    return found


def _mean(rewards: Rewards, band: str, stay: BandStay) -> float:
    inside = (rewards.times >= stay.start) & (rewards.times <= stay.end)
    return float(np.mean(rewards.reward[inside, rewards.index(band)]))


def _around(rewards: Rewards, band: str, at: np.datetime64) -> tuple[float, float]:
    """Chance of a band a while before a moment and a while after."""
    seconds = rewards.minutes * 60.0
    moment = float((at - rewards.times[0]) / np.timedelta64(1, "s"))
    aside = float(ASIDE / np.timedelta64(1, "s"))
    row = rewards.reward[:, rewards.index(band)]
    early, late = np.interp([moment - aside, moment + aside], seconds, row)
    return float(early), float(late)


# --- expectation -----------------------------------------------------------------------------------------


def expected_of(results: Sequence[Forecast], at: int, band: str) -> tuple[Expectation, ...]:
    """Expectation on a band at a time (an index), for each target."""
    found = []
    for result in results:
        b = result.band_index(band)
        seen = outlook(result)
        parts = whom(seen.people, result.target, at, b) if seen.people is not None else ()
        share = float(result.region_chance[at, b])
        found.append(
            Expectation(result.target.name, result.target.is_region, float(seen.chance[at, b]), share, parts)
        )
    return tuple(found)
