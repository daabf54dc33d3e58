"""What every band promises minute by minute, and the mean over stretches of an outing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

from propagation.advice.rates import Prospect, Rate, Rates
from propagation.advice.region_chance import outlook
from propagation.base.units import FloatArray, IntArray, TimeArray
from propagation.signal.chances.forecast import Forecast

MINUTE: Final = np.timedelta64(60, "s")
Stretch: TypeAlias = tuple[str, np.datetime64, np.datetime64]  # band, start, end


@dataclass(frozen=True, eq=False)
class Minutes:
    """What every band promises minute by minute.

    times (M,); chance (M, B); rates: contacts an hour (M, B) with a region, None for a place.
    """

    times: TimeArray
    bands: tuple[str, ...]
    chance: FloatArray
    rates: Rates | None
    wanted: int

    @property
    def figure(self) -> FloatArray:
        """Contacts an hour with a region, the chance with a place (M, B)."""
        return self.chance if self.rates is None else self.rates.middle

    def between(self, band: str, start: np.datetime64, end: np.datetime64) -> tuple[IntArray, int]:
        """Index of the minutes of a stretch on a band."""
        return np.flatnonzero((self.times >= start) & (self.times < end)), self.bands.index(band)

    def at(self, minute: int, band: int) -> Prospect:
        """What a band (index) promises at a minute."""
        rate = None if self.rates is None else self.rates.at(minute, band)
        return Prospect(float(self.chance[minute, band]), rate, self.wanted)

    def mean(self, stretches: Sequence[Stretch], minutes: float) -> Prospect:
        """What stretches promise together, over a time of so many minutes."""
        cells = [self.between(*one) for one in stretches]

        def over(values: FloatArray) -> float:
            return float(np.sum([np.sum(values[one]) for one in cells])) / minutes

        rates = self.rates
        rate = None if rates is None else Rate(over(rates.low), over(rates.middle), over(rates.high))
        return Prospect(over(self.chance), rate, self.wanted)


def by_minute(result: Forecast) -> Minutes:
    """Interpolate a forecast's promises to the minute."""
    seen = outlook(result)
    count = int((result.times[-1] - result.times[0]) / MINUTE)
    minutes = result.times[0] + np.arange(count + 1) * MINUTE
    at, known = minutes.astype(np.float64), result.times.astype(np.float64)

    def drawn(values: FloatArray) -> FloatArray:
        return np.stack([np.interp(at, known, column) for column in values.T], axis=1)

    rates = None
    if seen.people is not None:
        rate = seen.people.rate
        rates = Rates(*(drawn(rows) for rows in (rate.low, rate.middle, rate.high)))
    bands = tuple(band.name for band in result.bands)
    return Minutes(minutes, bands, drawn(seen.chance), rates, seen.wanted)
