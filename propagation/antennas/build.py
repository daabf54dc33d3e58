"""From a description to an antenna: one door for all kinds."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Final

import numpy as np

from propagation import modes
from propagation.antennas import dipole, end_fed, loaded_vertical, table, yagi
from propagation.antennas.antenna import Antenna
from propagation.antennas.solution import Pattern, Solution
from propagation.antennas.solved import solve_once
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.errors import InputError
from propagation.ground import GROUNDS, Ground, ground_of
from propagation.modes import Mode


def _isotropic(spec: AntennaSpec, ground: Ground, frequency_mhz: float) -> Solution:
    """0 dBi everywhere, without loss; the earth does not touch it."""
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


_SOLVERS: Final[dict[str, Callable[[AntennaSpec, Ground, float], Solution]]] = {
    "loaded vertical": loaded_vertical.solve,
    "vertical": loaded_vertical.solve,
    "half-wave vertical": dipole.solve,
    "dipole": dipole.solve,
    "inverted v": dipole.solve,
    "sloping dipole": dipole.solve,
    "sloping end-fed": end_fed.solve,
    "yagi": yagi.solve,
    "table": table.solve,
    "isotropic": _isotropic,
}


def build(
    spec: AntennaSpec,
    ground: Ground | str = GROUNDS["average"],
    feedline: FeedlineSpec | None = None,
    power_w: float = 20.0,
    mode: Mode | str = "SSB",
) -> Antenna:
    """The antenna of a description, over a kind of ground, at the end of a feed line.

    power_w: power at the rig's socket [W]; mode: for the power limits. Raises InputError for what cannot be
    built.
    """
    if isinstance(ground, str):
        ground = ground_of(ground)
    if isinstance(mode, str):
        mode = modes.by_name(mode)
    solver = _SOLVERS.get(spec.kind)
    if solver is None:
        raise InputError(f"antenna.kind: {spec.kind!r} cannot be computed")
    once = partial(solve_once, solver, spec, ground)
    return Antenna(spec, ground, feedline or FeedlineSpec(), power_w, mode, once)
