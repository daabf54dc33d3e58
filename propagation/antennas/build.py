"""From a description to an antenna: one door for all kinds."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Final

import numpy as np

from propagation.antennas import dipole, loaded_vertical
from propagation.antennas.antenna import Antenna, Pattern, Solution
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.errors import InputError
from propagation.ground import GROUNDS, Ground, ground_of


def _isotropic(spec: AntennaSpec, ground: Ground, frequency_mhz: float) -> Solution:
    """0 dBi everywhere above and below, without loss; earth does not touch it."""
    return Solution(
        frequency_mhz=frequency_mhz,
        pattern=Pattern(np.ones((91, 1))),
        efficiency=1.0,
        radiation_resistance_ohm=50.0,
        ground_loss_ohm=0.0,
        reactance_ohm=0.0,
    )


_SOLVERS: Final[dict[str, Callable[[AntennaSpec, Ground, float], Solution]]] = {
    "isotropic": _isotropic,
    "loaded vertical": loaded_vertical.solve,
    "dipole": dipole.solve,
}


def build(
    spec: AntennaSpec,
    ground: Ground | str = GROUNDS["average"],
    feedline: FeedlineSpec | None = None,
    power_w: float = 20.0,
) -> Antenna:
    """The antenna of a description, over a kind of ground, at the end of a feed line.

    power_w: power at the rig's socket [W]. Raises InputError for what cannot be built.
    """
    if isinstance(ground, str):
        ground = ground_of(ground)
    solver = _SOLVERS.get(spec.kind)
    if solver is None:
        raise InputError(f"antenna.kind: {spec.kind!r} cannot be computed")
    return Antenna(spec, ground, feedline or FeedlineSpec(), power_w, partial(solver, spec, ground))
