"""How much power the antenna bears: heat in the coil by the mode's duty cycle, and voltage at its top."""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.antennas.solution import Solution
from propagation.antennas.spec import AntennaSpec
from propagation.base.units import undb
from propagation.spectrum.modes import Mode

# Peak volts at which the rounded end of a rod goes into corona: 30 kV/cm (1 + 0.3 / sqrt(a in cm)) at the
# surface times the radius (Peek's law for smooth rods, from memory), rounded down for a weathered tip.
CORONA_V_PER_MM: Final = 4000.0  # V peak per mm of tip radius
COIL_FLASHOVER_V: Final = (
    12000.0  # V peak along a coil some decimetres long, damp allowed for; common practice
)
MOST_POWER_W: Final = 3000.0  # W; a limit beyond what amateurs may use is no limit


def coil_heat_w(solution: Solution, power_w: float, duty_cycle: float) -> float:
    """Mean heat in the coil [W] for a peak power at the feed [W] and a duty cycle (0..1).

    Loss that a measurement found beyond coil and earth may sit in the coil, and is counted as if it did. A
    loss that is only assumed spares the coil nothing.
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
    """The most power at the rig [W, peak envelope] for a mode: by the coil's heat or by voltage.

    None where the antenna has no coil, or the program knows no limit.
    """
    if solution.coil_share <= 0.0:
        return None
    by_heat = spec.coil_heat_w / coil_heat_w(solution, 1.0, mode.duty_cycle)
    volts_per_root_watt = coil_voltage_v(solution, 1.0)
    most_volts = min(COIL_FLASHOVER_V, CORONA_V_PER_MM * spec.radius_mm)
    by_voltage = (most_volts / volts_per_root_watt) ** 2 if volts_per_root_watt > 0.0 else np.inf
    limit = float(min(by_heat, by_voltage) * undb(line_loss_db))
    return limit if limit < MOST_POWER_W else None
