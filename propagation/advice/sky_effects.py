"""What the conditions do to the bands over a place, in figures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from propagation.base.time_series import as_times, shifted
from propagation.geo.locator import Position
from propagation.ionosphere.layers import ionosphere
from propagation.space_weather.indices.solar_index import index_from_ssn
from propagation.space_weather.indices.storm import storm_factor, weighted_ap
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import (
    ORDINARY_XRAY_W_M2,
    auroral_boundary_deg,
    flare_absorption_db,
    highest_affected_mhz,
    polar_cap_absorption_db,
)


@dataclass(frozen=True)
class SkyEffects:
    """Figures at one time over one place.

    index: the ionospheric index in use; ssn: the smoothed sunspot number; spots_index: the index that usually
    goes with it. index_words: where the index comes from. muf_change: MUF(3000) of the day over the place
    with the first index over that with the second, less 1. storm_factor on foF2. flare_mhz:
    highest frequency that the public maps of absorption give for the flare at the place now; flare_db: what
    it takes from 14 MHz straight up and down there. oval_edge_deg: equatorward edge of the auroral
    oval before midnight [deg geomagnetic]; geomagnetic_latitude_deg of the place. polar_cap_db: one passage
    at 14 MHz under a midday sun at 75 degrees. k_known: whether K is known at that time.
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
    """The effects at a time over a place."""
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
