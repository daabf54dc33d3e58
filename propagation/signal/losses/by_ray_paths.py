"""Contribution of single ray paths, chains of hops, to routes up to 10 000 km."""

from __future__ import annotations

import numpy as np

from propagation.base.units import FloatArray, as_float
from propagation.signal.losses import path_loss, ray_path_sum
from propagation.signal.losses.circuit_inputs import CircuitCase
from propagation.signal.losses.contribution import Contribution, LayerLimits, Strongest
from propagation.signal.losses.counterfactual import Counterfactual
from propagation.signal.losses.path_loss import RayPathLosses
from propagation.signal.losses.terminal_gains import both_gains_db, frequency_of
from propagation.signal.rays import ray_paths
from propagation.signal.rays.path_samples import PathSamples
from propagation.signal.rays.ray_paths import Chains


def contribution(
    case: CircuitCase, samples: PathSamples, counterfactual: Counterfactual, *, every_ray_path: bool
) -> tuple[Contribution, RayPathLosses, Chains] | tuple[None, None, None]:
    """Contribution of the ray paths with their losses and geometry (M rows); None where no route has any.

    every_ray_path False omits the ray paths that no route has, and the level of each ray path.
    """
    rows = np.flatnonzero(samples.distance_km <= ray_paths.REACH_KM)
    if not rows.size:
        return None, None, None
    f = frequency_of(case, rows)
    chains = ray_paths.chains(samples.distance_km[rows], every_ray_path=every_ray_path)
    losses = path_loss.ray_path_losses(samples.rows(rows), chains, f)
    losses = counterfactual.of_losses(losses, rows)
    found = ray_path_sum.sum_ray_paths(losses, chains, both_gains_db(case, rows, losses.elevation_deg), f)
    extra = found.of_best(losses.extra_absorption_db)
    part = Contribution(
        rows=rows,
        layer_power=found.layer_power,
        es_power=found.es_power,
        median_power=found.median_power,
        strongest=_strongest(found, losses, chains),
        limits=LayerLimits(
            muf_mhz=found.muf_mhz,
            lowest_mhz=np.full(found.muf_mhz.shape, np.nan),
            support=found.support,
            absorption_db=found.of_best(losses.absorption_db) + extra,
            screening_db=found.of_best(losses.screening_db),
            auroral_db=found.of_best(losses.auroral_db),
            extra_db=extra,
            calm_db=_calm_db(found, losses),
        ),
        ray_paths_db=found.ray_path_gain_db if every_ray_path else None,
    )
    return part, losses, chains


def _calm_db(found: ray_path_sum.RayPathSum, losses: RayPathLosses) -> FloatArray:
    """Gain [dB] of the ray path that would be the strongest without flares and protons (M, T, B)."""
    if not np.any(losses.extra_absorption_db):
        return found.of_best(found.ray_path_gain_db)
    there = found.ray_path_gain_db > ray_path_sum.NOTHING_DB
    calm = found.ray_path_gain_db + losses.extra_absorption_db
    return as_float(np.max(np.where(there, calm, ray_path_sum.NOTHING_DB), axis=-1))


def _strongest(found: ray_path_sum.RayPathSum, losses: RayPathLosses, chains: Chains) -> Strongest:
    row = np.arange(chains.distance_km.size)[:, None, None]

    def hops_of(count: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
        return count.astype(np.int64)[row, found.best]

    return Strongest(
        gain_db=found.of_best(found.ray_path_gain_db),
        ray_path=chains.templates[found.best],
        low_hops=hops_of(chains.low_count),
        high_hops=hops_of(chains.high_count),
        elevation_deg=found.of_best(losses.elevation_deg),
        mirror_km=found.of_best(losses.mirror_km),
    )
