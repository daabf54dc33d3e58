"""Inductance of a single-layer coil as a cylinder of current, by integrating Neumann's formula."""

import numpy as np
from scipy import integrate

MU_0 = 4e-7 * np.pi  # H/m


def current_sheet_uh(turns: int, diameter_m: float, length_m: float) -> float:
    """L = mu0 (N/l)^2 a^2 integral of cos(phi) over two points of the sheet, the axial part done by hand.

    Over z and z' of the cylinder, 1/r integrates to 2 [l asinh(l/c) - sqrt(l^2 + c^2) + c], c the chord.
    """
    radius = diameter_m / 2.0

    def ring(phi: float) -> float:
        chord = 2.0 * radius * np.sin(phi / 2.0)
        along = length_m * np.arcsinh(length_m / chord) - np.hypot(length_m, chord) + chord
        return float(np.cos(phi) * 2.0 * along)

    whole = 2.0 * integrate.quad(ring, 0.0, np.pi, limit=200)[0]
    return float(MU_0 / 2.0 * (turns / length_m) ** 2 * radius**2 * whole * 1e6)
