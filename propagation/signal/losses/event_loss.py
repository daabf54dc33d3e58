"""Loss by flares and solar protons for scattered signals and long paths, which have no chain of hops.

`path_loss` computes it hop by hop for the ray paths. Shapes: M routes, T times, B frequencies.
"""

from __future__ import annotations

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float, cosd
from propagation.ionosphere.absorption import Rays
from propagation.signal.rays.path_samples import PathSamples


def at_middle_db(samples: PathSamples, f: FloatArray, angle_deg: FloatLike, hops: float) -> FloatArray:
    """Loss [dB] (M, T, B) of a number of hops at a take-off angle [deg]; 0 when quiet.

    The middle of the path applies to all hops.
    """
    if samples.extra_absorption is None:
        return np.zeros((1, 1, 1))
    middle = samples.extra_absorption.shape[-1] // 2
    per_hop = samples.extra_absorption[..., middle, None] / f**1.5
    return as_float(hops * per_hop * Rays.of(cosd(angle_deg)).sec_d)


def along_db(samples: PathSamples, f: FloatArray, elevation_deg: FloatArray, hops: FloatArray) -> FloatArray:
    """Loss [dB] (M, T, B) of equal hops (M,) at take-off angles (M,) [deg]; 0 when quiet.

    Each route uses the mean along the path.
    """
    if samples.extra_absorption is None:
        return np.zeros((1, 1, 1))
    sec_d = Rays.of(cosd(np.maximum(elevation_deg, 0.0))).sec_d
    per_hop = np.mean(samples.extra_absorption, axis=-1)[..., None] / f**1.5
    return as_float(per_hop * (hops * sec_d)[:, None, None])


def proton_share(samples: PathSamples) -> FloatArray:
    """Share of the protons in the loss by flares and protons along the path (M, T); 0 without loss."""
    if samples.extra_absorption is None or samples.proton_absorption is None:
        return np.zeros(samples.fof2_mhz.shape[:2])
    total = np.sum(samples.extra_absorption, axis=-1)
    by_protons = np.sum(samples.proton_absorption, axis=-1)
    return as_float(np.divide(by_protons, total, out=np.zeros(total.shape), where=total > 0.0))
