"""What the conditions do to the bands over a place, in figures and in sentences an operator can use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from propagation.base.record import as_times, shifted
from propagation.geo.locator import Position
from propagation.ionosphere.layers import ionosphere
from propagation.space_weather.conditions import Conditions
from propagation.space_weather.disturbance import (
    ORDINARY_KP,
    ORDINARY_XRAY_W_M2,
    auroral_boundary_deg,
    highest_affected_mhz,
    polar_cap_absorption_db,
    xray_class,
)
from propagation.space_weather.solar_index import index_from_ssn
from propagation.space_weather.storm import storm_factor, weighted_ap


@dataclass(frozen=True)
class SkyEffects:
    """Figures at one time over one place.

    index: the ionospheric index in use; ssn: the smoothed sunspot number; spots_index: the index that usually
    goes with it. index_words: where the index comes from. muf_change: MUF(3000) of the day over the place
    with the first index over that with the second, less 1. storm_factor on foF2. flare_mhz:
    highest frequency a flare takes by 1 dB at the place now. oval_edge_deg: equatorward edge of the auroral
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
        oval_edge_deg=float(auroral_boundary_deg(kp)),
        geomagnetic_latitude_deg=latitude,
        polar_cap_db=float(polar_cap_absorption_db(14.0, 60.0, 75.0, kp, conditions.protons_at(time))),
        kp=kp,
        k_known=bool(conditions.kp_known(time)),
    )


def sentences(effects: SkyEffects) -> list[str]:
    """What the effects mean, a sentence each; a quiet sky says so."""
    said = [_index_sentence(effects)]
    if not effects.k_known:
        said.append("K is not known for this time: an ordinary, quiet field is assumed.")
    if effects.storm_factor < 0.995:
        said.append(f"An ionospheric storm holds the F2 layer {1.0 - effects.storm_factor:.0%} down here.")
    elif effects.storm_factor > 1.005:
        said.append(f"The storm's first phase lifts the F2 layer by {effects.storm_factor - 1.0:.0%} here.")
    elif effects.k_known:
        said.append("No ionospheric storm: the F2 layer stands at its median.")
    if effects.kp > ORDINARY_KP:
        near = abs(effects.geomagnetic_latitude_deg) >= effects.oval_edge_deg - 5.0
        where = "close to here" if near else "well away from here"
        said.append(
            f"The auroral oval comes down to {effects.oval_edge_deg:.0f}° geomagnetic at night, {where}."
        )
    if effects.xray_w_m2 > ORDINARY_XRAY_W_M2:
        said.append(_flare_sentence(effects))
    if effects.polar_cap_db > 0.0:
        said.append(
            "Solar protons: each pass through the polar D region costs about "
            f"{effects.polar_cap_db:.0f} dB at 14 MHz by day, so avoid paths over the poles."
        )
    return said


def _index_sentence(effects: SkyEffects) -> str:
    """How the two numbers, sunspots and index, explain each other, and what it means for the MUF."""
    change = effects.muf_change
    usual = f"Sunspots {effects.ssn:.0f} usually go with an index of {effects.spots_index:.0f}"
    if abs(change) < 0.005:
        return f"{usual}; the F2 maps run on {effects.index:.0f}, as good as the same."
    way = "higher" if change > 0 else "lower"
    return (
        f"{usual}; the F2 maps run on {effects.index:.0f} ({effects.index_words}): "
        f"MUF here {abs(change):.0%} {way}."
    )


def _flare_sentence(effects: SkyEffects) -> str:
    name = xray_class(effects.xray_w_m2)
    if effects.flare_mhz <= 0.0:
        return f"A flare of class {name} is on; this place lies in the dark and is spared."
    return f"A flare of class {name} absorbs up to {effects.flare_mhz:.0f} MHz by 1 dB and more on this side."
