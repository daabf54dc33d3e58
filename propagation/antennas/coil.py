"""Loading coils: inductance, quality, self-capacitance, and the slider's position."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import FloatArray, FloatLike, as_float

# Medhurst's measured factor H in C [pF] = H D [cm], against length / diameter (Wireless Engineer 24 (1947)
# 35 and 80; from memory).
_MEDHURST_RATIO: Final = (0.1, 0.3, 0.5, 1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 20.0, 30.0)
_MEDHURST_H: Final = (0.96, 0.60, 0.50, 0.46, 0.50, 0.72, 0.92, 1.12, 1.32, 2.36, 3.40)


@dataclass(frozen=True)
class Tuned:
    """A coil as it stands in the circuit on one frequency: what its owner sets and what it costs."""

    inductance_uh: float  # the coil's own [uH]
    resistance_ohm: float  # in series, its self-capacitance counted [ohm]
    reactance_ohm: float  # in series [ohm]
    slope_ohm: float  # f dX/df [ohm]


def tuned(reactance_ohm: float, frequency_mhz: float, quality: float, capacitance_pf: float = 0.0) -> Tuned:
    """The coil that shows a series reactance [ohm] at a frequency [MHz].

    A coil L with a capacitance C across it shows X = w L / (1 - w^2 L C), and its loss resistance grows by
    the square of that bracket (circuit theory). Needs reactance_ohm >= 0.
    """
    omega = 2.0e6 * np.pi * frequency_mhz
    capacitive = omega * capacitance_pf * 1e-12
    own = reactance_ohm / (1.0 + capacitive * reactance_ohm)  # w L
    bracket = 1.0 - capacitive * own
    return Tuned(
        inductance_uh=own / omega * 1e6,
        resistance_ohm=own / quality / bracket**2,
        reactance_ohm=reactance_ohm,
        slope_ohm=reactance_ohm * (1.0 + capacitive * own) / bracket,
    )


def inductance_uh(turns: FloatLike, diameter_m: FloatLike, length_m: FloatLike) -> FloatArray:
    """Inductance [uH] of a single-layer coil, within 1 % where its length is over 0.4 diameters.

    Wheeler, Proc. IRE 16 (1928) 1398: L = D^2 N^2 / (18 D + 40 l), D and l in inches.
    """
    diameter, length = as_float(diameter_m) / 0.0254, as_float(length_m) / 0.0254
    return as_float(diameter**2 * as_float(turns) ** 2 / (18.0 * diameter + 40.0 * length))


def self_capacitance_pf(diameter_m: FloatLike, length_m: FloatLike) -> FloatArray:
    """Self-capacitance [pF] of a single-layer coil with one end earthed: Medhurst 1947, from memory."""
    ratio = as_float(length_m) / as_float(diameter_m)
    factor = np.interp(np.log(ratio), np.log(_MEDHURST_RATIO), _MEDHURST_H)
    return as_float(factor * as_float(diameter_m) * 100.0)


@dataclass(frozen=True)
class Slider:
    """A sliding-contact coil known by two settings: (position as its owner reads it, inductance [uH]).

    Between them, and a little beyond, inductance is taken to follow position by a straight line: right for a
    long, evenly wound coil.
    """

    first: tuple[float, float]
    second: tuple[float, float]

    def __post_init__(self) -> None:
        if self.first[0] == self.second[0] or self.first[1] == self.second[1]:
            raise InputError("coil: the two measured positions must differ in position and in inductance")

    def position(self, inductance_uh: float) -> float:
        """Where to set the contact for an inductance [uH], on the owner's own scale."""
        (at_1, uh_1), (at_2, uh_2) = self.first, self.second
        return at_1 + (inductance_uh - uh_1) * (at_2 - at_1) / (uh_2 - uh_1)

    def inductance_uh(self, position: float) -> float:
        """The inductance [uH] at a position."""
        (at_1, uh_1), (at_2, uh_2) = self.first, self.second
        return uh_1 + (position - at_1) * (uh_2 - uh_1) / (at_2 - at_1)
