"""Radio noise at a receiver, by P.372: man-made, galactic, atmospheric, and the receiver's own.

Levels are external noise figures Fam [dB above k T0 b]. The man-made part is that of an environment category,
or was measured at the site (`NoiseLevel`). The atmospheric part is a COARSE APPROXIMATION (ours) with an
error of about 10 dB: the Recommendation's world maps are not reproduced here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final, Literal, get_args

import numpy as np

from propagation.base.constants import BOLTZMANN_DBW_PER_HZ
from propagation.base.errors import InputError
from propagation.base.strict_toml import between
from propagation.base.units import FloatArray, FloatLike, IntArray, as_float, db, undb
from propagation.spectrum.bands import by_name

PlaceKind = Literal["city", "residential", "rural", "quiet rural"]
PLACE_KINDS: Final[tuple[PlaceKind, ...]] = get_args(PlaceKind)


@dataclass(frozen=True)
class _ManMade:
    """Man-made noise of a category: Fam = c - d log f, deciles in time, spread between places [dB]."""

    c_db: float
    d_db_per_decade: float
    upper_db: float
    lower_db: float
    spread_db: float


# c and d: P.372 table 1, as public code citing P.372-8 gives it; deciles of the variation in time and the
# standard deviation between places: P.372 table 2 (from memory)
_MAN_MADE: Final[dict[str, _ManMade]] = {
    "city": _ManMade(76.8, 27.7, 11.0, 6.7, 8.4),
    "residential": _ManMade(72.5, 27.7, 10.6, 5.3, 5.8),
    "rural": _ManMade(67.2, 27.7, 9.2, 4.6, 6.8),
    "quiet rural": _ManMade(53.6, 28.6, 9.2, 4.6, 6.8),  # deciles of rural (its own not remembered)
}
MEASURED_SLOPE_DB: Final = 27.7  # dB per decade of frequency, as in every place but the quietest (P.372)
MEASURED_SPREAD_DB: Final = 3.0  # dB, error of a measured level: half a step of an S meter (ours)
LEAST_DB_AT_1_MHZ: Final = 20.0  # dB; man-made noise at the quietest sites is 30 dB higher (ours)
MOST_DB_AT_1_MHZ: Final = 120.0  # dB; 43 dB over a city (ours)
GALACTIC_DECILE_DB: Final = 2.0  # dB (P.372, from memory)
ATMOSPHERIC_DECILE_DB: Final = 8.0  # dB, day to day, with the approximation (ours)
RECEIVER_NOISE_FIGURE_DB: Final = 12.0  # dB, a portable HF transceiver (common practice, no source)

# S meters: IARU Region 1 Recommendation R.1 (from memory)
S9_DBM: Final = -73.0  # dBm at the receiver's socket, up to 30 MHz
S9_VHF_DBM: Final = -93.0  # dBm, above 30 MHz
S_UNIT_DB: Final = 6.0  # dB
USUAL_BANDWIDTH_HZ: Final = 2400.0  # Hz, a voice filter (common practice, no source)
GALACTIC_ALWAYS_MHZ: Final = 10.0  # MHz, from which a reading is assumed to include galactic noise (ours)
LEAST_SHARE: Final = 0.1  # least man-made share of a reading's power, whatever the galactic noise (ours)

# Approximation of the atmospheric maps: Fam at 1 MHz [dB] in summer at local solar hour 0, 6, 12, 18
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
class NoiseReading:
    """Noise reading of an S meter on a quiet frequency: s_units from 0 to 9, over_s9_db [dB] above S9.

    bandwidth_hz [Hz] of the receiver's filter; antenna_gain_dbi: gain of the antenna used, loss of antenna
    and feed line included, so that 0 is an antenna without loss. Galactic noise is subtracted from 10 MHz up.
    Read the meter without thunderstorm static; 40 m by day is a good choice.
    """

    s_units: float = field(metadata=between(0.0, 9.0))
    frequency_mhz: float = field(metadata=between(0.3, 250.0))  # range of P.372's man-made noise
    bandwidth_hz: float = field(default=USUAL_BANDWIDTH_HZ, metadata=between(10.0, 30_000.0))
    antenna_gain_dbi: float = field(default=0.0, metadata=between(-60.0, 30.0))
    over_s9_db: float = field(default=0.0, metadata=between(0.0, 80.0))

    def __post_init__(self) -> None:
        if self.over_s9_db and self.s_units != 9.0:
            raise InputError(f"over_s9_db counts from S9: give s_units = 9 with it, not {self.s_units:g}.")
        level = self.fam_db_at_1_mhz
        if not LEAST_DB_AT_1_MHZ <= level <= MOST_DB_AT_1_MHZ:
            raise InputError(
                f"this reading is a noise figure of {level:.0f} dB at 1 MHz, and no place has less than "
                f"{LEAST_DB_AT_1_MHZ:g} or more than {MOST_DB_AT_1_MHZ:g} dB: check s_units, "
                f"bandwidth_hz and antenna_gain_dbi."
            )

    @property
    def words(self) -> str:
        """The reading in the form that `reading_of` accepts: "S9+10 dB at 7.15 MHz, 2400 Hz, 0 dBi"."""
        over = f"+{self.over_s9_db:g} dB" if self.over_s9_db else ""
        return (
            f"S{self.s_units:g}{over} at {self.frequency_mhz:g} MHz, {self.bandwidth_hz:g} Hz, "
            f"{self.antenna_gain_dbi:g} dBi"
        )

    @property
    def level_dbm(self) -> float:
        """Power at the receiver's socket [dBm]."""
        s9 = S9_DBM if self.frequency_mhz <= 30.0 else S9_VHF_DBM
        return s9 + self.over_s9_db - S_UNIT_DB * (9.0 - self.s_units)

    @property
    def fam_db(self) -> float:
        """Man-made noise figure on its frequency [dB]: N - 10 log(k T0 b) - gain, without galactic noise."""
        thermal_dbm = BOLTZMANN_DBW_PER_HZ + 30.0 + float(db(self.bandwidth_hz))
        total = self.level_dbm - thermal_dbm - self.antenna_gain_dbi
        if self.frequency_mhz < GALACTIC_ALWAYS_MHZ:
            return total
        galactic = float(undb(galactic_fam_db(self.frequency_mhz) - total))
        return total + float(db(max(1.0 - galactic, LEAST_SHARE)))

    @property
    def fam_db_at_1_mhz(self) -> float:
        """Man-made noise figure at 1 MHz [dB], by the slope of man-made noise."""
        return self.fam_db + MEASURED_SLOPE_DB * float(np.log10(self.frequency_mhz))


@dataclass(frozen=True)
class NoiseLevel:
    """Man-made noise at a receiver: that of an environment category, or a measured level, which has priority.

    place: environment category of P.372. measured_db_at_1_mhz: median noise figure at 1 MHz [dB] measured
    there; reading: the S-meter reading it is based on, if any. Raises InputError for an unknown category, an
    impossible level, or both kinds of measurement at once.
    """

    place: PlaceKind = "residential"
    measured_db_at_1_mhz: float | None = None
    reading: NoiseReading | None = None

    def __post_init__(self) -> None:
        if self.place not in _MAN_MADE:
            raise InputError(
                f"the kind of place '{self.place}' is not known; use one of {', '.join(PLACE_KINDS)}"
            )
        if self.measured_db_at_1_mhz is not None and self.reading is not None:
            raise InputError("give noise_db_at_1_mhz or noise_reading, not both.")

    @property
    def is_measured(self) -> bool:
        """Whether the level was measured and is not that of an environment category."""
        return self.measured_db_at_1_mhz is not None or self.reading is not None

    @property
    def db_at_1_mhz(self) -> float:
        """Median man-made noise figure at 1 MHz [dB]."""
        if self.reading is not None:
            return self.reading.fam_db_at_1_mhz
        if self.measured_db_at_1_mhz is not None:
            return self.measured_db_at_1_mhz
        return _MAN_MADE[self.place].c_db

    def man_made_fam_db(self, frequency_mhz: FloatLike) -> FloatArray:
        """Median man-made noise figure [dB] at `frequency_mhz` [MHz], 0.3 to 250 MHz (P.372 section 5).

        In a city the fit changes to 44.3 - 12.3 log f above the frequency where the two meet (about 129 MHz).
        A measured level falls by 27.7 dB per decade, as in all inhabited environments.
        """
        log_f = np.log10(as_float(frequency_mhz))
        if self.is_measured:
            return as_float(self.db_at_1_mhz - MEASURED_SLOPE_DB * log_f)
        level = _MAN_MADE[self.place].c_db - _MAN_MADE[self.place].d_db_per_decade * log_f
        return np.maximum(level, 44.3 - 12.3 * log_f) if self.place == "city" else as_float(level)

    @property
    def deciles_db(self) -> tuple[float, float]:
        """Upper and lower decile [dB] of the variation in time; a measured level has interpolated ones."""
        kinds = sorted(_MAN_MADE.values(), key=lambda kind: kind.c_db)
        at = [kind.c_db for kind in kinds]
        upper = np.interp(self.db_at_1_mhz, at, [kind.upper_db for kind in kinds])
        lower = np.interp(self.db_at_1_mhz, at, [kind.lower_db for kind in kinds])
        return float(upper), float(lower)

    @property
    def spread_db(self) -> float:
        """Standard deviation [dB] between places of one category (P.372, from memory), or of a reading."""
        return MEASURED_SPREAD_DB if self.is_measured else _MAN_MADE[self.place].spread_db


QUIET_RURAL: Final = NoiseLevel("quiet rural")

_NUMBER: Final = r"(\d{1,6}(?:\.\d{1,4})?)"
READING_WORDS: Final = re.compile(
    rf"\bs\s?(\d(?:\.\d{{1,2}})?)(?:\s?\+\s?{_NUMBER}\s?db)?(?: noise)? (?:on|at) {_NUMBER}\s?(m|mhz)\b"
    rf"(?:[, ]{{1,2}}{_NUMBER}\s?hz\b)?(?:[, ]{{1,2}}([+-]?{_NUMBER})\s?dbi\b)?",
    re.IGNORECASE,
)


def reading_of(words: str) -> NoiseReading:
    """Parse a reading: "S5 on 40 m", "S9+10 dB at 3.65 MHz, 500 Hz, -3 dBi".

    A band means its middle frequency. Raises InputError for anything else.
    """
    found = READING_WORDS.fullmatch(" ".join(words.split()))
    if found is None:
        raise InputError(
            f'{words!r} is no reading of noise: write it as "S5 on 40 m", "S9+10 dB at 3.65 MHz".'
        )
    s_units, over, at, unit, bandwidth, gain, _ = found.groups()
    edges = by_name(f"{at}m").widest_mhz if unit.lower() == "m" else (float(at), float(at))
    return NoiseReading(
        s_units=float(s_units),
        frequency_mhz=round(sum(edges) / 2.0, 4),
        bandwidth_hz=float(bandwidth or USUAL_BANDWIDTH_HZ),
        antenna_gain_dbi=float(gain or 0.0),
        over_s9_db=float(over or 0.0),
    )


@dataclass(frozen=True)
class Noise:
    """External noise at a receiver: median figure `fam_db` and deciles of its day-to-day spread [dB]."""

    fam_db: FloatArray
    upper_decile_db: FloatArray
    lower_decile_db: FloatArray


def galactic_fam_db(frequency_mhz: FloatLike) -> FloatArray:
    """Median galactic noise figure [dB]: 52 - 23 log f (P.372-16 equation 13)."""
    return 52.0 - 23.0 * np.log10(as_float(frequency_mhz))


def atmospheric_fam_db(
    frequency_mhz: FloatLike, lat_deg: FloatLike, solar_hour: FloatLike, season: FloatLike
) -> FloatArray:
    """Coarse atmospheric noise figure [dB], error about 10 dB; an approximation of the Recommendation's maps.

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
    above_chart = -20.0 * np.maximum(log_f - np.log(_CHART_MHZ[-1]), 0.0)  # falls fast above 30 MHz
    return as_float(a * at_1_mhz + b + above_chart)


def external_noise(
    level: NoiseLevel,
    frequency_mhz: FloatLike,
    lat_deg: FloatLike,
    solar_hour: FloatLike,
    season: FloatLike,
    fof2_mhz: FloatLike,
) -> Noise:
    """Power sum of all external noise at a receiver; every argument but the first broadcasts.

    Galactic noise passes through the ionosphere only above the critical frequency `fof2_mhz` [MHz]. It rises
    gradually from 1.0 to 1.3 foF2, since low angles need a higher frequency (ours). The deciles are those of
    the parts, weighted by their power.
    """
    upper, lower = level.deciles_db
    f = as_float(frequency_mhz)
    man = undb(level.man_made_fam_db(f))
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

    A lossy antenna passes only `radiation_efficiency` (0..1) of the external noise and adds its own thermal
    noise. The receiver's noise is unchanged: N = k T0 b (fa eta + (1 - eta) + fr - 1) (P.372 section 2).
    """
    eta = as_float(radiation_efficiency)
    factor = undb(fam_db) * eta + (1.0 - eta) + undb(noise_figure_db) - 1.0
    return db(factor) + db(bandwidth_hz) + BOLTZMANN_DBW_PER_HZ
