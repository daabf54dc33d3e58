"""Single cells of a forecast computed again, any mixture of points, routes, bands and times in one call.

The forecast keeps the figures of a whole day; a "because" needs a few of its cells again, with something
changed. Rows are independent: each has its own point of the target, route, band, and row of times.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from propagation.base.units import FloatArray, IntArray, TimeArray
from propagation.geo.great_circle import Route
from propagation.signal.circuit import Circuit, circuit
from propagation.signal.counterfactual import Counterfactual
from propagation.signal.forecast import Forecast, both_routes
from propagation.signal.link_budget import OneWay, both_ways, one_way
from propagation.signal.path_samples import Disturber
from propagation.space_weather.disturbance import Effects
from propagation.space_weather.disturbed import disturber_of
from propagation.station.terminals import Terminal, far_terminal, own_terminal


@dataclass(frozen=True, eq=False)
class Ends:
    """Both ends of the contacts of a forecast; made once, since solving antennas takes longest."""

    near: Terminal
    far: Terminal


@dataclass(frozen=True, eq=False)
class Cells:
    """N rows to compute: point, route (0 short, 1 long) and band of each (N,), and its times (N, T)."""

    point: IntArray
    route: IntArray
    band: IntArray
    times: TimeArray

    def repeated(self, count: int) -> Cells:
        """All rows `count` times over: row i of copy c stands at c N + i."""
        return Cells(
            np.tile(self.point, count),
            np.tile(self.route, count),
            np.tile(self.band, count),
            np.tile(self.times, (count, 1)),
        )


@dataclass(frozen=True, eq=False)
class Computed:
    """The rows' circuit (N, T, 1), the signal both ways, and what the mode needs in 2500 Hz [dB]."""

    path: Circuit
    there: OneWay
    here: OneWay
    ends: Ends
    need_db: float

    @property
    def margin_db(self) -> FloatArray:
        """Median SNR of the weaker direction over the need (N, T)."""
        return np.asarray(
            np.minimum(self.there.median_snr_db, self.here.median_snr_db)[..., 0] - self.need_db
        )

    @property
    def chance(self) -> FloatArray:
        """Chance of a contact (N, T)."""
        return np.asarray(both_ways(self.there, self.here, self.need_db, self.need_db)[..., 0])


def ends_of(result: Forecast) -> Ends:
    """The ends as the station file describes them, at the forecast's power."""
    own = replace(own_terminal(result.station), power_w=result.power_w)
    return Ends(own, far_terminal(result.station.far_end))


def at_power(ends: Ends, result: Forecast) -> Ends:
    """The ends with the power the forecast was made for."""
    return Ends(replace(ends.near, power_w=result.power_w), ends.far)


def one_cell(point: int, route: int, band: int, times: Sequence[np.datetime64] | TimeArray) -> Cells:
    """A single row."""
    return Cells(
        np.array([point]), np.array([route]), np.array([band]), np.array([times], dtype="datetime64[s]")
    )


def compute(
    result: Forecast,
    ends: Ends,
    cells: Cells,
    *,
    relief: Counterfactual | None = None,
    keep_modes: bool = False,
    effects: Effects | None = None,
    disturber: Disturber | None = None,
) -> Computed:
    """Compute the rows with the forecast's station, conditions and mode.

    relief: losses taken off some rows. effects: stand instead of the forecast's; disturber: stands instead of
    the one made from the conditions.
    """
    routes, back = both_routes(result.station, result.target, result.bearing_deg)
    row = cells.point + cells.route * result.target.size
    part = Route(routes.lat_deg[row], routes.lon_deg[row], routes.bearing_deg[row], routes.distance_km[row])
    ground = result.station.site.earth
    if disturber is None:
        disturber = disturber_of(result.conditions, effects or result.effects, cells.times)
    path = circuit(
        part,
        back[row],
        cells.times,
        result.frequency_mhz[cells.band][:, None, None],
        result.conditions.index_at(cells.times),
        ends.near,
        ends.far,
        disturber,
        permittivity=ground.permittivity,
        conductivity_s_per_m=ground.conductivity_s_per_m,
        keep_modes=keep_modes,
        relief=relief,
    )
    return Computed(
        path=path,
        there=one_way(path, ends.near, ends.far, towards_far_end=True),
        here=one_way(path, ends.far, ends.near, towards_far_end=False),
        ends=ends,
        need_db=result.mode.required_snr_2500_db,
    )
