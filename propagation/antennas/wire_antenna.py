"""An antenna made of wires on one frequency: impedances at its ports, currents, pattern over the earth."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from propagation.antennas.far_field import far_field
from propagation.antennas.solution import PATTERN_ELEVATIONS_DEG, Pattern
from propagation.antennas.thin_wire import Structure, impedance_matrix
from propagation.base.constants import FREE_SPACE_IMPEDANCE_OHM, SPEED_OF_LIGHT_M_PER_S
from propagation.base.units import FloatArray, as_float
from propagation.geo.ground import ComplexArray, Ground

WHIP_PIECES_PER_WAVE: Final = 40  # segments of a radiator, at least 8
WIRE_PIECES_PER_WAVE: Final = 24  # segments of radials and other wires, at least 6
MOST_PIECES: Final = 80  # segments of one wire, to bound time; enough for three waves
FREQUENCY_STEP: Final = 0.003  # relative step to take a slope of reactance over
PATTERN_AZIMUTHS_DEG: Final[FloatArray] = np.arange(0.0, 360.0, 15.0)


def wavelength_m(frequency_mhz: float) -> float:
    """Wavelength in free space [m]."""
    return SPEED_OF_LIGHT_M_PER_S / (1.0e6 * frequency_mhz)


def pieces(length_m: float, frequency_mhz: float, per_wave: int, least: int) -> int:
    """How many segments a wire of a length [m] needs on a frequency [MHz]; coarser beyond three waves."""
    return min(MOST_PIECES, max(least, int(np.ceil(per_wave * length_m / wavelength_m(frequency_mhz)))))


@dataclass(frozen=True)
class Ports:
    """The structure seen from its ports on one frequency.

    impedance: (n, n) [ohm]; currents: (unknowns, n), the unknowns for 1 A into one port, the others open.
    """

    impedance: ComplexArray
    currents: ComplexArray


@lru_cache(maxsize=512)
def ports(structure: Structure, at: tuple[int, ...], frequency_mhz: float, ground: Ground | None) -> Ports:
    """Open-circuit impedances at the unknowns `at`, and the currents that go with them."""
    matrix = impedance_matrix(structure, frequency_mhz, ground)
    drive = np.zeros((matrix.shape[0], len(at)), dtype=np.complex128)
    for column, unknown in enumerate(at):
        drive[unknown, column] = 1.0
    response = np.linalg.solve(matrix, drive)
    impedance = np.linalg.inv(response[list(at)])
    return Ports(np.asarray(impedance), np.asarray(response @ impedance))


def pattern(
    structure: Structure,
    currents: ComplexArray,
    input_power: float,
    frequency_mhz: float,
    ground: Ground | None,
    ring: int = 0,
) -> Pattern:
    """Gain over the upper half space for given currents.

    input_power: R |I|^2 at the feed, losses of coil and earth in [W, peak amperes squared x ohm].
    ring: number of equal wires round a vertical. Three and more radiate the same all round but for a small
    ripple, which is averaged out; anything less is computed at all azimuths.
    """
    azimuth = PATTERN_AZIMUTHS_DEG if ring < 3 else as_float(180.0 / ring * (np.arange(4) + 0.5) / 4.0)
    upright, level = far_field(structure, currents, frequency_mhz, ground, PATTERN_ELEVATIONS_DEG, azimuth)
    power = np.abs(upright) ** 2 + np.abs(level) ** 2
    gain = FREE_SPACE_IMPEDANCE_OHM / (4.0 * np.pi * input_power) * power
    if ring >= 3:
        gain = gain.mean(axis=1, keepdims=True)
    return Pattern(as_float(gain))
