"""Contacts of a plan: what to expect of its stays, and the range that eight of ten outings keep.

The sum to expect is that of the rates told. The range comes from simulated outings (K). Each has one kind of
day, one offset of the station, one activity of everybody and one of each band, all common to the whole
outing, as in `outing_estimate`. The sums are made within each outing first, then the quantiles are taken.
The number counted follows a Poisson law of the sum. The circuits are not computed again for the offset: it
moves the share of the stations in reach along a logistic curve.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final, Protocol

import numpy as np

from propagation.advice.outing_estimate import BAND_SHAPE
from propagation.advice.people import limited, unlimited
from propagation.advice.rates import TAIL
from propagation.advice.switching import MINUTE, BandStay
from propagation.base.units import FloatArray, IntArray, TimeArray, as_float
from propagation.ionosphere.variability import ES_WEIGHTS, LAYER_NODES
from propagation.spectrum.bands import BANDS

OUTINGS: Final = 1000  # simulated outings behind a range (ours)
# Spread of the logarithm of the odds of a station in reach, about the forecast: 0.13 a dB of the station's
# offset, whose spread is 6 dB, and 0.02 a dB of the noise's (calibrated, simulated outings)
REACH_SD: Final = 0.7
BUSY_SD: Final = 0.5  # of the logarithm of everybody's activity: that of the nodes of `BUSY` (ours)
LEAST_ODDS: Final = 1e-9  # share of the stations in reach taken as the least, and as the least missing
SUM_MIN: Final = 10.0  # minutes between the moments at which the simulated rates are summed (ours)


@dataclass(frozen=True, slots=True)
class Contacts:
    """Number of contacts: what to expect, and what nine outings in ten exceed and one in ten."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, eq=False)
class Luck:
    """What differs between the simulated outings, one value each (K,).

    score: of the F2 layer; sporadic: kind of day of sporadic E; reach: logarithm of the odds; busy: factor of
    everybody's activity; band: those of each band; counted: normal score of the number counted.
    """

    score: FloatArray
    sporadic: IntArray
    reach: FloatArray
    busy: FloatArray
    band: Mapping[str, FloatArray]
    counted: FloatArray


@lru_cache(maxsize=1)
def luck() -> Luck:
    """The same draws for every plan, so that plans differ by their rates alone."""
    rng = np.random.default_rng(20260320)
    return Luck(
        score=np.clip(rng.standard_normal(OUTINGS), LAYER_NODES[0], LAYER_NODES[-1]),
        sporadic=rng.choice(ES_WEIGHTS.size, p=ES_WEIGHTS, size=OUTINGS),
        reach=REACH_SD * rng.standard_normal(OUTINGS),
        busy=np.exp(BUSY_SD * rng.standard_normal(OUTINGS)),
        band={band.name: rng.gamma(BAND_SHAPE, 1.0 / BAND_SHAPE, OUTINGS) for band in BANDS},
        counted=rng.standard_normal(OUTINGS),
    )


class Outings(Protocol):
    """Protocol of simulated outings."""

    def per_hour(self, band: str, times: TimeArray) -> FloatArray:
        """Contacts an hour on a band at times (n,) in each outing (n, K)."""
        ...


@dataclass(frozen=True, eq=False)
class ForecastOutings:
    """Simulated outings from a forecast of regions.

    times (T,); bands (B); by_day (T, B, U, V): contacts an hour on each kind of day. most (T, B): answers an
    hour if every station on the air were in reach. ceiling: contacts an hour if every call were answered at
    once. part: of the answers that count, for some bands.
    """

    times: TimeArray
    bands: tuple[str, ...]
    by_day: FloatArray
    most: FloatArray
    ceiling: float
    part: Mapping[str, float] = field(default_factory=dict)

    def per_hour(self, band: str, times: TimeArray) -> FloatArray:
        """Contacts an hour on a band at times (n,) in each outing (n, K)."""
        chance, column = luck(), self.bands.index(band)
        answers = between(self.times, unlimited(self.by_day[:, column], self.ceiling), times)
        most = between(self.times, self.most[:, column], times)[:, None]
        left = np.clip(np.searchsorted(LAYER_NODES, chance.score) - 1, 0, LAYER_NODES.size - 2)
        into = (chance.score - LAYER_NODES[left]) / (LAYER_NODES[left + 1] - LAYER_NODES[left])
        early, late = (answers[:, nodes, chance.sporadic] for nodes in (left, left + 1))
        share = (early + into * (late - early)) / np.maximum(most, 1e-300)
        share = np.clip(share, LEAST_ODDS, 1.0 - LEAST_ODDS)
        odds = share / (1.0 - share) * np.exp(chance.reach)
        factor = chance.busy * chance.band[band] * self.part.get(band, 1.0)
        return limited(most * odds / (1.0 + odds) * factor, self.ceiling)


def between(known: TimeArray, values: FloatArray, times: TimeArray) -> FloatArray:
    """Values (T, ..) at `known` times (T,), ascending, linear between them and constant beyond: (n, ..)."""
    seconds, at = (as_float((when - known[0]) / MINUTE) for when in (known, times))
    place = np.interp(at, seconds, np.arange(known.size))
    left = np.minimum(place.astype(np.int64), max(known.size - 2, 0))
    part = (place - left).reshape(-1, *(1,) * (values.ndim - 1))
    early, late = values[left], values[np.minimum(left + 1, known.size - 1)]
    return as_float(early + part * (late - early))


def expected_in(outings: Outings, stays: Sequence[BandStay]) -> FloatArray:
    """Mean number of contacts in each stay of every simulated outing (stays, K)."""
    found = []
    for stay in stays:
        minutes = max(stay.on_air_min, 0.0)
        count = max(int(np.ceil(minutes / SUM_MIN)), 1)
        middles = 60.0 * minutes * (np.arange(count) + 0.5) / count
        times = stay.ready + np.rint(middles).astype("timedelta64[s]")
        found.append(outings.per_hour(stay.band, times).mean(axis=0) * minutes / 60.0)
    return as_float(np.stack(found))


def contacts_of(middle: float, expected: FloatArray) -> Contacts:
    """Contacts to expect, with the range over the simulated outings: their mean numbers (K,).

    The number counted is that of a Poisson law, by Anscombe's square root, which is normal.
    """
    counted = np.maximum(np.sqrt(expected + 0.375) + 0.5 * luck().counted, 0.0) ** 2 - 0.375
    low, high = np.quantile(np.maximum(counted, 0.0), (TAIL, 1.0 - TAIL))
    return Contacts(min(float(low), middle), middle, max(float(high), middle))
