"""Absorption by the D and E layers over a place, at a time: read from the table made of FIRI-2018.

The table (`data/absorption.npz`, its making and its sources are in the provenance file) comes from rays
traced through the electron densities of FIRI-2018 (Friedrich, Pock and Torkar 2018, JGR Space Physics,
doi:10.1029/2018JA025437), the semi-empirical model of the non-auroral D and E regions made from rocket
soundings. This file reads it by zenith angle, season, latitude and activity; `absorption` sends rays
through.

* Seasons of the southern hemisphere are those of the northern half a year later; on the equator both meet in
  their mean. Beyond 60 degrees, and outside 75 to 200 sfu of flux, the model's last value holds.
* The part above 92 km, the E part, is taken as it is, per MHz^2 of foE squared. The part below, the D part,
  is multiplied by one factor, 1.5, calibrated on the ITU-R's bank of measured field strengths, 12,409 hours
  (`fixtures/field_strength`). The CCIR closed form, a fit to measured absorption straight up, would ask for
  2.6; the fields of paths do not bear it out. Why FIRI-2018 alone gives too little we do not know; its course
  with the sun, season and latitude is what we take.
* The D part's growth with activity is the model's of the tropics, everywhere and all year: 1.35 from 75 to
  130 sfu, 1.7 to 1.9 to 200 sfu, as P.533 has it (1 + 0.0067 R12, from memory: 1.4 and 1.8). The model's own
  of other latitudes is left out. In winter it makes of a D part that is 2.3 times that of summer at 60
  degrees and one zenith angle 4 to 5 times, where the measured winter anomaly is 1.7 of the whole loss and no
  greater in active years (P.533, from memory); in summer there it has no growth at all. Rocket soundings
  are few there, and winter campaigns waited for days of strong absorption (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from propagation.base.units import FloatArray, FloatLike, IntArray, TimeArray, TimeLike, as_float
from propagation.space_weather.indices.solar_index import flux_from_index

TABLE: Final = Path(__file__).parent.parent / "data" / "absorption.npz"
# Reference state: overhead sun, no spots, the year's mean of the tropics, where alone the sun is overhead
_TROPICS: Final = slice(3, 6)  # of the table's latitudes: -15, 0 and 15 degrees
D_FACTOR: Final = 1.5  # on the D part of FIRI-2018 (calibrated, bank)
_STATE_STEP_DEG: Final = 2.5  # deg, all zenith angles of the table are whole multiples of it
_LATITUDE_STEP_DEG: Final = 15.0  # deg, of the table
_YEAR_DAYS: Final = 365.25  # days
LOG_X_STEP: Final = 0.004  # of ln x, at which the shares are kept; within 1 % (tested)


@dataclass(frozen=True, eq=False)
class AbsorptionTable:
    """The table as it is used.

    day_of_year (12,), flux_sfu (3,), zenith_deg (Z,); d_strength, e_db_per_mhz2 (12 days, 3 fluxes, 9
    latitudes from -60, Z zenith angles): see `AbsorbingLayers`. log_effective, log_d_noon_db: over ln(f + fL)
    the logarithm of the loss [dB] straight up in a D part of strength 1. log_x_first: first ln x of shares
    (zenith angles by the degree, X steps of ln x): the share of the D part + j that of the E part, read
    together (`absorption.shares`).
    """

    day_of_year: FloatArray
    flux_sfu: FloatArray
    zenith_deg: FloatArray
    d_strength: FloatArray
    e_db_per_mhz2: FloatArray
    log_effective: FloatArray
    log_d_noon_db: FloatArray
    log_x_first: float
    shares: NDArray[np.complex64]


@lru_cache(maxsize=1)
def table() -> AbsorptionTable:
    """The table, read once."""
    with np.load(TABLE) as stored:
        log_x = as_float(stored["log_x"])
        fine = np.arange(log_x[0], log_x[-1], LOG_X_STEP)
        d_share, e_share = (
            np.array([np.interp(fine, log_x, row) for row in as_float(stored[name])])
            for name in ("d_share", "e_share")
        )
        strength, per_mhz2 = (_both_hemispheres(stored[name]) for name in ("d_strength_db", "e_db_per_mhz2"))
        log_effective = np.log(as_float(stored["effective_mhz"]))
        over_frequency = np.log(as_float(stored["d_over_frequency"]))
        strength = strength[:, :1] * _growth(strength)[:, None]
        overhead = np.mean(strength[:, 0, _TROPICS, 0])  # lowest flux, sun overhead
        return AbsorptionTable(
            day_of_year=as_float(stored["day_of_year"]),
            flux_sfu=as_float(stored["flux_sfu"]),
            zenith_deg=as_float(stored["state_zenith_deg"]),
            d_strength=strength / overhead,
            e_db_per_mhz2=per_mhz2,
            log_effective=log_effective,
            log_d_noon_db=over_frequency + np.log(D_FACTOR * overhead),
            log_x_first=float(fine[0]),
            shares=(d_share + 1j * e_share).astype(np.complex64),
        )


def _growth(strength: FloatArray) -> FloatArray:
    """Growth of the D part over the lowest flux, the year's mean of the tropics (fluxes, zenith angles)."""
    tropics = np.mean(strength[:, :, _TROPICS], axis=(0, 2))
    return as_float(tropics / tropics[:1])


def _both_hemispheres(stored: FloatArray) -> FloatArray:
    """(day, zenith, latitude 0..60, flux) to (day, flux, latitude -60..60, zenith)."""
    north = np.moveaxis(as_float(stored), (3, 2, 1), (1, 2, 3))
    south = np.roll(north, north.shape[0] // 2, axis=0)
    equator = 0.5 * (north[:, :, :1] + south[:, :, :1])
    whole = np.concatenate([south[:, :, :0:-1], equator, north[:, :, 1:]], axis=2)
    return np.ascontiguousarray(whole)


@dataclass(frozen=True, eq=False)
class AbsorbingLayers:
    """The absorbing layers over places; figures broadcast with the places and times.

    d_strength: two-way absorption of the D part (under 92 km) straight up, relative to that with the sun
    overhead and no spots, the year's mean of the tropics. e_db_per_mhz2: of the E part (over 92 km),
    straight up and without refraction, times (f + fL)^2 over foE^2 [dB].
    """

    d_strength: FloatArray
    e_db_per_mhz2: FloatArray


def absorbing_layers(
    zenith_deg: FloatLike, lat_deg: FloatLike, times: TimeLike, index: FloatLike
) -> AbsorbingLayers:
    """Absorbing layers at a solar zenith angle [deg] over a latitude [deg]; all broadcast.

    `times` give the season, `index` the activity (by the flux that goes with it). Linear in all four
    between the model's nodes, as the model is itself.
    """
    data = table()
    zenith, lat = as_float(zenith_deg), as_float(lat_deg)
    moments, index = np.broadcast_arrays(np.asarray(times, dtype="datetime64[s]"), as_float(index))
    n_lat, n_zenith = data.d_strength.shape[2:]
    state = np.arange(moments.size).reshape(moments.shape) * (n_lat * n_zenith)
    place = np.clip((lat + 60.0) / _LATITUDE_STEP_DEG, 0.0, n_lat - 1.0)
    south = np.minimum(place.astype(np.intp), n_lat - 2)
    towards_north = place - south
    left, share = _zenith_place(zenith)
    at = state + south * n_zenith + left
    by_day = _of_states(moments.ravel(), as_float(flux_from_index(index)).ravel())

    def read(values: FloatArray) -> FloatArray:
        flat, right, north = values.ravel(), at + 1, n_zenith
        low, low_next = flat.take(at), flat.take(right)
        low = low + (low_next - low) * share
        high, high_next = flat.take(at + north), flat.take(right + north)
        high = high + (high_next - high) * share
        return as_float(low + (high - low) * towards_north)

    return AbsorbingLayers(*(read(values) for values in by_day))


def _zenith_place(zenith_deg: FloatArray) -> tuple[IntArray, FloatArray]:
    """The node of the table under each zenith angle, and the share of the way to the next."""
    nodes = table().zenith_deg
    steps = np.arange(0.0, nodes[-1], _STATE_STEP_DEG)
    node_of_step = np.searchsorted(nodes, steps, side="right") - 1
    zenith = np.clip(zenith_deg, 0.0, nodes[-1])
    step = np.minimum((zenith / _STATE_STEP_DEG).astype(np.intp), steps.size - 1)
    left = node_of_step.take(step)
    share = (zenith - nodes.take(left)) * (1.0 / np.diff(nodes)).take(left)
    return left, share


def _of_states(times: TimeArray, flux_sfu: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Both quantities at S moments and fluxes: (S, latitudes x zenith angles) each."""
    data = table()
    n_days, n_flux = data.d_strength.shape[:2]
    day = (times - times.astype("datetime64[Y]")) / np.timedelta64(1, "D")
    days = np.append(data.day_of_year, data.day_of_year[0] + _YEAR_DAYS)
    of_day = _node_weights(days, np.where(day < days[0], day + _YEAR_DAYS, day))
    of_day[:, 0] += of_day[:, n_days]  # the year closes
    of_flux = _node_weights(data.flux_sfu, flux_sfu)
    weights = (of_day[:, :n_days, None] * of_flux[:, None, :]).reshape(-1, n_days * n_flux)
    d_strength, e_db_per_mhz2 = (
        weights @ values.reshape(n_days * n_flux, -1) for values in (data.d_strength, data.e_db_per_mhz2)
    )
    return d_strength, e_db_per_mhz2


def _node_weights(nodes: FloatArray, values: FloatArray) -> FloatArray:
    """Weights (S, nodes) of a linear reading at S values, held at the ends."""
    held = np.clip(values, nodes[0], nodes[-1])
    left = np.clip(np.searchsorted(nodes, held, side="right") - 1, 0, nodes.size - 2)
    share = (held - nodes[left]) / (nodes[left + 1] - nodes[left])
    weights = np.zeros((held.size, nodes.size))
    row = np.arange(held.size)
    weights[row, left], weights[row, left + 1] = 1.0 - share, share
    return weights
