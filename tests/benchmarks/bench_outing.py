"""Simulated outings: how many contacts the plan makes, whether they are in the range it promises, and how
many more are made when it learns on the air.

Run by hand: python tests/benchmarks/bench_outing.py
Wanted: the number of contacts inside the promised range in 78 to 85 % of the outings. With learning at least
15 % more contacts than without, in no tenth of the days more than 3 % less.

The world. Days are drawn from the program's own spread, continuous where the program has nodes: a normal
score of the F2 layer, a kind of sporadic E, the station's offset from its file, the noise, a factor of
everybody's activity and one of each band's. Contacts then fall minute by minute by the program's own law of
people. The circuits are computed anew for every offset (`station_offsets`); the promised range knows them by
one calibrated number. The same world is lived through by each operator, with the same luck minute by minute.

The operators. All write down each contact, and a call in vain after five minutes of silence. *Plan* takes a
band as dead after as many calls in vain as the page says (`calls_until_dead`), if nobody has answered there,
and plans again without it. *By chance* does so after two calls, with a plan made for the chance of four
contacts in an hour, as plans were made before. *Kept* follows the program's
plan to the end: its number of contacts is held against the promised range. *Learning* begins with it and
takes a new plan when one is offered, looked at every five minutes. *Knowing* has a plan made from the truth:
what could be had at most. Gains are against *plan* and *by chance*.

What is counted is the sum of the true rates over the minutes lived on each band, which is the mean number of
contacts without the luck of the draw; the contacts drawn stand beside it, and they are what a range holds.

Found (240 outings; mean contacts of plan, by chance, kept, learning, knowing): 38.3, 36.6, 38.8, 40.0, 43.2.
- The number of contacts of those who keep the plan is inside the range in 82 % (below 8, above 10), in 80 %
  where five or more are promised, in 81 % from twenty on; 1.03 times as many are made as promised. With
  learning 82 %. The spread of the odds behind the range (`REACH_SD`) was chosen on 18 other stations and
  targets; 0.5 gives 78 %, 0.9 gives 83 %.
- The plan in contacts makes 4.8 % more than the one by chance and two calls; kept to the end 3.2 % more than
  that plan kept to the end (37.4).
- Learning +4.3 % over plan, +9.4 % over by chance; in tenths of days 0 to +31 % over plan. So the wish of
  15 % is not reached; all that could be known is worth +13 %. A rule that tries bands, one look ahead, was
  worse than none.
- To take a band as dead after two calls in vain, whatever the band promises: 37.0 instead of 38.5 to 38.7.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from propagation.advice.outing_estimate import (
    BAND_SHAPE,
    NOISE_SD_DB,
    STATION_SD_DB,
    Learning,
    OutingEvent,
    ReachByState,
)
from propagation.advice.outing_replan import calls_until_dead, ground_of, learnt_promise, plan_again
from propagation.advice.people import rate_of
from propagation.advice.plan_contacts import BUSY_SD, Contacts
from propagation.advice.plan_day import CHANGE_WORTH, least_gain_min, times_on_air
from propagation.advice.plan_promise import Promise, promise_of
from propagation.advice.setup_notes import cost_matrix, setup_notes
from propagation.advice.switching import BandStay, Rewards, replan
from propagation.base.units import FloatArray
from propagation.geo.places import resolve
from propagation.ionosphere.variability import ES_WEIGHTS, LAYER_NODES
from propagation.signal.chances.forecast import forecast
from propagation.signal.chances.request import Request
from propagation.signal.chances.station_offsets import NOISE_DB, STATION_DB
from propagation.space_weather.state.conditions import built_in
from propagation.spectrum.bands import BANDS
from propagation.station import station as stations
from propagation.station.terminals import far_terminal, own_terminal

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "station.toml"
HILL = """
name = "invented hill"
[site]
locator = "JN58"
noise = "rural"
[rig]
power_w = 20
mode = "SSB"
[antenna]
kind = "dipole"
height_m = 7
"""
MINUTE = np.timedelta64(60, "s")
DAYS = 10  # of each outing: 240 in all
HOURS = 4
SILENCE_MIN = 5  # minutes after which a call in vain is written down
LOOK_MIN = 5
NAMES = ("plan", "by chance", "kept", "learning", "knowing")
OUTINGS = tuple(  # every season and quarter of the day, at two stations, a region and anyone turn about
    (f"2026-{day}T{hour:02d}:00:00", ("anyone", "Europe")[(number + hour // 6 + hill) % 2], bool(hill))
    for hill in (0, 1)
    for number, day in enumerate(("03-20", "06-20", "12-12"))
    for hour in (0, 6, 12, 18)
)


@dataclass(frozen=True, eq=False)
class Outing:
    """What every operator has: the offsets' forecast, the promise of the bands, the minutes between them.

    by_chance: rewards of the chance of four contacts in an hour.
    """

    ground: ReachByState
    promise: Promise
    by_chance: Rewards
    cost_min: FloatArray
    start: np.datetime64

    @property
    def end(self) -> np.datetime64:
        return self.start + HOURS * 60 * MINUTE

    @property
    def bands(self) -> tuple[str, ...]:
        return self.ground.stations.bands


@dataclass(frozen=True, eq=False)
class World:
    """One day's truth: contacts an hour (minutes, B), those of each group, and the contacts drawn."""

    rate: FloatArray
    share: FloatArray  # (G, minutes, B)
    drawn: np.ndarray


def outing_of(start: str, target: str, hill: bool) -> Outing:
    station = stations.loads(HILL) if hill else stations.load(DEMO)
    begin = np.datetime64(start)
    end = begin + HOURS * 60 * MINUTE
    times = times_on_air(begin, end)
    near, far = own_terminal(station), far_terminal(station.far_end)
    shortwave = [band for band in BANDS if band.widest_mhz[0] < 30.0]
    result = forecast(
        Request(station, resolve(target), times, built_in(times), near=near, far=far, bands=shortwave)
    )
    setups = setup_notes(result, near)
    promise = promise_of([result], [1.0], begin, end, list(setups))
    chances = Rewards(promise.rewards.times, promise.rewards.bands, promise.aims[0].chance)
    ground = ground_of(result, near, far, begin, end)
    return Outing(ground, promise, chances, cost_matrix(setups, promise.rewards.bands), begin)


def world_of(outing: Outing, rng: np.random.Generator) -> World:
    """A day drawn from the program's spread."""
    score = float(np.clip(rng.standard_normal(), LAYER_NODES[0], LAYER_NODES[-1]))
    sporadic = int(rng.choice(ES_WEIGHTS.size, p=ES_WEIGHTS))
    noise, station = (
        float(np.clip(sd * rng.standard_normal(), grid[0], grid[-1]))
        for sd, grid in ((NOISE_SD_DB, NOISE_DB), (STATION_SD_DB, STATION_DB))
    )
    common = np.exp(BUSY_SD * rng.standard_normal())
    own = rng.gamma(BAND_SHAPE, 1 / BAND_SHAPE, len(outing.bands))
    both = outing.ground.stations.both[:, :, :, :, sporadic].astype(np.float64)  # (G, T, B, U, S, N)
    for value, grid in ((noise, NOISE_DB), (station, STATION_DB), (score, LAYER_NODES)):
        both = both @ np.stack([np.interp(value, grid, row) for row in np.eye(grid.size)])
    minutes = np.arange(HOURS * 60)
    known = (outing.ground.stations.times - outing.start) / MINUTE
    each = np.stack([[np.interp(minutes, known, row) for row in group.T] for group in both])  # (G, B, M)
    each = np.moveaxis(each, 1, 2)
    whole = each.sum(axis=0)
    rate = rate_of(whole * common * own, outing.ground.mode, outing.ground.habits)
    return World(rate, each / np.maximum(whole, 1e-12), drawn_of(rate / 60.0, rng))


def drawn_of(mean: FloatArray, rng: np.random.Generator) -> np.ndarray:
    """Numbers of a Poisson law by inversion: one uniform number each, so that a mean that differs in its last
    digit, as sums made by two threads do, draws the same luck.
    """
    luck = rng.random(mean.shape)
    chance = np.exp(-mean)
    below, number = chance.copy(), np.zeros(mean.shape, dtype=np.int64)
    for count in range(1, 12):  # a mean of at most one: more than eleven is never drawn
        number += luck > below
        chance = chance * mean / count
        below = below + chance
    return number


@dataclass(frozen=True)
class Operator:
    """Whose rewards and first plan, and what is done on the air."""

    rewards: Rewards
    first: list[BandStay]
    learns: bool = False
    rule: bool = False

    def calls(self, outing: Outing, minute: int, band: int) -> int:
        """Unanswered calls after which a band is taken as dead: two with the plan made as before."""
        if self.rewards is outing.by_chance:
            return 2
        told = outing.promise.main.over(slice(minute // 5, minute // 5 + 1), band)
        return calls_until_dead(told)


def live(outing: Outing, world: World, operator: Operator, seed: int) -> tuple[float, int]:
    """Follow a plan through a day: the sum of the true rates, and the contacts drawn."""
    rng = np.random.default_rng(seed)
    stays, learning = operator.first, Learning(outing.ground)
    dead: dict[str, np.datetime64] = {}
    answered: set[str] = set()
    in_vain: dict[str, int] = {}
    rates, contacts, silent, before, news = 0.0, 0, 0.0, "", False
    for minute in range(HOURS * 60):
        now = outing.start + minute * MINUTE
        stay = next((one for one in reversed(stays) if one.start <= now), stays[0])
        if (now - stay.start) / MINUTE < stay.lost_min:
            continue
        if stay.band != before:
            before, silent = stay.band, 0.0
        b = outing.bands.index(stay.band)
        rates += world.rate[minute, b] / 60.0
        made, silent = int(world.drawn[minute, b]), silent + 1.0
        contacts += made
        events = [
            OutingEvent("contact", stay.band, now, countries=(whom(outing, world, minute, b, rng),))
            for _ in range(made)
        ]
        answered |= {stay.band} if made else set()
        if not made and silent >= SILENCE_MIN:
            events = [OutingEvent("in vain", stay.band, now)]
            in_vain[stay.band] = in_vain.get(stay.band, 0) + 1
        if events:
            for event in events:
                learning.take(event, silent / len(events))
            silent, news = 0.0, True
        following = now + MINUTE
        if operator.learns and news and minute % LOOK_MIN == LOOK_MIN - 1:
            stays, news = offered(outing, learning, stays, following, stay.band), False
        enough = in_vain.get(stay.band, 0) >= operator.calls(outing, minute, b)
        given_up = enough and stay.band not in answered and stay.band not in dead
        if operator.rule and given_up and np.count_nonzero(operator.rewards.times >= following) >= 2:
            dead[stay.band] = outing.end + HOURS * 60 * MINUTE
            stays = planned(operator.rewards, outing, following, dead, stay.band)
    return rates, contacts


def whom(outing: Outing, world: World, minute: int, band: int, rng: np.random.Generator) -> str:
    share = world.share[:, minute, band]
    return outing.ground.names[int(rng.choice(share.size, p=share / share.sum()))]


def planned(
    rewards: Rewards, outing: Outing, now: np.datetime64,
    dead: dict[str, np.datetime64] | None = None, current: str | None = None,
) -> list[BandStay]:  # fmt: skip
    least = 0.0 if rewards is outing.by_chance else least_gain_min(outing.promise)
    return list(
        replan(
            rewards, outing.cost_min, now,
            dead=dead, current=current, change_worth=CHANGE_WORTH, least_gain=least,
        ).stays
    )  # fmt: skip


def offered(
    outing: Outing, learning: Learning, stays: list[BandStay], now: np.datetime64, band: str
) -> list[BandStay]:
    """The new plan where one is offered, else the one at hand."""
    mine = learnt_promise(learning, "", 4, outing.start, outing.end, outing.promise.rewards.bands)
    again = plan_again(
        mine.rewards, outing.cost_min, stays, now,
        most_per_hour=mine.ceiling, current=band, change_worth=CHANGE_WORTH, least_gain=least_gain_min(mine),
    )  # fmt: skip
    return list(again.plan.stays) if again.better and again.plan is not None else stays


def knowing(outing: Outing, world: World) -> list[BandStay]:
    times = outing.promise.rewards.times
    minutes = np.minimum((times - outing.start) / MINUTE, HOURS * 60 - 1).astype(int)
    truth = Rewards(times, outing.bands, world.rate[minutes] / outing.promise.ceiling)
    return planned(truth, outing, outing.start)


def days_of(outing: Outing, case: int) -> tuple[FloatArray, Contacts]:
    """(days, operators, 2): mean contacts and contacts drawn; and what the plan promises."""
    mine, other = (planned(one, outing, outing.start) for one in (outing.promise.rewards, outing.by_chance))
    told = []
    for day in range(DAYS):
        world = world_of(outing, np.random.default_rng([case, day]))
        operators = (
            Operator(outing.promise.rewards, mine, rule=True),
            Operator(outing.by_chance, other, rule=True),
            Operator(outing.promise.rewards, mine),
            Operator(outing.promise.rewards, mine, learns=True),
            Operator(outing.promise.rewards, knowing(outing, world)),
        )
        told.append([live(outing, world, one, day) for one in operators])
    _, whole = outing.promise.sums(mine)
    assert whole is not None
    return np.array(told), whole


def main() -> None:
    begun = time.perf_counter()
    print(f"  {'':26}" + "".join(f"{name:>18}" for name in NAMES))
    rows, promised = [], []
    for case, one in enumerate(OUTINGS):
        found, whole = days_of(outing_of(*one), case)
        rows.append(found)
        promised += [whole] * DAYS
        show(f"{one[0][5:13]} {'hill' if one[2] else 'demo'} {one[1]}", found)
    everything = np.concatenate(rows)
    show("all", everything)
    order = np.argsort(everything[:, 4, 0], kind="stable")
    for name, row in (("plan", 0), ("by chance", 1)):
        ratio = [
            100.0 * everything[part, 3, 0].sum() / everything[part, row, 0].sum() - 100.0
            for part in np.array_split(order, 10)
        ]
        told = " ".join(f"{one:+.0f}" for one in ratio)
        print(f"  learning over {name} by tenths of days, poorest first [%]: {told}")
    middle = np.array([one.middle for one in promised])
    for least in (0.0, 5.0, 20.0):
        inside(everything, promised, middle >= least, f"promised {least:g} contacts or more")
    print(f"{time.perf_counter() - begun:.0f} s")


def inside(everything: FloatArray, promised: list[Contacts], which: np.ndarray, name: str) -> None:
    """Print the share of the outings whose contacts are in the promised range, as told in whole numbers."""
    low, high = (np.rint([getattr(one, end) for one in promised])[which] for end in ("low", "high"))
    middle = np.array([one.middle for one in promised])[which]
    for row, operator in enumerate(NAMES[:4]):
        if row == 1:
            continue
        made = everything[which, row, 1]
        shares = [100.0 * np.mean(part) for part in (made < low, (made >= low) & (made <= high), made > high)]
        print(
            f"  {name}, {operator}: {which.sum()} outings, below {shares[0]:.0f}, inside {shares[1]:.0f}, "
            f"above {shares[2]:.0f} %; made over promised {made.sum() / middle.sum():.2f}"
        )


def show(name: str, told: FloatArray) -> None:
    mean = told.mean(axis=0)
    gains = [100.0 * mean[3, 0] / mean[row, 0] - 100.0 for row in (0, 1)]
    figures = "".join(f"{one:9.1f} ({drawn:5.1f}) " for one, drawn in mean.tolist())
    print(f"  {name:26}{figures} {gains[0]:+.1f} %, {gains[1]:+.1f} %", flush=True)


if __name__ == "__main__":
    main()
