"""Loss of the line between rig and antenna, matched and mismatched.

Source: matched losses as published by makers and handbooks; mismatch by the textbook formula.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.antennas.spec import FeedlineSpec
from propagation.base.errors import InputError
from propagation.base.units import FloatArray, FloatLike, as_float, db, undb
from propagation.geo.ground import ComplexArray

FEET_100_PER_100_M: Final = 100.0 / 30.48  # dB/100 m for one dB/100 ft

# dB per 100 ft at 30 and 150 MHz: table 6-1 (corrected) of the ARRL General Class License Manual.
_TABLE_DB_PER_100_FT: Final[dict[str, tuple[float, float]]] = {
    "RG-8": (1.08, 2.53),
    "RG-8X": (1.96, 4.53),
    "RG-58": (2.47, 5.63),
    "RG-174": (4.56, 10.3),
    "RG-213": (1.08, 2.53),
}
_TABLE_MHZ: Final = (30.0, 150.0)
CABLES: Final[tuple[str, ...]] = tuple(_TABLE_DB_PER_100_FT)


def _known(cable: str) -> tuple[float, float]:
    name = cable.strip().upper().replace(" ", "").replace("-", "").removesuffix("/U").rstrip("CU")
    for known, losses in _TABLE_DB_PER_100_FT.items():
        if name == known.replace("-", ""):
            return losses
    raise InputError(
        f"feedline.cable: {cable!r} is not known; use one of {', '.join(CABLES)}, or give its loss as "
        "matched_loss_db_per_100m"
    )


def matched_loss_db_per_100m(line: FeedlineSpec, frequency_mhz: FloatLike) -> FloatArray:
    """Loss of 100 m of the line terminated in its own impedance [dB], in the shape of `frequency_mhz` [MHz].

    A named cable: a sqrt(f) + b f, skin effect and dielectric, through its two published points. Points given
    by the user are interpolated linearly in the logarithms; beyond them loss is proportional to sqrt(f).
    """
    frequency = as_float(frequency_mhz)
    if not line.matched_loss_db_per_100m:
        low, high = (loss * FEET_100_PER_100_M for loss in _known(line.cable))
        roots = np.sqrt(_TABLE_MHZ)
        dielectric = (high / roots[1] - low / roots[0]) / (roots[1] - roots[0])
        copper = low / roots[0] - dielectric * roots[0]
        return as_float(copper * np.sqrt(frequency) + dielectric * frequency)
    table = as_float(sorted(line.matched_loss_db_per_100m))
    at_mhz, loss_db = table[:, 0], np.maximum(table[:, 1], 1e-9)
    nearest = np.clip(frequency, at_mhz[0], at_mhz[-1])
    joined = np.exp(np.interp(np.log(nearest), np.log(at_mhz), np.log(loss_db)))
    return as_float(joined * np.sqrt(frequency / nearest))


def mismatched_loss_db(matched_db: FloatLike, reflection: FloatLike) -> FloatArray:
    """Total loss [dB] of a line of a matched loss [dB] whose load reflects with magnitude `reflection`.

    10 log [(a^2 - rho^2) / (a (1 - rho^2))], a = 10^(matched / 10): textbook. The ripple along a line
    shorter than a quarter wave is neglected.
    """
    attenuation = undb(matched_db)
    rho2 = np.minimum(as_float(reflection) ** 2, 0.999999)
    return db((attenuation**2 - rho2) / (attenuation * (1.0 - rho2)))


def swr_of(load_ohm: complex | ComplexArray, line_ohm: float = 50.0) -> FloatArray:
    """Standing-wave ratio of a load [ohm] on a line [ohm]; large and finite for total reflection."""
    load = np.asarray(load_ohm, dtype=np.complex128)
    reflection = np.minimum(np.abs((load - line_ohm) / (load + line_ohm)), 0.9999)
    return as_float((1.0 + reflection) / (1.0 - reflection))


def line_loss_db(
    line: FeedlineSpec, frequency_mhz: FloatLike, load_ohm: complex | ComplexArray
) -> FloatArray:
    """Loss of the whole line into its load [dB]."""
    matched = matched_loss_db_per_100m(line, frequency_mhz) * line.length_m / 100.0
    load = np.asarray(load_ohm, dtype=np.complex128)
    reflection = np.abs((load - line.impedance_ohm) / (load + line.impedance_ohm))
    return mismatched_loss_db(matched, reflection)
