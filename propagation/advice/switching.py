"""Times to switch bands: the sequence of bands with the greatest expected reward, exact on the time grid.

Every band has a reward for each moment, the chance of a contact there (for "anyone": the share of the world's
amateurs in reach). A change costs minutes without reward at the start of the new stay. After them a stay has
a least length. Dynamic programming over stays finds the plan of greatest reward among all that change at grid
times. It keeps the best way to arrive at each time having just left each band. The only approximation is a
straight line for the reward between grid points. The unit of reward is the minute: a minute on a band with a
chance of 0.5 earns half a minute.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, TimeArray

MINUTE: Final = np.timedelta64(60, "s")
SHORTEST_STAY_MIN: Final = 20.0  # minutes, a stay worth setting up for (common practice, no source)
USED_WORTH: Final = 0.5  # reward of a band already worked today, relative to that of a fresh one (ours)
PREFER_FEWER_MIN: Final = (
    1e-6  # minutes charged for a change, so that of equal plans the simpler one is taken
)


@dataclass(frozen=True, eq=False)
class Rewards:
    """Rewards of each band: times (T,) evenly spaced, bands, reward (T, B) per minute, 0 to 1."""

    times: TimeArray
    bands: tuple[str, ...]
    reward: FloatArray

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
        return Rewards(self.times, tuple(self.bands[i] for i in keep), self.reward[:, keep])

    def with_used(self, used: Mapping[str, float]) -> Rewards:
        """Scale the reward of some bands (those already worked)."""
        scale = np.array([used.get(band, 1.0) for band in self.bands])
        return Rewards(self.times, self.bands, self.reward * scale)

    def with_dead(self, dead: Mapping[str, np.datetime64]) -> Rewards:
        """Set the reward of some bands to zero until a time."""
        reward = self.reward.copy()
        for band, until in dead.items():
            if band in self.bands:
                reward[self.times < until, self.index(band)] = 0.0
        return Rewards(self.times, self.bands, reward)


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
    [minutes]. backups: for each stay the band to change to if its own is dead, or None.
    """

    stays: tuple[BandStay, ...]
    reward: float
    single_band: str | None
    single_reward: float
    backups: tuple[str | None, ...]

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
) -> Plan:
    """Find the plan of greatest reward; of equal plans, the one with fewest changes.

    cost_min (B, B): minutes lost from one band (row) to another (column), zero or more; infinite forbids the
    change. shortest_min: least time on the air of every stay after its change (where the whole time is
    shorter, all of it). current: the band the station is set up for at the start; None: for the plan's first
    band.
    """
    if len(rewards.times) < 2 or not rewards.bands:
        return Plan((), 0.0, None, 0.0, ())
    cost = np.array(cost_min, dtype=np.float64)
    entry = np.zeros(len(rewards.bands))
    if current in rewards.bands:
        entry = cost[rewards.index(current)].copy()
        entry[rewards.index(current)] = 0.0
    np.fill_diagonal(cost, np.inf)  # leaving a band for itself is no change
    integral = _Integral(rewards)
    whole = float(integral.minutes[-1])
    least = min(shortest_min, whole)
    single = integral.between(np.where(np.isfinite(entry), entry, whole), whole)
    single = np.where(whole - entry >= least - 1e-9, single, -np.inf)  # the current band always fits
    best_single = int(np.argmax(single))
    charge = max(change_worth * float(single[best_single]), PREFER_FEWER_MIN)
    stays = _best_stays(rewards, integral, cost, entry, least, charge)
    total = float(sum(stay.reward for stay in stays))
    alone = float(single[best_single])
    return Plan(
        tuple(stays), total, rewards.bands[best_single], alone, _backups(rewards, integral, cost, stays)
    )


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


def _best_stays(
    rewards: Rewards,
    integral: _Integral,
    cost: FloatArray,
    entry: FloatArray,
    least: float,
    charge_min: float,
) -> list[BandStay]:
    """Stays of the best plan.

    A stay on b is ready at minute r. Its worth is (earned until its end) + (score = earned before - earned on
    b until r). It may end from r + least on. So the best value of having just ended a stay on b at time z is
    earned_b(z) plus the best score released by then.
    """
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
        worth = value[z][:, None] - charge_min - until
        for a in columns.tolist():
            if np.isfinite(value[z, a]):
                release(z, a, ready[a], worth[a])
    band, z, stays = int(np.argmax(value[-1])), count - 1, []
    while band >= 0:
        t, before = (int(x) for x in came[z, band])
        lost = float(entry[band] if before < 0 else cost[before, band])
        stays.append(_stay(rewards, integral, band, t, z, lost))
        band, z = before, t
    return stays[::-1]


def _stay(
    rewards: Rewards, integral: _Integral, band: int, start: int, end: int, lost_min: float
) -> BandStay:
    minutes = integral.minutes
    ready = np.full(len(rewards.bands), min(minutes[start] + lost_min, minutes[end]))
    reward = float(integral.between(ready, float(minutes[end]))[band])
    return BandStay(rewards.bands[band], rewards.times[start], rewards.times[end], lost_min, reward)


def _backups(
    rewards: Rewards, integral: _Integral, cost: FloatArray, stays: Sequence[BandStay]
) -> tuple[str | None, ...]:
    """Band for each stay that earns most until its end when the stay's own band is dead on arrival."""
    found: list[str | None] = []
    for stay in stays:
        b = rewards.index(stay.band)
        begin = float((stay.start - rewards.times[0]) / MINUTE) + stay.lost_min
        end = float((stay.end - rewards.times[0]) / MINUTE)
        ready = begin + cost[b]
        worth = integral.between(np.where(np.isfinite(ready), np.minimum(ready, end), end), end)
        best = int(np.argmax(worth))
        found.append(rewards.bands[best] if worth[best] > 0.0 else None)
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
) -> Plan:
    """Plan from the grid time at or after `now`, with some bands unused until the given times.

    current: the band the station is on, dead or not: leaving it has the usual cost of a change.
    """
    later = np.flatnonzero(rewards.times >= now)
    rest = Rewards(rewards.times[later], rewards.bands, rewards.reward[later])
    return make_plan(
        rest.with_dead(dead or {}),
        cost_min,
        shortest_min=shortest_min,
        current=current,
        change_worth=change_worth,
    )


def worth_of(rewards: Rewards, stays: Sequence[BandStay], now: np.datetime64) -> float:
    """Reward of stays from a moment on [minutes], minus the cost of the changes still ahead."""
    integral = _Integral(rewards)
    earned = 0.0
    for stay in stays:
        if stay.band in rewards.bands:
            ready = stay.start + np.timedelta64(round(60.0 * stay.lost_min), "s")
            begin, end = (float((t - rewards.times[0]) / MINUTE) for t in (max(ready, now), stay.end))
            over = np.full(len(rewards.bands), begin)
            earned += float(integral.between(over, end)[rewards.index(stay.band)])
    return earned
