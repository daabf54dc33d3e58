"""Scores of the forecast against reception reports (`fixtures/reception/`): shared by test and benchmark.

Three sets, each asked so that what is not propagation drops out: one beacon for a month (ranking,
reliability), the whole world for a day (shape over the hours by band and distance), two far countries for a
month (shape over the hours). Both ends are plain 0 dBi stations of which nothing else is known.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from propagation.advice import activity
from propagation.base.units import FloatArray, as_float
from propagation.data.builders.activity import LEAST_CHANCE, MHZ, REQUIRED_DB, ReportDay, load, usual_shares
from propagation.geo import great_circle
from propagation.geo.locator import position_of
from propagation.signal.chances.many_circuits import Rows, many_circuits
from propagation.space_weather.state.conditions import Conditions
from propagation.spectrum.noise import NoiseLevel, PlaceKind
from propagation.station.terminals import plain_terminal

FOLDER: Final = Path(__file__).resolve().parents[1] / "fixtures" / "reception"
BEACON_LOCATOR: Final = "OF78"
BEACON_DBM: Final = 23.0  # dBm, 0.2 W
BEACON_MHZ: Final = 10.140
BEACON_DAYS: Final = ("2023-02-03", "2023-02-08", "2023-02-13", "2023-02-18", "2023-02-23", "2023-02-28")
SCORED_BANDS: Final = ("20m", "40m", "80m")
MOST_RESIDUAL: Final = 4.0  # nepers, larger residuals count as this
RUN_CELLS: Final = 8  # neighbouring hours of one sign that make a run
RUN_RESIDUAL: Final = 1.0  # nepers, each of them over this
ONE_REPORT_IN: Final = 1000.0  # reports of the world that reach one listener: some 4 at a distance and hour
GREAT_BRITAIN: Final = ((51.5, -0.5), (53.5, -2.0), (56.0, -3.5))  # lat, lon [deg]
NEW_ZEALAND: Final = ((-37.0, 175.0), (-41.0, 175.0), (-43.5, 172.0))  # lat, lon [deg]
FAR_DAYS: Final = ("2018-04-05", "2018-04-15", "2018-04-25")
FAR_DBM: Final = 33.0  # dBm, 2 W: between the powers in common use
FAR_BANDS: Final = {"40m": ("7", 7.040), "30m": ("10", 10.140), "20m": ("14", 14.097)}  # name in the set, MHz


def _table(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(newline="", encoding="ascii") as file:
        return list(csv.DictReader(file))


def _chance(
    tx: FloatArray, rx: FloatArray, times: Any, mhz: Any, dbm: float, conditions: Conditions, noise: PlaceKind
) -> tuple[FloatArray, FloatArray]:
    """Chance and median SNR [dB] of one-way circuits; tx, rx (N, 2) latitudes and longitudes [deg]."""
    count = len(tx)
    rows = Rows(
        tx[:, 0], tx[:, 1], rx[:, 0], rx[:, 1], times, np.broadcast_to(mhz, count), np.full(count, dbm)
    )  # fmt: skip
    found = many_circuits(rows, conditions, REQUIRED_DB, receiver=plain_terminal(1.0, NoiseLevel(noise)))
    return found.chance, found.snr_db


# --- one beacon, a month -----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class BeaconMonth:
    """Receivers x 24 hours: chance of the program (mean over days of the month), its median SNR [dB], days on
    which the beacon was heard, and days on which that receiver heard it at all."""

    chance: FloatArray
    snr_db: FloatArray
    days_heard: FloatArray
    days_active: FloatArray
    distance_km: FloatArray

    def auc(self) -> float:
        """Chance that a cell in which the beacon was heard is ranked over one in which it was not."""
        return area_under_curve(self.chance.ravel(), self.days_heard.ravel() > 0.0)


def area_under_curve(score: FloatArray, positive: Any) -> float:
    """Area under the receiver operating characteristic; ties count half (Mann and Whitney 1947)."""
    _, place, count = np.unique(score, return_inverse=True, return_counts=True)
    rank = (np.cumsum(count) - 0.5 * (count - 1.0))[place]
    yes = float(np.count_nonzero(positive))
    no = len(score) - yes
    return float((np.sum(rank[positive]) - 0.5 * yes * (yes + 1.0)) / (yes * no))


def beacon_month(
    conditions: Conditions, days: tuple[str, ...] = BEACON_DAYS, offset_db: float = 0.0
) -> BeaconMonth:
    """The month of the beacon, every receiver and hour, averaged over the given days.

    `offset_db`: what the beacon's own station is better than a plain 0 dBi antenna.
    """
    table = _table("beacon_30m_february_2023.csv")
    places = [position_of(row["locator"]) for row in table]
    rx = np.array([(p.lat_deg, p.lon_deg) for p in places])
    home = position_of(BEACON_LOCATOR)
    tx = np.broadcast_to((home.lat_deg, home.lon_deg), rx.shape)
    seconds = np.array([3600 * int(row["hour_utc"]) + 1800 for row in table]) * np.timedelta64(1, "s")
    sums = np.zeros((2, len(table)))
    for day in days:
        times = np.datetime64(day, "s") + seconds
        sums += _chance(tx, rx, times, BEACON_MHZ, BEACON_DBM + offset_db, conditions, "residential")
    chance, snr = sums.reshape(2, -1, 24) / len(days)
    heard, active = (
        np.array([float(row[name]) for row in table]).reshape(-1, 24)
        for name in ("days_heard", "days_active")
    )
    distance = great_circle.distance_km(*tx.T, *rx.T).reshape(-1, 24)[:, 0]
    return BeaconMonth(chance, snr, heard, active, distance)


@dataclass(frozen=True, eq=False)
class Fitted:
    """The beacon month with two numbers fitted to it.

    availability: share of the time a receiver listens (0..1). offset_db: of the beacon's station.
    log_likelihood: mean per receiver, hour and day [nepers]; climatology: that of one rate for all.
    promised: share of days, receivers x 24.
    """

    availability: float
    offset_db: float
    log_likelihood: float
    climatology: float
    promised: FloatArray


def fit_beacon(conditions: Conditions, days: tuple[str, ...] = BEACON_DAYS[::3]) -> Fitted:
    """Fit one availability and one offset: days heard are binomial among a receiver's active days."""
    offsets = np.arange(-10.0, 12.6, 2.5)
    months = [beacon_month(conditions, days, float(offset)) for offset in offsets]
    shares = np.arange(0.2, 1.001, 0.025)
    table = months[0]
    value = np.array([[_log_likelihood(share * m.chance, table) for share in shares] for m in months])
    i, j = np.unravel_index(int(np.argmax(value)), value.shape)
    rate = np.full(table.chance.shape, np.sum(table.days_heard) / np.sum(table.days_active))
    return Fitted(
        availability=float(shares[j]),
        offset_db=float(offsets[i]),
        log_likelihood=float(value[i, j]),
        climatology=_log_likelihood(rate, table),
        promised=np.clip(shares[j] * months[i].chance, 0.0, 1.0),
    )


def _log_likelihood(promised: FloatArray, table: BeaconMonth) -> float:
    share = np.clip(promised, LEAST_CHANCE, 1.0 - LEAST_CHANCE)
    heard, missed = table.days_heard, table.days_active - table.days_heard
    return float(np.sum(heard * np.log(share) + missed * np.log(1.0 - share)) / np.sum(table.days_active))


@dataclass(frozen=True, eq=False)
class Reliability:
    """Promised against observed in bins of the promise: mean promised, share observed, days, per bin.

    brier: mean square of promise less outcome, by receiver, hour and day. skill: what is gained on promising
    one rate for all, 1 perfect, 0 nothing. hour_skill: on promising each hour its own rate.
    """

    promised: FloatArray
    observed: FloatArray
    days: FloatArray
    brier: float
    skill: float
    hour_skill: float


def reliability(promised: FloatArray, table: BeaconMonth, bins: int = 10) -> Reliability:
    """The reliability table and the Brier score (1950) with its skill over climatology."""
    heard, active = table.days_heard, table.days_active
    place = np.minimum((promised * bins).astype(np.int64), bins - 1).ravel()

    def per_bin(values: FloatArray) -> FloatArray:
        return as_float(np.bincount(place, values.ravel(), minlength=bins))

    days = per_bin(active)
    known = np.where(days > 0.0, days, np.nan)
    brier = _brier(promised, heard, active)
    rate = np.full(promised.shape, np.sum(heard) / np.sum(active))
    by_hour = np.broadcast_to(np.sum(heard, axis=0) / np.sum(active, axis=0), promised.shape)
    return Reliability(
        promised=per_bin(active * promised) / known,
        observed=per_bin(heard) / known,
        days=days,
        brier=brier,
        skill=1.0 - brier / _brier(rate, heard, active),
        hour_skill=1.0 - brier / _brier(by_hour, heard, active),
    )


def _brier(promised: FloatArray, heard: FloatArray, active: FloatArray) -> float:
    squares = heard * (1.0 - promised) ** 2 + (active - heard) * promised**2
    return float(np.sum(squares) / np.sum(active))


# --- the world, a day --------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class WorldDay:
    """Bands x distances x 24 solar hours: reports, mean chance, residual [nepers] (NaN without reports).

    A residual over zero: more was heard than promised, hour against hour. activity (24,): people's [nepers].
    """

    bands: tuple[str, ...]
    edges_km: tuple[tuple[int, int], ...]
    reports: FloatArray
    chance: FloatArray
    residual: FloatArray
    activity: FloatArray

    def of(self, band: str) -> FloatArray:
        """Residuals of a band, distances x 24."""
        return as_float(self.residual[self.bands.index(band)])

    def mean_residual(self, bands: tuple[str, ...] = SCORED_BANDS) -> float:
        """Mean absolute residual [nepers] of some bands."""
        return float(np.nanmean(np.abs([self.of(band) for band in bands])))

    def runs(self, bands: tuple[str, ...] = SCORED_BANDS) -> list[tuple[str, int, int, int, float]]:
        """(band, from km, first hour, hours, mean residual) of every long run of large residuals of a sign.

        Hours run on past midnight; a cell without reports ends a run.
        """
        found = []
        for band in bands:
            for (low, _), row in zip(self.edges_km, self.of(band), strict=True):
                for sign in (1.0, -1.0):
                    large = np.nan_to_num(sign * row, nan=0.0) > RUN_RESIDUAL
                    for first, length in _cyclic_runs(large):
                        hours = (first + np.arange(length)) % 24
                        if length >= RUN_CELLS:
                            found.append((band, low, first, length, float(np.mean(row[hours]))))
        return found


def _cyclic_runs(large: Any) -> list[tuple[int, int]]:
    """(first, length) of the runs of True in a ring."""
    if np.all(large):
        return [(0, len(large))]
    starts = np.flatnonzero(large & ~np.roll(large, 1))
    ring = np.concatenate([large, large])
    return [(int(s), int(np.argmin(ring[s:]))) for s in starts]


def world_day(conditions: Conditions, bands: tuple[str, ...] = tuple(MHZ)) -> WorldDay:
    """The day: log(reports) - log(chance) = c(band, distance) + a(hour) + residual, fitted by medians.

    The activity a is fitted on the scored bands alone, c on every band.
    """
    day = load(conditions, bands)
    edges, reports, chance = day.edges_km, day.reports, day.chance
    with np.errstate(divide="ignore"):
        ratio = np.where(reports > 0.0, np.log(reports) - np.log(np.maximum(chance, LEAST_CHANCE)), np.nan)
    scored = [bands.index(band) for band in SCORED_BANDS if band in bands]
    activity = np.zeros(24)
    for _ in range(100):
        level = np.nanmedian(ratio[scored] - activity, axis=-1, keepdims=True)
        activity = np.nanmedian((ratio[scored] - level).reshape(-1, 24), axis=0)
    residual = ratio - activity - np.nanmedian(ratio - activity, axis=-1, keepdims=True)
    return WorldDay(
        bands, edges, reports, chance, np.clip(residual, -MOST_RESIDUAL, MOST_RESIDUAL), activity
    )  # fmt: skip


# --- people on the bands, the same day ---------------------------------------------------------------------


def expected(day: ReportDay, times_usual: FloatArray | None) -> FloatArray:
    """Reports to expect on each band at a distance and hour, relative to the other bands (B, D, 24).

    times_usual (B, 24): share of a band at an hour relative to common practice, None for common practice.
    """
    chance = np.maximum(day.chance, LEAST_CHANCE) * usual_shares(day.bands)[:, None, None]
    return chance if times_usual is None else as_float(chance * times_usual[:, None])


def split_deviance(
    day: ReportDay, times_usual: FloatArray | None, distances: Sequence[int], levels: bool = False
) -> float:
    """Mean log likelihood ratio of observed and expected bands, per report [nepers]; mean over distances.

    0 is perfect. The total of each distance and hour is that of the reports. levels: so is that of each
    distance and band, which leaves only the shift between bands from hour to hour.
    """
    promised = expected(day, times_usual)
    found = []
    for d in distances:
        reports, mean = day.reports[:, d], promised[:, d]
        for _ in range(200 if levels else 1):
            if levels:
                mean = mean * (np.sum(reports, axis=1) / np.sum(mean, axis=1))[:, None]
            mean = mean * np.sum(reports, axis=0) / np.sum(mean, axis=0)
        seen = reports > 0.0
        found.append(np.sum(reports[seen] * np.log(reports[seen] / mean[seen])) / np.sum(reports))
    return float(np.mean(found))


def first_choice(score: FloatArray, reports: FloatArray, one_in: float = ONE_REPORT_IN) -> float:
    """Share of hours in which the band of the highest score was heard, of those with any band heard.

    score, reports (B, ..., 24). A listener receives one report in `one_in`: heard is a Poisson law's one or
    more of reports / one_in.
    """
    mean = reports / one_in
    best = np.argmax(score, axis=0)[None]
    heard = np.take_along_axis(1.0 - np.exp(-mean), best, axis=0)
    return float(np.sum(heard) / np.sum(1.0 - np.exp(-np.sum(mean, axis=0))))


# --- two far countries, a month ----------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class FarCountries:
    """Bands x 24 hours, both directions together: reports, and mean chance."""

    bands: tuple[str, ...]
    reports: FloatArray
    chance: FloatArray

    def share(self, band: str, first: int = 10, until: int = 19) -> tuple[float, float]:
        """Share of the day's reports, and of its promised chance, in the hours `first` <= h < `until`."""
        i = self.bands.index(band)
        return tuple(  # type: ignore[return-value]
            float(np.sum(v[i, first:until]) / np.sum(v[i])) for v in (self.reports, self.chance)
        )

    def first_choice_heard(self, weight: FloatArray) -> float:
        """Share of hours (with reports on any band) with reports on the band of the highest chance x weight.

        weight: broadcasts against (bands, 24).
        """
        heard = self.reports > 0.0
        best = np.argmax(self.chance * weight, axis=0)[None]
        return float(np.sum(np.take_along_axis(heard, best, axis=0)) / np.sum(np.any(heard, axis=0)))

    def people(self, habits: activity.Habits) -> FloatArray:
        """Share of the stations on each band, mean of both ends (bands, 24)."""
        times = np.datetime64(FAR_DAYS[1], "s") + np.arange(24) * np.timedelta64(3600, "s")
        ends = [
            activity.shares(*place[1], times, self.bands, habits) for place in (GREAT_BRITAIN, NEW_ZEALAND)
        ]
        return as_float(np.mean(ends, axis=0).T)

    def shape_error(self, band: str) -> float:
        """Half the sum of differences between the two shares by hour: 0 the same shape, 1 nothing shared."""
        i = self.bands.index(band)
        reports, chance = (v[i] / np.sum(v[i]) for v in (self.reports, self.chance))
        return float(0.5 * np.sum(np.abs(reports - chance)))


def far_countries(conditions: Conditions, days: tuple[str, ...] = FAR_DAYS) -> FarCountries:
    """Great Britain and New Zealand, the mean over three places at either end, days and directions."""
    bands, (named, known_mhz) = tuple(FAR_BANDS), zip(*FAR_BANDS.values(), strict=True)
    reports = np.zeros((len(bands), 24))
    for row in _table("gb_nz_april_2018.csv"):
        if row["band_mhz"] in named:
            reports[named.index(row["band_mhz"]), int(row["hour_utc"])] += float(row["reports"])
    shape = (2, len(GREAT_BRITAIN), len(NEW_ZEALAND), len(days), len(bands), 24)
    britain = np.array(GREAT_BRITAIN)[:, None, None, None, None]
    zealand = np.array(NEW_ZEALAND)[None, :, None, None, None]
    there, back = (np.broadcast_to(end, (*shape[1:], 2)) for end in (britain, zealand))
    tx, rx = np.stack([there, back]).reshape(-1, 2), np.stack([back, there]).reshape(-1, 2)
    hours = np.arange(24) * np.timedelta64(3600, "s") + np.timedelta64(1800, "s")
    times = np.array(days, dtype="datetime64[s]")[:, None, None] + hours
    mhz = np.array(known_mhz)[:, None]
    chance, _ = _chance(
        tx, rx, np.broadcast_to(times, shape).ravel(), np.broadcast_to(mhz, shape).ravel(), FAR_DBM,
        conditions, "residential",
    )  # fmt: skip
    return FarCountries(bands, reports, chance.reshape(shape).mean(axis=(0, 1, 2, 3)))
