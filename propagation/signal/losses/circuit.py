"""Circuit, antenna to antenna: the power sum of all its ray paths on every kind of day.

Four kinds of propagation contribute: the ray paths to 10 000 km (`by_ray_paths`, including sporadic E), the
combined method beyond 7000 km (`by_long_path`), scatter (`by_scatter`) and the ground wave (`nearby`).
Between 7000 and 10 000 km the first two are interpolated as in P.533. Two normal scores describe a day, one
for the F2 layer and one for sporadic E (`variability`). Every F2 ray path of a circuit shares the first, so
ray paths are never treated as independent. Gains are the same both ways: the path is reciprocal. Shapes: N
routes, T times, B frequencies, K ray paths, U layer days, V sporadic-E days.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.constants import D_LAYER_HEIGHT_KM, F2_FIELD_HEIGHT_KM
from propagation.base.units import FloatArray, IntArray
from propagation.geo import geomagnetic
from propagation.ionosphere import absorbing_layers, variability
from propagation.signal.losses import (
    by_long_path,
    by_ray_paths,
    by_scatter,
    long_path,
    nearby,
    path_loss,
)
from propagation.signal.losses.circuit_inputs import CircuitCase
from propagation.signal.losses.contribution import Joined
from propagation.signal.losses.counterfactual import NOTHING_SPARED, Counterfactual
from propagation.signal.losses.ray_path_sum import LEAST_POWER
from propagation.signal.rays import path_samples, ray_paths
from propagation.signal.rays.path_samples import PathSamples

ES_NEGLIGIBLE: Final = 1e-3  # share of the power below which sporadic E is ignored, 0.004 dB (ours)
NO_POWER: Final = 1e-26  # power gain too low for any receiver (ours)


@dataclass(frozen=True, eq=False)
class Circuit:
    """Path between the two antenna feeds; arrays (N, T, B) unless noted.

    gain_db (N, T, B, U, V): total gain of the path with both antennas, on each kind of day (negative).
    median_gain_db: the same on the median day. ray_path: number of the strongest ray path on that day
    (`ray_path_names`). low_hops, high_hops, elevation_deg, mirror_km: of that ray path (NaN where undefined).
    muf_mhz (N, T): basic MUF of the path (of the easiest ray path). support: frequency over the best basic
    MUF of any ray path, above 1 where no layer carries it. absorption_db, screening_db, auroral_db: losses of
    the strongest ray path of the layers. extra_db: part of its absorption due to flares and protons. calm_db:
    gain without them by the ray path that is then the strongest. lowest_mhz (N, T): fL of the combined method
    beyond 7000 km, else NaN. ray_path_gain_db (N, T, B, `RAY_PATH_COUNT`): each ray path on the median day,
    antennas included, -900 where absent; None unless kept. losses, chains: details of the ray paths, for the
    routes of up to 10 000 km, None if there are none. combined: likewise for those beyond 7000 km. samples:
    the ionosphere along all routes.
    """

    case: CircuitCase
    gain_db: FloatArray
    median_gain_db: FloatArray
    ray_path: IntArray
    low_hops: IntArray
    high_hops: IntArray
    elevation_deg: FloatArray
    mirror_km: FloatArray
    muf_mhz: FloatArray
    lowest_mhz: FloatArray
    support: FloatArray
    absorption_db: FloatArray
    screening_db: FloatArray
    auroral_db: FloatArray
    extra_db: FloatArray
    calm_db: FloatArray
    ray_path_gain_db: FloatArray | None
    losses: path_loss.RayPathLosses | None
    chains: ray_paths.Chains | None
    combined: long_path.LongPath | None
    samples: PathSamples

    @property
    def event_db(self) -> FloatArray:
        """Loss by flares and protons on the median day (N, T, B) [dB].

        0 where the layers do not carry the signal.
        """
        return np.asarray(np.maximum(self.calm_db - self.median_gain_db, 0.0))

    @property
    def frequency_mhz(self) -> FloatArray:
        """Frequencies (1 or N, 1, B) [MHz]."""
        return self.case.frequency_mhz

    @property
    def distance_km(self) -> FloatArray:
        """Lengths of the routes (N,) [km]."""
        return self.case.route.distance_km

    @property
    def bearing_deg(self) -> FloatArray:
        """Bearings at the starts of the routes (N,) [deg]."""
        return self.case.route.bearing_deg


def circuit(
    case: CircuitCase, counterfactual: Counterfactual | None = None, *, keep_ray_paths: bool = True
) -> Circuit:
    """Compute a case.

    `counterfactual` removes losses from some of the routes, to find their size. `keep_ray_paths` False omits
    the ray paths that no route has and the record of each ray path, which saves time and memory.
    """
    spared = counterfactual or NOTHING_SPARED
    distance = case.route.distance_km
    samples = path_samples.sample(
        case.route, case.times, case.index, case.disturber, year=case.year,
        for_ray_paths=keep_ray_paths or bool(np.any(distance <= ray_paths.REACH_KM)),
    )  # fmt: skip
    by_hops, losses, chains = by_ray_paths.contribution(case, samples, spared, every_ray_path=keep_ray_paths)
    along, combined = by_long_path.contribution(case, samples, spared)
    scattered = by_scatter.contribution(case, samples, spared, every_ray_path=keep_ray_paths)
    near = nearby.contribution(case, samples, every_ray_path=keep_ray_paths)
    n, t = samples.fof2_mhz.shape[:2]
    whole = Joined(n, t, case.frequency_mhz.shape[-1], each_ray_path=keep_ray_paths)
    for part in (by_hops, along, scattered, near):
        whole.add(part)

    figures = vars(whole.strongest) | vars(whole.limits)
    del figures["gain_db"]
    return Circuit(
        case=case,
        gain_db=_days_db(whole.layer_power, whole.es_power),
        median_gain_db=_decibels(whole.median_power),
        ray_path_gain_db=whole.ray_paths_db,
        losses=losses if keep_ray_paths else None,
        chains=chains,
        combined=combined,
        samples=samples,
        **figures,
    )


def make_tables(year: float) -> None:
    """Make the tables that circuits read, before two threads each make their own: 30 ms at the first call.

    year: of the magnetic field.
    """
    path_loss.make_tables()
    absorbing_layers.table()
    for height_km in (F2_FIELD_HEIGHT_KM, D_LAYER_HEIGHT_KM):
        geomagnetic.field_map(year, height_km)


def _days_db(layer_power: FloatArray, es_power: FloatArray) -> FloatArray:
    """Gain on each kind of day (N, T, B, U, V); a view of one day where sporadic E changes nothing."""
    least = np.maximum(ES_NEGLIGIBLE * np.min(layer_power, axis=-1, keepdims=True), NO_POWER)
    es_power = np.where(es_power > least, es_power, 0.0)
    if not np.any(es_power):
        es_power = es_power[..., :1]
    by_day = _decibels(layer_power[..., :, None] + es_power[..., None, :])
    return np.broadcast_to(by_day, (*by_day.shape[:-1], len(variability.ES_NODES)))


def _decibels(ratio: FloatArray) -> FloatArray:
    return 10.0 * np.log10(np.maximum(ratio, LEAST_POWER))
