"""The best conditions for a time, with those measured in the last hours where maps of them are stored.

The anomaly of foF2 comes from measured frames. Each is compared with the usual layer of its own hour: the
median map with the day's index (without reports by ear) and the storm of that hour. The ratio is then
smoothed: a cell counts by its observations, and neighbours contribute over the distance at which days
resemble one another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np

from propagation.base.store import Store
from propagation.base.units import FloatArray, IntArray, TimeLike, as_float, cosd
from propagation.geo.geomagnetic import middle_year
from propagation.ionosphere.layers import ionosphere
from propagation.space_weather.indices import geomagnetic_activity
from propagation.space_weather.sources.density_map import MOST_OBSERVATIONS, DensityFrame
from propagation.space_weather.sources.hosts import FUTURE
from propagation.space_weather.state import stored_conditions
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.measured_conditions import (
    DAY_SPREAD,
    LATITUDES_DEG,
    LONGITUDES_DEG,
    Fof2Anomaly,
    MeasuredAbsorption,
    MeasuredConditions,
    MeasuredOval,
    oval_kp,
)
from propagation.space_weather.state.measured_maps import (
    kept_absorption_map,
    kept_aurora_map,
    kept_frames,
)

# Error of ln foF2 in a cell with all the observations there can be; with fewer it grows as their root (ours)
BEST_ERROR: Final = 0.08
# Distance over which neighbouring cells contribute to each other: a third of that over which days of the F2
# layer lose half of their correlation, some 1500 km north to south and twice that east to west (from memory)
SMOOTH_KM: Final = (450.0, 900.0)
# Observations of every cell of a frame that counts none: somewhere there always are some (ours)
UNCOUNTED: Final = 2
SAME_HOUR_H: Final = (
    3.0  # h; frames of other days count within so much of the newest's hour of the day (ours)
)
MOST_FRAMES: Final = 4  # the newest and those of three days: more frames add little (ours)
_KM_PER_DEG: Final = 111.2
_NARROWEST_COS: Final = 0.1  # of the latitude, towards the poles


def usual_fof2_mhz(conditions: Conditions, times: Sequence[np.datetime64]) -> FloatArray:
    """foF2 [MHz] of every cell of the grid of `departure` without any measurement of it, (F, 36, 36)."""
    when = np.array(times, dtype="datetime64[s]")[:, None, None]
    index = conditions.index.linear_at(when)
    sky = ionosphere(LATITUDES_DEG[None, :, None], LONGITUDES_DEG[None, None, :], when, index, with_es=False)
    rap = geomagnetic_activity.weighted_ap(conditions.ap_history(when), when)
    return as_float(sky.fof2_mhz * geomagnetic_activity.storm_factor(sky.geomagnetic_latitude_deg, when, rap))


def fof2_anomaly_of(frames: Sequence[DensityFrame], conditions: Conditions) -> Fof2Anomaly | None:
    """Anomaly of foF2 by frames, newest first; None without any frame that has its time."""
    dated = [(frame.time, frame) for frame in frames if frame.time is not None and not frame.empty]
    dated = [pair for pair in dated if _same_hour(pair[0], dated[0][0])][:MOST_FRAMES]
    if not dated:
        return None
    usual = usual_fof2_mhz(conditions, [time for time, _ in dated])
    measured = np.stack([frame.fof2_mhz for _, frame in dated])
    seen = np.stack([_counted(frame.observations) for _, frame in dated])
    known = np.isfinite(measured) & (seen > 0)
    share = np.where(known, seen / MOST_OBSERVATIONS, 0.0)
    log_measured = np.log(np.where(known, measured, 1.0))
    # four cells of a frame to one of the grid
    weight = _by_four(share)
    log_mean = _by_four(share * log_measured) / np.maximum(weight, 1e-9)
    log_ratio = np.where(weight > 0.0, log_mean - np.log(usual), 0.0)
    smooth, certain = smoothed(log_ratio, weight * (DAY_SPREAD / BEST_ERROR) ** 2)
    with np.errstate(divide="ignore"):
        error = np.where(certain > 0.0, 1.0 / certain, np.inf)
    return Fof2Anomaly.of(np.array([time for time, _ in dated], dtype="datetime64[s]"), smooth, error)


def _same_hour(time: np.datetime64, newest: np.datetime64) -> bool:
    """Whether a frame is of the newest's hour of the day, within SAME_HOUR_H."""
    hours = float((newest - time) / np.timedelta64(3600, "s"))
    return abs(hours - 24.0 * round(hours / 24.0)) <= SAME_HOUR_H


def _counted(observations: IntArray) -> IntArray:
    """The observations of each cell; a frame in which no cell has any does not count them, and each of its
    cells is taken as seldom observed."""
    return observations if np.any(observations > 0) else np.full_like(observations, UNCOUNTED)


def _by_four(grid: FloatArray) -> FloatArray:
    """Means over two by two cells: (F, 72, 72) to (F, 36, 36)."""
    return as_float(np.mean(grid.reshape(-1, 36, 2, 36, 2), axis=(2, 4)))


def smoothed(values: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean over the neighbourhood by weight, and the weight left for it; (F, 36, 36) each.

    Errors of neighbouring cells come from the same rays, so the weights are averaged, not added: the result
    is the mean over the neighbourhood, lower where cells were not observed.
    """
    along, across = _neighbours()
    total = _spread(weight, along, across)
    mean = _spread(values * weight, along, across) / np.maximum(total, 1e-9)
    return as_float(np.where(total > 1e-6, mean, 0.0)), as_float(np.where(total > 1e-6, total, 0.0))


def _spread(grid: FloatArray, along: FloatArray, across: FloatArray) -> FloatArray:
    east = np.einsum("rab,frb->fra", along, grid)
    return as_float(np.einsum("rs,fsa->fra", across, east))


@lru_cache(maxsize=1)
def _neighbours() -> tuple[FloatArray, FloatArray]:
    """Shares that cells take of each other: along each latitude (36, 36, 36) and across them (36, 36)."""
    apart = np.abs((LONGITUDES_DEG[:, None] - LONGITUDES_DEG[None, :] + 180.0) % 360.0 - 180.0)
    shrink = np.maximum(cosd(LATITUDES_DEG), _NARROWEST_COS)[:, None, None]
    along = np.exp(-0.5 * (apart * _KM_PER_DEG * shrink / SMOOTH_KM[1]) ** 2)
    rows = np.abs(LATITUDES_DEG[:, None] - LATITUDES_DEG[None, :])
    across = np.exp(-0.5 * (rows * _KM_PER_DEG / SMOOTH_KM[0]) ** 2)
    return (
        as_float(along / np.sum(along, axis=-1, keepdims=True)),
        as_float(across / np.sum(across, axis=-1, keepdims=True)),
    )


NEWER: Final = np.timedelta64(600, "s")  # X-rays measured this much after the absorption map replace it


def best(
    store: Store | None,
    times: TimeLike,
    now: np.datetime64,
    ssn: float | None = None,
    flux_sfu: float | None = None,
    kp: float | None = None,
    *,
    besides: Sequence[np.datetime64] = (),
) -> Conditions:
    """Conditions of `stored_conditions.best`, with those measured where a stored map applies to the times.

    Numbers given with a command describe other conditions than the measured ones: the maps are left out.
    """
    conditions = stored_conditions.best(store, times, now, ssn, flux_sfu, kp, besides=besides)
    if store is None or not (ssn is None and flux_sfu is None and kp is None):
        return conditions
    sky = measured_conditions_of(store, conditions, now)
    return conditions if sky is None or not sky.applies_to(times) else replace(conditions, measured=sky)


def measured_conditions_of(
    store: Store, conditions: Conditions, now: np.datetime64
) -> MeasuredConditions | None:
    """Conditions by the stored maps, None without any; damaged ones and those of the future are left out."""
    latest = now + FUTURE
    layer = fof2_anomaly_of([frame for frame in kept_frames(store) if _by(frame.time, latest)], conditions)
    absorbed, aurora = kept_absorption_map(store), kept_aurora_map(store)
    absorption = oval = None
    if absorbed is not None and absorbed.valid_at is not None and _by(absorbed.valid_at, latest):
        seen = conditions.xray_seen
        flare = seen is None or bool(seen <= absorbed.valid_at + NEWER)
        absorption = MeasuredAbsorption(absorbed.valid_at, absorbed.highest_mhz, flare)
    if aurora is not None and aurora.valid_at is not None and _by(aurora.observed, latest):
        kp = oval_kp(aurora, middle_year(aurora.valid_at))
        oval = None if kp is None else MeasuredOval(aurora.valid_at, kp, aurora.observed, aurora.value)
    found = MeasuredConditions(layer, absorption, oval)
    return None if found == MeasuredConditions() else found


def _by(time: np.datetime64 | None, latest: np.datetime64) -> bool:
    return time is not None and bool(time <= latest)
