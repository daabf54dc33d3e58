"""Impedances at the ports, currents and far field of a wire antenna on one frequency."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from propagation.antennas.solution import PATTERN_ELEVATIONS_DEG, Pattern
from propagation.antennas.thin_wire import Structure, impedance_matrix, turned
from propagation.base.constants import FREE_SPACE_IMPEDANCE_OHM, SPEED_OF_LIGHT_M_PER_S
from propagation.base.units import FloatArray, as_float
from propagation.geo.ground import ComplexArray, Ground

WHIP_PIECES_PER_WAVE: Final = 40  # segments of a radiator, at least 8
WIRE_PIECES_PER_WAVE: Final = 24  # segments of radials and other wires, at least 6
MOST_PIECES: Final = 80  # segments of one wire, to limit time; enough for three waves
FREQUENCY_STEP: Final = 0.003  # relative frequency step for a slope of reactance
CLEAR_HEIGHT_M: Final = 0.02  # m; lowest computed height of the ends of other wires and of a cable (ours)
PATTERN_AZIMUTHS_DEG: Final[FloatArray] = np.arange(0.0, 360.0, 15.0)


def wavelength_m(frequency_mhz: float) -> float:
    """Wavelength in free space [m]."""
    return SPEED_OF_LIGHT_M_PER_S / (1.0e6 * frequency_mhz)


def pieces(length_m: float, frequency_mhz: float, per_wave: int, least: int) -> int:
    """Count of segments of a wire of a length [m] on a frequency [MHz]; coarser beyond three waves."""
    return min(MOST_PIECES, max(least, int(np.ceil(per_wave * length_m / wavelength_m(frequency_mhz)))))


@dataclass(frozen=True)
class Ports:
    """Port impedances and currents of a structure on one frequency.

    impedance: (n, n) [ohm]; currents: (unknowns, n), the unknowns for 1 A into one port, the others open.
    """

    impedance: ComplexArray
    currents: ComplexArray


@lru_cache(maxsize=512)
def ports(structure: Structure, at: tuple[int, ...], frequency_mhz: float, ground: Ground | None) -> Ports:
    """Open-circuit impedances at the unknowns `at`, and the corresponding currents."""
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

    input_power: R |I|^2 at the feed, with losses of coil and ground [W, peak amperes squared x ohm].
    ring: number of equal wires round a vertical. Three or more radiate equally in all directions except for a
    small ripple, which is averaged out; fewer are computed at all azimuths.
    """
    azimuth = PATTERN_AZIMUTHS_DEG if ring < 3 else as_float(180.0 / ring * (np.arange(4) + 0.5) / 4.0)
    upright, level = far_field(structure, currents, frequency_mhz, ground, PATTERN_ELEVATIONS_DEG, azimuth)
    power = np.abs(upright) ** 2 + np.abs(level) ** 2
    gain = FREE_SPACE_IMPEDANCE_OHM / (4.0 * np.pi * input_power) * power
    if ring >= 3:
        gain = gain.mean(axis=1, keepdims=True)
    return Pattern(as_float(gain))


_FAR: Final = np.polynomial.legendre.leggauss(2)  # points on a segment


def far_field(
    structure: Structure,
    currents: ComplexArray,
    frequency_mhz: float,
    ground: Ground | None,
    elevation_deg: FloatArray,
    azimuth_deg: FloatArray,
) -> tuple[ComplexArray, ComplexArray]:
    """Radiation vectors k0 N [A], vertical and horizontal polarisation, each (elevations, azimuths).

    currents: the unknowns [A]; azimuth clockwise from north. The ground reflects by Fresnel's coefficients.
    Gain = eta (|v|^2 + |h|^2) / (4 pi R |I|^2).
    """
    k0 = 2.0e6 * np.pi * frequency_mhz / SPEED_OF_LIGHT_M_PER_S
    flow = structure.weights @ currents  # (segments, 2)
    x, w = _FAR
    points_list, element_list = [], []
    starts, stops = structure.ends
    for number, wire in enumerate(structure.wires):
        part = slice(structure.first_segment[number], structure.first_segment[number + 1])
        copies = min(wire.copies, _enough(k0 * float(np.abs(stops[part, :2]).max()) * np.sqrt(2.0)))
        first = turned(starts[part], copies, copies)
        last = turned(stops[part], copies, copies)
        for gauss, weight in zip(x, w, strict=True):
            amount = flow[part, 0] * (0.5 - gauss / 2.0) + flow[part, 1] * (0.5 + gauss / 2.0)
            points_list.append(((first + last) / 2.0 + gauss * (last - first) / 2.0).reshape(-1, 3))
            share = weight / 2.0 * (wire.copies / copies)
            element_list.append((amount[:, None] * (last - first) * share).reshape(-1, 3))
    points, elements = k0 * np.concatenate(points_list), k0 * np.concatenate(element_list)
    elevation, azimuth = np.deg2rad(elevation_deg), np.deg2rad(azimuth_deg)
    east, north = np.sin(azimuth), np.cos(azimuth)
    sine, cosine = np.sin(elevation), np.cos(elevation)
    aside = east[:, None] * points[:, 0] + north[:, None] * points[:, 1]  # (azimuths, points)
    radial = east[:, None] * elements[:, 0] + north[:, None] * elements[:, 1]
    across = north[:, None] * elements[:, 0] - east[:, None] * elements[:, 1]
    spread = np.exp(1j * cosine[:, None, None] * aside)  # (elevations, azimuths, points)
    lift = np.exp(1j * sine[:, None] * points[:, 2])[:, None, :]
    direct = spread * lift
    upright = cosine[:, None] * np.einsum("eap,p->ea", direct, elements[:, 2])
    upright = upright - sine[:, None] * _along(direct, radial)
    level = _along(direct, across)
    if ground is not None:
        rho_v, rho_h = ground.reflection(frequency_mhz, elevation_deg)
        bounced = spread * lift.conj()
        vertical = cosine[:, None] * np.einsum("eap,p->ea", bounced, elements[:, 2])
        vertical = vertical + sine[:, None] * _along(bounced, radial)
        upright = upright + rho_v[:, None] * vertical
        level = level + rho_h[:, None] * _along(bounced, across)
    return upright, level


def _enough(reach: float) -> int:
    """Count of even copies round a vertical that radiate like any larger one, to rounding.

    reach: greatest distance from the vertical [1/k0]. The pattern of n copies differs from that of infinitely
    many by Bessel functions of the orders n - 1, n, ... of the reach, below 1e-12 at this n.
    """
    return int(np.ceil(1.3 * reach)) + 24


def _along(waves: ComplexArray, elements: ComplexArray) -> ComplexArray:
    """Sums over points of waves (elevations, azimuths, points) times elements (azimuths, points)."""
    return np.asarray(np.einsum("eap,ap->ea", waves, elements))
