"""Sporadic E: reflection loss of a thin, dense, patchy layer, by the form of P.534.

The formula goes back to Miya, Shimizu and Kojima (1978); its constants are written from memory. foEs and its
deciles come from the published maps (`ionosphere`); how often the layer carries a path follows from their
spread, `foes_quantile_mhz`.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float

DECILE_Z: Final = 1.2816  # standard deviations from the median to a decile of the normal distribution
LOSS_MAX_DB: Final = 140.0  # dB, beyond this the layer is transparent; keeps sums finite (ours)


def loss_by_distance(hop_km: FloatLike) -> tuple[FloatArray, FloatArray]:
    """The two parts of the loss Gamma [dB] of a hop by sporadic E, over free space; broadcasts.

    Gamma = [40 / (1 + d/130 + (d/250)^2) + 0.2 (d/2600)^2] (f/foEs)^2 + exp((d - 1660)/280), d the hop's
    ground length [km] (P.534 section 3, from memory): the factor of (f/foEs)^2 [dB], and the loss of a long
    hop that grazes the layer [dB]. A chain of hops sums both over its hops.
    """
    d = as_float(hop_km)
    by_ratio = 40.0 / (1.0 + d / 130.0 + (d / 250.0) ** 2) + 0.2 * (d / 2600.0) ** 2
    return by_ratio, np.exp((np.minimum(d, 4000.0) - 1660.0) / 280.0)


def foes_quantile_mhz(
    lower_mhz: FloatLike, median_mhz: FloatLike, upper_mhz: FloatLike, normal_score: FloatLike
) -> FloatArray:
    """foEs [MHz] on a day with the given normal score (0 the median day, +1.28 the upper decile).

    Log-normal on each side of the median, through the published deciles; all arguments broadcast.
    """
    median = np.maximum(as_float(median_mhz), 0.1)
    z = as_float(normal_score)
    up = np.log(np.maximum(as_float(upper_mhz), median) / median) / DECILE_Z
    down = np.log(median / np.clip(as_float(lower_mhz), 0.05, median)) / DECILE_Z
    return median * np.exp(np.where(z >= 0.0, up, down) * z)
