"""What flares and solar protons take where no chain of ray paths is followed: scattered signals, long paths.

The ray paths have it hop by hop (`path_loss`). Shapes: M routes, T times, B frequencies.
"""

from __future__ import annotations

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float, cosd
from propagation.ionosphere.absorption import Rays
from propagation.signal.rays.path_samples import PathSamples


def at_middle_db(samples: PathSamples, f: FloatArray, angle_deg: FloatLike, hops: float) -> FloatArray:
    """Loss [dB] (M, T, B) of so many hops at a take-off angle [deg], by the middle of the path for all; 0
    when quiet."""
    if samples.extra_absorption is None:
        return np.zeros((1, 1, 1))
    middle = samples.extra_absorption.shape[-1] // 2
    per_hop = samples.extra_absorption[..., middle, None] / f**1.5
    return as_float(hops * per_hop * Rays.of(cosd(angle_deg)).sec_d)


def along_db(samples: PathSamples, f: FloatArray, elevation_deg: FloatArray, hops: FloatArray) -> FloatArray:
    """Loss [dB] (M, T, B) of equal hops (M,) at take-off angles (M,) [deg], the mean along the path for each;
    0 when quiet."""
    if samples.extra_absorption is None:
        return np.zeros((1, 1, 1))
    sec_d = Rays.of(cosd(np.maximum(elevation_deg, 0.0))).sec_d
    per_hop = np.mean(samples.extra_absorption, axis=-1)[..., None] / f**1.5
    return as_float(per_hop * (hops * sec_d)[:, None, None])


def proton_share(samples: PathSamples) -> FloatArray:
    """How much of what flares and protons take along the path is the protons' (M, T); 0 where nothing is."""
    if samples.extra_absorption is None or samples.proton_absorption is None:
        return np.zeros(samples.fof2_mhz.shape[:2])
    total = np.sum(samples.extra_absorption, axis=-1)
    by_protons = np.sum(samples.proton_absorption, axis=-1)
    return as_float(np.divide(by_protons, total, out=np.zeros(total.shape), where=total > 0.0))
