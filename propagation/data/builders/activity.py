"""Make `activity.csv`: on which band people are at each hour, from a day of reception reports.

Run from the root when the engine's levels or the shares of the bands have changed (two seconds):

    python -m propagation.data.builders.activity

Reads `fixtures/reception/world_day_2017-07-01.csv` and computes the chance of such paths.
`activity.provenance.md` describes the method, the columns and the limits.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import NormalDist
from typing import Any, Final

import numpy as np

from propagation.advice import activity
from propagation.base.units import FloatArray, as_float
from propagation.geo import great_circle
from propagation.signal.chances.many_circuits import Rows, many_circuits
from propagation.space_weather.state.conditions import Conditions, built_in
from propagation.spectrum.noise import NoiseLevel
from propagation.station.terminals import plain_terminal

REPORTS: Final = Path(__file__).resolve().parents[3] / "fixtures" / "reception" / "world_day_2017-07-01.csv"
DAY: Final = np.datetime64("2017-07-01", "s")
MHZ: Final = {"10m": 28.126, "15m": 21.096, "20m": 14.097, "40m": 7.040, "80m": 3.570, "160m": 1.838}
NAMED: Final = {"28": "10m", "21": "15m", "14": "20m", "7": "40m", "3": "80m", "1": "160m"}
DBM: Final = 28.0  # dBm, an ordinary beacon
REQUIRED_DB: Final = -24.0  # dB in 2500 Hz: a slow beacon's -29 and 5 for fading, as for the digital modes
MIDDLES_DEG: Final = ((50.0, 10.0), (40.0, -85.0))  # lat, lon: Europe and North America
BEARINGS_DEG: Final = (0.0, 45.0, 90.0, 135.0)  # of the path at its middle; both directions each

# km: on longer paths the solar hour at the middle differs by more than two hours from that of the people
LONGEST_KM: Final = 4000
LEAST_CHANCE: Final = 0.003  # smaller chances count as this, larger ones than 1 - this likewise
# standard deviations of the spread of days and stations: error of the forecast. 9 dB, the root mean square
# error of levels over the ITU-R's bank, over 15 dB, the spread of two unknown stations and the days (ours)
ERROR: Final = 0.6
# nepers: how far a band's share at an hour departs from the band's mean share, before any report (ours).
# Between what the halves of the near paths ask for (2 or more) and what longer paths do (at most 0.25)
DEPARTURE: Final = 0.5
ROUNDS: Final = 300  # of the iteration; the last changes are below 1e-6


@dataclass(frozen=True, eq=False)
class ReportDay:
    """Reports and chances of a day.

    bands (B,): names. edges_km (D,): from and to. reports (B, D, 24): counts by solar hour at the middle of
    the path. chance: mean of such paths, same shape.
    """

    bands: tuple[str, ...]
    edges_km: tuple[tuple[int, int], ...]
    reports: FloatArray
    chance: FloatArray

    @property
    def near(self) -> list[int]:
        """Distances (numbers) up to `LONGEST_KM`."""
        return [i for i, (_, to) in enumerate(self.edges_km) if to <= LONGEST_KM]


@dataclass(frozen=True, eq=False)
class Split:
    """Split of the stations on the air among the bands of the reports; both (B, 24).

    times_usual: share of a band at a solar hour relative to its usual share. All bands of the reports
    together keep their usual share at every hour. weight: weight of the reports, 0..1; 0 is common practice.
    """

    times_usual: FloatArray
    weight: FloatArray


def load(conditions: Conditions | None = None, bands: Sequence[str] = tuple(MHZ)) -> ReportDay:
    """Read the reports of the bands and compute the chances of such paths."""
    with REPORTS.open(newline="", encoding="ascii") as file:
        rows = list(csv.DictReader(file))
    edges = tuple(sorted({(int(r["distance_from_km"]), int(r["distance_to_km"])) for r in rows}))
    reports = np.zeros((len(bands), len(edges), 24))
    for row in rows:
        if (band := NAMED[row["band_mhz"]]) in bands:
            where = (int(row["distance_from_km"]), int(row["distance_to_km"]))
            reports[bands.index(band), edges.index(where), int(row["solar_hour_at_middle"])] += float(
                row["reports"]
            )
    return ReportDay(tuple(bands), edges, reports, _chance(conditions or built_in(), bands, edges))


def _chance(
    conditions: Conditions, bands: Sequence[str], edges_km: tuple[tuple[int, int], ...]
) -> FloatArray:
    """Mean chance of the paths of each distance (bands, distances, 24 solar hours at their middle).

    Both ends are plain 0 dBi stations of which nothing else is known, the receivers at rural places.
    """
    lat, lon = np.array(MIDDLES_DEG).T
    bearing = np.array(BEARINGS_DEG + tuple(b + 180.0 for b in BEARINGS_DEG))
    half = 0.25 * np.sum(edges_km, axis=-1)[:, None, None]
    ends = [
        np.stack(great_circle.destination(lat[:, None], lon[:, None], bearing + turn, half), axis=-1)
        for turn in (0.0, 180.0)
    ]  # (distances, middles, bearings, 2) each
    shape = (len(bands), *ends[0].shape[:-1], 24)
    tx, rx = (
        np.broadcast_to(end[None, ..., None, :], (*shape, 2)).reshape(-1, 2) * np.ones(2) for end in ends
    )
    hours = np.mod(np.arange(24) + 0.5 - lon[:, None] / 15.0, 24.0)[:, None, :]
    seconds = np.broadcast_to((3600.0 * hours).astype(np.int64), shape).ravel()
    mhz: Any = np.array([MHZ[band] for band in bands])[:, None, None, None, None]
    mhz = np.broadcast_to(mhz, shape).ravel()
    times = DAY + seconds * np.timedelta64(1, "s")
    rows = Rows(tx[:, 0], tx[:, 1], rx[:, 0], rx[:, 1], times, mhz, np.full(len(tx), DBM))
    receiver = plain_terminal(1.0, NoiseLevel("rural"))
    found = many_circuits(rows, conditions, REQUIRED_DB, receiver=receiver)
    return as_float(found.chance.reshape(shape).mean(axis=(2, 3)))


def usual_shares(bands: Sequence[str]) -> FloatArray:
    """Usual shares of these bands among each other (B,), sum 1."""
    shares = as_float([activity.BY_BAND[band] for band in bands])
    return as_float(shares / np.sum(shares))


def split(day: ReportDay, distances: Sequence[int] | None = None, departure: float = DEPARTURE) -> Split:
    """Fit log(reports / (chance x usual share)) = t(distance, hour) + v(band, hour) + error.

    distances: numbers of those fitted, by default all that are near. t holds the number of stations by
    distance and how many are awake, so that only the split among the bands remains: exp(v). The error is that
    of counting and that of the forecast, which is large where the chance is small. v is shrunk to nothing by
    a normal law of `departure` nepers. All distances of a band and hour share the forecast's error, so they
    inform as much as the best of them.
    """
    rows = day.near if distances is None else list(distances)
    usual = usual_shares(day.bands)[:, None]
    chance = np.clip(day.chance[:, rows], LEAST_CHANCE, 1.0 - LEAST_CHANCE)
    expected = chance * usual[:, None]
    level = np.log(day.reports[:, rows] + 0.5) - np.log(expected)
    error = (ERROR * _relative_error(chance)) ** 2
    total = np.log((np.sum(day.reports[:, rows], axis=0) + 0.5) / np.sum(expected, axis=0))
    found = np.zeros((len(day.bands), 24))
    for _ in range(ROUNDS):
        counted = np.exp(total + found[:, None]) * expected
        weight = 1.0 / (error + 1.0 / (counted + 0.5))
        total = np.sum(weight * (level - found[:, None]), axis=0) / np.sum(weight, axis=0)
        mean = np.sum(weight * (level - total), axis=1) / np.sum(weight, axis=1)
        best = np.max(weight, axis=1)
        trust = best / (best + departure**-2)
        found = trust * mean
    shares = usual * np.exp(found)
    return Split(as_float(shares / np.sum(shares, axis=0) / usual), as_float(trust))


def _relative_error(chance: FloatArray) -> FloatArray:
    """Relative error of a chance for an error of one standard deviation: density over probability."""
    normal = NormalDist()
    density = np.vectorize(lambda p: normal.pdf(normal.inv_cdf(p)), otypes=[float])(chance)
    return as_float(density / chance)


def table_text(found: Split, bands: Sequence[str]) -> str:
    """The table as CSV: a line for each band and hour."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("band", "solar_hour", "times_usual", "weight_of_reports"))
    for band, times, weights in zip(bands, found.times_usual, found.weight, strict=True):
        for hour in range(24):
            writer.writerow((band, hour, f"{times[hour]:.3f}", f"{weights[hour]:.2f}"))
    return out.getvalue()


def main() -> None:
    """Write the table."""
    day = load()
    activity.TABLE.write_text(table_text(split(day), day.bands), encoding="ascii")
    print(f"{activity.TABLE}: {len(day.bands)} bands, 24 hours")


if __name__ == "__main__":
    main()
