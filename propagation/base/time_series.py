"""Series of times and values, looked up by arrays of times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np

from propagation.base.units import FloatArray, TimeArray, TimeLike, as_float


def as_times(times: Any) -> TimeArray:
    """Times as datetime64[s], UTC, of any shape."""
    return cast(TimeArray, np.asarray(times, dtype="datetime64[s]"))


def shifted(times: Any, by: Any) -> TimeArray:
    """Times moved by time differences [timedelta64], both of any shapes that broadcast: datetime64[s]."""
    return as_times(as_times(times) + np.asarray(by).astype("timedelta64[s]"))


def later(time: np.datetime64, by: np.timedelta64) -> np.datetime64:
    """One time moved by a time difference."""
    return cast(np.datetime64, (time + by).astype("datetime64[s]"))


@dataclass(frozen=True, eq=False)
class TimeSeries:
    """Values at times: `times` [datetime64[s], UTC, rising] and `values` of equal length (may be empty)."""

    times: TimeArray
    values: FloatArray

    @staticmethod
    def of(times: Sequence[np.datetime64] | TimeArray, values: Sequence[float] | FloatArray) -> TimeSeries:
        """Make a series from times in any order; of equal times the last counts; NaN values are left out."""
        moments = as_times(times).ravel()
        numbers = as_float(values).ravel()
        known = ~(np.isnan(numbers) | np.isnat(moments))
        moments, numbers = moments[known][::-1], numbers[known][::-1]
        unique, first = np.unique(moments, return_index=True)
        return TimeSeries(unique, numbers[first])

    def __len__(self) -> int:
        return len(self.times)

    def over(self, base: TimeSeries) -> TimeSeries:
        """Merge this series with another: at equal times this one counts."""
        return TimeSeries.of(
            np.concatenate([base.times, self.times]), np.concatenate([base.values, self.values])
        )

    def linear_at(self, times: TimeLike) -> FloatArray:
        """Interpolate linearly, with the end values held outside the record; NaN if it is empty.

        times: [datetime64, UTC] of any shape; returns the same shape.
        """
        moments = as_times(times)
        if not len(self):
            return np.full(moments.shape, np.nan)
        return as_float(np.interp(moments.astype(np.float64), self.times.astype(np.float64), self.values))

    def held_at(self, times: TimeLike, longest: np.timedelta64) -> FloatArray:
        """Return the last value not older than `longest` at each time, NaN where none; same shape."""
        moments = as_times(times)
        if not len(self):
            return np.full(moments.shape, np.nan)
        index = np.searchsorted(self.times, moments, side="right") - 1
        held = np.maximum(index, 0)
        valid = (index >= 0) & (moments - self.times[held] < longest)
        return np.where(valid, self.values[held], np.nan)


EMPTY = TimeSeries(np.array([], dtype="datetime64[s]"), np.array([], dtype=np.float64))
