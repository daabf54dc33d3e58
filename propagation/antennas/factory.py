"""Antennas made from their descriptions: one function for all kinds."""

from __future__ import annotations

from functools import partial

import numpy as np

from propagation.antennas.antenna import Antenna
from propagation.antennas.solution import PATTERN_ELEVATIONS_DEG, Pattern, Solution
from propagation.antennas.solution_cache import Solver, solve_once
from propagation.antennas.spec import VERTICALS, AntennaSpec, FeedlineSpec
from propagation.base.units import as_float, undb
from propagation.geo.ground import GROUNDS, Ground, ground_of
from propagation.spectrum import modes
from propagation.spectrum.modes import Mode


def _isotropic(spec: AntennaSpec, ground: Ground, frequency_mhz: float, line: FeedlineSpec) -> Solution:
    """Isotropic solution: 0 dBi everywhere, without loss or influence of the ground."""
    return Solution(
        frequency_mhz=frequency_mhz,
        pattern=Pattern(np.ones((91, 1))),
        efficiency=1.0,
        radiation_resistance_ohm=None,
        ground_loss_ohm=None,
        reactance_ohm=None,
        tuned_resistance_ohm=None,
        coil_loss_ohm=None,
    )


def _solve_table(spec: AntennaSpec, ground: Ground, frequency_mhz: float, line: FeedlineSpec) -> Solution:
    """Solve the table on one frequency [MHz]: decibels interpolated linearly in elevation, then frequency.

    Outside the table the nearest entry applies. The gain is used as given, with ground and losses.
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


def _solver(kind: str) -> Solver:
    """The function that solves a kind of antenna.

    The moment method is imported when an antenna is first computed. A cached solution (`solution_cache`) does
    not need it, and its modules take a tenth of the time of a cold start.
    """
    if kind == "isotropic":
        return _isotropic
    if kind == "table":
        return _solve_table
    if kind in VERTICALS:
        from propagation.antennas.band_setting import solve_vertical

        return solve_vertical
    from propagation.antennas.dipoles import solve_dipole, solve_end_fed, solve_yagi

    return {"sloping end-fed": solve_end_fed, "yagi": solve_yagi}.get(kind, solve_dipole)


def _solve(spec: AntennaSpec, ground: Ground, frequency_mhz: float, line: FeedlineSpec) -> Solution:
    """The solution by the solver of the description's kind."""
    return _solver(spec.kind)(spec, ground, frequency_mhz, line)


def build(
    spec: AntennaSpec,
    ground: Ground | str = GROUNDS["average"],
    feedline: FeedlineSpec | None = None,
    power_w: float = 20.0,
    mode: Mode | str = "SSB",
) -> Antenna:
    """The antenna of a description, over a kind of ground, at the end of a feed line.

    power_w: power at the rig's socket [W]; mode: for the power limits. Raises InputError for an unknown
    ground or mode.
    """
    if isinstance(ground, str):
        ground = ground_of(ground)
    if isinstance(mode, str):
        mode = modes.by_name(mode)
    line = feedline or FeedlineSpec()
    return Antenna(spec, ground, line, power_w, mode, partial(solve_once, _solve, spec, ground, line))
