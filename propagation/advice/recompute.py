"""Single cells of a forecast computed again, any mixture of points, routes, bands and times in one call.

A forecast holds the figures of a whole day. Causes and reasons need a few of its cells again with a loss or a
disturbance removed. Rows are independent: each has its own point of the target, route, band, and row of
times. Shapes: N rows, T times, B bands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray, as_float
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.link_budget import OneWay, both_ways, one_way
from propagation.signal.chances.request import Request
from propagation.signal.chances.routes import both_routes
from propagation.signal.losses.circuit import Circuit, circuit
from propagation.signal.losses.circuit_inputs import circuit_case
from propagation.signal.losses.counterfactual import Counterfactual
from propagation.signal.rays.causes import Cause
from propagation.signal.rays.path_samples import Disturber
from propagation.space_weather.state.event_absorption import Effects
from propagation.space_weather.state.storm_corrections import StormCorrections
from propagation.station.terminals import Terminals, far_terminal, own_terminal


@dataclass(frozen=True, eq=False)
class Cells:
    """N rows to compute: point, route (0 short, 1 long) and band of each (N,), and its times (N, T)."""

    point: IntArray
    route: IntArray
    band: IntArray
    times: TimeArray

    def repeated(self, count: int) -> Cells:
        """Repeat all rows `count` times: row i of copy c has index c N + i."""
        return Cells(
            np.tile(self.point, count),
            np.tile(self.route, count),
            np.tile(self.band, count),
            np.tile(self.times, (count, 1)),
        )


@dataclass(frozen=True, eq=False)
class Computed:
    """Circuit of the rows (N, T, 1), the signal both ways, and the required SNR in 2500 Hz [dB]."""

    path: Circuit
    there: OneWay
    here: OneWay
    terminals: Terminals
    need_db: float

    @property
    def margin_db(self) -> FloatArray:
        """Median SNR of the weaker direction over the required SNR (N, T)."""
        return np.asarray(
            np.minimum(self.there.median_snr_db, self.here.median_snr_db)[..., 0] - self.need_db
        )

    @property
    def chance(self) -> FloatArray:
        """Chance of a contact (N, T)."""
        return np.asarray(both_ways(self.there, self.here, self.need_db, self.need_db)[..., 0])


def terminals_of(result: Forecast) -> Terminals:
    """Terminals as the station file describes them, at the forecast's power."""
    own = replace(own_terminal(result.station), power_w=result.power_w)
    return Terminals(own, far_terminal(result.station.far_end))


def at_power(terminals: Terminals, result: Forecast) -> Terminals:
    """Terminals with the power the forecast was made for."""
    return Terminals(replace(terminals.near, power_w=result.power_w), terminals.far)


def request_of(result: Forecast, terminals: Terminals) -> Request:
    """Request that a forecast was made for; `dataclasses.replace` changes a part of it for another forecast.

    terminals: those the forecast was made with. The people of a region are left out if the forecast has none.
    """
    return Request(
        result.station, result.target, result.times, result.conditions, result.mode.name, result.power_w,
        result.bands, result.effects, terminals.near, terminals.far, result.far_ends,
        people=result.far_ends is not None,
    )  # fmt: skip


def one_cell(point: int, route: int, band: int, times: Sequence[np.datetime64] | TimeArray) -> Cells:
    """A single row."""
    return Cells(
        np.array([point]), np.array([route]), np.array([band]), np.array([times], dtype="datetime64[s]")
    )


def compute(
    result: Forecast,
    terminals: Terminals,
    cells: Cells,
    *,
    counterfactual: Counterfactual | None = None,
    keep_ray_paths: bool = False,
    effects: Effects | None = None,
    disturber: Disturber | None = None,
) -> Computed:
    """Compute the rows with the forecast's station, conditions and mode.

    counterfactual: losses removed from some rows. effects: replace the forecast's; disturber: replaces the
    one made from the conditions.
    """
    routes = both_routes(result.station, result.target, result.bearing_deg)
    row = cells.point + cells.route * result.target.size
    frequency = result.frequency_mhz[cells.band][:, None, None]
    common = replace(result.circumstances, effects=effects or result.effects)
    case = circuit_case(
        common,
        terminals.near,
        terminals.far,
        routes.rows(row),
        cells.times,
        frequency,
        disturber=disturber,
    )
    path = circuit(case, counterfactual, keep_ray_paths=keep_ray_paths)
    return Computed(
        path=path,
        there=one_way(path, terminals.near, terminals.far, towards_far_end=True),
        here=one_way(path, terminals.far, terminals.near, towards_far_end=False),
        terminals=terminals,
        need_db=result.mode.required_snr_2500_db,
    )


@dataclass(frozen=True)
class Switched:
    """Disturber (`path_samples.Disturber`): the day's disturbances, some of them off in some of the rows.

    on: by cause ("storm", "today's layer", "flare", "polar cap"), True for the rows (N,) without it.
    """

    whole: StormCorrections
    on: dict[Cause, BoolArray]

    def _unless_off(self, name: Cause, value: FloatArray, harmless: FloatArray | float) -> FloatArray:
        mask = self.on.get(name)
        return value if mask is None else np.where(mask[:, None, None], harmless, value)

    def fof2_factor(
        self, lat_deg: FloatArray, lon_deg: FloatArray, latitude_deg: FloatArray, times: TimeArray
    ) -> FloatArray:
        """Factor on the median foF2."""
        factor = self._unless_off("storm", self.whole.storm_factor(latitude_deg, times), 1.0)
        today = self.whole.layer_today(lat_deg, lon_deg, times)
        return factor if today is None else factor * self._unless_off("today's layer", today[0], 1.0)

    def spread_factor(self, lat_deg: FloatArray, lon_deg: FloatArray, times: TimeArray) -> FloatArray | None:
        """Factor on the day-to-day spread, unchanged."""
        return self.whole.spread_factor(lat_deg, lon_deg, times)

    def extra_absorption(
        self,
        lat_deg: FloatArray,
        lon_deg: FloatArray,
        zenith_deg: FloatArray,
        latitude_deg: FloatArray,
        times: TimeArray,
    ) -> tuple[FloatArray, FloatArray]:
        """Additional absorption by flares and by protons."""
        by_flare, by_protons = self.whole.extra_absorption(lat_deg, lon_deg, zenith_deg, latitude_deg, times)
        return self._unless_off("flare", by_flare, 0.0), self._unless_off("polar cap", by_protons, 0.0)

    def oval_latitude_deg(self, latitude_deg: FloatArray, times: TimeArray) -> FloatArray:
        """Latitude at which to read the quiet auroral table."""
        return self.whole.oval_latitude_deg(latitude_deg, times)

    def of_rows(self, rows: IntArray) -> Switched:
        """Select some of the rows."""
        return Switched(self.whole, {name: mask[rows] for name, mask in self.on.items()})


def best_margin_db(result: Forecast, terminals: Terminals) -> FloatArray:
    """Median SNR of the weaker direction over the required SNR [dB] (T, B).

    terminals: those the forecast was made with.
    """
    if not result.target.is_region:  # one point, which the forecast already holds
        return result.at(result.margin_db)
    shape = result.route.shape
    time, band = (index.ravel() for index in np.indices(shape))
    cells = Cells(result.best_point.ravel(), result.route.ravel(), band, result.times[time][:, None])
    return as_float(compute(result, at_power(terminals, result), cells).margin_db.reshape(shape))
