"""Corrections to the median ionosphere: storm, flare, aurora, polar cap and today's layer.

Joins `conditions` to the formulas of `geomagnetic_activity` and `event_absorption` and to the measured maps,
in the form that the samples of a path require. A quiet field and sun give exactly the median ionosphere.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray, as_float
from propagation.space_weather.indices import geomagnetic_activity
from propagation.space_weather.state import event_absorption
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import Effects
from propagation.space_weather.state.measured_conditions import CAP_FROM_DEG, Fof2Anomaly


@dataclass(frozen=True)
class StormCorrections:
    """Implements `path_samples.Disturber` for known conditions, with the effects that are switched on."""

    conditions: Conditions
    effects: Effects = field(default_factory=Effects)

    def storm_factor(self, geomagnetic_latitude_deg: FloatArray, times: TimeArray) -> FloatArray:
        """Factor on foF2 from the history of ap; exactly 1 in a quiet field."""
        if not self.effects.storm:
            return np.ones(1)
        rap = geomagnetic_activity.weighted_ap(self.conditions.ap_history(times), times)
        return geomagnetic_activity.storm_factor(geomagnetic_latitude_deg, times, rap)

    def layer_today(
        self, lat_deg: FloatArray, lon_deg: FloatArray, times: TimeArray
    ) -> tuple[FloatArray, FloatArray] | None:
        """(factor on foF2, share of the days' variance that is known) by measurement; None where nothing was
        measured near these times."""
        layer = self._layer
        return (
            None
            if layer is None or not np.any(layer.applies_to(times))
            else layer.at(lat_deg, lon_deg, times)
        )

    @property
    def _layer(self) -> Fof2Anomaly | None:
        now = self.conditions.measured
        return now.layer if now is not None and self.effects.layer else None

    def fof2_factor(
        self,
        lat_deg: FloatArray,
        lon_deg: FloatArray,
        geomagnetic_latitude_deg: FloatArray,
        times: TimeArray,
    ) -> FloatArray:
        """Factor on the median foF2: the storm's, and today's as it was measured."""
        factor = self.storm_factor(geomagnetic_latitude_deg, times)
        today = self.layer_today(lat_deg, lon_deg, times)
        return factor if today is None else factor * today[0]

    def spread_factor(self, lat_deg: FloatArray, lon_deg: FloatArray, times: TimeArray) -> FloatArray | None:
        """Factor on the day-to-day spread of the layer, 1 where nothing is known of the day; None for 1."""
        today = self.layer_today(lat_deg, lon_deg, times)
        return None if today is None else as_float(np.sqrt(1.0 - today[1]))

    def extra_absorption(
        self,
        lat_deg: FloatArray,
        lon_deg: FloatArray,
        zenith_deg: FloatArray,
        geomagnetic_latitude_deg: FloatArray,
        times: TimeArray,
    ) -> tuple[FloatArray, FloatArray]:
        """X of the two-way vertical absorption X / f^1.5 [dB MHz^1.5] by flares and by protons, each 0
        exactly when quiet. A measured map replaces the protons in the polar caps, the flare
        elsewhere."""
        by_flare = by_protons = np.zeros(np.shape(zenith_deg))
        xray = self.conditions.xray_at(times)
        if self.effects.flare:
            by_flare = by_flare + event_absorption.flare_absorption_db(1.0, zenith_deg, xray)
        if self.effects.polar_cap:
            by_protons = by_protons + 2.0 * event_absorption.polar_cap_absorption_db(
                1.0,
                zenith_deg,
                geomagnetic_latitude_deg,
                self.conditions.kp_at(times),
                self.conditions.protons_at(times),
            )
        now = self.conditions.measured
        if now is None or now.absorption is None or not np.any(now.absorption.applies_to(times)):
            return by_flare, by_protons
        found = now.absorption.highest_at(lat_deg, lon_deg)
        highest = np.nan_to_num(found)
        weight = np.where(np.isnan(found), 0.0, now.absorption.weight(geomagnetic_latitude_deg, times))
        cap = np.abs(geomagnetic_latitude_deg) >= CAP_FROM_DEG
        if self.effects.flare:
            mapped = event_absorption.mapped_xray_w_m2(highest, zenith_deg)
            measured = event_absorption.flare_absorption_db(1.0, zenith_deg, mapped)
            by_flare = np.where(cap, by_flare, weight * measured + (1.0 - weight) * by_flare)
        if self.effects.polar_cap:
            measured = event_absorption.mapped_cap_absorption_db(1.0, zenith_deg, highest, xray)
            by_protons = np.where(cap, weight * measured + (1.0 - weight) * by_protons, by_protons)
        return as_float(by_flare), as_float(by_protons)

    def oval_latitude_deg(self, geomagnetic_latitude_deg: FloatArray, times: TimeArray) -> FloatArray:
        """Latitude at which to read the quiet auroral table."""
        if not self.effects.aurora:
            return geomagnetic_latitude_deg
        kp, now = self.conditions.kp_at(times), self.conditions.measured
        if now is not None and now.oval is not None:
            kp = now.oval.kp_at(times, kp)
        return event_absorption.widened_latitude_deg(geomagnetic_latitude_deg, kp)

    def of_rows(self, rows: IntArray) -> StormCorrections:
        """Corrections of some routes: they are the same for all."""
        return self


def events_at(conditions: Conditions, effects: Effects, times: TimeArray) -> BoolArray:
    """Whether a flare or solar protons may absorb anything, anywhere, at times; same shape."""
    flare = conditions.xray_at(times) > event_absorption.ORDINARY_XRAY_W_M2
    protons = conditions.protons_at(times) >= event_absorption.PROTON_BACKGROUND_PFU
    now = conditions.measured
    mapped = np.zeros(np.shape(times), dtype=bool)
    if now is not None and now.absorption is not None:
        mapped = now.absorption.applies_to(times)
    return np.asarray((flare | mapped) & effects.flare | (protons | mapped) & effects.polar_cap)


def flare_about(conditions: Conditions, effects: Effects, times: TimeArray) -> BoolArray:
    """Whether a flare of class M1 or more is on within an hour of times, before or after; same shape.

    Then the bands change within minutes; checked at every ten minutes around each time.
    """
    about = times[..., None] + np.arange(-6, 7) * np.timedelta64(600, "s")
    strong = conditions.xray_at(about) >= event_absorption.FLARE_W_M2
    return np.asarray(np.any(strong, axis=-1) & effects.flare)


def corrections_of(conditions: Conditions, effects: Effects, times: TimeArray) -> StormCorrections | None:
    """Corrections at these times, or None where conditions are quiet (then nothing is computed)."""
    quiet = (
        bool(np.all(conditions.kp_at(times) <= event_absorption.ORDINARY_KP))
        and bool(np.all(conditions.ap_history(times) <= 7.0))  # ap of Kp 2
        and bool(np.all(conditions.xray_at(times) <= event_absorption.ORDINARY_XRAY_W_M2))
        and bool(np.all(conditions.protons_at(times) < event_absorption.PROTON_BACKGROUND_PFU))
        and (conditions.measured is None or not conditions.measured.applies_to(times))
    )
    return None if quiet or effects == event_absorption.NO_EFFECTS else StormCorrections(conditions, effects)
