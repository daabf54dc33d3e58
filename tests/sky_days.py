"""Days of the F2 layer drawn from published statistics, to try measured maps on. Every number is made up.

ln foF2 about its median is a Gaussian field: standard deviation 0.14, in time alike as ionosondes of 2019
say (`departure.alike`: 0.68, 0.43, 0.28, 0.12 after 1, 2, 3, 6 h), in space alike over some 1500 km north to
south and twice that east to west. A frame measures it with its own error, alike over a cell or two, where
stations observe: a belt of latitudes; elsewhere it gives the median, as a frame's background does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from propagation.base.units import FloatArray, IntArray, TimeArray
from propagation.ionosphere.conditions_today import usual_fof2_mhz
from propagation.space_weather.sources.density_map import HZ2_M3, MOST_OBSERVATIONS, DensityFrame
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.measured_conditions import (
    LATITUDES_DEG,
    LONGITUDES_DEG,
    Fof2Anomaly,
    alike,
)

SPREAD = 0.14
FRAME_ERROR = 0.08  # of ln foF2, where a frame has all its observations
OBSERVED_DEG = (25.0, 65.0)  # the belt where it has them
FIELD_KM, ERROR_KM = (900.0, 1800.0), (200.0, 300.0)


def fields(count: int, alike_km: tuple[float, float], random: np.random.Generator) -> FloatArray:
    """Smooth Gaussian fields of unit variance on the cells (count, 36, 36)."""
    apart = np.abs((LONGITUDES_DEG[:, None] - LONGITUDES_DEG[None, :] + 180.0) % 360.0 - 180.0)
    shrink = np.maximum(np.cos(np.deg2rad(LATITUDES_DEG)), 0.1)[:, None, None]
    along = np.exp(-0.5 * (apart * 111.2 * shrink / (alike_km[1] / np.sqrt(2.0))) ** 2)
    rows = np.abs(LATITUDES_DEG[:, None] - LATITUDES_DEG[None, :])
    across = np.exp(-0.5 * (rows * 111.2 / (alike_km[0] / np.sqrt(2.0))) ** 2)
    along /= np.sqrt(np.sum(along**2, axis=-1, keepdims=True))
    across /= np.sqrt(np.sum(across**2, axis=-1, keepdims=True))
    noise = random.standard_normal((count, 36, 36))
    smooth = np.einsum("rs,fsa->fra", across, np.einsum("rab,frb->fra", along, noise))
    return np.asarray(smooth / np.std(smooth))


@dataclass(frozen=True)
class SkyDay:
    """One drawn day. truth (T, 36, 36): ln foF2 about the usual at `times`; frame: what was measured."""

    times: TimeArray
    truth: FloatArray
    frame: DensityFrame


def drawn_day(
    conditions: Conditions, frame_time: np.datetime64, lags_h: FloatArray, random: np.random.Generator
) -> SkyDay:
    """A day whose layer is known at lags after a frame."""
    hours = np.concatenate([[0.0], lags_h])
    root = np.linalg.cholesky(alike(hours[:, None] - hours[None, :]) + 1e-9 * np.eye(hours.size))
    field = SPREAD * np.einsum("ts,sra->tra", root, fields(hours.size, FIELD_KM, random))
    inside = (np.abs(LATITUDES_DEG) >= OBSERVED_DEG[0]) & (np.abs(LATITUDES_DEG) <= OBSERVED_DEG[1])
    seen: IntArray = np.where(inside[:, None], MOST_OBSERVATIONS, 0) * np.ones((1, 36), np.int64)
    error = FRAME_ERROR * fields(1, ERROR_KM, random)[0]
    measured = np.where(seen > 0, field[0] + error, 0.0)
    fof2 = usual_fof2_mhz(conditions, [frame_time])[0] * np.exp(measured)
    blank, four = np.full((72, 72), np.nan), np.ones((2, 2), np.int64)  # four cells of a frame each
    density = np.kron((fof2 * 1e6) ** 2 / HZ2_M3, four)
    frame = DensityFrame(frame_time, density, blank, np.kron(seen, four))
    times = frame_time + np.round(lags_h * 3600.0).astype("timedelta64[s]")
    return SkyDay(times, field[1:], frame)


@dataclass(frozen=True)
class Truth:
    """A disturber that knows the day: its layer exactly, and so no spread from day to day."""

    day: SkyDay

    def fof2_factor(
        self, lat_deg: FloatArray, lon_deg: FloatArray, latitude_deg: FloatArray, times: TimeArray
    ) -> FloatArray:
        # the field at each of the day's times, read by the program's own reader of grids (a Fof2Anomaly's
        # weights with one frame there and no fading read as the field itself)
        values = [
            np.log(
                Fof2Anomaly(one[None], grid[..., None], np.zeros((36, 36, 1, 1))).at(lat_deg, lon_deg, one)[0]
            )
            for one, grid in zip(self.day.times, self.day.truth, strict=True)
        ]
        number = np.searchsorted(self.day.times, times)
        return np.asarray(np.exp(np.choose(number, np.stack(np.broadcast_arrays(*values)))))

    def spread_factor(self, lat_deg: FloatArray, lon_deg: FloatArray, times: TimeArray) -> FloatArray:
        return np.zeros(np.broadcast_shapes(np.shape(lat_deg), np.shape(times)))

    def extra_absorption(self, *where: FloatArray) -> tuple[FloatArray, FloatArray]:
        return np.zeros(np.shape(where[2])), np.zeros(np.shape(where[2]))

    def oval_latitude_deg(self, latitude_deg: FloatArray, times: TimeArray) -> FloatArray:
        return latitude_deg

    def of_rows(self, rows: IntArray) -> Truth:
        return replace(self)
