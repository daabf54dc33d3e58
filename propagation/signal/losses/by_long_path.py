"""Contribution of the combined method to routes beyond 7000 km, where single ray paths no longer apply.

Between 7000 and 10 000 km it replaces the ray paths gradually; beyond it is used alone (P.533 does so between
7000 and 9000 km; see `long_path`).
"""

from __future__ import annotations

import numpy as np

from propagation.signal.losses import event_loss, long_path
from propagation.signal.losses.circuit_inputs import CircuitCase
from propagation.signal.losses.contribution import Contribution, LayerLimits, Strongest
from propagation.signal.losses.counterfactual import Counterfactual
from propagation.signal.losses.long_path import LongPath
from propagation.signal.losses.ray_path_sum import power
from propagation.signal.losses.terminal_gains import frequency_of, low_gain_db
from propagation.signal.rays.path_samples import PathSamples
from propagation.signal.rays.ray_path_names import LONG_PATH


def contribution(
    case: CircuitCase, samples: PathSamples, counterfactual: Counterfactual
) -> tuple[Contribution, LongPath] | tuple[None, None]:
    """Combined method's contribution and its figures (M rows); None where no route is that long."""
    rows = np.flatnonzero(samples.distance_km > long_path.START_KM)
    if not rows.size:
        return None, None
    f = frequency_of(case, rows)
    part = samples.rows(rows)
    figures = counterfactual.of_long_path(long_path.combined(part, case.route.bearing_deg[rows]), rows)
    extra = event_loss.along_db(part, f, figures.elevation_deg, figures.hops)
    to_gain = low_gain_db(case, rows) - long_path.FIELD_TO_LOSS_DB - 20.0 * np.log10(f) - extra
    median_db = figures.field_db(f) + to_gain
    days_db = figures.field_db(f[..., None], part.layer_factors()[..., None, :]) + to_gain[..., None]
    shape = median_db.shape
    nothing = np.zeros(shape)
    elevation = np.maximum(figures.elevation_deg, 0.0)[:, None, None]
    hops = figures.hops[:, None, None].astype(np.int64)
    found = Contribution(
        rows=rows,
        layer_power=power(days_db),
        es_power=None,
        median_power=power(median_db),
        strongest=Strongest(
            gain_db=median_db,
            ray_path=np.full(shape, LONG_PATH),
            low_hops=np.zeros(shape, dtype=np.int64),
            high_hops=np.broadcast_to(hops, shape),
            elevation_deg=np.broadcast_to(elevation, shape),
            mirror_km=np.full(shape, long_path.MIRROR_KM),
        ),
        limits=LayerLimits(
            muf_mhz=figures.basic_mhz,
            lowest_mhz=figures.lower_mhz,
            support=f / figures.upper_mhz[..., None],
            absorption_db=figures.absorbed_db(f) + extra,
            screening_db=nothing,
            auroral_db=nothing,
            extra_db=np.broadcast_to(extra, shape),
            calm_db=median_db + extra,
        ),
        ray_paths_db=median_db[..., None],
        first_ray_path=LONG_PATH,
        share=np.clip(
            (part.distance_km - long_path.START_KM) / (long_path.FULL_KM - long_path.START_KM), 0.0, 1.0
        ),
    )
    return found, figures
