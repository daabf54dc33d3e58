"""The station: where it stands, what it sends with, its antenna, its limits, and who is at the other end.

A station is a TOML file that a person can write in the field. Reading is strict: a key or table that is not
known is an error that names the nearest valid one, a value of the wrong type or out of its range is an error
that names the key and its unit. Only the position has no default. The keys of a table are the fields of the
dataclass it becomes, so the two cannot drift apart.
"""

from __future__ import annotations

import os
import tempfile
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Final, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from propagation import bands, modes
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.errors import InputError
from propagation.locator import Position, locator_of, position_of
from propagation.modes import Mode, ModeName
from propagation.units import FloatArray, FloatLike, as_float

NoiseEnvironment = Literal["city", "residential", "rural", "quiet rural"]


@dataclass(frozen=True)
class Site:
    """Where the station stands.

    `ground` names the earth under and around the antenna; where `permittivity` and `conductivity_s_per_m`
    are given they stand instead. `itu_region` 0 means: found from the position. `horizon` holds pairs of
    azimuth and elevation [deg] of the skyline, in rising azimuth; empty means flat. `height_m` is the height
    of the ground above the country around it, for the radio horizon on 6 m and 2 m.
    """

    position: Position
    ground: str = "average"
    permittivity: float | None = None
    conductivity_s_per_m: float | None = None
    noise: NoiseEnvironment = "quiet rural"
    itu_region: int = 0
    time_zone: str = "UTC"
    height_m: float = 0.0
    horizon: tuple[tuple[float, float], ...] = ()

    @property
    def region(self) -> int:
        """The ITU region, 1 to 3: as given, or found from the position."""
        return self.itu_region or bands.itu_region(self.position.lat_deg, self.position.lon_deg)

    def horizon_deg(self, azimuth_deg: FloatLike) -> FloatArray:
        """Elevation [deg] of the skyline at an azimuth [deg, any shape]; straight lines between the entries."""
        azimuth = as_float(azimuth_deg)
        if not self.horizon:
            return np.zeros_like(azimuth)
        table = as_float(self.horizon)
        return as_float(np.interp(azimuth, table[:, 0], table[:, 1], period=360.0))


@dataclass(frozen=True)
class Rig:
    """The transmitter and receiver: power at the rig's socket [W], mode, and the receiver's noise figure [dB]."""

    power_w: float = 20.0
    mode: ModeName = "SSB"
    noise_figure_db: float = 12.0  # dB, a usual HF receiver without its preamplifier (from memory)

    @property
    def emission(self) -> Mode:
        """The mode with its bandwidth and required signal-to-noise ratio."""
        return modes.by_name(self.mode)


@dataclass(frozen=True)
class Limits:
    """What the operator may or will use: a country's limits, a list of bands (empty: all), a power limit [W]."""

    national: str = ""
    bands: tuple[str, ...] = ()
    power_w: float | None = None

    @property
    def country(self) -> bands.National | None:
        """The national limits, where a country is named."""
        return bands.national_by_name(self.national) if self.national else None


@dataclass(frozen=True)
class FarEnd:
    """Who is at the other end: power [W], a plain antenna at a height [m], ground, noise, receiver."""

    power_w: float = 100.0
    antenna: str = "dipole"
    height_m: float = 10.0
    noise: NoiseEnvironment = "residential"
    ground: str = "average"
    noise_figure_db: float = 12.0  # dB, as for `Rig`

    @property
    def antenna_spec(self) -> AntennaSpec:
        """The far end's antenna as a description that can be built."""
        return AntennaSpec(kind=self.antenna, height_m=self.height_m)


@dataclass(frozen=True)
class Station:
    """A whole station, as one file describes it."""

    site: Site
    name: str = ""
    rig: Rig = field(default_factory=Rig)
    antenna: AntennaSpec = field(default_factory=AntennaSpec)
    feedline: FeedlineSpec = field(default_factory=FeedlineSpec)
    far_end: FarEnd = field(default_factory=FarEnd)
    limits: Limits = field(default_factory=Limits)

    def usable(self, band: bands.Band, mode: Mode | str | None = None) -> bool:
        """Whether region, licence and the operator's own list have a place for the mode on the band."""
        if self.limits.bands and band.name not in self.limits.bands:
            return False
        return bands.usable(band, self.site.region, mode or self.rig.mode, self.limits.country)

    def centre_mhz(self, band: bands.Band, mode: Mode | str | None = None) -> float:
        """The frequency [MHz] to compute a band at, for the rig's mode or another."""
        return bands.centre_mhz(band, self.site.region, mode or self.rig.mode, self.limits.country)

    @property
    def power_w(self) -> float:
        """The rig's power [W], or the licence's limit where that is lower."""
        limit = self.limits.power_w
        return self.rig.power_w if limit is None else min(self.rig.power_w, limit)
