"""The sky as it was measured a short while ago, as conditions carry it: the layer, absorption, the oval.

Each speaks for its own short time; outside it the estimates from K, X-rays and protons stand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.time_series import as_times
from propagation.base.units import BoolArray, FloatArray, TimeArray, TimeLike, as_float
from propagation.geo.geomagnetic import geomagnetic_latitude_deg
from propagation.space_weather.sources import absorption_map, aurora_map
from propagation.space_weather.state.event_absorption import OVAL_DEG_PER_KP, auroral_boundary_deg
from propagation.space_weather.state.fof2_anomaly import Departure

MAP_BACK: Final = np.timedelta64(600, "s")  # a map speaks for the ten minutes before it too (ours)
# A flare's X-rays fall by e in 20 min and its map with them; protons hold for hours (ours)
FLARE_COUNTS_MIN: Final = (10.0, 60.0)  # minutes after the map: in full, and not at all
CAP_COUNTS_MIN: Final = (60.0, 120.0)
CAP_FROM_DEG: Final = 60.0  # deg geomagnetic, poleward of which absorption is told as the polar cap's
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

        The value of the nearest cell: 2 by 4 degrees are finer than anything here asks for.
        """
        lat, lon = np.broadcast_arrays(as_float(lat_deg), as_float(lon_deg))
        row = np.clip(np.round((lat - absorption_map.LATITUDES_DEG[0]) / 2.0).astype(np.intp), 0, 89)
        column = np.round((lon - absorption_map.LONGITUDES_DEG[0]) / 4.0).astype(np.intp) % 90
        return as_float(self.highest_mhz[row, column])

    def weight(self, geomagnetic_lat_deg: FloatArray, times: TimeArray) -> FloatArray:
        """How far the map stands for the estimate, 0 to 1; broadcasts."""
        minutes = _minutes_after(times, self.time)
        flare = _fading(minutes, FLARE_COUNTS_MIN) if self.flare_counts else np.zeros(np.shape(minutes))
        cap = np.abs(geomagnetic_lat_deg) >= CAP_FROM_DEG
        return as_float(np.where(cap, _fading(minutes, CAP_COUNTS_MIN), flare))

    def speaks(self, times: TimeLike) -> BoolArray:
        """Whether the map says anything of times."""
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

    def speaks(self, times: TimeLike) -> BoolArray:
        """Whether the map says anything of times."""
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
class SkyNow:
    """What is measured and in force; None where nothing is."""

    layer: Departure | None = None
    absorption: MeasuredAbsorption | None = None
    oval: MeasuredOval | None = None

    @property
    def times(self) -> tuple[np.datetime64 | None, ...]:
        """Of layer, absorption and oval, by which one sky is told from another."""
        return (
            None if self.layer is None else self.layer.newest,
            None if self.absorption is None else self.absorption.time,
            None if self.oval is None else self.oval.time,
        )

    def as_dict(self, time: np.datetime64) -> dict[str, str]:
        """What speaks of a time and when it was measured, fit for JSON."""
        parts = {"layer": self.layer, "absorption": self.absorption, "oval": self.oval}
        return {
            name: f"{one.newest if isinstance(one, Departure) else one.time}Z"
            for name, one in parts.items()
            if one is not None and bool(one.speaks(time))
        }

    def speaks(self, times: TimeLike) -> bool:
        """Whether any of it says anything of any of these times."""
        return any(
            bool(np.any(one.speaks(times)))
            for one in (self.layer, self.absorption, self.oval)
            if one is not None
        )
