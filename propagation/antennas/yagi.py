"""A small beam: reflector, driven dipole and directors on a boom."""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.antennas.dipole import Build, solve_direct
from propagation.antennas.solution import Solution
from propagation.antennas.spec import AntennaSpec
from propagation.antennas.thin_wire import Structure, Wire
from propagation.antennas.wire_antenna import WIRE_PIECES_PER_WAVE, pieces, wavelength_m
from propagation.geo.ground import Ground

# A plain beam of tubing 0.001 wavelength in radius: lengths and spacings in wavelengths, a common starting
# point of the handbooks (from memory), reflector first; further directors repeat the last.
_LENGTHS: Final = (0.495, 0.473, 0.442, 0.438)
_SPACINGS: Final = (0.20, 0.20, 0.25)
_TUBE_RADIUS: Final = 0.001  # wavelengths


def wires(spec: AntennaSpec, frequency_mhz: float) -> Build:
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
    return Build(structure, structure.unknown(1, parts[1].segments // 2))


def solve(spec: AntennaSpec, ground: Ground, frequency_mhz: float) -> Solution:
    """The beam on one frequency [MHz], cut for it and matched to its line."""
    return solve_direct(wires(spec, frequency_mhz), ground, frequency_mhz)
