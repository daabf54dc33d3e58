"""Indices of solar activity and the ways between them.

The maps of foF2 and M(3000)F2 were made with the smoothed sunspot number R12 of the series in use before
July 2015 ("version 1"). The numbers published since are version 2, higher by about 1/0.7, and daily reports
give the 10.7 cm flux. Everything that enters a map must first be brought to R12 of version 1.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float

FLUX_AT_ZERO_SFU: Final = 63.7  # sfu, P.371: flux of a sun without spots (PyIRI takes 63.75)
FLUX_SLOPE_SFU: Final = 0.728  # sfu per unit of R12, P.371
FLUX_CURVE_SFU: Final = 8.9e-4  # sfu per unit of R12 squared, P.371
VERSION_1_PER_VERSION_2: Final = 0.7  # R12(v1) / R12(v2), common practice, from memory


def flux_from_r12(r12: FloatLike) -> FloatArray:
    """Monthly 10.7 cm flux Phi12 [sfu] that goes with a smoothed sunspot number R12 (version 1) >= 0.

    Phi12 = 63.7 + 0.728 R12 + 8.9e-4 R12^2 (ITU-R P.371). Negative numbers count as 0.
    """
    spots = np.maximum(as_float(r12), 0.0)
    return FLUX_AT_ZERO_SFU + spots * (FLUX_SLOPE_SFU + FLUX_CURVE_SFU * spots)


def r12_from_flux(flux_sfu: FloatLike) -> FloatArray:
    """Sunspot number R12 (version 1) that goes with a 10.7 cm flux [sfu]: the inverse of `flux_from_r12`.

    A flux below 63.7 sfu gives 0. A daily or weekly flux gives an *effective* number for that time.
    """
    excess = np.maximum(as_float(flux_sfu) - FLUX_AT_ZERO_SFU, 0.0)
    root = np.sqrt(FLUX_SLOPE_SFU**2 + 4.0 * FLUX_CURVE_SFU * excess)
    return np.asarray((root - FLUX_SLOPE_SFU) / (2.0 * FLUX_CURVE_SFU))


def r12_from_ssn(ssn_version_2: FloatLike) -> FloatArray:
    """Version-1 sunspot number out of one published since July 2015: times 0.7 (from memory)."""
    return np.asarray(VERSION_1_PER_VERSION_2 * as_float(ssn_version_2))


def ssn_from_r12(r12: FloatLike) -> FloatArray:
    """Sunspot number as published since July 2015 (version 2) out of a version-1 number."""
    return np.asarray(as_float(r12) / VERSION_1_PER_VERSION_2)
