"""Half-wave wire fed at its low end through a transformer, sloping up to a high point."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from propagation.antennas.dipole import HALF_WAVE, LOWEST_END_M, USUAL_SLOPE_DEG, Build, solve_direct
from propagation.antennas.radials import CLEAR_HEIGHT_M
from propagation.antennas.solution import Pattern, Solution
from propagation.antennas.spec import AntennaSpec
from propagation.antennas.thin_wire import Structure, Wire
from propagation.antennas.wire_antenna import WIRE_PIECES_PER_WAVE, pieces, wavelength_m
from propagation.geo.ground import Ground

COUNTERPOISE_WAVES: Final = (
    0.05  # wavelengths of wire to feed against, where nothing is said (common practice)
)


def wires(spec: AntennaSpec, frequency_mhz: float) -> Build:
    """The wire from the feed up to its high end, and the counterpoise lying away from it."""
    wave = wavelength_m(frequency_mhz)
    length = HALF_WAVE * wave if spec.length_m is None else spec.length_m
    tail = COUNTERPOISE_WAVES * wave if spec.counterpoise_m is None else spec.counterpoise_m
    high = spec.height_m
    if spec.end_height_m is None:
        rise = min(np.sin(np.deg2rad(USUAL_SLOPE_DEG)), max(high - LOWEST_END_M, 0.0) / length)
        low = high - float(rise) * length
    else:
        low = spec.end_height_m
    low = max(low, CLEAR_HEIGHT_M)
    rise = float(np.clip((high - low) / length, -0.999, 0.999))
    level = float(np.sqrt(1.0 - rise**2)) * length
    azimuth = np.deg2rad(spec.azimuth_deg)
    # the low end, where the feed is, lies towards the azimuth: a sloping wire radiates best down its slope
    east, north = float(np.sin(azimuth)), float(np.cos(azimuth))
    radius = spec.wire_radius_mm / 1000.0
    feed = (level * east, level * north, low)
    structure = Structure(
        (
            Wire(
                feed,
                ((level + tail) * east, (level + tail) * north, low),
                radius,
                pieces(tail, frequency_mhz, WIRE_PIECES_PER_WAVE, 4),
            ),
            Wire(
                feed,
                (0.0, 0.0, low + rise * length),
                radius,
                pieces(length, frequency_mhz, WIRE_PIECES_PER_WAVE, 20),
            ),
        )
    )
    return Build(structure, structure.unknown(1, 0))


def solve(spec: AntennaSpec, ground: Ground, frequency_mhz: float) -> Solution:
    """The end-fed wire on one frequency [MHz]; what its transformer loses counts as loss of the antenna."""
    bare = solve_direct(wires(spec, frequency_mhz), ground, frequency_mhz)
    passed = spec.transformer_efficiency
    return replace(
        bare,
        pattern=Pattern(bare.pattern.gain * passed),
        efficiency=bare.efficiency * passed,
        other_share=1.0 - passed,
        load_ohm=bare.load_ohm / spec.transformer_ratio,
        tuned_resistance_ohm=bare.tuned_resistance_ohm,
        slope=None,
        notes=("Fed through a transformer at the end of the wire; the cable is part of its counterpoise.",),
    )
