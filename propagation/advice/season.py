"""Season ahead: month by month and hour by hour what to expect on every band.

Each month is represented by the Wednesday nearest its middle, at the full hours of the day. A working day is
used so that no month gains by its week-end. The forecast, the outlook and the order of the bands are the same
as for every other answer: days in ten for a place, contacts an hour for a region (`ranking`). Solar activity
ahead is uncertain. So every month is computed for the low, the middle and the high prediction of the index
(`cycle_ahead`). The months are computed one after the other, each under its three predictions, and two parts
at a time, as numpy releases the interpreter's lock. Shapes: M months, 24 hours UTC, B bands, 3 predictions
(low, middle, high).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from propagation.advice.activity import habits_of
from propagation.advice.ranking import level, told_chance, told_rate
from propagation.advice.rates import Prospect, Rate, Rates
from propagation.advice.region_chance import outlook
from propagation.advice.sked import Party
from propagation.base.errors import InputError
from propagation.base.time_series import EMPTY, TimeSeries
from propagation.base.units import BoolArray, FloatArray, FloatLike, IntArray, TimeArray, as_float
from propagation.geo.regions import Target
from propagation.signal.chances.forecast import TUNED_FROM, Forecast, forecast
from propagation.signal.chances.request import Request
from propagation.signal.rays.causes import CODE
from propagation.space_weather.indices.solar_history import spread_about
from propagation.space_weather.state.conditions import Conditions
from propagation.spectrum.bands import BANDS, Band
from propagation.station.station import Station
from propagation.station.terminals import Terminal

MONTHS: Final = 12  # default number of months
MOST_MONTHS: Final = 36
HOURS: Final = 24
MONTH: Final = np.timedelta64(1, "M")
DAY: Final = np.timedelta64(1, "D")
MIDDLE_DAY: Final = 14 * DAY  # from the first of a month to its middle
WORKERS: Final = 2  # parts computed at a time
LOW, MIDDLE, HIGH = range(3)  # predictions
SPREAD_EVERY_H: Final = (2, 6)  # h, place and region: at which low and high are computed
MOST_SLOTS: Final = 10
SLOTS_A_MONTH: Final = 2
LEAST_CHANCE: Final = 0.05  # of a slot that is reported (ours)
LEAST_PER_H: Final = 0.5  # contacts an hour, likewise (ours)
STAYS_ABOVE: Final = 0.75  # of its best hour, above which a slot's hours stay (ours)
LONGEST_SLOT_H: Final = 4  # h
COMFORTABLE_H: Final = (
    3  # h from the hours in which an end sleeps or is not free, from which on all hours count as equal (ours)
)
_LOGIT_FLOOR: Final = 1e-4  # of chance, used to interpolate between computed hours


class StoppedError(Exception):
    """Cancellation of the computation at the caller's request."""


@dataclass(frozen=True)
class SeasonSlot:
    """Stretch of a month's days on one band: hours [UTC] from `start` to `end`, over 24 past midnight.

    mean: what it promises, mean of its hours; low, high: the same for the low and the high prediction.
    comfort_h: hours to the nearest one at which either end sleeps or is not free, mean of its hours.
    """

    month: np.datetime64
    start: int
    end: int
    band: str
    mean: Prospect
    low: Prospect
    high: Prospect
    comfort_h: float = 0.0


@dataclass(frozen=True, eq=False)
class Season:
    """Season of one station, target and mode.

    months (M,) [datetime64[M]]; bands (B,); index (3, M); chance (3, M, 24, B): of days with a place, of
    `wanted` contacts in an hour with a region. rates (3, M, 24, B): contacts an hour with a region, None for
    a place. Both are 0 on bands that licence or antenna rule out. limit (M, 24, B): code of `causes.CAUSES`,
    by the middle prediction. home_suits, far_suits (M, 24): awake at that hour of the month's day. wanted:
    contacts requested of a region, 0 for a place.
    """

    station: Station
    target: Target
    mode: str
    power_w: float
    months: TimeArray
    bands: tuple[Band, ...]
    index: FloatArray
    chance: FloatArray
    rates: Rates | None
    limit: IntArray
    home: Party
    far: Party | None
    home_suits: BoolArray
    far_suits: BoolArray
    wanted: int

    @cached_property
    def worth(self) -> FloatArray:
        """Figure that ranks (3, M, 24, B): contacts an hour with a region, the chance with a place."""
        return self.chance if self.rates is None else self.rates.middle

    @cached_property
    def ranked(self) -> FloatArray:
        """Worth by the middle prediction by which the bands of an hour are compared (M, 24, B)."""
        worth = self.worth[MIDDLE]
        surer = worth if self.rates is None else self.rates.low[MIDDLE]
        return level(worth, self.told(worth), surer)

    def told(self, worth: FloatLike) -> FloatArray:
        """Figure told of a worth."""
        return told_chance(worth) if self.rates is None else told_rate(worth)

    @cached_property
    def best_band(self) -> IntArray:
        """Best band of each cell (M, 24), by the middle prediction; 0 where there is no band at all."""
        if not self.bands:
            return np.zeros(self.chance.shape[1:3], dtype=np.int64)
        return np.asarray(np.argmax(self.ranked, axis=-1), dtype=np.int64)

    def of_best(self, values: FloatArray) -> FloatArray:
        """Values (3, M, 24, B) of the band that is best by the middle prediction: (3, M, 24)."""
        if not self.bands:
            return np.zeros(values.shape[:3])
        which = np.broadcast_to(self.best_band[None, ..., None], (3, *self.best_band.shape, 1))
        return as_float(np.take_along_axis(values, which, axis=-1)[..., 0])

    def at(self, month: int, hours: int | IntArray, band: int, prediction: int = MIDDLE) -> Prospect:
        """What a band promises in a month (index) at an hour UTC, or on the mean of several hours."""
        cells = (prediction, month, np.atleast_1d(hours), band)
        chance = float(np.mean(self.chance[cells]))
        if self.rates is None:
            return Prospect(chance)
        low, middle, high = (
            float(np.mean(rows[cells])) for rows in (self.rates.low, self.rates.middle, self.rates.high)
        )
        return Prospect(chance, Rate(low, middle, high), self.wanted)

    @cached_property
    def suits(self) -> BoolArray:
        """Hours at which both ends are awake (M, 24)."""
        return np.asarray(self.home_suits & self.far_suits)

    def hours_of_contact(self) -> FloatArray:
        """Expected hours with a contact in each month (3, M): waking hours times their chance."""
        starts = self.months.astype("datetime64[M]")
        days = ((starts + MONTH).astype("datetime64[D]") - starts.astype("datetime64[D]")).astype(np.float64)
        return as_float(np.sum(np.where(self.suits, self.of_best(self.chance), 0.0), axis=-1) * days)

    def mean_per_hour(self) -> FloatArray:
        """Contacts an hour with a region (3, M): mean of the waking hours of each month."""
        awake = np.maximum(np.sum(self.suits, axis=-1), 1)
        return as_float(np.sum(np.where(self.suits, self.of_best(self.worth), 0.0), axis=-1) / awake)

    @cached_property
    def _all_slots(self) -> tuple[SeasonSlot, ...]:
        return _slots(self)

    def slots(self, most: int = MOST_SLOTS) -> tuple[SeasonSlot, ...]:
        """Best slots of the season, best first: hours in a row on one band that suit both ends.

        The slot with the greater figure is first, as told. Of alike slots the more comfortable is first,
        farther from the hours at which either end sleeps. Then the longer, then the surer.
        """
        return self._all_slots[:most]


def months_ahead(start: np.datetime64, count: int = MONTHS) -> TimeArray:
    """Months [datetime64[M]] from that of `start` on. Raises InputError for counts out of range."""
    if not 1 <= count <= MOST_MONTHS:
        raise InputError(f"{count} months are not possible: give 1 to {MOST_MONTHS}.")
    months: TimeArray = start.astype("datetime64[M]") + np.arange(count) * MONTH
    return months


def days_of(months: TimeArray) -> TimeArray:
    """Day (M,) [datetime64[D]] that represents each month: the Wednesday nearest its fifteenth."""
    middle = months.astype("datetime64[D]") + MIDDLE_DAY
    # day 0 of the calendar of datetime64, 1970-01-01, was a Thursday; the nearest Wednesday is -3 to +3 away
    after_wednesday = (middle.astype(np.int64) + 1) % 7
    return np.asarray(middle - ((after_wednesday + 3) % 7 - 3) * DAY)


def hours_of(months: TimeArray) -> TimeArray:
    """Hours (M, 24) [datetime64[s]] that represent the months."""
    return np.asarray(
        days_of(months).astype("datetime64[s]")[:, None] + (np.arange(HOURS) * 3600).astype("timedelta64[s]")
    )


def season(
    request: Request,
    home: Party,
    other: Party | None,
    *,
    progress: Callable[[int, int], None] | None = None,
    stop: Callable[[], bool] | None = None,
    made: Callable[[Season], None] | None = None,
) -> Season:
    """Compute the season of the months that contain the request's times.

    home, other: the two ends' clocks and waking hours; `other` None for a region. progress is called with the
    parts done and the total of parts. made is called with the season of the months finished so far, after
    each but the last. Where `stop` returns true, StoppedError is raised at the next part.
    """
    station, target, conditions = request.station, request.target, request.conditions
    emission, terminals = request.emission, request.terminals
    power_w = terminals.near.power_w
    bands = _of_use(station, emission.name, terminals.near)
    months = np.unique(request.times.astype("datetime64[M]"))
    hours = hours_of(months)
    steady = conditions.basis == "typed in"
    middle = conditions.index_at(hours[:, HOURS // 2])
    index = np.broadcast_to(middle, (3, middle.size)) if steady else spread_about(middle, months)
    # chance, and of a region low, middle and high contacts an hour over the ceiling
    figures = np.zeros((4 if target.is_region else 1, 3, months.size, HOURS, len(bands)))
    limit = np.full((months.size, HOURS, len(bands)), CODE["licence"])
    every = SPREAD_EVERY_H[target.is_region]
    ceiling = habits_of(station.people).ceiling(emission.name)

    def work(part: tuple[int, int]) -> None:
        if stop is not None and stop():
            raise StoppedError
        prediction, month = part
        step = 1 if prediction == MIDDLE else every
        times = hours[month, ::step]
        shift = float(index[prediction, month] - middle[month])
        sky = conditions if prediction == MIDDLE else _moved(conditions, times, shift)
        found = forecast(
            replace(request, times=times, conditions=sky, bands=bands, near=terminals.near, far=terminals.far)
        )
        figures[:, prediction, month, ::step] = np.where(found.usable, _figures(found), 0.0)
        if prediction == MIDDLE:
            limit[month] = outlook(found).limit

    def spread(month: int) -> None:
        """Fill in the hours between those computed for the low and the high prediction of a month."""
        one = slice(month, month + 1)
        for prediction in (LOW, HIGH):
            for row in figures:
                row[prediction, one] = (
                    row[MIDDLE, one]
                    if steady
                    else _between(row[prediction, one, ::every], row[MIDDLE, one], every)
                )

    def so_far(count: int) -> Season:
        """Season of the first `count` months."""
        part, times = figures[:, :, :count], hours[:count]
        rates = Rates(*(ceiling * row for row in part[1:])) if target.is_region else None
        return Season(
            station, target, emission.name, power_w, months[:count], tuple(bands), index[:, :count], part[0],
            rates, limit[:count], home, other, home.suits(times),
            other.suits(times) if other is not None else np.ones(times.shape, dtype=bool),
            station.people.contacts if target.is_region else 0,
        )  # fmt: skip

    predictions = (MIDDLE,) if steady else (MIDDLE, LOW, HIGH)
    parts = [(p, m) for m in range(months.size) for p in predictions] if bands else []
    with ThreadPoolExecutor(WORKERS) as pool:
        for done, _ in enumerate(pool.map(work, parts), start=1):
            if progress is not None:
                progress(done, len(parts))
            finished, rest = divmod(done, len(predictions))
            if rest == 0:
                spread(finished - 1)
                if made is not None and finished < months.size:
                    made(so_far(finished))
    return so_far(months.size)


def _figures(found: Forecast) -> FloatArray:
    """Chance of a forecast (1, T, B), and of a region the contacts an hour over the ceiling (4, T, B)."""
    seen = outlook(found)
    if seen.people is None:
        return seen.chance[None]
    rate = seen.people.rate
    return np.stack([seen.chance, *(rows / seen.ceiling for rows in (rate.low, rate.middle, rate.high))])


def _of_use(station: Station, mode: str, near: Terminal) -> list[Band]:
    """Bands that licence and antenna allow at all."""
    licensed = [band for band in BANDS if station.usable(band, mode)]
    if not licensed:
        return []
    share = near.receive_efficiency(np.array([station.centre_mhz(band, mode) for band in licensed]))
    return [band for band, tuned in zip(licensed, share >= TUNED_FROM, strict=True) if tuned]


def _moved(conditions: Conditions, times: TimeArray, shift: float) -> Conditions:
    """Sun with the index changed by `shift` at some times; sunspots change with it."""
    index = TimeSeries(times, conditions.index_at(times) + shift)
    return replace(conditions, index=index, ssn=EMPTY, heard=EMPTY)


def _between(coarse: FloatArray, middle: FloatArray, every: int) -> FloatArray:
    """Shares of a prediction at all hours (M, 24, B) from some (M, 24 / every, B), relative to the
    middle one.

    The difference in ln(p / (1 - p)) is interpolated linearly between computed hours, round the day.
    """
    away = _logit(coarse) - _logit(middle[:, ::every])
    round_the_day = np.concatenate([away, away[:, :1]], axis=1)
    place = np.arange(HOURS) / every
    left = place.astype(np.intp)
    share = (place - left)[None, :, None]
    drawn = round_the_day[:, left] * (1.0 - share) + round_the_day[:, left + 1] * share
    return as_float(1.0 / (1.0 + np.exp(-(_logit(middle) + drawn))))


def _logit(chance: FloatArray) -> FloatArray:
    held = np.clip(chance, _LOGIT_FLOOR, 1.0 - _LOGIT_FLOOR)
    return as_float(np.log(held / (1.0 - held)))


def _slots(found: Season) -> tuple[SeasonSlot, ...]:
    """Best SLOTS_A_MONTH of every month, and of all these the best."""
    if not found.worth.size:
        return ()
    comfort_h = np.minimum(_from_sleep_h(found.home_suits), _from_sleep_h(found.far_suits))
    slots = [slot for month in range(found.months.size) for slot in _of_month(found, month, comfort_h[month])]
    slots.sort(
        key=lambda s: (-float(found.told(s.mean.figure)), -s.comfort_h, s.start - s.end, -_sure(s.mean))
    )
    return tuple(slots)


def _sure(one: Prospect) -> float:
    return one.chance if one.rate is None else one.rate.low


def _of_month(found: Season, month: int, comfort_h: FloatArray) -> Iterator[SeasonSlot]:
    """Slots of a month, greedy by the best hour, or by the most comfortable of alike hours; comfort_h (24,).

    A slot is on the best band of its best hour. Its neighbours join while both ends suit and the band stays
    near its best.
    """
    worth = np.where(found.suits[month][:, None], found.worth[MIDDLE, month], 0.0)
    band = found.best_band[month]
    each = np.arange(HOURS)
    best = worth[each, band]
    surer = best if found.rates is None else found.rates.low[MIDDLE, month, each, band]
    taken = np.zeros(HOURS, dtype=bool)
    told = 0
    least = LEAST_CHANCE if found.rates is None else LEAST_PER_H
    figure = found.told(best)
    for hour in np.lexsort((-surer, -comfort_h, -figure)).tolist():
        if figure[hour] < least or told >= SLOTS_A_MONTH:
            return
        if taken[hour]:
            continue
        row = int(band[hour])
        start, end = _stretch(worth[:, row], taken, hour)
        inside = np.arange(start, end) % HOURS
        taken[inside] = True
        told += 1
        low, middle, high = (found.at(month, inside, row, prediction) for prediction in range(3))
        comfort = float(np.mean(comfort_h[inside]))
        yield SeasonSlot(found.months[month], start, end, found.bands[row].name, middle, low, high, comfort)


def _from_sleep_h(suits: BoolArray) -> FloatArray:
    """Number of hours on either side of each hour that suit too, at most COMFORTABLE_H; (M, 24) round the
    day.
    """
    hours = np.zeros((2, *suits.shape))
    for side, step in enumerate((1, -1)):
        still = suits
        for away in range(1, COMFORTABLE_H + 1):
            still = still & np.roll(suits, step * away, axis=-1)
            hours[side] += still
    return as_float(hours.min(axis=0))


def _stretch(course: FloatArray, taken: BoolArray, hour: int) -> tuple[int, int]:
    """Hours [start, end) around `hour` on which a band stays near its best there."""
    floor = STAYS_ABOVE * course[hour]
    start, end = hour, hour + 1
    while end - start < LONGEST_SLOT_H:
        ahead = course[end % HOURS] if not taken[end % HOURS] else 0.0
        behind = course[(start - 1) % HOURS] if not taken[(start - 1) % HOURS] else 0.0
        if max(ahead, behind) < floor:
            break
        start, end = (start, end + 1) if ahead >= behind else (start - 1, end)
    return (start, end) if start >= 0 else (start + HOURS, end + HOURS)
