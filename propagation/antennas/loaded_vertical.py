"""Short vertical with a coil in series at its base, over radials: closed forms."""

from __future__ import annotations

import numpy as np

from propagation.antennas.antenna import PATTERN_ELEVATIONS_DEG, Pattern, Solution
from propagation.antennas.spec import AntennaSpec
from propagation.constants import SPEED_OF_LIGHT_M_PER_S
from propagation.ground import Ground
from propagation.units import cosd, sind


def solve(spec: AntennaSpec, ground: Ground, frequency_mhz: float) -> Solution:
    """The vertical on one frequency [MHz]."""
    k = 2.0e6 * np.pi * frequency_mhz / SPEED_OF_LIGHT_M_PER_S
    height, radius = spec.whip_m, spec.radius_mm / 1000.0
    characteristic = 60.0 * (np.log(height / radius) - 1.0)
    kh = min(k * height, 3.0)
    free = 0.96 * 40.0 * np.tan(kh / 2.0) ** 2
    reactance = -characteristic / np.tan(kh)
    slope = characteristic * (kh / np.sin(kh) ** 2)
    resistance = free
    if not ground.perfect:
        length = 3.81 if spec.radial_m is None else spec.radial_m
        u = min(0.94 * k * length, 3.0)
        resistance = 0.76 * 40.0 * np.tan(kh / 2.0) ** 2 + 5.74 / frequency_mhz
        reactance -= 100.0 / np.tan(u)
        slope += 100.0 * u / np.sin(u) ** 2
    coil = max(-reactance, 0.0)
    coil_loss = coil / spec.coil_q
    total = resistance + coil_loss
    rho_v, _ = ground.reflection(frequency_mhz, PATTERN_ELEVATIONS_DEG)
    phase = np.exp(1j * k * (spec.feed_height_m + 0.42 * height) * sind(PATTERN_ELEVATIONS_DEG))
    field = cosd(PATTERN_ELEVATIONS_DEG) * np.abs(phase + rho_v / phase) / 2.0
    pattern = Pattern((3.0 * field**2 * free / total)[:, None])
    efficiency = pattern.efficiency()
    return Solution(
        frequency_mhz=frequency_mhz,
        pattern=pattern,
        efficiency=efficiency,
        radiation_resistance_ohm=efficiency * total,
        ground_loss_ohm=resistance - efficiency * total,
        reactance_ohm=reactance,
        coil_loss_ohm=coil_loss,
        coil_uh=coil / (2.0 * np.pi * frequency_mhz),
        tuned_resistance_ohm=total,
        slope_ohm=slope + coil,
    )
