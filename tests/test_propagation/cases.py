"""Circuits of a case put together by hand, for tests that need no station and no conditions."""

from __future__ import annotations

from typing import Any

import numpy as np

from propagation.geo.great_circle import Route
from propagation.geo.ground import GROUNDS, Ground
from propagation.signal.losses.circuit import Circuit, circuit
from propagation.signal.losses.circuit_inputs import CircuitCase


def computed(
    route: Route, times: Any, mhz: Any, index: Any, near: Any, far: Any, disturber: Any = None, *,
    year: float = 2026.5, ground: Ground = GROUNDS["average"], **more: Any,
) -> Circuit:  # fmt: skip
    """The circuit of routes (N,) at times (T,) or (N, T) on frequencies (B,) or (N, 1, B) [MHz]."""
    frequency = np.asarray(mhz, dtype=float)
    case = CircuitCase(
        route=route,
        times=np.atleast_2d(times),
        frequency_mhz=frequency if frequency.ndim == 3 else frequency.reshape(1, 1, -1),
        index=np.asarray(index, dtype=float),
        disturber=disturber,
        ground=ground,
        year=year,
        near=near,
        far=far,
    )
    return circuit(case, **more)
