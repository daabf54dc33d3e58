"""Absorption along one ray by direct integration through the profile FIRI-2018 gives for the place and time.

Slow and plain: the package `pyfiri` reads the profile, Bouguer's rule bends the ray, the turning point is
found by bisection, and Gauss-Legendre sums every kilometre. Nothing is shared with the table of the program.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from pyfiri.firi import firi2018
from scipy.optimize import brentq

EARTH_KM = 6371.0
DB_M2 = 20.0 / np.log(10.0) * 1.602176634e-19**2 / (2.0 * 8.8541878e-12 * 9.1093837e-31 * 299792458.0)
# U.S. Standard Atmosphere 1976: km, Pa
AIR = np.array(
    [(55.0, 42.525), (60.0, 21.958), (65.0, 10.929), (70.0, 5.2209), (75.0, 2.3881), (80.0, 1.0524),
     (86.0, 0.37338), (90.0, 0.18359), (95.0, 0.075966), (100.0, 0.032011), (105.0, 0.014477),
     (110.0, 0.0071042), (115.0, 0.0040096), (120.0, 0.0025382), (130.0, 0.0012505), (140.0, 7.2028e-4),
     (150.0, 4.5422e-4)]
)  # fmt: skip
NODES, WEIGHTS = np.polynomial.legendre.leggauss(12)
DAYS, DAY_WEIGHTS = np.polynomial.hermite_e.hermegauss(9)


@lru_cache(maxsize=1)
def model() -> Any:
    return firi2018()


@lru_cache(maxsize=512)
def profile(day_of_year: float, zenith_deg: float, latitude_deg: float, flux_sfu: float) -> tuple[Any, Any]:
    """Heights [km] and the logarithm of the density [1/m3]; its nodes run from day 15 to 350."""
    found = model().get_profile(day_of_year, zenith_deg, latitude_deg, flux_sfu)
    km, log_density = np.asarray(found.alt.values, dtype=float), np.log(np.asarray(found.values).ravel())
    known = np.isfinite(log_density)  # the model leaves out a kilometre or two at its top, at some states
    return km[known], log_density[known]


def foe_mhz(day_of_year: float, zenith_deg: float, latitude_deg: float, flux_sfu: float) -> float:
    """Highest plasma frequency between 95 and 125 km."""
    km, log_density = profile(day_of_year, zenith_deg, latitude_deg, flux_sfu)
    return float(np.sqrt(np.exp(log_density[(km >= 95.0) & (km <= 125.0)].max()) / 1.24e10))


def parts_db(
    state: tuple[float, float, float, float],
    frequency_mhz: float,
    longitudinal_gyro_mhz: float,
    elevation_deg: float,
    spread: float = 0.06,
) -> tuple[float, float]:
    """Two-way loss [dB] under and over 92 km, mean over days on which foE departs from the median."""
    total = np.zeros(2)
    for score, weight in zip(DAYS, DAY_WEIGHTS / DAY_WEIGHTS.sum(), strict=True):
        factor = float(np.exp(spread * score))
        total += weight * _one_day(state, frequency_mhz / factor, frequency_mhz + longitudinal_gyro_mhz,
                                   elevation_deg)  # fmt: skip
    return float(total[0]), float(total[1])


def _one_day(
    state: tuple[float, float, float, float], f: float, effective_mhz: float, elevation: float
) -> Any:
    km, log_density = profile(*state)
    impact = EARTH_KM * np.cos(np.radians(elevation))

    def density(z: Any) -> Any:
        return np.exp(np.interp(z, km, log_density))

    def argument(z: Any) -> Any:
        return (1.0 - density(z) / (1.24e10 * f * f)) * (EARTH_KM + z) ** 2 - impact**2

    def rate(z: Any) -> Any:
        nu = 2.5 * 6.4e5 * np.exp(np.interp(z, AIR[:, 0], np.log(AIR[:, 1])))
        loss = 2.0 * DB_M2 * density(z) * nu / ((2e6 * np.pi * effective_mhz) ** 2 + nu**2)
        return loss * (EARTH_KM + z) * 1e3 / np.sqrt(np.maximum(argument(z), 1e-6))

    search = np.arange(55.0, 150.001, 0.02)
    turned = np.flatnonzero(argument(search) <= 0.0)
    top = 150.0 if not turned.size else float(brentq(argument, search[turned[0] - 1], search[turned[0]]))
    total = np.zeros(2)
    edges = [*np.arange(55.0, np.floor(top), 1.0), top - 0.5 * (top - np.floor(top)), top]
    edges = sorted({min(max(e, 55.0), top) for e in [*edges, np.floor(top)]})
    for low, high in pairwise(edges):
        if high == top and turned.size:  # z = top - (top - low) v^2 takes the root's singularity away
            v = 0.5 * (NODES + 1.0)
            z, step = top - (top - low) * v * v, (top - low) * v * WEIGHTS
        else:
            z, step = low + (high - low) * 0.5 * (NODES + 1.0), 0.5 * (high - low) * WEIGHTS
        total[int(low >= 92.0)] += float(np.sum(rate(z) * step))
    return total
