"""Horizontal and sloping wires, small beams, and the vertical half-wave dipole.

Dipoles (flat, inverted V, sloping, half-wave vertical), the sloping end-fed wire with its transformer, and
the yagi of a reflector, a driven dipole and directors on a boom.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from propagation.antennas.solution import Pattern, Solution
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.antennas.thin_wire import Point, Structure, Wire
from propagation.antennas.wire_antenna import (
    CLEAR_HEIGHT_M,
    FREQUENCY_STEP,
    WIRE_PIECES_PER_WAVE,
    pattern,
    pieces,
    ports,
    wavelength_m,
)
from propagation.geo.ground import Ground

HALF_WAVE: Final = 0.4765  # wavelengths, a wire cut by the usual rule of 142.9 m / f (common practice)
LOWEST_END_M: Final = 1.0  # m, least height of a drooping end where none is given
USUAL_APEX_DEG: Final = 120.0  # deg between the arms of an inverted V (common practice)
USUAL_SLOPE_DEG: Final = 45.0  # deg below the horizontal for a sloping wire (common practice)


@dataclass(frozen=True)
class DipoleWires:
    """Wires of a dipole, and the index of its feed current among the unknowns; `ring` as for a vertical."""

    structure: Structure
    feed: int
    ring: int = 0


def dipole_wires(spec: AntennaSpec, frequency_mhz: float) -> DipoleWires:
    """The dipole as two straight arms from the feed; east is x, north is y, azimuth clockwise from north."""
    length = HALF_WAVE * wavelength_m(frequency_mhz) if spec.length_m is None else spec.length_m
    arm = length / 2.0
    height = spec.height_m
    azimuth = np.deg2rad(spec.azimuth_deg)
    radius = spec.wire_radius_mm / 1000.0
    count = pieces(arm, frequency_mhz, WIRE_PIECES_PER_WAVE, 8)

    def arms(middle: Point, direction: tuple[Point, Point]) -> DipoleWires:
        ends = [tuple(m + arm * d for m, d in zip(middle, way, strict=True)) for way in direction]
        ends = [(end[0], end[1], max(end[2], CLEAR_HEIGHT_M)) for end in ends]
        structure = Structure(
            tuple(Wire(middle, (end[0], end[1], end[2]), radius, count) for end in ends),
        )
        return DipoleWires(structure, structure.unknown(1, 0), 8 if spec.kind == "half-wave vertical" else 0)

    east, north = float(np.sin(azimuth)), float(np.cos(azimuth))
    if spec.kind == "half-wave vertical":
        middle_m = max(height, arm + CLEAR_HEIGHT_M)
        return arms((0.0, 0.0, middle_m), ((0.0, 0.0, -1.0), (0.0, 0.0, 1.0)))
    if spec.kind == "sloping dipole":  # the high end points away from the azimuth, the low end towards it
        if spec.end_height_m is None:
            fall = min(np.sin(np.deg2rad(USUAL_SLOPE_DEG)), max(height - LOWEST_END_M, 0.0) / length)
        else:
            fall = np.clip((height - spec.end_height_m) / length, -1.0, 1.0)
        level = float(np.sqrt(1.0 - fall**2))
        down = (level * east, level * north, -float(fall))
        return arms((0.0, 0.0, height - arm * float(fall)), ((-down[0], -down[1], -down[2]), down))
    fall = 0.0
    if spec.kind == "inverted v":
        if spec.end_height_m is not None:
            fall = (height - spec.end_height_m) / arm
        elif spec.apex_angle_deg is not None:
            fall = float(np.cos(np.deg2rad(spec.apex_angle_deg / 2.0)))
        else:
            usual = float(np.cos(np.deg2rad(USUAL_APEX_DEG / 2.0)))
            fall = min(usual, max(height - LOWEST_END_M, 0.0) / arm)
        fall = float(np.clip(fall, 0.0, 0.95))
    level = float(np.sqrt(1.0 - fall**2))
    # broadside to the azimuth: the arms are perpendicular to it
    return arms(
        (0.0, 0.0, height), ((-level * north, level * east, -fall), (level * north, -level * east, -fall))
    )


def solve_dipole(spec: AntennaSpec, ground: Ground, frequency_mhz: float, line: FeedlineSpec) -> Solution:
    """Solve the dipole on one frequency [MHz], fed by its line, directly or through a transformer."""
    found = solve_direct(dipole_wires(spec, frequency_mhz), ground, frequency_mhz)
    return found if spec.ratio == 1.0 else _transformed(found, spec)


def _transformed(bare: Solution, spec: AntennaSpec) -> Solution:
    """The solution behind a transformer, whose loss is part of the antenna's."""
    passed = spec.transformer_passes
    return replace(
        bare,
        pattern=Pattern(bare.pattern.gain * passed),
        efficiency=bare.efficiency * passed,
        other_share=1.0 - passed,
        load_ohm=bare.load_ohm / spec.ratio,
    )


def solve_direct(built: DipoleWires, ground: Ground, frequency_mhz: float) -> Solution:
    """Solve a structure of lossless wires fed directly at one place."""
    found = ports(built.structure, (built.feed,), frequency_mhz, ground)
    seen = complex(found.impedance[0, 0])
    radiated = pattern(built.structure, found.currents[:, 0], seen.real, frequency_mhz, ground, built.ring)
    efficiency = 1.0 if ground.perfect else min(radiated.efficiency(), 1.0)

    def slope() -> float:
        higher = ports(built.structure, (built.feed,), frequency_mhz * (1.0 + FREQUENCY_STEP), ground)
        return float(higher.impedance[0, 0].imag - seen.imag) / FREQUENCY_STEP

    return Solution(
        frequency_mhz=frequency_mhz,
        pattern=radiated,
        efficiency=efficiency,
        radiation_resistance_ohm=seen.real * efficiency,
        ground_loss_ohm=seen.real * (1.0 - efficiency),
        reactance_ohm=seen.imag,
        tuned_resistance_ohm=seen.real,
        slope=slope,
        load_ohm=seen,
        matched=False,
    )


COUNTERPOISE_WAVES: Final = 0.05  # wavelengths of counterpoise, where none is given (common practice)


def end_fed_wires(spec: AntennaSpec, frequency_mhz: float) -> DipoleWires:
    """The wire from the feed up to its high end, and the counterpoise on the ground away from it."""
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
    # the low end, with the feed, points towards the azimuth: a sloping wire radiates best down its slope
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
    return DipoleWires(structure, structure.unknown(1, 0))


def solve_end_fed(spec: AntennaSpec, ground: Ground, frequency_mhz: float, line: FeedlineSpec) -> Solution:
    """Solve the end-fed wire on one frequency [MHz], fed through its transformer."""
    bare = solve_direct(end_fed_wires(spec, frequency_mhz), ground, frequency_mhz)
    return replace(
        _transformed(bare, spec),
        slope=None,
        notes=("Fed through a transformer at the end of the wire; the cable is part of its counterpoise.",),
    )


# A plain beam of tubing 0.001 wavelength in radius: lengths and spacings in wavelengths, a common starting
# point of the handbooks (from memory), reflector first; further directors repeat the last.
_LENGTHS: Final = (0.495, 0.473, 0.442, 0.438)
_SPACINGS: Final = (0.20, 0.20, 0.25)
_TUBE_RADIUS: Final = 0.001  # wavelengths


def yagi_wires(spec: AntennaSpec, frequency_mhz: float) -> DipoleWires:
    """The elements, level at `height_m`, the boom along `azimuth_deg` with the reflector behind."""
    wave = wavelength_m(frequency_mhz)
    azimuth = np.deg2rad(spec.azimuth_deg)
    along = np.array([np.sin(azimuth), np.cos(azimuth)])
    across = np.array([along[1], -along[0]])
    at, parts = 0.0, []
    for number in range(spec.elements):
        half = _LENGTHS[min(number, len(_LENGTHS) - 1)] * wave / 2.0
        middle = at * wave * along
        ends = [middle - half * across, middle + half * across]
        count = 2 * pieces(half, frequency_mhz, WIRE_PIECES_PER_WAVE, 6)
        start, end = ((float(e[0]), float(e[1]), spec.height_m) for e in ends)
        parts.append(Wire(start, end, _TUBE_RADIUS * wave, count))
        at += _SPACINGS[min(number, len(_SPACINGS) - 1)]
    structure = Structure(tuple(parts))
    return DipoleWires(structure, structure.unknown(1, parts[1].segments // 2))


def solve_yagi(spec: AntennaSpec, ground: Ground, frequency_mhz: float, line: FeedlineSpec) -> Solution:
    """Solve the beam on one frequency [MHz], cut for it and matched to its line."""
    return solve_direct(yagi_wires(spec, frequency_mhz), ground, frequency_mhz)
