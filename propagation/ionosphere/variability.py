"""From a median to a chance: day-to-day spread of the layers, of the signal and of the noise.

The days of a month share one ionosphere: every F2 mode of a circuit rises and falls together. The spread of
the F2 MUF is therefore carried by one normal score per day (`LAYER_NODES`), that of sporadic E by a second
(`ES_NODES`), and only what is left - signal and noise about their own medians - is treated as independent,
in the way of P.842: two half-normal distributions through the deciles.
"""

from __future__ import annotations

from functools import lru_cache
from math import erf, sqrt
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float
from propagation.ionosphere.sporadic_e import DECILE_Z

# Seven-point Gauss-Hermite rule for a standard normal day, exact for smooth functions: the eigenvalues of the
# recursion's matrix and the squares of their vectors' first components (Golub and Welsch 1969, from memory;
# numpy.polynomial takes 2 ms to import)
_off_diagonal = np.diag(np.sqrt(np.arange(1.0, 7.0)), 1)
_nodes, _vectors = np.linalg.eigh(_off_diagonal + _off_diagonal.T)
LAYER_NODES: Final[FloatArray] = 0.5 * (_nodes - _nodes[::-1])
LAYER_WEIGHTS: Final[FloatArray] = 0.5 * (_vectors[0] ** 2 + _vectors[0, ::-1] ** 2)
# Sporadic E has a long upper tail that decides: bins of probability, each at its middle
_ES_EDGES: Final = np.array([0.0, 0.3, 0.6, 0.8, 0.92, 1.0])
ES_WEIGHTS: Final[FloatArray] = np.diff(_ES_EDGES)
ES_NODES: Final[FloatArray] = np.array(
    [-1.036, -0.126, 0.524, 1.080, 1.751]
)  # normal scores of the bins' middles

# Deciles of the hourly median signal about its monthly median [dB] where the MUF does not matter, |gm lat|
# < 60 and above (P.842 table 1 at f/MUF <= 0.8, from memory); the part that comes from the MUF is in the
# nodes.
SIGNAL_LOWER_DB: Final = (8.0, 11.0)
SIGNAL_UPPER_DB: Final = (6.0, 9.0)
CDF_REACH: Final = 6.5  # standard deviations covered by the table of the normal distribution
_CDF_STEPS: Final = 256  # entries in each of them


def _smooth_day(solar_hour: FloatArray) -> FloatArray:
    """1 at noon, 0 at night, half at 06 and 18 local solar time, over about two hours."""
    return 0.5 * (1.0 + np.tanh(np.cos((solar_hour - 12.0) * np.pi / 12.0) / 0.25))


def muf_spread(
    solar_hour: FloatLike, geomagnetic_latitude_deg: FloatLike, r12: FloatLike
) -> tuple[FloatArray, FloatArray]:
    """Standard deviations (lower, upper) of the F2 MUF from day to day, relative to its median; broadcasts.

    Stand-in for the decile tables of P.1239 section 3 (from memory): lower decile 0.85 by day, 0.78 at night,
    0.75 about sunrise, 0.70 beyond 60 degrees geomagnetic, 0.03 less at low activity; upper 1.15, 1.25, 1.30.
    The table's steps are smoothed over two hours and ten degrees.
    """
    hour = np.mod(as_float(solar_hour), 24.0)
    day = _smooth_day(hour)
    sunrise = np.exp(-(((hour - 6.0) / 2.0) ** 2))
    high = 0.5 * (1.0 + np.tanh((np.abs(as_float(geomagnetic_latitude_deg)) - 60.0) / 5.0))
    lower = 0.78 + 0.07 * day
    lower = lower - sunrise * np.maximum(lower - 0.75, 0.0)
    lower = lower - high * np.maximum(lower - 0.70, 0.0)
    lower = lower - 0.03 * np.clip((75.0 - as_float(r12)) / 50.0, 0.0, 1.0)
    upper = 1.25 - 0.10 * day
    upper = upper + high * np.maximum(1.30 - upper, 0.0)
    return (1.0 - lower) / DECILE_Z, (upper - 1.0) / DECILE_Z


def layer_factor(lower: FloatLike, upper: FloatLike, normal_score: FloatLike) -> FloatArray:
    """The day's MUF over its median on a day of this normal score, never under 0.3; broadcasts."""
    z = as_float(normal_score)
    return np.maximum(1.0 + np.where(z < 0.0, as_float(lower), as_float(upper)) * z, 0.3)


def signal_deciles_db(geomagnetic_latitude_deg: FloatLike) -> tuple[FloatArray, FloatArray]:
    """Lower and upper decile [dB] of the day-to-day signal, rising across 60 deg geomagnetic; broadcasts."""
    high = 0.5 * (1.0 + np.tanh((np.abs(as_float(geomagnetic_latitude_deg)) - 60.0) / 5.0))
    lower = SIGNAL_LOWER_DB[0] + (SIGNAL_LOWER_DB[1] - SIGNAL_LOWER_DB[0]) * high
    upper = SIGNAL_UPPER_DB[0] + (SIGNAL_UPPER_DB[1] - SIGNAL_UPPER_DB[0]) * high
    return lower, upper


@lru_cache(maxsize=2)
def _cdf_table(precision: str) -> tuple[FloatArray, FloatArray]:
    """Values of the normal distribution function over -CDF_REACH..CDF_REACH, and the rise to the next."""
    z = np.arange(-CDF_REACH, CDF_REACH + 0.5 / _CDF_STEPS, 1.0 / _CDF_STEPS)
    values = as_float([0.5 * (1.0 + erf(one / sqrt(2.0))) for one in z.tolist()])
    rises = np.diff(values, append=values[-1])
    return values.astype(precision), rises.astype(precision)


def normal_cdf(z: FloatLike) -> FloatArray:
    """Standard normal distribution function, to 1e-6, vectorised: linear in a fine table of the exact values.

    numpy has no error function and scipy's import costs too much at start-up.
    """
    place = np.array(as_float(z))  # a copy, worked on in place: this is where much of the time goes
    values, rises = _cdf_table(place.dtype.char)
    place += CDF_REACH
    place *= _CDF_STEPS
    np.minimum(np.maximum(place, 0.0, out=place), 2.0 * CDF_REACH * _CDF_STEPS, out=place)
    left = place.astype(np.intp)
    place -= left.astype(place.dtype)
    place *= rises.take(left)
    place += values.take(left)
    return place


def normal_score(share: FloatLike) -> FloatArray:
    """Inverse of `normal_cdf`, to 1e-5: the score below which a share of the distribution is."""
    values, _ = _cdf_table("d")
    return as_float(np.interp(share, values, np.arange(values.size) / _CDF_STEPS - CDF_REACH))


def chance_above(margin_db: FloatLike, lower_decile_db: FloatLike, upper_decile_db: FloatLike) -> FloatArray:
    """Chance that a level with this median margin [dB] and these deciles [dB] is above zero; broadcasts.

    Two half-normal sides (P.842's structure): 0.5 at zero margin, 0.9 at a margin of the lower decile.
    """
    margin = as_float(margin_db)
    above, below = (
        (DECILE_Z / np.maximum(as_float(d), 1e-3)).astype(margin.dtype)
        for d in (lower_decile_db, upper_decile_db)
    )
    return normal_cdf(np.maximum(margin, 0.0) * above + np.minimum(margin, 0.0) * below)
