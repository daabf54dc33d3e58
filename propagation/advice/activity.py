"""Number of stations listening: amateurs, the share on HF now, and the share on this band and mode.

On which band they are at which hour comes from a day of reception reports where it can tell
(`data/activity.csv`, made by its builder). Every other number is common practice without a source: an order
of magnitude that an operator can recognise. Each can be set. The amateurs near a place come from the
gazetteer (approximate licence numbers, see `data/places.provenance.md`). Hours are apparent solar time at the
amateurs' place, which is within an hour or two of local clock time.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import FloatArray, FloatLike, TimeLike, acosd, as_float, tand
from propagation.geo import sun
from propagation.geo.regions import Target
from propagation.spectrum.bands import BANDS
from propagation.spectrum.modes import ModeName
from propagation.station.far_ends import WhoAnswers

TABLE: Final = Path(__file__).parent.parent / "data" / "activity.csv"
TABLE_DAY: Final = np.datetime64("2017-07-01T12", "s")  # of the reports
TABLE_LATITUDE_DEG: Final = 45.0  # deg, between those of Europe and North America, where most were made
SHORTEST_HALF_HOURS: Final = 2.0  # h, half of a day or night; polar days and nights count as this (ours)
HOURS_A_WEEK: Final = 168.0

# Activity at each hour of local solar time, 00 to 23, relative to the mean of the day: lowest before dawn,
# highest in the evening (common practice, no source)
_BY_HOUR: Final = np.array(
    [0.5, 0.3, 0.2, 0.15, 0.2, 0.35, 0.6, 0.85, 1.0, 1.1, 1.15, 1.1,
     1.0, 1.0, 1.1, 1.2, 1.35, 1.6, 1.75, 1.8, 1.75, 1.5, 1.15, 0.8]
)  # fmt: skip
BY_HOUR: Final[FloatArray] = _BY_HOUR / _BY_HOUR.mean()
WEEKEND: Final = 1.4  # relative to the mean of the week, Saturday and Sunday (common practice, no source)
_SATURDAY: Final = 2  # days since 1970-01-01, a Thursday

ON_AIR_WITHIN: Final = 3.0  # factor within which the stations on the air are known (ours)

# Shares of the stations on the air on each band, sum 1
BY_BAND: Final[Mapping[str, float]] = MappingProxyType(
    {band.name: band.on_air / sum(one.on_air for one in BANDS) for band in BANDS}
)
# and on each mode, sum 1 (common practice, no source)
BY_MODE: Final[Mapping[ModeName, float]] = MappingProxyType(
    {"SSB": 0.39, "CW": 0.2, "DIGITAL": 0.4, "FM": 0.01}
)

# Contacts an hour if every call were answered at once: an exchange of one minute by voice, of a minute and a
# half in Morse by hand and in six slots of a digital mode (common practice, no source)
MOST_PER_HOUR: Final[Mapping[ModeName, float]] = MappingProxyType(
    {"SSB": 60.0, "CW": 40.0, "DIGITAL": 40.0, "FM": 60.0}
)


@cache
def by_band_and_hour() -> Mapping[str, tuple[float, ...]]:
    """Share of the stations on a band relative to `BY_BAND` at each solar hour of the table's day, 24 each.

    A value applies to the middle of its hour. A band that is not in the table keeps its share all day.
    """
    found: dict[str, list[float]] = {}
    with TABLE.open(newline="", encoding="ascii") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["band"], []).append(float(row["times_usual"]))
    return MappingProxyType({band: tuple(values) for band, values in found.items()})


@dataclass(frozen=True)
class Habits:
    """Habits of amateurs, each number but `by_hour` common practice without a source.

    by_hour: factors of a band's share by hour; None: those from reports (`by_band_and_hour`). A band without
    them keeps its share all day.

    active: share of licensed amateurs who use HF at all. hours_a_week: hours on the air of an active amateur.
    weekend: weight of Saturday and Sunday relative to the mean of the week, 0 to 3.5. by_band, by_mode:
    shares of the stations on the air. answering: share of the stations in reach that answer a caller within
    an hour. They must find the frequency, be free and want to answer. most_per_hour: contacts an hour if
    every call were answered at once: what the exchange takes, by mode and operator.
    """

    active: float = 0.2
    hours_a_week: float = 4.0
    weekend: float = WEEKEND
    by_band: Mapping[str, float] = field(default_factory=lambda: BY_BAND)
    by_mode: Mapping[ModeName, float] = field(default_factory=lambda: BY_MODE)
    by_hour: Mapping[str, tuple[float, ...]] | None = None
    answering: float = 0.3
    most_per_hour: Mapping[ModeName, float] = field(default_factory=lambda: MOST_PER_HOUR)

    def __post_init__(self) -> None:
        if not 0.0 <= self.weekend <= 3.5:
            raise InputError(f"The weight of a weekend day is {self.weekend:g}: give one from 0 to 3.5.")
        if not (0.0 <= self.active <= 1.0 and 0.0 <= self.hours_a_week <= HOURS_A_WEEK):
            raise InputError("The share of active amateurs is 0 to 1, their hours a week 0 to 168.")
        if self.answering < 0.0 or min(self.most_per_hour.values(), default=1.0) <= 0.0:
            raise InputError("The share that answers is 0 or more, the most contacts an hour more than 0.")

    def ceiling(self, mode: ModeName) -> float:
        """Contacts an hour in a mode if every call were answered at once; InputError where none is given."""
        if mode not in self.most_per_hour:
            raise InputError(f"The habits give no contacts an hour for {mode}: add it to most_per_hour.")
        return self.most_per_hour[mode]


USUAL: Final = Habits()


def habits_of(people: WhoAnswers) -> Habits:
    """The usual habits with the most contacts an hour of a station file's `[people]` table."""
    if people.most_per_hour is None:
        return USUAL
    return replace(USUAL, most_per_hour=dict.fromkeys(MOST_PER_HOUR, people.most_per_hour))


def awake(lon_deg: FloatLike, times: TimeLike, weekend: float = WEEKEND) -> FloatArray:
    """Activity at these places and times relative to the mean of the week; broadcasts.

    lon_deg [deg], times UTC. The mean over a week is one at every place.
    """
    hour = sun.local_solar_hour(lon_deg, times)
    weight = np.interp(hour, np.arange(25.0), np.append(BY_HOUR, BY_HOUR[0]))
    at_greenwich = np.asarray(times).astype("datetime64[s]").astype(np.int64) / 3600.0
    # mean solar days: the day of the week changes at the place's own midnight
    day = np.floor((at_greenwich + as_float(lon_deg) / 15.0) / 24.0)
    free = np.mod(day - _SATURDAY, 7.0) < 2.0
    return as_float(weight * np.where(free, weekend, (7.0 - 2.0 * weekend) / 5.0))


def table_hour(lat_deg: FloatLike, lon_deg: FloatLike, times: TimeLike) -> FloatArray:
    """Solar hour of the table's day at the same part of the day or night [h], 0..24; broadcasts.

    lat_deg, lon_deg [deg], times UTC. People follow a band's opening, hence the sun, not the clock: noon and
    midnight keep their hour, sunrise and sunset become those of the table (ours, held against no reports).
    """
    hour = sun.local_solar_hour(lon_deg, times) - 12.0
    half = _half_day_hours(lat_deg, times)
    there = _half_day_hours(TABLE_LATITUDE_DEG, TABLE_DAY)
    after = np.abs(hour) - half
    stretched = there + after * np.where(after < 0.0, there / half, (12.0 - there) / (12.0 - half))
    return as_float(12.0 + np.sign(hour) * stretched)


def _half_day_hours(lat_deg: FloatLike, times: TimeLike) -> FloatArray:
    """Hours from sunrise to noon; broadcasts."""
    cos_set = np.clip(-tand(lat_deg) * tand(sun.declination_deg(times)), -1.0, 1.0)
    return as_float(np.clip(acosd(cos_set) / 15.0, SHORTEST_HALF_HOURS, 12.0 - SHORTEST_HALF_HOURS))


def shares(
    lat_deg: FloatLike, lon_deg: FloatLike, times: TimeLike, bands: Sequence[str], habits: Habits = USUAL
) -> FloatArray:
    """Share of the stations on the air that is on each band; the broadcast shape, then (B,).

    Raises InputError for a band without a share in the habits.
    """
    if unknown := [name for name in bands if name not in habits.by_band]:
        raise InputError(f"The habits give no share of the people for {unknown[0]}: add it to by_band.")
    by_hour, all_day = by_band_and_hour() if habits.by_hour is None else habits.by_hour, (1.0,) * 24
    table = as_float([habits.by_band[name] * as_float(by_hour.get(name, all_day)) for name in bands])
    after = np.mod(table_hour(lat_deg, lon_deg, times) - 0.5, 24.0)  # since the middle of the first hour
    first = after.astype(np.int64) % 24
    part = (after - np.floor(after))[..., None]
    return as_float((1.0 - part) * table.T[first] + part * table.T[(first + 1) % 24])


def listening(
    target: Target, times: TimeLike, bands: Sequence[str], mode: ModeName, habits: Habits = USUAL
) -> FloatArray:
    """Stations on the air near each point of a target, on each band in that mode: (P, T, B).

    times (T,) UTC. Raises InputError for a band or a mode without a share in the habits.
    """
    if mode not in habits.by_mode:
        raise InputError(f"The habits give no share of the people for {mode}: add it to by_mode.")
    mean = target.amateurs * target.weight * habits.active * habits.hours_a_week / HOURS_A_WEEK
    lat, lon, when = target.lat_deg[:, None], target.lon_deg[:, None], np.asarray(times)[None, :]
    now = mean[:, None] * habits.by_mode[mode] * awake(lon, when, habits.weekend)
    return as_float(now[..., None] * shares(lat, lon, when, bands, habits))
