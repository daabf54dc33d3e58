"""Figures of the sky over a place: effects of the conditions on the bands, and recent measurements."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.time_series import as_times, shifted
from propagation.base.units import FloatArray, as_float, cosd, wrap_longitude_deg
from propagation.geo.gazetteer import gazetteer
from propagation.geo.locator import Position
from propagation.ionosphere.layers import ionosphere
from propagation.space_weather.indices.geomagnetic_activity import storm_factor, weighted_ap
from propagation.space_weather.indices.solar_index import index_from_ssn
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import (
    ORDINARY_XRAY_W_M2,
    auroral_boundary_deg,
    flare_absorption_db,
    highest_affected_mhz,
    polar_cap_absorption_db,
)
from propagation.space_weather.state.measured_conditions import LATITUDES_DEG, LONGITUDES_DEG, Fof2Anomaly


@dataclass(frozen=True)
class SkyEffects:
    """Figures at one time over one place.

    index: the ionospheric index in use; ssn: the smoothed sunspot number; spots_index: the index that usually
    belongs to it. index_words: source of the index. muf_change: MUF(3000) of the day over the place with the
    first index relative to that with the second, minus 1. storm_factor on foF2. flare_mhz: highest frequency
    that the public maps of absorption give for the flare at the place now; flare_db: its loss at 14 MHz at
    vertical incidence there, up and down. oval_edge_deg: equatorward edge of the auroral oval before midnight
    [deg geomagnetic]; geomagnetic_latitude_deg of the place. polar_cap_db: one passage at 14 MHz with a
    midday sun at 75 degrees. k_known: whether K is known at that time.
    """

    index: float
    ssn: float
    spots_index: float
    index_words: str
    muf_change: float
    storm_factor: float
    xray_w_m2: float
    flare_mhz: float
    flare_db: float
    oval_edge_deg: float
    geomagnetic_latitude_deg: float
    polar_cap_db: float
    kp: float
    k_known: bool


def sky_effects(conditions: Conditions, place: Position, time: np.datetime64) -> SkyEffects:
    """Compute the effects at a time over a place."""
    day = as_times(time.astype("datetime64[D]"))
    hours = shifted(day, np.arange(0, 24, 2) * np.timedelta64(3600, "s"))
    index, ssn = float(conditions.index_at(time)), float(conditions.ssn_at(time))
    by_spots = float(index_from_ssn(ssn))
    mufs = []
    for one in (index, by_spots):
        layer = ionosphere(place.lat_deg, place.lon_deg, hours, one)
        mufs.append(float(np.mean(layer.fof2_mhz * layer.m3000f2)))
    here = ionosphere(place.lat_deg, place.lon_deg, time, index)
    latitude = float(here.geomagnetic_latitude_deg)
    xray = float(conditions.xray_at(time))
    kp = float(conditions.kp_at(time))
    return SkyEffects(
        index=index,
        ssn=ssn,
        spots_index=by_spots,
        index_words=conditions.index_words(time),
        muf_change=mufs[0] / mufs[1] - 1.0,
        storm_factor=float(storm_factor(latitude, time, weighted_ap(conditions.ap_history(time), time))),
        xray_w_m2=xray,
        flare_mhz=float(highest_affected_mhz(xray, here.zenith_deg)) if xray > ORDINARY_XRAY_W_M2 else 0.0,
        flare_db=float(flare_absorption_db(14.0, here.zenith_deg, xray)),
        oval_edge_deg=float(auroral_boundary_deg(kp)),
        geomagnetic_latitude_deg=latitude,
        polar_cap_db=float(polar_cap_absorption_db(14.0, 60.0, 75.0, kp, conditions.protons_at(time))),
        kp=kp,
        k_known=bool(conditions.kp_known(time)),
    )


@dataclass(frozen=True)
class LayersNow:
    """The layers over a place at a time: the monthly median, and now.

    fof2_mhz, muf_3000_mhz: (median, now), where now is as measured, else with the storm factor of K;
    measured: time of the measurement, None where nothing was observed here. foe_mhz: median, by day alone
    above 1 MHz.
    """

    fof2_mhz: tuple[float, float]
    muf_3000_mhz: tuple[float, float]
    foe_mhz: float
    measured: np.datetime64 | None
    storm_factor: float


def layers_now(conditions: Conditions, place: Position, time: np.datetime64) -> LayersNow:
    """Compute the layers over a place at a time."""
    median = ionosphere(place.lat_deg, place.lon_deg, time, float(conditions.index_at(time)))
    found = measured_figures(conditions, place, time).layer
    storm = sky_effects(conditions, place, time).storm_factor
    known = found is not None and found.here is not None
    factor = 1.0 + found.here if found is not None and found.here is not None else storm
    fof2, muf = float(median.fof2_mhz), float(median.fof2_mhz * median.m3000f2)
    return LayersNow(
        (fof2, factor * fof2),
        (muf, factor * muf),
        float(median.foe_mhz),
        found.measured if known and found is not None else None,
        storm,
    )


KNOWN_FROM: Final = 0.02  # share of the days' variance from which a place counts as measured (ours)
LIVED_IN_DEG: Final = 5.0  # deg, a town no farther than this gives a place its country's name (ours)
NAMED_FROM: Final = 0.03  # of foF2, from which the place with the largest departure is named (ours)


@dataclass(frozen=True)
class LayerFigures:
    """Today's F2 layer.

    measured: time of measurement. here: foF2 over the usual minus 1, None where nothing was observed. where,
    most: the country with the largest departure, and its size; None where no country departs clearly. until:
    time after which there is no estimate.
    """

    measured: np.datetime64
    here: float | None
    where: str | None
    most: float | None
    until: np.datetime64


@dataclass(frozen=True)
class MeasuredFigures:
    """Measured figures.

    layer: None unless it applies to the time. absorbed: time of the absorption map, and the highest frequency
    that loses 1 dB here and anywhere [MHz]. oval: time of the oval's map, the K that corresponds to it, its
    night edge [deg geomagnetic].
    """

    layer: LayerFigures | None
    absorbed: tuple[np.datetime64, float, float] | None
    oval: tuple[np.datetime64, float, float] | None


def departure_now(layer: Fof2Anomaly, time: np.datetime64) -> FloatArray:
    """Departure as foF2 over the usual minus 1 on the cells of `departure` (36, 36), NaN if not observed."""
    factor, share = layer.at(LATITUDES_DEG[:, None], LONGITUDES_DEG[None, :], np.asarray(time))
    return as_float(np.where(share >= KNOWN_FROM, factor - 1.0, np.nan))


def measured_figures(conditions: Conditions, place: Position, time: np.datetime64) -> MeasuredFigures:
    """Compute the figures; all None where nothing measured applies to the time."""
    now = conditions.measured
    layer = absorbed = oval = None
    if now is not None and now.layer is not None and bool(now.layer.applies_to(time)):
        layer = _layer(now.layer, place, time)
    if now is not None and now.absorption is not None and bool(now.absorption.applies_to(time)):
        here = now.absorption.highest_at(as_float(place.lat_deg), as_float(place.lon_deg))
        most = float(np.nanmax(now.absorption.highest_mhz))
        absorbed = (now.absorption.time, float(np.nan_to_num(here)), most)
    if now is not None and now.oval is not None and bool(now.oval.applies_to(time)):
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
    """Country with the largest departure of the layer, and its size; cells far from towns are left out."""
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
