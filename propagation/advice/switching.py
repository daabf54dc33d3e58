"""Times to switch bands: the sequence of bands with the greatest expected reward, exact on the time grid.

Every band has a reward for each moment: the worth of `region_chance`. A change costs minutes without reward
at the start of the new stay. After them a stay has a least length. Dynamic programming over stays finds the
plan of greatest reward among all that change at grid times. It keeps the best way to arrive at each time
having just left each band. The only approximation is a straight line for the reward between grid points. The
unit of reward is the minute: a minute on a band of worth 0.5 earns half a minute.

Where bands are compared by another worth (`ranked`, that of alike bands is the same), the plan of greatest
ranked worth is found. Then every change that the reward itself does not justify is taken out again.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

from propagation.base.units import FloatArray, TimeArray

MINUTE: Final = np.timedelta64(60, "s")
_Moves: TypeAlias = list[tuple[int, int]]  # band arrived at, and the time from which on (indices)
SHORTEST_STAY_MIN: Final = 20.0  # minutes, a stay worth setting up for (common practice, no source)
USED_WORTH: Final = 0.5  # of a band's stations that are still to be worked once it was used today (ours)
PREFER_FEWER_MIN: Final = (
    1e-6  # minutes charged for a change, so that of equal plans the simpler one is taken
)


@dataclass(frozen=True, eq=False)
class Rewards:
    """Rewards of each band: times (T,) evenly spaced, bands, reward (T, B) per minute, 0 to 1.

    ranked (T, B): the worth by which bands are compared; None: the reward itself.
    """

    times: TimeArray
    bands: tuple[str, ...]
    reward: FloatArray
    ranked: FloatArray | None = None

    @property
    def compared(self) -> Rewards:
        """The rewards by which bands are compared."""
        return self if self.ranked is None else Rewards(self.times, self.bands, self.ranked)

    def index(self, band: str) -> int:
        """Index of a band by name."""
        return self.bands.index(band)

    @property
    def minutes(self) -> FloatArray:
        """Minutes from the first time, (T,)."""
        return np.asarray((self.times - self.times[0]) / MINUTE, dtype=np.float64)

    def earned(self) -> FloatArray:
        """Reward earned on each band from the start to each time [minutes] (T, B), by trapezoids."""
        steps = np.diff(self.minutes)[:, None] * 0.5 * (self.reward[1:] + self.reward[:-1])
        return np.concatenate([np.zeros((1, len(self.bands))), np.cumsum(steps, axis=0)])

    def of(self, bands: Collection[str | None]) -> Rewards:
        """Select some of the bands."""
        keep = [i for i, band in enumerate(self.bands) if band in bands]
        names = tuple(self.bands[i] for i in keep)
        ranked = None if self.ranked is None else self.ranked[:, keep]
        return Rewards(self.times, names, self.reward[:, keep], ranked)

    def since(self, now: np.datetime64) -> Rewards:
        """Select the times at or after a moment."""
        later = self.times >= now
        ranked = None if self.ranked is None else self.ranked[later]
        return Rewards(self.times[later], self.bands, self.reward[later], ranked)

    def with_dead(self, dead: Mapping[str, np.datetime64]) -> Rewards:
        """Set the reward of some bands to zero until a time."""
        alive = np.ones(self.reward.shape)
        for band, until in dead.items():
            if band in self.bands:
                alive[self.times < until, self.index(band)] = 0.0
        ranked = None if self.ranked is None else self.ranked * alive
        return Rewards(self.times, self.bands, self.reward * alive, ranked)


@dataclass(frozen=True)
class BandStay:
    """One stay on a band, from arriving to leaving; the change takes `lost_min` of it.

    The unit of `reward` is the minute.
    """

    band: str
    start: np.datetime64
    end: np.datetime64
    lost_min: float
    reward: float

    @property
    def ready(self) -> np.datetime64:
        """End of the work at the antenna."""
        return self.start + np.timedelta64(round(60.0 * self.lost_min), "s")

    @property
    def on_air_min(self) -> float:
        """Minutes left after the change."""
        return float((self.end - self.start) / MINUTE) - self.lost_min

    @property
    def chance(self) -> float:
        """Mean reward per minute on the air."""
        return self.reward / self.on_air_min if self.on_air_min > 0.0 else 0.0


@dataclass(frozen=True)
class Plan:
    """Best sequence of stays.

    reward, single_reward: of the plan, and of staying on the best single band (`single_band`) throughout
    [minutes]. singles: each band on which that is possible, with its reward. backups: for each stay the band
    to change to if its own is dead, or None.
    """

    stays: tuple[BandStay, ...]
    reward: float
    single_band: str | None
    single_reward: float
    backups: tuple[str | None, ...]
    singles: tuple[tuple[str, float], ...] = ()

    @property
    def gain(self) -> float:
        """Reward over that of the best single band [minutes]."""
        return self.reward - self.single_reward


def make_plan(
    rewards: Rewards,
    cost_min: FloatArray,
    *,
    shortest_min: float = SHORTEST_STAY_MIN,
    current: str | None = None,
    change_worth: float = 0.0,
    least_gain: float = 0.0,
) -> Plan:
    """Find the plan of greatest reward; of equal plans, the one with fewest changes.

    cost_min (B, B): minutes lost from one band (row) to another (column), zero or more; infinite forbids the
    change. shortest_min: least time on the air of every stay after its change (where the whole time is
    shorter, all of it). current: the band the station is set up for at the start; None: for the plan's first
    band. change_worth, least_gain: a change must gain that share of the best single band's reward, and so
    many minutes.
    """
    if len(rewards.times) < 2 or not rewards.bands:
        return Plan((), 0.0, None, 0.0, ())
    cost = np.array(cost_min, dtype=np.float64)
    entry = np.zeros(len(rewards.bands))
    if current in rewards.bands:
        entry = cost[rewards.index(current)].copy()
        entry[rewards.index(current)] = 0.0
    np.fill_diagonal(cost, np.inf)  # leaving a band for itself is no change
    integral, compared = _Integral(rewards), _Integral(rewards.compared)
    whole = float(integral.minutes[-1])
    least = min(shortest_min, whole)
    ready = np.where(np.isfinite(entry), entry, whole)
    fits = whole - entry >= least - 1e-9  # the current band always fits
    single = np.where(fits, integral.between(ready, whole), -np.inf)
    best_single = int(np.argmax(np.where(fits, compared.between(ready, whole), -np.inf)))
    alone = float(single[best_single])
    charge = max(change_worth * alone, least_gain, PREFER_FEWER_MIN)
    case = _Case(rewards, integral, cost, entry, least, charge)
    moves = _best_moves(case, compared)
    if rewards.ranked is not None:
        moves = _justified(case, moves, best_single)
    stays = case.stays(moves)
    total = float(sum(stay.reward for stay in stays))
    singles = tuple(
        (rewards.bands[b], float(single[b])) for b in np.flatnonzero(np.isfinite(single)).tolist()
    )
    backups = _backups(rewards, integral, compared, cost, stays)
    return Plan(tuple(stays), total, rewards.bands[best_single], alone, backups, singles)


class _Integral:
    """Reward earned on every band from the start to any minute; exact for rewards linear in time."""

    def __init__(self, rewards: Rewards) -> None:
        self.minutes = rewards.minutes
        self.reward = rewards.reward
        self.earned = rewards.earned()

    def at(self, minute: FloatArray) -> FloatArray:
        """Reward earned until `minute` (.., B), one column a band; constant after the last time."""
        x = np.clip(minute, 0.0, self.minutes[-1])
        left = np.clip(np.searchsorted(self.minutes, x, side="right") - 1, 0, self.minutes.size - 2)
        band = np.broadcast_to(np.arange(self.reward.shape[1]), x.shape)
        into = x - self.minutes[left]
        step = self.minutes[left + 1] - self.minutes[left]
        first, last = self.reward[left, band], self.reward[left + 1, band]
        return np.asarray(self.earned[left, band] + into * (first + 0.5 * (last - first) * into / step))

    def between(self, start: FloatArray, end: FloatArray | float) -> FloatArray:
        """Reward earned between two minutes (.., B); zero where the start is not before the end."""
        finish = np.broadcast_to(np.asarray(end, dtype=np.float64), np.shape(start))
        return np.asarray(np.maximum(self.at(finish) - self.at(start), 0.0))


@dataclass(frozen=True, eq=False)
class _Case:
    """What a plan is made from. cost (B, B), entry (B,), least, charge: minutes."""

    rewards: Rewards
    integral: _Integral
    cost: FloatArray
    entry: FloatArray
    least: float
    charge: float

    def stays(self, moves: _Moves) -> list[BandStay]:
        """Stays of the bands arrived at from these times on."""
        minutes, found, before = self.integral.minutes, [], -1
        ends = [start for _, start in moves[1:]] + [minutes.size - 1]
        for (band, start), end in zip(moves, ends, strict=True):
            lost = float(self.entry[band] if before < 0 else self.cost[before, band])
            ready = np.full(len(self.rewards.bands), min(minutes[start] + lost, minutes[end]))
            reward = float(self.integral.between(ready, float(minutes[end]))[band])
            times = self.rewards.times
            found.append(BandStay(self.rewards.bands[band], times[start], times[end], lost, reward))
            before = band
        return found

    def value(self, moves: _Moves) -> float:
        """Reward less the charge of every change [minutes]; -inf for a change that is not possible."""
        stays = self.stays(moves)
        if not all(np.isfinite(stay.lost_min) and stay.on_air_min >= self.least - 1e-9 for stay in stays):
            return -np.inf
        return sum(stay.reward for stay in stays) - self.charge * (len(stays) - 1)


def _justified(case: _Case, moves: _Moves, single: int) -> _Moves:
    """Moves without the changes whose reward does not make up for their charge."""
    while True:
        fewer = [_without(moves, number) for number in range(1, len(moves))] + [[(single, 0)]]
        best = max(fewer, key=case.value)
        if len(best) >= len(moves) or case.value(best) <= case.value(moves):
            return moves
        moves = best


def _without(moves: _Moves, number: int) -> _Moves:
    """Moves without one change; two stays on a band that then meet are one."""
    left = moves[:number] + moves[number + 1 :]
    return [move for at, move in enumerate(left) if at == 0 or left[at - 1][0] != move[0]]


def _best_moves(case: _Case, compared: _Integral) -> _Moves:
    """Moves of the plan of greatest worth by which bands are compared.

    A stay on b is ready at minute r. Its worth is (earned until its end) + (score = earned before - earned on
    b until r). It may end from r + least on. So the best value of having just ended a stay on b at time z is
    earned_b(z) plus the best score released by then.
    """
    integral, cost, entry, least = compared, case.cost, case.entry, case.least
    minutes = integral.minutes
    count, bands = integral.earned.shape
    score = np.full((count, bands), -np.inf)  # best score released exactly at a time
    origin = np.full((count, bands, 2), -1)  # (time, band before) that leads to it
    running = np.full(bands, -np.inf)
    running_from = np.full((bands, 2), -1)
    value = np.full((count, bands), -np.inf)
    came = np.full((count, bands, 2), -1)
    columns = np.arange(bands)

    def release(t: int, before: int, ready: FloatArray, worth: FloatArray) -> None:
        """Add the stays that begin at time t, coming from one band, and are ready at minutes `ready` (B,)."""
        at = np.searchsorted(minutes, ready + least - 1e-9)
        at = np.maximum(at, t + 1)
        fits = np.isfinite(ready) & (at < count) & np.isfinite(worth)
        for b in columns[fits].tolist():
            if worth[b] > score[at[b], b]:
                score[at[b], b] = worth[b]
                origin[at[b], b] = (t, before)

    release(0, -1, entry, -integral.at(np.where(np.isfinite(entry), entry, 0.0)))
    for z in range(1, count):
        better = score[z] > running
        running = np.where(better, score[z], running)
        running_from[better] = origin[z][better]
        value[z] = integral.earned[z] + running
        came[z] = running_from
        if z == count - 1:
            break
        ready = minutes[z] + cost  # (from, to)
        until = integral.at(np.where(np.isfinite(ready), ready, 0.0))
        worth = value[z][:, None] - case.charge - until
        for a in columns.tolist():
            if np.isfinite(value[z, a]):
                release(z, a, ready[a], worth[a])
    band, z, moves = int(np.argmax(value[-1])), count - 1, []
    while band >= 0:
        t, before = (int(x) for x in came[z, band])
        moves.append((band, t))
        band, z = before, t
    return moves[::-1]


def _backups(
    rewards: Rewards, integral: _Integral, compared: _Integral, cost: FloatArray, stays: Sequence[BandStay]
) -> tuple[str | None, ...]:
    """Band for each stay that earns most until its end when the stay's own band is dead on arrival."""
    found: list[str | None] = []
    for stay in stays:
        b = rewards.index(stay.band)
        begin = float((stay.start - rewards.times[0]) / MINUTE) + stay.lost_min
        end = float((stay.end - rewards.times[0]) / MINUTE)
        ready = begin + cost[b]
        others = np.where(np.isfinite(ready), np.minimum(ready, end), end)
        best = int(np.argmax(compared.between(others, end)))
        found.append(rewards.bands[best] if integral.between(others, end)[best] > 0.0 else None)
    return tuple(found)


def replan(
    rewards: Rewards,
    cost_min: FloatArray,
    now: np.datetime64,
    *,
    dead: Mapping[str, np.datetime64] | None = None,
    current: str | None = None,
    shortest_min: float = SHORTEST_STAY_MIN,
    change_worth: float = 0.0,
    least_gain: float = 0.0,
) -> Plan:
    """Plan from the grid time at or after `now`, with some bands unused until the given times.

    current: the band the station is on, dead or not: leaving it has the usual cost of a change.
    """
    return make_plan(
        rewards.since(now).with_dead(dead or {}),
        cost_min,
        shortest_min=shortest_min,
        current=current,
        change_worth=change_worth,
        least_gain=least_gain,
    )


def worth_of(rewards: Rewards, stays: Sequence[BandStay], now: np.datetime64) -> float:
    """Reward of stays from a moment on [minutes], minus the cost of the changes still ahead."""
    integral = _Integral(rewards)
    earned = 0.0
    for stay in stays:
        if stay.band in rewards.bands:
            begin, end = (float((t - rewards.times[0]) / MINUTE) for t in (max(stay.ready, now), stay.end))
            over = np.full(len(rewards.bands), begin)
            earned += float(integral.between(over, end)[rewards.index(stay.band)])
    return earned
