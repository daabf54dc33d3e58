"""The integrals of absorption through the model D and E layers, by scipy's adaptive quadrature."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy import integrate

DB_M2 = 20.0 / np.log(10.0) * 1.602176634e-19**2 / (2.0 * 8.8541878e-12 * 9.1093837e-31 * 299792458.0)


def collisions(z: float) -> float:
    return 1.82e11 * np.exp(-0.15 * z)


def d_density(z: float) -> float:
    return 1.43e13 * np.exp(-0.15 * 72.0) * np.exp(0.20 * (z - 72.0))


def e_shape(z: float) -> float:
    y = (z - 110.0) / 8.0
    return float(np.exp(0.5 * (1.0 - y - np.exp(-y))))


@lru_cache
def e_column() -> float:
    return integrate.quad(lambda z: e_shape(z) * collisions(z), 92.0, 160.0, limit=200)[0] * 1e3


def d_integral_db(effective_mhz: float) -> float:
    omega = 2e6 * np.pi * effective_mhz
    value, _ = integrate.quad(
        lambda z: d_density(z) * collisions(z) / (omega**2 + collisions(z) ** 2), 55.0, 92.0, limit=200
    )
    return float(2.0 * DB_M2 * value * 1e3)


def e_integral_db(effective_mhz: float) -> float:
    return float(2.0 * DB_M2 * 1.24e10 * e_column() / (2e6 * np.pi * effective_mhz) ** 2)


def penetration(x: float) -> float:
    """Integral of shape x collisions / sqrt(1 - shape / x^2) to the turning point, over that straight
    through."""
    if x > 1.0:
        value, _ = integrate.quad(
            lambda z: e_shape(z) * collisions(z) / np.sqrt(1.0 - e_shape(z) / x**2), 92.0, 160.0,
            limit=400, points=[110.0],
        )  # fmt: skip
        return float(value * 1e3 / e_column())
    low, high = 60.0, 110.0  # the turning point: shape = x^2 below the peak
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if e_shape(middle) < x**2 else (low, middle)
    if high < 92.0:
        return 0.0
    depth = np.sqrt(high - 92.0)  # z = top - u^2 takes the root's singularity away
    value, _ = integrate.quad(
        lambda u: 2.0 * u * e_shape(high - u**2) * collisions(high - u**2)
        / np.sqrt(max(1.0 - e_shape(high - u**2) / x**2, 1e-12)),
        1e-6, depth, limit=400,
    )  # fmt: skip
    return float(value * 1e3 / e_column())
