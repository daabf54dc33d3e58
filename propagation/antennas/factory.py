"""From a description to an antenna: one door for all kinds."""

from __future__ import annotations

from functools import partial
from importlib import import_module
from typing import Final

import numpy as np

from propagation.antennas.antenna import Antenna
from propagation.antennas.solution import Pattern, Solution
from propagation.antennas.solution_cache import Solver, solve_once
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.base.errors import InputError
from propagation.geo.ground import GROUNDS, Ground, ground_of
from propagation.spectrum import modes
from propagation.spectrum.modes import Mode


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


# Kinds by the module that solves them. A solver is imported when an antenna is first worked out: one that is
# remembered (`solved`) needs no solver, and the moment method's modules cost a tenth of a cold start.
_SOLVERS: Final[dict[str, str]] = {
    "loaded vertical": "loaded_vertical",
    "vertical": "loaded_vertical",
    "half-wave vertical": "dipole",
    "dipole": "dipole",
    "inverted v": "dipole",
    "sloping dipole": "dipole",
    "sloping end-fed": "end_fed",
    "yagi": "yagi",
    "table": "table",
}


def _solve(spec: AntennaSpec, ground: Ground, frequency_mhz: float) -> Solution:
    """The solution by the solver of the description's kind."""
    if spec.kind == "isotropic":
        return _isotropic(spec, ground, frequency_mhz)
    solver: Solver = import_module(f"propagation.antennas.{_SOLVERS[spec.kind]}").solve
    return solver(spec, ground, frequency_mhz)


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
    if spec.kind not in _SOLVERS and spec.kind != "isotropic":
        raise InputError(f"antenna.kind: {spec.kind!r} cannot be computed")
    once = partial(solve_once, _solve, spec, ground)
    return Antenna(spec, ground, feedline or FeedlineSpec(), power_w, mode, once)
