"""Contacts an hour: what to expect over the kinds of day, and the range of the middle 80 % of the days."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, as_float
from propagation.ionosphere.variability import ES_WEIGHTS, LAYER_NODES, LAYER_WEIGHTS, normal_score

DAYS: Final = 20  # days of equal probability, between the nodes of the layer, of which a range is taken
TAIL: Final = 0.1  # share of the days below the range, and above it
_SCORES: Final = normal_score((np.arange(DAYS) + 0.5) / DAYS)
# (D, U): interpolates from the nodes of the layer's score to those days
_TO_DAYS: Final = as_float(
    np.stack([np.interp(_SCORES, LAYER_NODES, row) for row in np.eye(LAYER_NODES.size)], 1)
)


@dataclass(frozen=True, slots=True)
class Rate:
    """Contacts an hour: what to expect, and what they exceed on nine days in ten and on one."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True)
class Prospect:
    """What one band promises at one time.

    chance: of days with a place, of `wanted` contacts in the next hour with a region. rate: contacts an hour,
    None for a place, of which `wanted` is 0.
    """

    chance: float
    rate: Rate | None = None
    wanted: int = 0

    @property
    def figure(self) -> float:
        """Contacts an hour with a region, the chance with a place."""
        return self.chance if self.rate is None else self.rate.middle


@dataclass(frozen=True, eq=False, slots=True)
class Rates:
    """Arrays of rates, all of one shape [contacts an hour].

    middle: mean over the days, so that hours and bands can be added up. low, high: exceeded on nine days in
    ten and on one; a middle beyond them, where few days carry everything, widens them.
    """

    low: FloatArray
    middle: FloatArray
    high: FloatArray

    def at(self, *index: int) -> Rate:
        """Rate of one cell."""
        return Rate(float(self.low[index]), float(self.middle[index]), float(self.high[index]))


def over_days(by_day: FloatArray) -> FloatArray:
    """Mean (..) of values by kind of day (.., U, V)."""
    return as_float(np.einsum("...uv,u,v->...", by_day, LAYER_WEIGHTS, ES_WEIGHTS))


def rates_of(by_day: FloatArray) -> Rates:
    """Rates (..) from contacts an hour by kind of day (.., U, V)."""
    middle = over_days(by_day)
    low, high = np.zeros_like(middle), np.zeros_like(middle)
    some = middle > 0.0
    if np.any(some):
        low[some], high[some] = quantiles(by_day[some], (TAIL, 1.0 - TAIL))
    return Rates(np.minimum(low, middle), middle, np.maximum(high, middle))


def quantiles(by_day: FloatArray, shares: tuple[float, ...]) -> tuple[FloatArray, ...]:
    """Quantiles (..) of values by kind of day (.., U, V).

    Between the nodes of the layer's score the values are taken as linear: `DAYS` days of equal probability.
    """
    days = as_float(np.einsum("du,...uv->...dv", _TO_DAYS, by_day))
    flat = days.reshape(*days.shape[:-2], -1)
    order = np.argsort(flat, axis=-1)
    ordered = np.take_along_axis(flat, order, axis=-1)
    weight = np.tile(ES_WEIGHTS / DAYS, DAYS)[order]
    passed = np.cumsum(weight, axis=-1) - 0.5 * weight  # share of the days below the middle of each
    found = []
    for share in shares:
        last = np.maximum(np.argmax(passed >= share, axis=-1), 1)[..., None]
        (early, low), (late, high) = (
            tuple(np.take_along_axis(rows, at, axis=-1)[..., 0] for rows in (passed, ordered))
            for at in (last - 1, last)
        )
        part = np.clip((share - early) / (late - early), 0.0, 1.0)
        found.append(as_float(low + part * (high - low)))
    return tuple(found)
