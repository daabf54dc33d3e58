"""Indices of solar activity and the ways between them.

The maps of foF2 and M(3000)F2 were made with the smoothed sunspot number R12 of the series in use before July
2015 ("version 1"). Best for them is not a number of spots but the *ionospheric index* IG12, on the scale
of R12: the number with which the maps give what ionosondes measured. It goes below 0, to -13 in the
minimum of 2019, when the layer was thinner than in any minimum the maps were made from.

Relations:

* index from the 10.7 cm flux and from the sunspot number of version 2: parabolas fitted to the monthly,
  smoothed values of April 1958 to December 2024 (`data/ionospheric_index.provenance.md`), residual 5.9 and
  5.1 units. Above the fitted span they go on straight, so more sun never means less; below
  `LOWEST_INDEX` they are held.
* R12 of version 1 is 0.7 times the published number of version 2. Formulas that were made with sunspots
  (absorption, the heights of reflection, the spread of days, sporadic E) are given this and never the index.
* foE is given the flux that goes with the index. Where flux and index part for years (by 10 units since 2019)
  that moves foE by 1 to 2 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float

VERSION_1_PER_VERSION_2: Final = 0.7  # R12(v1) / R12(v2), common practice, from memory
LOWEST_INDEX: Final = -15.0  # ours: IG12 of 1958 to 2025 went down to -13.3; so far the maps are extrapolated
TABLE: Final = Path(__file__).parents[2] / "data" / "ionospheric_index.npz"


@dataclass(frozen=True)
class Relation:
    """y = a + b x + c x^2 up to x = top, beyond it the tangent; rising throughout (b > 0 > c)."""

    a: float
    b: float
    c: float
    top: float
    residual: float

    def of(self, x: FloatLike) -> FloatArray:
        """y at x, never below LOWEST_INDEX."""
        given = as_float(x)
        inside = np.minimum(given, self.top)
        y = self.a + inside * (self.b + self.c * inside) + (given - inside) * self._slope
        return np.maximum(y, LOWEST_INDEX)

    def inverse(self, y: FloatLike) -> FloatArray:
        """x at y; below LOWEST_INDEX the x of that."""
        given = np.maximum(as_float(y), LOWEST_INDEX)
        highest = self.a + self.top * (self.b + self.c * self.top)
        inside = np.minimum(given, highest)
        root = np.sqrt(self.b**2 + 4.0 * self.c * (inside - self.a))
        return np.asarray((root - self.b) / (2.0 * self.c) + (given - inside) / self._slope)

    @property
    def _slope(self) -> float:
        return self.b + 2.0 * self.c * self.top


@cache
def relation_of_flux() -> Relation:
    """The index as a function of the 10.7 cm flux [sfu]."""
    return _read("index_of_flux", "flux_span_sfu", 0)


@cache
def relation_of_ssn() -> Relation:
    """The index as a function of the smoothed sunspot number, version 2."""
    return _read("index_of_ssn", "ssn_span", 1)


def _read(name: str, span: str, number: int) -> Relation:
    with np.load(TABLE, allow_pickle=False) as table:
        a, b, c = (float(value) for value in table[name])
        return Relation(a, b, c, float(table[span][1]), float(table["residual"][number]))


@cache
def following() -> float:
    """Share of a month's departure of flux from its smoothed course that the index follows: about 0.6."""
    with np.load(TABLE, allow_pickle=False) as table:
        return float(table["following"])


def index_from_flux(flux_sfu: FloatLike) -> FloatArray:
    """Ionospheric index (scale of R12) that goes with a smoothed 10.7 cm flux as observed [sfu].

    At 70, 100, 150 and 200 sfu: -2, 44, 106 and 148. In the months of 1958 to 2024 the index lay within 6 of
    it (root mean square).
    """
    return relation_of_flux().of(flux_sfu)


def flux_from_index(index: FloatLike) -> FloatArray:
    """10.7 cm flux [sfu] that goes with an ionospheric index: the inverse of `index_from_flux`."""
    return relation_of_flux().inverse(index)


def index_from_ssn(ssn_version_2: FloatLike) -> FloatArray:
    """Ionospheric index (scale of R12) that goes with a smoothed sunspot number of version 2.

    At 0, 50, 100 and 150: -14, 37, 81 and 117.
    """
    return relation_of_ssn().of(ssn_version_2)


def ssn_from_index(index: FloatLike) -> FloatArray:
    """Sunspot number (version 2) that goes with an ionospheric index: the inverse, never below 0."""
    return np.maximum(relation_of_ssn().inverse(index), 0.0)


def r12_from_index(index: FloatLike) -> FloatArray:
    """R12 (version 1, >= 0) that goes with an ionospheric index, for formulas made with sunspots."""
    return r12_from_ssn(ssn_from_index(index))


def r12_from_ssn(ssn_version_2: FloatLike) -> FloatArray:
    """Version-1 sunspot number out of one published since July 2015: times 0.7 (from memory)."""
    return np.asarray(VERSION_1_PER_VERSION_2 * as_float(ssn_version_2))
