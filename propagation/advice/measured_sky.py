"""What was measured of the sky a short while ago, in figures for one place and one time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, as_float, cosd, wrap_longitude_deg
from propagation.geo.gazetteer import gazetteer
from propagation.geo.locator import Position
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import auroral_boundary_deg
from propagation.space_weather.state.measured_conditions import LATITUDES_DEG, LONGITUDES_DEG, Fof2Anomaly

KNOWN_FROM: Final = 0.02  # share of the days' variance from which a place counts as measured (ours)
LIVED_IN_DEG: Final = 5.0  # deg, a town no farther than this gives a place its country's name (ours)
NAMED_FROM: Final = 0.03  # of foF2, from which the place that departs most is named (ours)


@dataclass(frozen=True)
class LayerFigures:
    """Today's F2 layer. measured: when. here: foF2 over the usual less 1, None where nothing was observed.
    where, most: the country over which it departs most, and by how much; None where nothing stands out.
    until: from when on nothing is said.
    """

    measured: np.datetime64
    here: float | None
    where: str | None
    most: float | None
    until: np.datetime64


@dataclass(frozen=True)
class MeasuredFigures:
    """layer: None unless it speaks of the time. absorbed: time of the absorption map, and the highest
    frequency that loses 1 dB here and anywhere [MHz]. oval: time of the oval's map, the K that would put it
    there, its night edge [deg geomagnetic]."""

    layer: LayerFigures | None
    absorbed: tuple[np.datetime64, float, float] | None
    oval: tuple[np.datetime64, float, float] | None


def departure_now(layer: Fof2Anomaly, time: np.datetime64) -> FloatArray:
    """foF2 over the usual less 1 on the cells of `departure` (36, 36), NaN where nothing was observed."""
    factor, share = layer.at(LATITUDES_DEG[:, None], LONGITUDES_DEG[None, :], np.asarray(time))
    return as_float(np.where(share >= KNOWN_FROM, factor - 1.0, np.nan))


def measured_figures(conditions: Conditions, place: Position, time: np.datetime64) -> MeasuredFigures:
    """The figures; all None where nothing measured speaks of the time."""
    now = conditions.measured
    layer = absorbed = oval = None
    if now is not None and now.layer is not None and bool(now.layer.speaks(time)):
        layer = _layer(now.layer, place, time)
    if now is not None and now.absorption is not None and bool(now.absorption.speaks(time)):
        here = now.absorption.highest_at(as_float(place.lat_deg), as_float(place.lon_deg))
        most = float(np.nanmax(now.absorption.highest_mhz))
        absorbed = (now.absorption.time, float(np.nan_to_num(here)), most)
    if now is not None and now.oval is not None and bool(now.oval.speaks(time)):
        oval = (now.oval.time, now.oval.kp, float(auroral_boundary_deg(now.oval.kp)))
    return MeasuredFigures(layer, absorbed, oval)


def _layer(layer: Fof2Anomaly, place: Position, time: np.datetime64) -> LayerFigures:
    factor, share = layer.at(as_float(place.lat_deg), as_float(place.lon_deg), np.asarray(time))
    cells = departure_now(layer, time)
    where = most = None
    if np.any(np.abs(np.nan_to_num(cells)) >= NAMED_FROM):
        where, most = _named(cells)
    here = float(factor) - 1.0 if float(share) >= KNOWN_FROM else None
    return LayerFigures(layer.newest, here, where, most, layer.until)


def _named(cells: FloatArray) -> tuple[str | None, float | None]:
    """The country over which the layer departs most, and by how much; cells far from towns are left out."""
    table = gazetteer()
    lat, lon = (grid.ravel() for grid in np.meshgrid(LATITUDES_DEG, LONGITUDES_DEG, indexing="ij"))
    east = wrap_longitude_deg(table.lon_deg[None, :] - lon[:, None]) * cosd(lat)[:, None]
    away = np.hypot(table.lat_deg[None, :] - lat[:, None], east)
    nearest = np.argmin(away, axis=1)
    lived_in = away[np.arange(lat.size), nearest] <= LIVED_IN_DEG
    size = np.where(lived_in, np.abs(np.nan_to_num(cells.ravel())), 0.0)
    row = int(np.argmax(size))
    if size[row] < NAMED_FROM:
        return None, None
    iso = table.country[int(nearest[row])]
    return table.country_names.get(iso, iso), float(cells.ravel()[row])
