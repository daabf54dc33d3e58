"""A chance that is known on a grid of times, as a smooth function of any time.

A cubic between the samples, laid through log(p / (1 - p)): so it stays between 0 and 1, follows the steep
flank of an opening, and puts the peak where it belongs between two samples.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeAlias

import numpy as np

from propagation.base.units import FloatArray, TimeArray, TimeLike

ChanceCurve: TypeAlias = Callable[[TimeLike], FloatArray]
LEAST: Final = 1e-4  # chances below it, or this near to one, are alike (ours)


def chance_curve(times: TimeArray, chance: FloatArray) -> ChanceCurve:
    """The chance as a function of time [datetime64, any shape]; beyond the samples their ends hold.

    times: datetime64[s], ascending, shape (n,), n >= 1; chance: shape (n,), 0 to 1. Cubic Hermite through
    the samples with central slopes.
    """
    seconds = times.astype("datetime64[s]").astype(np.float64)
    clipped = np.clip(np.nan_to_num(chance), LEAST, 1.0 - LEAST)
    level = np.log(clipped / (1.0 - clipped))
    if seconds.size == 1:
        held = float(clipped[0])
        return lambda when: np.full(np.shape(when), held)
    slope = np.gradient(level, seconds)

    def at(when: TimeLike) -> FloatArray:
        x = np.clip(np.asarray(when).astype("datetime64[s]").astype(np.float64), seconds[0], seconds[-1])
        left = np.clip(np.searchsorted(seconds, x, side="right") - 1, 0, seconds.size - 2)
        width = seconds[left + 1] - seconds[left]
        u = (x - seconds[left]) / width
        value = (
            level[left] * (1.0 + 2.0 * u) * (1.0 - u) ** 2
            + level[left + 1] * u * u * (3.0 - 2.0 * u)
            + width * u * (1.0 - u) * (slope[left] * (1.0 - u) - slope[left + 1] * u)
        )
        return np.asarray(1.0 / (1.0 + np.exp(-value)))

    return at


def mean_over(curve: ChanceCurve, start: np.datetime64, end: np.datetime64) -> float:
    """Mean of a curve between two times, by trapezoids of at most five minutes."""
    span = float((end - start) / np.timedelta64(1, "s"))
    count = max(int(np.ceil(span / 300.0)), 1)
    ticks = start.astype("datetime64[s]") + np.linspace(0.0, span, count + 1).astype("timedelta64[s]")
    values = curve(ticks)
    return float(np.mean(0.5 * (values[1:] + values[:-1])))
