"""Measured conditions of the last hours: the anomaly of foF2, absorption and the auroral oval.

Each applies to its own short time; outside it the estimates from K, X-rays and protons are used.

The anomaly of foF2 is the natural logarithm of foF2 over what the median map, the day's index and the storm
give: a random field of mean zero. Its correlation with itself after some hours is known from ionosondes; so
the best estimate at any time from frames measured at other times is a weighted sum (optimal linear
estimation), and the same weights give by how much the day-to-day spread shrinks. Hours away from every frame
the result is exactly the median. Shapes: F frames; the grid has 36 x 36 cells of 5 degrees of latitude and 10
of longitude.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from propagation.base.time_series import as_times, later
from propagation.base.units import BoolArray, FloatArray, FloatLike, TimeArray, TimeLike, as_float
from propagation.geo.geomagnetic import geomagnetic_latitude_deg
from propagation.space_weather.sources import absorption_map, aurora_map
from propagation.space_weather.state.event_absorption import OVAL_DEG_PER_KP, auroral_boundary_deg

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
    of_day = np.abs(away - 24.0 * np.round(away / 24.0))
    return (1.0 - NEXT_DAY) * _alike_within(away) + NEXT_DAY * _alike_within(of_day)


def _alike_within(hours: FloatArray) -> FloatArray:
    near = np.exp(np.interp(hours, LAGS_H, np.log(ALIKE)))
    return as_float(np.where(hours <= LAGS_H[-1], near, near * np.clip(3.0 - hours / 3.0, 0.0, 1.0)))


@dataclass(frozen=True, eq=False)
class Fof2Anomaly:
    """Frames turned into weights. times: of the frames (F,), newest first. weights (36, 36, F) and certainty
    (36, 36, F, F), of grid cells: ln foF2's departure at lags k is weights . k, and the share of its variance
    that is known k . certainty . k, k being `alike` of the lags.
    """

    times: TimeArray
    weights: FloatArray
    certainty: FloatArray
    _last: list[tuple[tuple[FloatArray, FloatArray, TimeArray], tuple[FloatArray, FloatArray]]] = field(
        default_factory=list, repr=False
    )

    @classmethod
    def of(cls, times: TimeArray, log_ratio: FloatArray, error_variance: FloatArray) -> Fof2Anomaly:
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
        """Time from which the frames no longer apply."""
        return later(self.newest, np.timedelta64(round(COUNTS_UNTIL_H * 3600.0), "s"))

    @property
    def helps_until(self) -> np.datetime64:
        """Time after which at most a quarter of the anomaly is left."""
        return later(self.newest, np.timedelta64(round(HELPS_H * 3600.0), "s"))

    def counts(self, times: TimeLike) -> FloatArray:
        """Weight of the frames at times, 1 near the newest, 0 from COUNTS_UNTIL_H on; any shape."""
        hours = np.abs(as_float((as_times(times) - self.newest) / np.timedelta64(3600, "s")))
        return as_float(np.clip((COUNTS_UNTIL_H - hours) / (COUNTS_UNTIL_H - COUNTS_FULLY_H), 0.0, 1.0))

    def applies_to(self, times: TimeLike) -> BoolArray:
        """Whether the frames apply to times; any shape."""
        return np.asarray(self.counts(times) > 0.0)

    def at(self, lat_deg: FloatArray, lon_deg: FloatArray, times: TimeArray) -> tuple[FloatArray, FloatArray]:
        """(factor on the median foF2, share of the days' variance that is known); arguments broadcast.

        Exactly 1 and 0 where the frames do not apply. Fast where places and times are on different axes. The
        last result is kept: a circuit needs it twice, for the layer and for its spread.
        """
        given, answer = self._last[0] if self._last else ((), None)
        if answer is None or any(a is not b for a, b in zip(given, (lat_deg, lon_deg, times), strict=True)):
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


MAP_BACK: Final = np.timedelta64(600, "s")  # a map applies to the ten minutes before it too (ours)
# A flare's X-rays fall by e in 20 min and its map with them; protons hold for hours (ours)
FLARE_COUNTS_MIN: Final = (10.0, 60.0)  # minutes after the map: in full, and not at all
CAP_COUNTS_MIN: Final = (60.0, 120.0)
CAP_FROM_DEG: Final = 60.0  # deg geomagnetic, poleward of which absorption is reported as the polar cap's
OVAL_COUNTS_MIN: Final = (60.0, 120.0)  # minutes after the time the oval's map is made for (ours)
OVAL_EDGE_SHARE: Final = 0.5  # of the greatest value along a meridian: where the oval's edge is taken (ours)
OVAL_LEAST: Final = 5.0  # greatest value below which a meridian has no oval (ours)
NIGHT_HOURS: Final = (20.0, 2.0)  # local hours over which the edge is taken


def _fading(minutes: FloatArray, counts_min: tuple[float, float], from_min: float = 0.0) -> FloatArray:
    """1 until the first of two minutes, 0 from the second; 0 more than MAP_BACK before `from_min`."""
    full, until = counts_min
    weight = np.clip((until - minutes) / (until - full), 0.0, 1.0)
    return as_float(np.where(minutes < from_min - float(MAP_BACK / np.timedelta64(60, "s")), 0.0, weight))


def _minutes_after(times: TimeLike, time: np.datetime64) -> FloatArray:
    return as_float((as_times(times) - time) / np.timedelta64(60, "s"))


@dataclass(frozen=True, eq=False)
class MeasuredAbsorption:
    """The absorption map. highest_mhz (90, 90) as in `absorption_map`. flare_counts: whether no newer X-ray
    measurement is known."""

    time: np.datetime64
    highest_mhz: FloatArray
    flare_counts: bool = True

    def highest_at(self, lat_deg: FloatArray, lon_deg: FloatArray) -> FloatArray:
        """Highest frequency that loses 1 dB [MHz] at places, NaN where the map has a gap; broadcasts.

        The value of the nearest cell: 2 by 4 degrees are finer than any use here requires.
        """
        lat, lon = np.broadcast_arrays(as_float(lat_deg), as_float(lon_deg))
        row = np.clip(np.round((lat - absorption_map.LATITUDES_DEG[0]) / 2.0).astype(np.intp), 0, 89)
        column = np.round((lon - absorption_map.LONGITUDES_DEG[0]) / 4.0).astype(np.intp) % 90
        return as_float(self.highest_mhz[row, column])

    def weight(self, geomagnetic_lat_deg: FloatArray, times: TimeArray) -> FloatArray:
        """Share of the map against the estimate, 0 to 1; broadcasts."""
        minutes = _minutes_after(times, self.time)
        flare = _fading(minutes, FLARE_COUNTS_MIN) if self.flare_counts else np.zeros(np.shape(minutes))
        cap = np.abs(geomagnetic_lat_deg) >= CAP_FROM_DEG
        return as_float(np.where(cap, _fading(minutes, CAP_COUNTS_MIN), flare))

    def applies_to(self, times: TimeLike) -> BoolArray:
        """Whether the map applies to times."""
        return np.asarray(_fading(_minutes_after(times, self.time), CAP_COUNTS_MIN) > 0.0)


@dataclass(frozen=True, eq=False)
class MeasuredOval:
    """The auroral oval as the K that would put its night edge where the map has it.

    time: that it is made for; since: of the solar wind behind it, from when on it counts. kp: north and
    south, their mean. value: the map itself (181, 360) as in `aurora_map`, for drawing; None where it is not
    wanted.
    """

    time: np.datetime64
    kp: float
    since: np.datetime64 | None = None
    value: FloatArray | None = None

    def kp_at(self, times: TimeLike, otherwise: FloatArray) -> FloatArray:
        """The K that places the oval at times: the map's while it counts, fading into what else is known."""
        weight = self._weight(times)
        return as_float(weight * self.kp + (1.0 - weight) * otherwise)

    def applies_to(self, times: TimeLike) -> BoolArray:
        """Whether the map applies to times."""
        return np.asarray(self._weight(times) > 0.0)

    def _weight(self, times: TimeLike) -> FloatArray:
        since_min = 0.0 if self.since is None else float((self.since - self.time) / np.timedelta64(60, "s"))
        return _fading(_minutes_after(times, self.time), OVAL_COUNTS_MIN, since_min)


def oval_kp(found: aurora_map.AuroraMap, year: float) -> float | None:
    """The K whose oval has the map's night edge (`auroral_boundary_deg`); None where the map shows no oval.

    On each meridian in the hours about midnight the edge is where the value falls, towards the equator, under
    half of its greatest; the mean over meridians and both hemispheres counts.
    """
    if found.valid_at is None:
        return None
    lat, lon = np.meshgrid(aurora_map.LATITUDES_DEG, aurora_map.LONGITUDES_DEG, indexing="ij")
    magnetic = geomagnetic_latitude_deg(lat, lon, year)
    midnight = found.valid_at.astype("datetime64[D]")
    ut_hour = float((found.valid_at - midnight) / np.timedelta64(3600, "s"))
    local = np.mod(ut_hour + aurora_map.LONGITUDES_DEG / 15.0, 24.0)
    night = (local >= NIGHT_HOURS[0]) | (local <= NIGHT_HOURS[1])
    value = np.nan_to_num(found.value)
    estimates = []
    for sign in (1.0, -1.0):
        here = np.where(magnetic * sign > 40.0, value, 0.0)
        greatest = np.max(here, axis=0)
        inside = here >= OVAL_EDGE_SHARE * np.maximum(greatest, OVAL_LEAST)
        edge = np.min(np.where(inside, np.abs(magnetic), np.inf), axis=0)
        seen = night & (greatest >= OVAL_LEAST)
        if np.any(seen):
            estimates.append(edge[seen])
    if not estimates:
        return None
    edge_deg = float(np.mean(np.concatenate(estimates)))
    return float(np.clip((float(auroral_boundary_deg(0.0)) - edge_deg) / OVAL_DEG_PER_KP, 0.0, 9.0))


@dataclass(frozen=True, eq=False)
class MeasuredConditions:
    """Measured conditions in force; None where there is no map."""

    layer: Fof2Anomaly | None = None
    absorption: MeasuredAbsorption | None = None
    oval: MeasuredOval | None = None

    @property
    def times(self) -> tuple[np.datetime64 | None, ...]:
        """Times of layer, absorption and oval, which identify the conditions."""
        return (
            None if self.layer is None else self.layer.newest,
            None if self.absorption is None else self.absorption.time,
            None if self.oval is None else self.oval.time,
        )

    def as_dict(self, time: np.datetime64) -> dict[str, str]:
        """Parts that apply to a time, with the times of measurement, fit for JSON."""
        parts = {"layer": self.layer, "absorption": self.absorption, "oval": self.oval}
        return {
            name: f"{one.newest if isinstance(one, Fof2Anomaly) else one.time}Z"
            for name, one in parts.items()
            if one is not None and bool(one.applies_to(time))
        }

    def applies_to(self, times: TimeLike) -> bool:
        """Whether any part applies to any of these times."""
        return any(
            bool(np.any(one.applies_to(times)))
            for one in (self.layer, self.absorption, self.oval)
            if one is not None
        )
