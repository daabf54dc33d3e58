"""Search for the times at which a function opens, closes and peaks: sunrise, band openings and the like.

The function is sampled at a step, and every change of sign is then narrowed by bisection. Each halving calls
the function once for all changes. It takes a one-dimensional array of datetime64[s] and returns an array of
the same length: real numbers, or booleans. "Open" means greater than zero; NaN counts as closed. An opening
shorter than the step can fall between two samples and is then missed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray

TimeFunction: TypeAlias = Callable[[TimeArray], npt.NDArray[Any]]
STEP: Final = np.timedelta64(10, "m")  # usual sampling step of a day's search
TOLERANCE: Final = np.timedelta64(10, "s")  # usual width to which an edge is narrowed
_GOLDEN: Final = 0.381966  # 1 - 1/phi, where golden-section search places its inner point


@dataclass(frozen=True)
class Crossings:
    """Times at which a function opens (rising) or closes.

    times: datetime64[s], shape (n,), in order, each on the open side of its edge; rising: bool, shape (n,).
    """

    times: TimeArray
    rising: BoolArray


@dataclass(frozen=True)
class OpenPeriod:
    """Contiguous period during which a function is greater than zero.

    start, end: first and last open time; peak: the function's greatest value and peak_time its time;
    opens, closes: False where the start or end of the search, not the function, limits the period.
    """

    start: np.datetime64
    end: np.datetime64
    peak: float
    peak_time: np.datetime64
    opens: bool = True
    closes: bool = True


def sample_times(start: np.datetime64, end: np.datetime64, step: np.timedelta64 = STEP) -> TimeArray:
    """Times from start to end, both included, no more than step apart; datetime64[s], shape (n,).

    Raises ValueError if step is not positive or end is before start.
    """
    first, last = _seconds(start), _seconds(end)
    width = int(step / np.timedelta64(1, "s"))
    if width < 1 or last < first:
        raise ValueError("a search needs a step of at least a second and an end not before its start")
    count = -(-(last - first) // width) + 1
    ticks = first + np.minimum(np.arange(count, dtype=np.int64) * width, last - first)
    return _times(ticks)


def crossings(
    f: TimeFunction,
    start: np.datetime64,
    end: np.datetime64,
    step: np.timedelta64 = STEP,
    tolerance: np.timedelta64 = TOLERANCE,
) -> Crossings:
    """All openings and closings of f between start and end, within tolerance (not below one second)."""
    ticks = sample_times(start, end, step).astype(np.int64)
    state = _open(_values(f, ticks))
    return _refine(f, ticks, state, tolerance)


def spans(
    f: TimeFunction,
    start: np.datetime64,
    end: np.datetime64,
    step: np.timedelta64 = STEP,
    tolerance: np.timedelta64 = TOLERANCE,
) -> list[OpenPeriod]:
    """Return the periods between start and end during which f > 0, in order, with their peaks.

    Edges and peak times are narrowed to tolerance; the search for the peak begins at the best sample.
    """
    ticks = sample_times(start, end, step).astype(np.int64)
    values = _values(f, ticks)
    state = _open(values)
    edges = _refine(f, ticks, state, tolerance)
    first, last = _runs(state)
    if first.size == 0:
        return []
    begin, finish = ticks[first].copy(), ticks[last].copy()
    edge_ticks = edges.times.astype(np.int64)
    opens, closes = first > 0, last < ticks.size - 1
    begin[opens] = edge_ticks[edges.rising]
    finish[closes] = edge_ticks[~edges.rising]
    best = np.array([i + int(np.argmax(values[i : j + 1])) for i, j in zip(first, last, strict=True)])
    peak_ticks, peaks = _peaks(f, ticks, values, best, begin, finish, tolerance)
    return [
        OpenPeriod(a, b, float(peak), at, bool(o), bool(c))
        for a, b, peak, at, o, c in zip(
            _times(begin), _times(finish), peaks, _times(peak_ticks), opens, closes, strict=True
        )
    ]


def _seconds(time: np.datetime64) -> int:
    return int(time.astype("datetime64[s]").astype(np.int64))


def _times(ticks: IntArray) -> TimeArray:
    return ticks.astype("datetime64[s]")


def _values(f: TimeFunction, ticks: IntArray) -> FloatArray:
    return np.asarray(f(_times(ticks)), dtype=np.float64)


def _open(values: FloatArray) -> BoolArray:
    return values > 0.0  # NaN compares False


def _runs(state: BoolArray) -> tuple[IntArray, IntArray]:
    """First and last index of each run of True."""
    padded = np.concatenate(([False], state, [False])).astype(np.int8)
    change = np.diff(padded)
    return np.flatnonzero(change == 1), np.flatnonzero(change == -1) - 1


def _refine(f: TimeFunction, ticks: IntArray, state: BoolArray, tolerance: np.timedelta64) -> Crossings:
    """Bisect every change of state at once."""
    at = np.flatnonzero(state[1:] != state[:-1])
    rising = state[at + 1]
    low, high = ticks[at].copy(), ticks[at + 1].copy()
    width = max(int(tolerance / np.timedelta64(1, "s")), 1)
    while low.size and int(np.max(high - low)) > width:
        middle = (low + high) // 2
        after = _open(_values(f, middle)) == rising
        high = np.where(after, middle, high)
        low = np.where(after, low, middle)
    return Crossings(_times(np.where(rising, high, low)), rising)


def _peaks(
    f: TimeFunction,
    ticks: IntArray,
    values: FloatArray,
    best: IntArray,
    begin: IntArray,
    finish: IntArray,
    tolerance: np.timedelta64,
) -> tuple[IntArray, FloatArray]:
    """Golden-section search for the maximum around each best sample, all at once."""
    low = np.maximum(ticks[np.maximum(best - 1, 0)], begin).astype(np.float64)
    high = np.minimum(ticks[np.minimum(best + 1, ticks.size - 1)], finish).astype(np.float64)
    peak_ticks, peaks = ticks[best].copy(), values[best].copy()
    width = max(float(tolerance / np.timedelta64(1, "s")), 1.0)
    while float(np.max(high - low)) > width:
        left = low + _GOLDEN * (high - low)
        right = high - _GOLDEN * (high - low)
        tried = np.rint(np.concatenate((left, right))).astype(np.int64)
        found = _values(f, tried)
        n = left.size
        for trial, value in ((tried[:n], found[:n]), (tried[n:], found[n:])):
            better = value > peaks
            peak_ticks = np.where(better, trial, peak_ticks)
            peaks = np.where(better, value, peaks)
        keep_left = found[:n] > found[n:]
        high = np.where(keep_left, right, high)
        low = np.where(keep_left, low, left)
    return peak_ticks, peaks
