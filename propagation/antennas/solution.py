"""Common result of every kind of antenna: its figures on one frequency, and its pattern."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from propagation.base.units import FloatArray

PATTERN_ELEVATIONS_DEG: Final[FloatArray] = np.arange(91.0)  # deg above the horizon

Basis = Literal["model", "measured"]
# Element that brings an antenna to resonance; "none": fed as it is
Tuning = Literal["coil", "length", "capacitor", "none"]


@dataclass(frozen=True)
class Pattern:
    """Gain on one frequency as a power ratio to isotropic, with every loss of antenna and ground.

    gain: shape (91, n), for elevations 0, 1 .. 90 deg and n azimuths evenly from 0 deg; n = 1 means
    omnidirectional.
    """

    gain: FloatArray

    @property
    def mean(self) -> FloatArray:
        """Mean over azimuth, in power; shape (91,)."""
        return np.asarray(self.gain.mean(axis=1))

    def efficiency(self) -> float:
        """Power into the sky over input power: the integral of gain over the upper half space / 4 pi."""
        elevation = np.deg2rad(PATTERN_ELEVATIONS_DEG)
        weighted = self.mean * np.cos(elevation)
        return float(np.sum((weighted[1:] + weighted[:-1]) * np.diff(elevation))) / 4.0


@dataclass(frozen=True)
class Solution:
    """Solution of an antenna on one frequency; resistances and reactances at the feed [ohm].

    radiation_resistance_ohm + ground_loss_ohm + j reactance_ohm: impedance without the coil; the first is the
    part radiated into the sky. connection_ohm: the part of ground_loss_ohm due to the connections (plugs,
    slider, joints of the whip, clamps), assumed until an analyser has measured the band. coil_loss_ohm: the
    coil's own series resistance; where the coil is above the base its current differs from the feed's by
    coil_current_ratio. tuned_resistance_ohm: resistance at the feed when the coil has tuned it, with all
    losses. slope: gives f dX/df of the tuned circuit [ohm], which sets the width of the match; mirror: gives
    the radiation resistance [ohm] of the same wires over perfect ground. load_ohm: load of the feed line
    after the matching that belongs to the antenna; matched: that matching transforms it to the line's
    impedance. tuning: what brings it to resonance; series_pf: the capacitor in series with the feed, with its
    reactance in reactance_ohm still. reactance_per_m_ohm: change of the reactance with the radiator's length,
    where that is set by band. longer_db: what the radiator at its full length longer_m would gain over the
    resonant setting, at the usual take-off angles and with the line's loss (below 0: it would lose), with the
    capacitor longer_pf in series, if any, and the SWR longer_swr at the rig.
    """

    frequency_mhz: float
    pattern: Pattern
    efficiency: float
    radiation_resistance_ohm: float | None
    ground_loss_ohm: float | None
    reactance_ohm: float | None
    tuned_resistance_ohm: float | None
    coil_loss_ohm: float | None = 0.0
    coil_uh: float | None = None
    coil_share: float = 0.0  # of the input power, lost in the coil
    coil_current_ratio: float = 1.0
    coil_reactance_ohm: float = 0.0
    connection_ohm: float = 0.0
    connection_share: float = 0.0  # of the input power, lost in the connections
    other_share: float = 0.0  # of the input power, lost in a transformer
    unexplained_share: float = 0.0  # of the input power, lost by measurement but not by the description
    slope: Callable[[], float] | None = None
    mirror: Callable[[], float] | None = None
    load_ohm: complex = 50.0
    matched: bool = True
    whip_m: float | None = None
    tuning: Tuning = "none"
    series_pf: float | None = None
    reactance_per_m_ohm: float | None = None
    longer_m: float | None = None
    longer_db: float | None = None
    longer_swr: float | None = None
    longer_pf: float | None = None
    in_range: bool = True
    basis: Basis = "model"
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class BandResult:
    """Results on one frequency, as printed by `bandwhen antenna`; None where a number has no meaning.

    circuit_efficiency: efficiency over perfect ground with the same total resistance, which depends on coil,
    radials and joints. shares: fractions of the power that reaches the antenna: "sky", "coil", "earth",
    "connections", "other", "unexplained". connection_ohm: the part of ground_loss_ohm due to the connections.
    radiation_resistance_ohm + ground_loss_ohm is thus the feed resistance without the coil. The share "earth"
    does not include connection_ohm. feed_ohm: the resistance at the feed as set up by "radiation", "earth",
    "coil", "connections" and "unexplained"; their sum is feed_resistance_ohm, what an analyser shows there
    without a match or transformer; matched: whether a tap or shunt coil there makes it the line's. whip_m,
    coil_uh, series_pf: the setting; dip_khz_per_cm: move of the dip for one centimetre more of whip;
    series_v: peak voltage at the capacitor [V] for the rig's power. swr: at the rig, as set up, without its
    tuner; tuner_saves_db: power that a rig without a tuner holds back at that SWR.
    """

    band: str | None
    frequency_mhz: float
    radiation_resistance_ohm: float | None
    coil_loss_ohm: float | None
    ground_loss_ohm: float | None
    reactance_ohm: float | None
    coil_uh: float | None
    efficiency: float
    efficiency_db: float
    feedline_loss_db: float
    gain_dbi: dict[str, float]
    swr_1p5_khz: float | None
    swr_2_khz: float | None
    radiated_w: float
    power_limit_w: float | None
    basis: Basis
    feed_resistance_ohm: float | None = None
    connection_ohm: float | None = None
    circuit_efficiency: float | None = None
    feed_ohm: dict[str, float] | None = None
    swr: float | None = None
    tuner_saves_db: float | None = None
    whip_m: float | None = None
    tuning: Tuning = "none"
    matched: bool = False
    series_pf: float | None = None
    series_v: float | None = None
    dip_khz_per_cm: float | None = None
    longer_m: float | None = None
    longer_db: float | None = None
    longer_swr: float | None = None
    longer_pf: float | None = None
    takeoff_deg: float | None = None
    in_range: bool = True
    shares: dict[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
