"""Conditions as they bend a forecast: storm, flare, aurora and polar cap, each with its switch.

Joins `conditions` (what is known of sun and field) to `storm` and `disturbance` (what they do), in the form
that `path_samples` asks for. A quiet field and sun give exactly the median ionosphere.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from propagation.base.units import FloatArray, IntArray, TimeArray
from propagation.space_weather import disturbance, storm
from propagation.space_weather.conditions import Conditions
from propagation.space_weather.disturbance import Effects


@dataclass(frozen=True)
class Disturbed:
    """Implements `path_samples.Disturber` for known conditions, with the effects that are switched on."""

    conditions: Conditions
    effects: Effects = field(default_factory=Effects)

    def fof2_factor(
        self, lat_deg: FloatArray, geomagnetic_latitude_deg: FloatArray, times: TimeArray
    ) -> FloatArray:
        """Factor on foF2 from the history of ap; exactly 1 in a quiet field."""
        if not self.effects.storm:
            return np.ones(1)
        rap = storm.weighted_ap(self.conditions.ap_history(times), times)
        return storm.storm_factor(geomagnetic_latitude_deg, times, rap)

    def extra_absorption(
        self, zenith_deg: FloatArray, geomagnetic_latitude_deg: FloatArray, times: TimeArray
    ) -> FloatArray:
        """X of the two-way vertical absorption X / f^1.5 [dB MHz^1.5]: 0 exactly when quiet."""
        total = np.zeros(np.shape(zenith_deg))
        if self.effects.flare:
            total = total + disturbance.flare_absorption_db(1.0, zenith_deg, self.conditions.xray_at(times))
        if self.effects.polar_cap:
            total = total + 2.0 * disturbance.polar_cap_absorption_db(
                1.0,
                zenith_deg,
                geomagnetic_latitude_deg,
                self.conditions.kp_at(times),
                self.conditions.protons_at(times),
            )
        return total

    def oval_latitude_deg(self, geomagnetic_latitude_deg: FloatArray, times: TimeArray) -> FloatArray:
        """Latitude at which to read the quiet auroral table."""
        if not self.effects.aurora:
            return geomagnetic_latitude_deg
        return disturbance.widened_latitude_deg(geomagnetic_latitude_deg, self.conditions.kp_at(times))

    def of_rows(self, rows: IntArray) -> Disturbed:
        """The same: what disturbs is the same for all routes."""
        return self


def disturber_of(conditions: Conditions, effects: Effects, times: TimeArray) -> Disturbed | None:
    """The disturber for these times, or None when nothing known disturbs them (then nothing is computed)."""
    quiet = (
        bool(np.all(conditions.kp_at(times) <= disturbance.ORDINARY_KP))
        and bool(np.all(conditions.ap_history(times) <= 7.0))  # ap of Kp 2
        and bool(np.all(conditions.xray_at(times) <= disturbance.ORDINARY_XRAY_W_M2))
        and bool(np.all(conditions.protons_at(times) < disturbance.PROTON_BACKGROUND_PFU))
    )
    return None if quiet or effects == disturbance.NO_EFFECTS else Disturbed(conditions, effects)
