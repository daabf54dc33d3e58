"""Half-wave dipole over real earth: closed forms."""

from __future__ import annotations

import numpy as np

from propagation.antennas.antenna import PATTERN_ELEVATIONS_DEG, Pattern, Solution
from propagation.antennas.spec import AntennaSpec
from propagation.constants import SPEED_OF_LIGHT_M_PER_S
from propagation.ground import Ground
from propagation.units import cosd, sind


def solve(spec: AntennaSpec, ground: Ground, frequency_mhz: float) -> Solution:
    """The dipole on one frequency [MHz], cut for it."""
    k = 2.0e6 * np.pi * frequency_mhz / SPEED_OF_LIGHT_M_PER_S
    elevation = PATTERN_ELEVATIONS_DEG[:, None]
    azimuth = np.arange(0.0, 360.0, 15.0)[None, :] - spec.azimuth_deg
    along = cosd(elevation) * sind(azimuth)  # cosine of the angle between ray and wire
    rho_v, rho_h = ground.reflection(frequency_mhz, elevation)
    delay = np.exp(-2j * k * spec.height_m * sind(elevation))
    across = np.sqrt(np.maximum(1.0 - along**2, 1e-12))
    shape = np.cos(np.pi / 2.0 * along) / across
    horizontal = cosd(azimuth) * (1.0 + rho_h * delay)
    vertical = sind(azimuth) * sind(elevation) * (1.0 - rho_v * delay)
    power = (np.abs(horizontal) ** 2 + np.abs(vertical) ** 2) * (shape / across) ** 2
    pattern = Pattern(1.64 * power)
    efficiency = min(pattern.efficiency(), 1.0)
    return Solution(
        frequency_mhz=frequency_mhz,
        pattern=pattern,
        efficiency=efficiency,
        radiation_resistance_ohm=70.0 * efficiency,
        ground_loss_ohm=70.0 * (1.0 - efficiency),
        reactance_ohm=0.0,
        tuned_resistance_ohm=70.0,
        slope_ohm=70.0 * 12.0,
        load_ohm=70.0,
    )
