"""The day's disturbances with some of them switched off row by row, behind every "were it not for"."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray
from propagation.signal.rays.causes import Cause
from propagation.space_weather.state.storm_corrections import StormCorrections


@dataclass(frozen=True)
class Switched:
    """Implements `path_samples.Disturber`: the day's disturbances, some of them off in some of the rows.

    on: by cause ("storm", "today's layer", "flare", "polar cap"), True for the rows (N,) that are spared it.
    """

    whole: StormCorrections
    on: dict[Cause, BoolArray]

    def _unless_off(self, name: Cause, value: FloatArray, harmless: FloatArray | float) -> FloatArray:
        mask = self.on.get(name)
        return value if mask is None else np.where(mask[:, None, None], harmless, value)

    def fof2_factor(
        self, lat_deg: FloatArray, lon_deg: FloatArray, latitude_deg: FloatArray, times: TimeArray
    ) -> FloatArray:
        """Factor on the median foF2."""
        factor = self._unless_off("storm", self.whole.storm_factor(latitude_deg, times), 1.0)
        today = self.whole.layer_today(lat_deg, lon_deg, times)
        return factor if today is None else factor * self._unless_off("today's layer", today[0], 1.0)

    def spread_factor(self, lat_deg: FloatArray, lon_deg: FloatArray, times: TimeArray) -> FloatArray | None:
        """Factor on the day-to-day spread, as it is."""
        return self.whole.spread_factor(lat_deg, lon_deg, times)

    def extra_absorption(
        self,
        lat_deg: FloatArray,
        lon_deg: FloatArray,
        zenith_deg: FloatArray,
        latitude_deg: FloatArray,
        times: TimeArray,
    ) -> tuple[FloatArray, FloatArray]:
        """X by flares and by protons."""
        by_flare, by_protons = self.whole.extra_absorption(lat_deg, lon_deg, zenith_deg, latitude_deg, times)
        return self._unless_off("flare", by_flare, 0.0), self._unless_off("polar cap", by_protons, 0.0)

    def oval_latitude_deg(self, latitude_deg: FloatArray, times: TimeArray) -> FloatArray:
        """Latitude at which to read the quiet auroral table."""
        return self.whole.oval_latitude_deg(latitude_deg, times)

    def of_rows(self, rows: IntArray) -> Switched:
        """The same for some of the rows."""
        return Switched(self.whole, {name: mask[rows] for name, mask in self.on.items()})
