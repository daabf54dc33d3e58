"""What measured maps say of today's F2 layer against the usual one, and how long it lasts.

The natural logarithm of foF2 over what the median map, the day's index and the storm give is a random field
of mean zero. How it resembles itself after some hours is known from ionosondes; with that, the best estimate
at any time from frames measured at others is a weighted sum (optimal linear estimation), and the same weights
say by how much the spread of days shrinks. Hours away from every frame nothing is said: exactly the median.
Shapes: F frames; the grid has 36 x 36 cells of 5 degrees of latitude and 10 of longitude.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from propagation.base.time_series import as_times, later
from propagation.base.units import BoolArray, FloatArray, FloatLike, TimeArray, TimeLike, as_float

LATITUDES_DEG: Final = as_float(np.arange(36) * 5.0 - 87.5)
LONGITUDES_DEG: Final = as_float(np.arange(36) * 10.0 - 175.0)
DAY_SPREAD: Final = 0.14  # of ln foF2 about the day's median; 0.11 to 0.17 at five ionosondes, 2019
# How ln foF2 resembles itself after so many hours: the same five ionosondes, 2019
LAGS_H: Final = np.array([0.0, 1.0, 2.0, 3.0, 6.0])
ALIKE: Final = np.array([1.0, 0.68, 0.43, 0.28, 0.12])
NEXT_DAY: Final = 0.18  # the same after 24 h: what a day at the same hour shares with another
COUNTS_FULLY_H: Final = 4.0  # h from the newest frame; from there it fades, and
COUNTS_UNTIL_H: Final = 6.0  # at this the forecast is the median again (ours)
HELPS_H: Final = 3.0  # h, for so long what is measured helps much: 0.28 of it is left then
LARGEST_FACTOR: Final = 1.8  # on foF2, either way; a measurement beyond is held there (ours)


def alike(hours: FloatLike) -> FloatArray:
    """Correlation of ln foF2 with itself after so many hours, either way; any shape.

    Between the published lags its logarithm runs straight, beyond 6 h on to 0 at 9 h. Around whole days the
    part that days share comes back.
    """
    away = np.abs(as_float(hours))
    beside = np.abs(away - 24.0 * np.round(away / 24.0))
    return (1.0 - NEXT_DAY) * _alike_within(away) + NEXT_DAY * _alike_within(beside)


def _alike_within(hours: FloatArray) -> FloatArray:
    near = np.exp(np.interp(hours, LAGS_H, np.log(ALIKE)))
    return as_float(np.where(hours <= LAGS_H[-1], near, near * np.clip(3.0 - hours / 3.0, 0.0, 1.0)))


@dataclass(frozen=True, eq=False)
class Departure:
    """Frames turned into weights. times: of the frames (F,), newest first. weights (36, 36, F) and certainty
    (36, 36, F, F), of grid cells: ln foF2's departure at lags k is weights . k, and the share of its variance
    that is known k . certainty . k, k being `alike` of the lags.
    """

    times: TimeArray
    weights: FloatArray
    certainty: FloatArray
    _last: list[Any] = field(default_factory=list, repr=False)

    @classmethod
    def of(cls, times: TimeArray, log_ratio: FloatArray, error_variance: FloatArray) -> Departure:
        """From ln ratios (F, 36, 36) and the variance of their errors over DAY_SPREAD squared, infinite where
        nothing was measured."""
        hours = (times - times[0]) / np.timedelta64(3600, "s")
        lags = alike(hours[:, None] - hours[None, :])
        known = np.moveaxis(1.0 / np.sqrt(error_variance), 0, -1)  # (36, 36, F), 0 where nothing is known
        both = known[..., :, None] * known[..., None, :]
        # (K + E)^-1 = D (D K D + 1)^-1 D with D = E^-1/2, which is whole where E is infinite
        certainty = both * np.linalg.inv(both * lags + np.eye(times.size))
        held = np.clip(log_ratio, -np.log(LARGEST_FACTOR), np.log(LARGEST_FACTOR))
        weights = np.einsum("...fg,g...->...f", certainty, np.where(known.transpose(2, 0, 1) > 0.0, held, 0))
        return cls(as_times(times), as_float(weights), as_float(certainty))

    @property
    def newest(self) -> np.datetime64:
        """Time of the newest frame."""
        newest: np.datetime64 = self.times[0]
        return newest

    @property
    def until(self) -> np.datetime64:
        """From when on nothing is said."""
        return later(self.newest, np.timedelta64(round(COUNTS_UNTIL_H * 3600.0), "s"))

    @property
    def helps_until(self) -> np.datetime64:
        """Until when the frames help much; beyond it a quarter of the departure and less is left."""
        return later(self.newest, np.timedelta64(round(HELPS_H * 3600.0), "s"))

    def counts(self, times: TimeLike) -> FloatArray:
        """How far the frames count at times, 1 near the newest, 0 from COUNTS_UNTIL_H on; any shape."""
        hours = np.abs(as_float((as_times(times) - self.newest) / np.timedelta64(3600, "s")))
        return as_float(np.clip((COUNTS_UNTIL_H - hours) / (COUNTS_UNTIL_H - COUNTS_FULLY_H), 0.0, 1.0))

    def speaks(self, times: TimeLike) -> BoolArray:
        """Whether the frames say anything of times; any shape."""
        return np.asarray(self.counts(times) > 0.0)

    def at(self, lat_deg: FloatArray, lon_deg: FloatArray, times: TimeArray) -> tuple[FloatArray, FloatArray]:
        """(factor on the median foF2, share of the days' variance that is known); arguments broadcast.

        Exactly 1 and 0 where nothing is said. Quick where places and times lie along different axes. The
        answer to the last question stays: a circuit asks twice, for the layer and for its spread.
        """
        asked, answer = self._last[0] if self._last else ((), None)
        if answer is None or any(a is not b for a, b in zip(asked, (lat_deg, lon_deg, times), strict=True)):
            answer = self._worked_out(lat_deg, lon_deg, times)
            self._last[:] = [((lat_deg, lon_deg, times), answer)]
        return answer

    def _worked_out(
        self, lat_deg: FloatArray, lon_deg: FloatArray, times: TimeArray
    ) -> tuple[FloatArray, FloatArray]:
        hours = as_float((as_times(times)[..., None] - self.times) / np.timedelta64(3600, "s"))
        lags, fading = alike(hours), self.counts(times)
        cells = _Between(lat_deg, lon_deg)
        mean = np.einsum("...f,...f->...", cells.read(self.weights), lags)
        certainty = cells.read(self.certainty)
        share = np.zeros(np.broadcast_shapes(np.shape(mean), np.shape(fading)))
        for one in range(self.times.size):  # over frames, a handful
            for other in range(self.times.size):
                share = share + certainty[..., one, other] * (lags[..., one] * lags[..., other])
        return as_float(np.exp(mean * fading)), as_float(np.clip(share, 0.0, 1.0) * fading)


class _Between:
    """Reads grids (36, 36, ..) at places, straight between the cells' middles; the poles' cells hold on."""

    def __init__(self, lat_deg: FloatArray, lon_deg: FloatArray) -> None:
        lat, lon = np.broadcast_arrays(as_float(lat_deg), as_float(lon_deg))
        row = np.clip((lat - LATITUDES_DEG[0]) / 5.0, 0.0, LATITUDES_DEG.size - 1.0)
        column = np.mod((lon - LONGITUDES_DEG[0]) / 10.0, LONGITUDES_DEG.size)
        self._row = np.minimum(row.astype(np.intp), LATITUDES_DEG.size - 2)
        self._column = np.minimum(column.astype(np.intp), LONGITUDES_DEG.size - 1)
        self._up, self._east = row - self._row, column - self._column

    def read(self, grid: FloatArray) -> FloatArray:
        """The grid's values there: the places' shape and then the grid's own further axes."""
        further = (1,) * (grid.ndim - 2)
        up, east = (part.reshape(part.shape + further) for part in (self._up, self._east))
        right = (self._column + 1) % LONGITUDES_DEG.size
        low = grid[self._row, self._column] * (1.0 - east) + grid[self._row, right] * east
        high = grid[self._row + 1, self._column] * (1.0 - east) + grid[self._row + 1, right] * east
        return as_float(low * (1.0 - up) + high * up)
