"""Radio noise at a receiver, by P.372: man-made, galactic, atmospheric, and the receiver's own.

Levels are external noise figures Fam [dB above k T0 b]. The atmospheric part is a COARSE STAND-IN (ours),
good to about 10 dB: the Recommendation's world maps are not reproduced here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, get_args

import numpy as np

from propagation.base.constants import BOLTZMANN_DBW_PER_HZ
from propagation.base.errors import InputError
from propagation.base.units import FloatArray, FloatLike, IntArray, as_float, db, undb

Environment = Literal["city", "residential", "rural", "quiet rural"]
ENVIRONMENTS: Final[tuple[Environment, ...]] = get_args(Environment)

# Man-made noise Fam = c - d log10 f: c [dB], d [dB per decade] (P.372 table 1, as public code citing P.372-8
# gives it), upper and lower decile of the variation in time and the spread between places [dB] (from memory).
_MAN_MADE: Final[dict[str, tuple[float, float, float, float, float]]] = {
    "city": (76.8, 27.7, 11.0, 6.7, 8.4),
    "residential": (72.5, 27.7, 10.6, 5.3, 5.8),
    "rural": (67.2, 27.7, 9.2, 4.6, 6.8),
    "quiet rural": (53.6, 28.6, 9.2, 4.6, 6.8),  # deciles as rural: none of its own are recalled
}
GALACTIC_DECILE_DB: Final = 2.0  # dB (P.372, from memory)
ATMOSPHERIC_DECILE_DB: Final = 8.0  # dB, day to day, with the stand-in (ours)
RECEIVER_NOISE_FIGURE_DB: Final = 12.0  # dB, a portable HF transceiver (common practice, no source)

# The stand-in for the atmospheric maps: Fam at 1 MHz [dB] in summer at local solar hour 0, 6, 12, 18
# (columns) and |latitude| 10, 30, 50, 75 degrees (rows); equinox and winter are lower by the decibels of
# the next table.
_LATITUDES_DEG: Final = np.array([10.0, 30.0, 50.0, 75.0])
_SUMMER_DB: Final = np.array(
    [[92.0, 70.0, 70.0, 85.0], [86.0, 62.0, 62.0, 78.0], [78.0, 52.0, 54.0, 68.0], [62.0, 40.0, 40.0, 52.0]]
)
_EQUINOX_LESS_DB: Final = np.array([3.0, 5.0, 7.0, 8.0])
_WINTER_LESS_DB: Final = np.array([5.0, 10.0, 18.0, 18.0])
# Fam(f) = a Fam(1 MHz) + b, over log f; drawn from memory of the CCIR 322 charts (ours)
_CHART_MHZ: Final = np.array([1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0])
_CHART_A: Final = np.array([1.0, 0.86, 0.78, 0.66, 0.58, 0.50, 0.36, 0.24, 0.08])
_CHART_B: Final = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 4.0, 5.0, 4.0, 2.0])


@dataclass(frozen=True)
class Noise:
    """External noise at a receiver: median figure `fam_db` and deciles of its day-to-day spread [dB]."""

    fam_db: FloatArray
    upper_decile_db: FloatArray
    lower_decile_db: FloatArray


def _row(environment: str) -> tuple[float, float, float, float, float]:
    try:
        return _MAN_MADE[environment]
    except KeyError:
        raise InputError(
            f"the noise environment '{environment}' is not known; use one of {', '.join(ENVIRONMENTS)}"
        ) from None


def places_spread_db(environment: str) -> float:
    """Standard deviation [dB] of the noise between places of one environment (P.372 table 2, from memory)."""
    return _row(environment)[-1]


def man_made_fam_db(environment: str, frequency_mhz: FloatLike) -> FloatArray:
    """Median man-made noise figure [dB] at `frequency_mhz` [MHz], 0.3 to 250 MHz (P.372 section 5).

    In a city the fit changes to 44.3 - 12.3 log f above the frequency where the two meet (about 129 MHz).
    """
    c, d, *_ = _row(environment)
    log_f = np.log10(as_float(frequency_mhz))
    level = c - d * log_f
    return np.maximum(level, 44.3 - 12.3 * log_f) if environment == "city" else level


def galactic_fam_db(frequency_mhz: FloatLike) -> FloatArray:
    """Median galactic noise figure [dB]: 52 - 23 log f (P.372-16 equation 13)."""
    return 52.0 - 23.0 * np.log10(as_float(frequency_mhz))


def atmospheric_fam_db(
    frequency_mhz: FloatLike, lat_deg: FloatLike, solar_hour: FloatLike, season: FloatLike
) -> FloatArray:
    """Coarse atmospheric noise figure [dB], good to about 10 dB; a stand-in, not the Recommendation's maps.

    `lat_deg` [deg], `solar_hour` local solar time [h], `season` from -1 (local winter) to +1 (local summer).
    Smooth in every argument. All broadcast.
    """
    lat = np.clip(np.abs(as_float(lat_deg)), _LATITUDES_DEG[0], _LATITUDES_DEG[-1])
    hour = np.mod(as_float(solar_hour), 24.0)
    row: IntArray = np.clip(
        np.searchsorted(_LATITUDES_DEG, lat, side="right") - 1, 0, _LATITUDES_DEG.size - 2
    )
    across = (lat - _LATITUDES_DEG[row]) / (_LATITUDES_DEG[row + 1] - _LATITUDES_DEG[row])
    column = np.minimum((hour // 6.0).astype(np.int64), 3)
    along = hour / 6.0 - column

    def at(r: IntArray) -> FloatArray:
        before, after = _SUMMER_DB[r, column], _SUMMER_DB[r, (column + 1) % 4]
        return as_float(before * (1.0 - along) + after * along)

    summer = at(row) * (1.0 - across) + at(row + 1) * across
    s = np.clip(as_float(season), -1.0, 1.0)
    equinox_less = np.interp(lat, _LATITUDES_DEG, _EQUINOX_LESS_DB)
    winter_less = np.interp(lat, _LATITUDES_DEG, _WINTER_LESS_DB)
    less = np.where(s >= 0.0, (1.0 - s) * equinox_less, equinox_less - s * (winter_less - equinox_less))
    at_1_mhz = summer - less
    log_f = np.log(as_float(frequency_mhz))
    a = np.interp(log_f, np.log(_CHART_MHZ), _CHART_A)
    b = np.interp(log_f, np.log(_CHART_MHZ), _CHART_B)
    above_chart = -20.0 * np.maximum(log_f - np.log(_CHART_MHZ[-1]), 0.0)  # falls away fast above 30 MHz
    return as_float(a * at_1_mhz + b + above_chart)


def external_noise(
    environment: str,
    frequency_mhz: FloatLike,
    lat_deg: FloatLike,
    solar_hour: FloatLike,
    season: FloatLike,
    fof2_mhz: FloatLike,
) -> Noise:
    """All external noise at a receiver, power-summed; every argument but the first broadcasts.

    Galactic noise comes through the ionosphere only above the critical frequency `fof2_mhz` [MHz]: it fades
    in over 1.0 to 1.3 foF2, as the low-angle sky opens later (ours). The deciles are those of the parts,
    weighted by their power.
    """
    _, _, upper, lower, _ = _row(environment)
    f = as_float(frequency_mhz)
    man = undb(man_made_fam_db(environment, f))
    through = np.clip((f / np.maximum(as_float(fof2_mhz), 0.1) - 1.0) / 0.3, 0.0, 1.0)
    sky = undb(galactic_fam_db(f)) * through
    storm = undb(atmospheric_fam_db(f, lat_deg, solar_hour, season))
    total = man + sky + storm
    up = (man * upper + sky * GALACTIC_DECILE_DB + storm * ATMOSPHERIC_DECILE_DB) / total
    low = (man * lower + sky * GALACTIC_DECILE_DB + storm * ATMOSPHERIC_DECILE_DB) / total
    return Noise(db(total), up, low)


def noise_power_dbw(
    fam_db: FloatLike,
    bandwidth_hz: FloatLike,
    radiation_efficiency: FloatLike = 1.0,
    noise_figure_db: FloatLike = RECEIVER_NOISE_FIGURE_DB,
) -> FloatArray:
    """Noise power [dBW] in `bandwidth_hz` [Hz] at the receiver, referred to the antenna's terminals.

    A lossy antenna passes only `radiation_efficiency` (0..1) of the external noise, adds its own warmth and
    leaves the receiver's noise as it is: N = k T0 b (fa eta + (1 - eta) + fr - 1) (P.372 section 2).
    """
    eta = as_float(radiation_efficiency)
    factor = undb(fam_db) * eta + (1.0 - eta) + undb(noise_figure_db) - 1.0
    return db(factor) + db(bandwidth_hz) + BOLTZMANN_DBW_PER_HZ
