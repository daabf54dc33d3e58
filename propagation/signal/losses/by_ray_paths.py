"""The contribution of single modes, chains of hops, to routes up to 10 000 km."""

from __future__ import annotations

import numpy as np

from propagation.base.units import FloatArray, as_float
from propagation.signal.losses import path_loss, ray_path_sum
from propagation.signal.losses.circuit_inputs import CircuitCase
from propagation.signal.losses.contribution import Contribution, LayerLimits, Strongest
from propagation.signal.losses.counterfactual import Counterfactual
from propagation.signal.losses.path_loss import ModeLosses
from propagation.signal.losses.terminal_gains import both_gains_db, frequency_of
from propagation.signal.rays import ray_paths
from propagation.signal.rays.path_samples import PathSamples
from propagation.signal.rays.ray_paths import Chains


def contribution(
    case: CircuitCase, samples: PathSamples, counterfactual: Counterfactual, *, every_mode: bool
) -> tuple[Contribution, ModeLosses, Chains] | tuple[None, None, None]:
    """The modes' contribution with their losses and geometry (M rows); None where no route has modes.

    every_mode False leaves out the modes no route has, and the level of each mode.
    """
    rows = np.flatnonzero(samples.distance_km <= ray_paths.REACH_KM)
    if not rows.size:
        return None, None, None
    f = frequency_of(case, rows)
    chains = ray_paths.chains(samples.distance_km[rows], every_mode=every_mode)
    losses = path_loss.mode_losses(samples.rows(rows), chains, f)
    losses = counterfactual.of_losses(losses, rows)
    modes = ray_path_sum.mode_sum(losses, chains, both_gains_db(case, rows, losses.elevation_deg), f)
    extra = modes.of_best(losses.extra_absorption_db)
    found = Contribution(
        rows=rows,
        layer_power=modes.layer_power,
        es_power=modes.es_power,
        median_power=modes.median_power,
        strongest=_strongest(modes, losses, chains),
        limits=LayerLimits(
            muf_mhz=modes.muf_mhz,
            lowest_mhz=np.full(modes.muf_mhz.shape, np.nan),
            support=modes.support,
            absorption_db=modes.of_best(losses.absorption_db) + extra,
            screening_db=modes.of_best(losses.screening_db),
            auroral_db=modes.of_best(losses.auroral_db),
            extra_db=extra,
            calm_db=_calm_db(modes, losses),
        ),
        modes_db=modes.mode_gain_db if every_mode else None,
    )
    return found, losses, chains


def _calm_db(modes: ray_path_sum.ModeSum, losses: ModeLosses) -> FloatArray:
    """Gain [dB] of the mode that would be the strongest without flares and protons (M, T, B)."""
    if not np.any(losses.extra_absorption_db):
        return modes.of_best(modes.mode_gain_db)
    there = modes.mode_gain_db > ray_path_sum.NOTHING_DB
    calm = modes.mode_gain_db + losses.extra_absorption_db
    return as_float(np.max(np.where(there, calm, ray_path_sum.NOTHING_DB), axis=-1))


def _strongest(modes: ray_path_sum.ModeSum, losses: ModeLosses, chains: Chains) -> Strongest:
    row = np.arange(chains.distance_km.size)[:, None, None]

    def hops_of(count: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
        return count.astype(np.int64)[row, modes.best]

    return Strongest(
        gain_db=modes.of_best(modes.mode_gain_db),
        path_mode=chains.slots[modes.best],
        low_hops=hops_of(chains.low_count),
        high_hops=hops_of(chains.high_count),
        elevation_deg=modes.of_best(losses.elevation_deg),
        mirror_km=modes.of_best(losses.mirror_km),
    )
