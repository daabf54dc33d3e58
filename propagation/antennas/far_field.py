"""What wires with known currents radiate to a distance; the earth answers by Fresnel's coefficients."""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.antennas.thin_wire import Structure, turned
from propagation.base.constants import SPEED_OF_LIGHT_M_PER_S
from propagation.base.units import FloatArray
from propagation.geo.ground import ComplexArray, Ground

_FAR: Final = np.polynomial.legendre.leggauss(2)  # points on a segment


def far_field(
    structure: Structure,
    currents: ComplexArray,
    frequency_mhz: float,
    ground: Ground | None,
    elevation_deg: FloatArray,
    azimuth_deg: FloatArray,
) -> tuple[ComplexArray, ComplexArray]:
    """Radiation vectors k0 N [A], up-and-down and level polarisation, each (elevations, azimuths).

    currents: the unknowns [A]; azimuth clockwise from north. The earth answers by Fresnel's coefficients.
    Gain = eta (|v|^2 + |h|^2) / (4 pi R |I|^2).
    """
    k0 = 2.0e6 * np.pi * frequency_mhz / SPEED_OF_LIGHT_M_PER_S
    flow = structure.weights @ currents  # (segments, 2)
    x, w = _FAR
    points_list, element_list = [], []
    starts, stops = structure.ends
    for number, wire in enumerate(structure.wires):
        part = slice(structure.first_segment[number], structure.first_segment[number + 1])
        first = turned(starts[part], wire.copies, wire.copies)
        last = turned(stops[part], wire.copies, wire.copies)
        for gauss, weight in zip(x, w, strict=True):
            amount = flow[part, 0] * (0.5 - gauss / 2.0) + flow[part, 1] * (0.5 + gauss / 2.0)
            points_list.append(((first + last) / 2.0 + gauss * (last - first) / 2.0).reshape(-1, 3))
            element_list.append((amount[:, None] * (last - first) * (weight / 2.0)).reshape(-1, 3))
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


def _along(waves: ComplexArray, elements: ComplexArray) -> ComplexArray:
    """Sums over points of waves (elevations, azimuths, points) times elements (azimuths, points)."""
    return np.asarray(np.einsum("eap,ap->ea", waves, elements))
