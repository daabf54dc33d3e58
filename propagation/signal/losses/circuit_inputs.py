"""Inputs of a circuit, and the one function that builds them.

Every caller builds its case here. All circuits thus use the same sun, the same day's disturbances, the ground
of the operator's site for the ground wave, and one magnetic field for a run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from propagation.base.units import FloatArray, TimeArray, as_float
from propagation.geo.great_circle import Route
from propagation.geo.ground import Ground
from propagation.signal.rays.path_samples import Disturber
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import Effects
from propagation.space_weather.state.storm_corrections import corrections_of


class TerminalGain(Protocol):
    """Antenna at one end, as a circuit uses it."""

    def gain_dbi(
        self, frequency_mhz: FloatArray, elevation_deg: FloatArray, azimuth_deg: FloatArray
    ) -> FloatArray:
        """Gain [dBi], feed line in; frequency (.., B, 1), elevation (N, T, B, K), azimuth (N, 1, 1, 1)."""

    def horizon_deg(self, azimuth_deg: FloatArray) -> FloatArray:
        """Elevation of the site's horizon [deg]."""

    def ground_wave_gain_dbi(self, frequency_mhz: FloatArray, azimuth_deg: FloatArray) -> FloatArray:
        """Gain along the ground [dBi]."""

    @property
    def height_m(self) -> float:
        """Height over the surroundings [m], for line of sight."""


@dataclass(frozen=True, eq=False)
class CircuitCase:
    """N routes at T times and B frequencies, between two terminals, on a given day.

    route: arrays (N,). times: (1 or N, T), UTC. frequency_mhz: (1 or N, 1, B) [MHz]. index: the ionospheric
    index (scale of R12), broadcasts with (N, T). disturber: change of the median ionosphere, None on a quiet
    day. ground: of the land under the ground wave. year: decimal year of the magnetic field. near, far: the
    antennas at the start and at the end of the routes.
    """

    route: Route
    times: TimeArray
    frequency_mhz: FloatArray
    index: FloatArray
    disturber: Disturber | None
    ground: Ground
    year: float
    near: TerminalGain
    far: TerminalGain


@dataclass(frozen=True, eq=False)
class Circumstances:
    """Circumstances common to all circuits of a run, apart from the antennas at their ends.

    effects: disturbances that count, None for all. ground: of the operator's site. year: decimal year of the
    magnetic field for the whole run (`geomagnetic.middle_year`), however it is divided into blocks.
    """

    conditions: Conditions
    effects: Effects | None
    ground: Ground
    year: float


def circuit_case(
    common: Circumstances,
    near: TerminalGain,
    far: TerminalGain,
    route: Route,
    times: TimeArray,
    frequency_mhz: FloatArray,
    *,
    index: FloatArray | None = None,
    disturber: Disturber | None = None,
) -> CircuitCase:
    """Build the case of routes of shape () or (N,), at given times and frequencies.

    times: (T,) or (1 or N, T). frequency_mhz: (B,) or (N, 1, B) [MHz]. near, far: antennas at the start and
    at the end of the routes. `index` (broadcasting with (N, T)) and `disturber` replace those of the
    conditions.
    """
    when = np.atleast_2d(np.asarray(times))
    frequency = as_float(frequency_mhz)
    if route.distance_km.ndim == 0:
        route = route.rows(None)
    return CircuitCase(
        route=route,
        times=when,
        frequency_mhz=frequency[None, None, :] if frequency.ndim == 1 else frequency,
        index=common.conditions.index_at(when) if index is None else as_float(index),
        disturber=corrections_of(common.conditions, common.effects or Effects(), when)
        if disturber is None
        else disturber,
        ground=common.ground,
        year=common.year,
        near=near,
        far=far,
    )
