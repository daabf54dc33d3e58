"""Line between rig and antenna: its loss into any load, the SWR at the rig, and what the rig makes of it.

Source: matched losses as published by makers and handbooks; any other load by the equations of a uniform line
(textbook), with a characteristic impedance that its losses make slightly complex. So a short line into a high
or a low impedance loses in its conductors where the current is, and in its dielectric where the voltage is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

from propagation.antennas.spec import FeedlineSpec
from propagation.base.constants import SPEED_OF_LIGHT_M_PER_S
from propagation.base.errors import InputError
from propagation.base.units import FloatArray, FloatLike, as_float, db
from propagation.geo.ground import ComplexArray

RIG_OHM: Final = 50.0  # impedance that a rig's socket is made for (common practice)
VELOCITY_FACTOR: Final = 0.66  # solid polyethylene cable (from memory)
DB_PER_NEPER: Final = 20.0 * np.log10(np.e)
# A rig keeps its full power up to this SWR; beyond it, the reflected power constant (common practice, ours)
FULL_POWER_SWR: Final = 2.0
Load: TypeAlias = complex | ComplexArray
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
    """Loss of 100 m of the line into its own impedance [dB], in the shape of `frequency_mhz` [MHz].

    A named cable: a sqrt(f) + b f, skin effect and dielectric, through its two published points. Points given
    by the user are interpolated linearly in the logarithms; beyond them loss is proportional to sqrt(f).
    """
    copper, dielectric = _losses_db_per_100m(line, as_float(frequency_mhz))
    return as_float(copper + dielectric)


def _losses_db_per_100m(line: FeedlineSpec, frequency: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Matched loss in conductors and in the dielectric; of the user's own points all in conductors."""
    if not line.matched_loss_db_per_100m:
        low, high = (loss * FEET_100_PER_100_M for loss in _known(line.cable))
        roots = np.sqrt(_TABLE_MHZ)
        dielectric = (high / roots[1] - low / roots[0]) / (roots[1] - roots[0])
        copper = low / roots[0] - dielectric * roots[0]
        return as_float(copper * np.sqrt(frequency)), as_float(dielectric * frequency)
    table = as_float(sorted(line.matched_loss_db_per_100m))
    at_mhz, loss_db = table[:, 0], np.maximum(table[:, 1], 1e-9)
    nearest = np.clip(frequency, at_mhz[0], at_mhz[-1])
    joined = np.exp(np.interp(np.log(nearest), np.log(at_mhz), np.log(loss_db)))
    return as_float(joined * np.sqrt(frequency / nearest)), np.zeros_like(frequency)


@dataclass(frozen=True)
class AtRig:
    """Line into its load, from the rig: total loss [dB], SWR at the rig, and the impedance there [ohm]."""

    loss_db: FloatArray
    swr: FloatArray
    input_ohm: ComplexArray

    @property
    def foldback_db(self) -> FloatArray:
        """Power [dB] that a rig without a tuner keeps back: what a tuner at the rig saves; 0 for a match."""
        reflection = (self.swr - 1.0) / (self.swr + 1.0)
        edge = (FULL_POWER_SWR - 1.0) / (FULL_POWER_SWR + 1.0)
        forward = np.minimum(1.0, (edge / np.maximum(reflection, 1e-9)) ** 2)
        return -db(forward * (1.0 - reflection**2))


def at_rig(line: FeedlineSpec, frequency_mhz: FloatLike, load_ohm: Load) -> AtRig:
    """Solve the line into its load on a frequency [MHz]; both broadcast.

    V = V_L cosh(g l) + I_L Z0 sinh(g l), I = I_L cosh(g l) + V_L / Z0 sinh(g l), with g and Z0 from
    resistance and conductance per metre, and from impedance and velocity (textbook).
    """
    frequency, load = np.broadcast_arrays(as_float(frequency_mhz), np.asarray(load_ohm, np.complex128))
    copper, dielectric = (loss / 100.0 / DB_PER_NEPER for loss in _losses_db_per_100m(line, frequency))
    beta = 2.0e6 * np.pi * frequency / (SPEED_OF_LIGHT_M_PER_S * VELOCITY_FACTOR)
    series = (2.0 * copper + 1j * beta) * line.impedance_ohm  # ohm per metre
    shunt = (2.0 * dielectric + 1j * beta) / line.impedance_ohm  # siemens per metre
    z0, turn = np.sqrt(series / shunt), np.sqrt(series * shunt) * line.length_m
    volt = load * np.cosh(turn) + z0 * np.sinh(turn)  # for 1 A into the load
    ampere = np.cosh(turn) + load / z0 * np.sinh(turn)
    loss_db = db((volt * ampere.conj()).real / np.maximum(load.real, 1e-6))
    seen = np.asarray(volt / ampere)
    return AtRig(np.maximum(loss_db, 0.0), swr_of(seen, RIG_OHM), seen)


def swr_of(load_ohm: Load, line_ohm: float = RIG_OHM) -> FloatArray:
    """Standing-wave ratio of a load [ohm] on a line [ohm]; large and finite for total reflection."""
    load = np.asarray(load_ohm, dtype=np.complex128)
    reflection = np.minimum(np.abs((load - line_ohm) / (load + line_ohm)), 0.9999)
    return as_float((1.0 + reflection) / (1.0 - reflection))


def spent_db(line: FeedlineSpec, frequency_mhz: FloatLike, load_ohm: Load) -> FloatArray:
    """Loss between rig and antenna [dB]: the line's and, where there is said to be no tuner, the rig's."""
    found = at_rig(line, frequency_mhz, load_ohm)
    return found.loss_db + found.foldback_db if line.tuner is False else found.loss_db
