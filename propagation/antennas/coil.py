"""Loading coils: inductance, quality, self-capacitance, slider position, and the power a coil can take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.antennas.solution import Solution
from propagation.antennas.spec import AntennaSpec
from propagation.base.errors import InputError
from propagation.base.units import FloatArray, FloatLike, as_float, undb
from propagation.spectrum.modes import Mode


@dataclass(frozen=True)
class Tuned:
    """Coil in its circuit on one frequency: its setting and its loss."""

    inductance_uh: float  # the coil's own [uH]
    resistance_ohm: float  # in series, with its self-capacitance [ohm]
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


@dataclass(frozen=True)
class Slider:
    """Sliding-contact coil given by two settings: (position on its owner's scale, inductance [uH]).

    Between them, and a little beyond, inductance is assumed linear in position, which is correct for a long,
    evenly wound coil.
    """

    first: tuple[float, float]
    second: tuple[float, float]

    def __post_init__(self) -> None:
        if self.first[0] == self.second[0] or self.first[1] == self.second[1]:
            raise InputError("coil: the two measured positions must differ in position and in inductance")

    def position(self, inductance_uh: float) -> float:
        """Position of the contact for an inductance [uH], on the owner's own scale."""
        (at_1, uh_1), (at_2, uh_2) = self.first, self.second
        return at_1 + (inductance_uh - uh_1) * (at_2 - at_1) / (uh_2 - uh_1)

    def inductance_uh(self, position: float) -> float:
        """The inductance [uH] at a position."""
        (at_1, uh_1), (at_2, uh_2) = self.first, self.second
        return uh_1 + (position - at_1) * (uh_2 - uh_1) / (at_2 - at_1)


# Peak volts at which the rounded end of a rod goes into corona: 30 kV/cm (1 + 0.3 / sqrt(a in cm)) at the
# surface times the radius (Peek's law for smooth rods, from memory), rounded down for a weathered tip.
CORONA_V_PER_MM: Final = 4000.0  # V peak per mm of tip radius
COIL_FLASHOVER_V: Final = (
    12000.0  # V peak along a coil some decimetres long, with a margin for damp; common practice
)
MOST_POWER_W: Final = 3000.0  # W; a limit above the power allowed to amateurs has no effect


def coil_heat_w(solution: Solution, power_w: float, duty_cycle: float) -> float:
    """Mean heat in the coil [W] for a peak power at the feed [W] and a duty cycle (0..1).

    Measured loss beyond coil and ground may arise in the coil and is counted there. An assumed loss does not
    lower the coil's heat.
    """
    if solution.basis == "measured":
        beyond = solution.unexplained_share + solution.other_share + solution.connection_share
        return (solution.coil_share + beyond) * power_w * duty_cycle
    return solution.coil_share / (1.0 - solution.connection_share) * power_w * duty_cycle


def coil_voltage_v(solution: Solution, power_w: float) -> float:
    """Peak voltage along the coil [V] for a peak-envelope power at the feed [W].

    Only a measured loss of the connections lowers it.
    """
    resistance = solution.tuned_resistance_ohm
    if resistance is None or solution.coil_reactance_ohm <= 0.0:
        return 0.0
    if solution.basis != "measured":
        resistance -= solution.connection_ohm
    current = np.sqrt(2.0 * power_w / resistance) * solution.coil_current_ratio
    return float(current * solution.coil_reactance_ohm)


def power_limit_w(spec: AntennaSpec, solution: Solution, mode: Mode, line_loss_db: float) -> float | None:
    """Power limit at the rig [W, peak envelope] for a mode: by the coil's heat or by voltage.

    None where the antenna has no coil, or no limit is known.
    """
    if solution.coil_share <= 0.0:
        return None
    by_heat = spec.coil_heat_w / coil_heat_w(solution, 1.0, mode.duty_cycle)
    volts_per_root_watt = coil_voltage_v(solution, 1.0)
    most_volts = min(COIL_FLASHOVER_V, CORONA_V_PER_MM * spec.radius_mm)
    by_voltage = (most_volts / volts_per_root_watt) ** 2 if volts_per_root_watt > 0.0 else np.inf
    limit = float(min(by_heat, by_voltage) * undb(line_loss_db))
    return limit if limit < MOST_POWER_W else None
