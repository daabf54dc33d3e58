"""Sporadic E: reflection loss of a thin, patchy layer, and how it differs from day to day.

The layer is a sheet with denser clouds in it. Up to the blanketing frequency fbEs the sheet itself is opaque;
from there to the top frequency foEs only the clouds return something (Whitehead 1972, Radio Science 7, 355:
the plasma frequency varies by a megahertz or so within a few kilometres). Aslant both grow by the secant of
incidence. Between them the loss rises to what P.534 gives at foEs sec i, some 24 dB at any distance: about
what an ionosonde still sees straight up.

foEs and its deciles come from the published maps (`layers`); how often the layer carries a path follows from
their spread, `foes_quantile_mhz`.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.constants import E_LAYER_HEIGHT_KM
from propagation.base.units import FloatArray, FloatLike, as_float
from propagation.ionosphere import hops

DECILE_Z: Final = 1.2816  # standard deviations from the median to a decile of the normal distribution
LOSS_MAX_DB: Final = 140.0  # dB, beyond this the layer is transparent (ours: keeps sums finite)
# fbEs over foEs. 64 ionosondes, 2006 to 2020: fbEs comes half to a third as often as foEs at any strength, a
# fifth as often over 7 MHz (abstract of the climatology in Atmosphere 12, 2021, no. 1558). With the maps'
# spread of 0.33 nepers from day to day both are what a ratio of 0.74 to 0.77 gives.
BLANKETING_RATIO: Final = 0.75
# Readings by eye, as the maps were made from, take oblique echoes and the extraordinary trace for foEs: in 9
# of 10 cases of 6 MHz and more by about 1 MHz too high (abstract of Lastovicka and others 2012, J. Atmos.
# Sol.-Terr. Phys. 74, 51). Comes in from 4 MHz on (ours).
OVERREAD_MHZ: Final = 1.0
OVERREAD_FROM_MHZ: Final = 4.0
OVERREAD_FULL_MHZ: Final = 6.0
HIDDEN_BELOW_X: Final = 0.8  # f cos i / foE under which the E layer turns the ray below sporadic E (ours)
HIDDEN_SOFT_X: Final = 0.3  # of the same, over which this loss fades (ours)
HIDDEN_MAX_DB: Final = 30.0  # dB, largest such loss (ours)


def p534_parts(hop_km: FloatLike) -> tuple[FloatArray, FloatArray]:
    """The two parts of the loss Gamma [dB] of one hop over free space by P.534; broadcasts.

    Gamma = [40 / (1 + d/130 + (d/250)^2) + 0.2 (d/2600)^2] (f/foEs)^2 + exp((d - 1660)/280), d the hop's
    ground length [km] (section 3, from memory; it goes back to Miya, Shimizu and Kojima 1978, who measured at
    VHF, above foEs sec i): the factor of (f/foEs)^2 [dB], and the loss of a long hop that grazes the layer.
    """
    d = as_float(hop_km)
    by_ratio = 40.0 / (1.0 + d / 130.0 + (d / 250.0) ** 2) + 0.2 * (d / 2600.0) ** 2
    return by_ratio, np.exp((np.minimum(d, 4000.0) - 1660.0) / 280.0)


def reflection_loss_db(hop_km: FloatLike, frequency_mhz: FloatLike, foes_mhz: FloatLike) -> FloatArray:
    """Loss [dB] of one hop by sporadic E, over free space; every argument broadcasts.

    None up to fbEs sec i but the grazing of a long hop; the loss of P.534 at foEs sec i; quadratic in the
    frequency between them and beyond. Above foEs sec i it grows faster than P.534 does, which with the maps'
    foEs predicts several times the openings heard on 24 and 28 MHz. Capped at 140 dB.
    """
    at_foes, equivalent, by_distance = loss_by_distance(hop_km)
    squared = (as_float(frequency_mhz) / np.maximum(as_float(foes_mhz), 0.1)) ** 2
    return np.minimum(at_foes * np.maximum(equivalent * squared - 1.0, 0.0) + by_distance, LOSS_MAX_DB)


def loss_by_distance(hop_km: FloatLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Part of the loss by the hop's ground length [km]: (a, b, c) of a max(b (f/foEs)^2 - 1, 0) + c [dB].

    b (f/foEs)^2 is the square of frequency over fbEs sec i. See `reflection_loss_db`.
    """
    by_ratio, by_distance = p534_parts(hop_km)
    elevation = np.maximum(hops.elevation_deg(hop_km, E_LAYER_HEIGHT_KM), 0.0)
    sec_square = hops.sec_incidence(elevation, E_LAYER_HEIGHT_KM) ** 2
    at_top = BLANKETING_RATIO**-2 - 1.0
    return by_ratio * sec_square / at_top, 1.0 / (BLANKETING_RATIO**2 * sec_square), by_distance


def hidden_loss_db(frequency_mhz: FloatLike, sec_incidence: FloatLike, foe_mhz: FloatLike) -> FloatArray:
    """Loss [dB] of a ray that the E layer turns before it reaches sporadic E; broadcasts.

    Such a ray is an E mode and counts as one; here it would count twice. Nothing for f cos i / foE over 0.8,
    up to 30 dB at 0.5 and less. Ours, no source.
    """
    x = as_float(frequency_mhz) / (as_float(sec_incidence) * np.maximum(as_float(foe_mhz), 0.05))
    return HIDDEN_MAX_DB * np.clip((HIDDEN_BELOW_X - x) / HIDDEN_SOFT_X, 0.0, 1.0)


def foes_quantile_mhz(
    lower_mhz: FloatLike,
    median_mhz: FloatLike,
    upper_mhz: FloatLike,
    normal_score: FloatLike,
    hop_count: FloatLike = 1.0,
) -> FloatArray:
    """foEs [MHz] on a day with the given normal score (0 the median day, +1.28 the upper decile).

    Log-normal on each side of the median, through the published deciles; all arguments broadcast. The clouds
    are some hundred kilometres across, so that the hops of a chain, a thousand and more apart, have days of
    their own: the mean logarithm of `hop_count` of them spreads by one over its root. What was read too high
    is taken off, see OVERREAD_MHZ.
    """
    median = np.maximum(as_float(median_mhz), 0.1)
    z = as_float(normal_score) / np.sqrt(np.maximum(as_float(hop_count), 1.0))
    up = np.log(np.maximum(as_float(upper_mhz), median) / median) / DECILE_Z
    down = np.log(median / np.clip(as_float(lower_mhz), 0.05, median)) / DECILE_Z
    read = median * np.exp(np.where(z >= 0.0, up, down) * z)
    share = (read - OVERREAD_FROM_MHZ) / (OVERREAD_FULL_MHZ - OVERREAD_FROM_MHZ)
    return read - OVERREAD_MHZ * np.clip(share, 0.0, 1.0)
