"""Detailed recomputation of one point of a forecast: ray paths and every loss term, both directions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from propagation.base.units import FloatArray, TimeArray, as_float
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.link_budget import OneWay, both_ways, one_way
from propagation.signal.chances.routes import both_routes
from propagation.signal.losses.circuit import Circuit, circuit
from propagation.signal.losses.circuit_inputs import circuit_case
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import Effects
from propagation.spectrum.bands import Band
from propagation.station.terminals import Terminal, far_terminal, own_terminal


@dataclass(frozen=True, eq=False)
class Detail:
    """Point by one route in full detail: the circuit (N = 1), both directions, both ends."""

    path: Circuit
    there: OneWay
    here: OneWay
    near: Terminal
    far: Terminal
    need_db: float
    times: TimeArray
    bands: tuple[Band, ...]

    @property
    def chance(self) -> FloatArray:
        """Chance of a contact (T, B)."""
        return as_float(both_ways(self.there, self.here, self.need_db, self.need_db)[0])


def detail(
    result: Forecast,
    *,
    point: int | None = None,
    route: int = 0,
    times: TimeArray | None = None,
    bands: Sequence[int] | None = None,
    near: Terminal | None = None,
    far: Terminal | None = None,
    conditions: Conditions | None = None,
    effects: Effects | None = None,
) -> Detail:
    """Compute one point of a forecast's target again with all ray paths and terms; takes milliseconds.

    `near`, `far`, `conditions` and `effects` replace the forecast's own, for comparisons.
    """
    p = result.target.heaviest if point is None else point
    chosen = list(range(len(result.bands))) if bands is None else list(bands)
    when = result.times if times is None else times
    own = near or replace(own_terminal(result.station), power_w=result.power_w)
    other = far or far_terminal(result.station.far_end)
    routes = both_routes(result.station, result.target, result.bearing_deg)
    row = np.array([p + route * result.target.size])
    common = replace(
        result.circumstances,
        conditions=conditions or result.conditions,
        effects=effects or result.effects,
    )
    case = circuit_case(common, own, other, routes.rows(row), when, result.frequency_mhz[chosen])
    path = circuit(case)
    return Detail(
        path=path,
        there=one_way(path, own, other, towards_far_end=True),
        here=one_way(path, other, own, towards_far_end=False),
        near=own,
        far=other,
        need_db=result.mode.required_snr_2500_db,
        times=when,
        bands=tuple(result.bands[i] for i in chosen),
    )
