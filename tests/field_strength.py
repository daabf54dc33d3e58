"""Scores against measured field strengths (`fixtures/field_strength/`): for test and benchmark.

The bank is that of Recommendation ITU-R P.1148, which asks for count, mean difference, standard deviation and
root mean square of measured less predicted, by classes. Differences are of monthly medians of one hour.
Reading and predicting are the builder's of `propagation/data/field_experience.csv`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any, Final

import numpy as np

from propagation.base.units import FloatArray
from propagation.data.builders.field_experience import Bank, Predicted, load, predict, residual_db

FOLDS: Final = 3  # thirds of the pairs of places, every third one in order of distance
CORRELATION_HOURS: Final = 8  # hours measured in a circuit-month, from which it has a correlation
LEVEL_HOURS: Final = 3  # and a level
FAR_CLASSES_KM: Final = (0.0, 4000.0, 9000.0, 12_000.0, 16_000.0, 20_015.0, 41_000.0)
# Edges of the classes. Zenith angles of the sun at the middle: day, dusk or dawn, night.
EDGES: Final[dict[str, tuple[float, ...]]] = {
    "distance, km": (0, 500, 1000, 2000, 4000, 7000, 9000, 12_000, 16_000, 20_015, 41_000),
    "frequency, MHz": (2, 3.5, 5, 7, 10, 13, 16, 20, 30),
    "frequency over MUF": (0, 0.2, 0.3, 0.45, 0.6, 0.75, 0.9, 1, 1.1, 1.3, 1.7, 20),
    "local hour at the middle": (0, 3, 6, 9, 12, 15, 18, 21, 24.001),
    "season at the middle (winter -1, summer +1)": (-1.1, -0.5, 0.5, 1.1),
    "activity, R12": (0, 25, 50, 75, 100, 130, 200),
    "geomagnetic latitude at the middle, deg": (0, 20, 40, 50, 60, 90.001),
}
LIGHT: Final = (("day", 0.0, 80.0), ("dusk, dawn", 80.0, 100.0), ("night", 100.0, 181.0))  # zenith angle, deg


@dataclass(frozen=True)
class Score:
    """What P.1148 asks for: count; mean, standard deviation and root mean square [dB]."""

    count: int
    mean_db: float
    deviation_db: float
    rms_db: float

    def __str__(self) -> str:
        return f"{self.count:6d} {self.mean_db:+6.1f} {self.deviation_db:5.1f} {self.rms_db:5.1f}"


@dataclass(frozen=True, eq=False)
class Comparison:
    """The bank, what the engine says of it, and measured less predicted (N, 24), NaN where not measured."""

    bank: Bank
    predicted: Predicted
    residual: FloatArray

    @property
    def distance_km(self) -> FloatArray:
        """Length of the path of each hour (N, 24) [km]."""
        return np.broadcast_to(self.bank.distance_km[:, None], self.residual.shape)

    def score(self, mask: Any = True) -> Score:
        """Score of the hours inside a mask that broadcasts with (N, 24)."""
        found = self.residual[np.isfinite(self.residual) & mask]
        if not found.size:
            return Score(0, np.nan, np.nan, np.nan)
        return Score(found.size, float(found.mean()), float(found.std()), float(np.sqrt(np.mean(found**2))))

    def of(self, mask: Any) -> Comparison:
        """The same with all hours outside a mask that broadcasts with (N, 24) left out of every score."""
        return Comparison(self.bank, self.predicted, np.where(mask, self.residual, np.nan))

    def classes(self) -> Iterator[tuple[str, str, Score]]:
        """(quantity, class, score) of every class with a value."""
        for quantity, values in self._values().items():
            edges = EDGES[quantity]
            for low, high in pairwise(edges):
                found = self.score((values >= low) & (values < high))
                if found.count:
                    yield quantity, f"{low:g} to {high:g}", found

    def cells(self) -> Iterator[tuple[str, str, Score]]:
        """The same of distance, light and frequency over MUF together."""
        values, zenith = self._values(), self.predicted.zenith_deg
        ratio, km = values["frequency over MUF"], values["distance, km"]
        kms, ratios = EDGES["distance, km"], EDGES["frequency over MUF"]
        for near, far in pairwise(kms):
            for light, high_sun, low_sun in LIGHT:
                for low, high in pairwise(ratios):
                    inside = (km >= near) & (km < far) & (zenith >= high_sun) & (zenith < low_sun)
                    found = self.score(inside & (ratio >= low) & (ratio < high))
                    if found.count:
                        yield f"{near:g} to {far:g} km, {light}", f"{low:g} to {high:g} of the MUF", found

    def _values(self) -> dict[str, FloatArray]:
        """The quantity of each row of classes (N, 24)."""
        bank, predicted, shape = self.bank, self.predicted, self.residual.shape
        found = (
            self.distance_km,
            np.broadcast_to(bank.frequency_mhz[:, None], shape),
            bank.frequency_mhz[:, None] / predicted.muf_mhz,
            predicted.solar_hour,
            predicted.season,
            np.broadcast_to(bank.r12[:, None], shape),
            np.abs(predicted.geomagnetic_latitude_deg),
        )
        return dict(zip(EDGES, found, strict=True))

    def correlations(self, low_km: float, high_km: float) -> FloatArray:
        """Correlation over the hours of each circuit-month of these lengths that has hours enough."""
        found = []
        for row in np.flatnonzero((self.bank.distance_km >= low_km) & (self.bank.distance_km < high_km)):
            seen = np.isfinite(self.residual[row])
            measured = self.bank.measured_db[row, seen]
            predicted = measured - self.residual[row, seen]
            if seen.sum() >= CORRELATION_HOURS and np.std(measured) > 0.0 and np.std(predicted) > 0.0:
                found.append(np.corrcoef(measured, predicted)[0, 1])
        return np.array(found)

    def levels(self, low_km: float, high_km: float) -> FloatArray:
        """Mean of measured less predicted [dB] of each circuit-month of these lengths with hours enough."""
        lengths = (self.bank.distance_km >= low_km) & (self.bank.distance_km < high_km)
        rows = self.residual[lengths & (np.isfinite(self.residual).sum(axis=-1) >= LEVEL_HOURS)]
        return np.nanmean(rows, axis=-1) if rows.size else np.empty(0)


@cache
def comparison() -> Comparison:
    """The whole bank, computed once."""
    bank = load()
    predicted = predict(bank)
    return Comparison(bank, predicted, residual_db(bank, predicted))


def fold_of(bank: Bank) -> Any:
    """The third (0, 1 or 2) of each circuit-month (N, 1): pairs of places, in order of distance, in turn."""
    pairs = list(zip(*bank.tx, *bank.rx, bank.long, strict=True))
    length = dict(zip(pairs, bank.distance_km, strict=True))
    place = {pair: i for i, pair in enumerate(sorted(length, key=lambda pair: (length[pair], pair)))}
    return np.array([place[pair] % FOLDS for pair in pairs])[:, None]
