"""An antenna known only by a table: gain by frequency and elevation, measured or computed elsewhere."""

from __future__ import annotations

import numpy as np

from propagation.antennas.solution import PATTERN_ELEVATIONS_DEG, Pattern, Solution
from propagation.antennas.spec import AntennaSpec
from propagation.base.units import as_float, undb
from propagation.geo.ground import Ground


def solve(spec: AntennaSpec, ground: Ground, frequency_mhz: float) -> Solution:
    """The table on one frequency [MHz]: decibels joined by straight lines, over elevation, then frequency.

    Outside the table the nearest entry stands. The gain counts as it is, earth and losses in.
    """
    rows = as_float(spec.table)
    frequencies = np.unique(rows[:, 0])
    levels = []
    for frequency in frequencies:
        own = rows[rows[:, 0] == frequency]
        own = own[np.argsort(own[:, 1])]
        levels.append(np.interp(PATTERN_ELEVATIONS_DEG, own[:, 1], own[:, 2]))
    stack = np.stack(levels)
    gain_dbi = np.array([np.interp(frequency_mhz, frequencies, column) for column in stack.T])
    pattern = Pattern(undb(gain_dbi)[:, None])
    return Solution(
        frequency_mhz=frequency_mhz,
        pattern=pattern,
        efficiency=min(pattern.efficiency(), 1.0),
        radiation_resistance_ohm=None,
        ground_loss_ohm=None,
        reactance_ohm=None,
        tuned_resistance_ohm=None,
        coil_loss_ohm=None,
        basis="measured",
    )
