"""Signal-to-noise ratio and chance of a circuit, one way and both ways.

SNR = power + path gain (including both antennas) - noise at the receiver, in 2500 Hz. The chance is the
fraction of days of the month, at that hour, on which the SNR reaches the mode's required SNR. It is an
average over the days of `variability` (layers), each with the rest of the spread (signal and noise, P.842's
structure). A contact needs both directions, which share the path and its fading but not the noise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, FloatLike, as_float, single
from propagation.ionosphere import variability
from propagation.ionosphere.sporadic_e import DECILE_Z
from propagation.signal.losses.circuit import Circuit
from propagation.signal.rays.path_samples import PathSamples
from propagation.spectrum.noise import Noise, NoiseLevel, external_noise, noise_power_dbw
from propagation.station.terminals import Terminal

REFERENCE_BANDWIDTH_HZ: Final = 2500.0  # Hz, in which signal-to-noise ratios are given
LOOKS: Final = 3  # evaluations of the chance, for the median
MORE_LOOKS: Final = 6  # further evaluations for cells that are not close after them
CLOSE_CHANCE: Final = 0.02  # from a half, within which the next step of the secant is right to 0.1 dB (ours)
_NORMAL_PEAK: Final = 0.3989  # density of the standard normal distribution at its mean
# Decile of an end of which nothing is known, relative to a plain 0 dBi end [dB]. For a sender it covers
# antenna, line and power. For a receiver in a residential place see `unknown_receiver_db`. Public reports of
# one beacon by many receivers spread by 8 to 10 dB (from memory).
UNKNOWN_STATION_DB: Final = 9.0
ANTENNAS_SPREAD_DB: Final = 4.0  # dB, standard deviation at one angle, of the six antennas named below
# Loss of the usual antenna on the low bands relative to 7 MHz [dB], over log frequency [MHz]. Median of
# radiation efficiency, by this program's own moment method over average earth, of dipoles at 8 and 12 m,
# an inverted v at 10 m, a sloping end-fed from 9 to 3 m and loaded 7 m verticals over 4 and 8 radials: 0.55
# at 7, 0.30 at 3.6 and 0.16 at 1.8 MHz. A receiving antenna reduces noise by the same amount.
_LOW_BANDS_MHZ: Final = np.array([1.84, 3.57, 7.04])
_LOW_BANDS_LESS_DB: Final = np.array([5.4, 2.6, 0.0])


@dataclass(frozen=True)
class OneWay:
    """Signal one way; (N, T, B) unless noted.

    snr_db (N, T, B, U, V): in 2500 Hz, on each kind of day. median_day_snr_db: on the median day. noise_dbw:
    noise power in 2500 Hz. noise: the external noise's figures. lower_db, upper_db: deciles of signal and
    noise about a day's SNR.
    """

    snr_db: FloatArray
    median_day_snr_db: FloatArray
    noise_dbw: FloatArray
    noise: Noise
    lower_db: FloatArray
    upper_db: FloatArray

    @cached_property
    def median_snr_db(self) -> FloatArray:
        """Median over all days (N, T, B); computed on first use, because it costs more than a chance."""
        return _median(self)

    def in_single(self) -> OneWay:
        """Copy with the days' SNR in single precision, for chances of many cells and kinds of station."""
        days = single(distinct_days(self.snr_db))
        return replace(self, snr_db=np.broadcast_to(days, self.snr_db.shape))

    def within_reach(self, required_db: float) -> BoolArray:
        """Whether any day's SNR is near enough to a required SNR for a chance above 4e-11 (N, T, B)."""
        best = np.max(distinct_days(self.snr_db), axis=(-2, -1))
        return np.asarray(required_db - best < variability.CDF_REACH / DECILE_Z * self.upper_db)

    def varies_by_es(self) -> BoolArray:
        """Whether sporadic E changes the SNR (N, T, B)."""
        by_es = self.snr_db[..., 0, :]
        return np.asarray(by_es[..., -1] != by_es[..., 0])

    def of_cells(self, cells: BoolArray, es: bool) -> OneWay:
        """Signal in some of the cells, one after the other; `es` False keeps one day of sporadic E."""
        days = self.snr_db if es else self.snr_db[..., :1]
        return replace(self, snr_db=days[cells], lower_db=self.lower_db[cells], upper_db=self.upper_db[cells])

    def chance(self, required_db: FloatLike) -> FloatArray:
        """Fraction of days on which the SNR in 2500 Hz reaches `required_db` (broadcasts with (N, T, B))."""
        return over_days(self.chance_by_day(required_db))

    def chance_by_day(self, required_db: FloatLike) -> FloatArray:
        """Chance by kind of day: (N, T, B, U, V), or (N, T, B, U, 1) where sporadic E changes nothing."""
        days = distinct_days(self.snr_db)
        margin = days - as_float(required_db).astype(days.dtype, copy=False)[..., None, None]
        return variability.chance_above(
            margin, self.lower_db[..., None, None], self.upper_db[..., None, None]
        )


def distinct_days(values: FloatArray) -> FloatArray:
    """Values by day; sporadic-E days that are views of one array, as `circuit` returns them, appear once."""
    return values[..., :1] if values.strides[-1] == 0 else values


def over_days(values: FloatArray) -> FloatArray:
    """Mean over the days of values by kind of day (.., U, V), or (.., U, 1): (..)."""
    if values.shape[-1] == 1:
        return values[..., 0] @ variability.LAYER_WEIGHTS
    return (values @ variability.ES_WEIGHTS) @ variability.LAYER_WEIGHTS


def receiver_noise(
    samples: PathSamples, frequency_mhz: FloatArray, end: Terminal, at_far_end: bool
) -> tuple[Noise, FloatArray]:
    """External noise and noise power [dBW in 2500 Hz] at one end of each route, (N, T, B)."""
    place = -1 if at_far_end else 0
    noise = external_noise(
        end.noise,
        frequency_mhz,
        samples.lat_deg[:, place, None, None],
        samples.solar_hour[..., place, None],
        samples.season[..., place, None],
        samples.fof2_mhz[..., place, None],
    )
    power = noise_power_dbw(
        noise.fam_db, REFERENCE_BANDWIDTH_HZ, end.receive_efficiency(frequency_mhz), end.noise_figure_db
    )
    return noise, power


def one_way(
    path: Circuit,
    sender: Terminal,
    receiver: Terminal,
    *,
    towards_far_end: bool,
    station_spread_db: float = 0.0,
) -> OneWay:
    """Signal from `sender` at `receiver`.

    `station_spread_db`: decile added for an unknown station [dB].
    """
    noise, noise_dbw = receiver_noise(path.samples, path.frequency_mhz, receiver, towards_far_end)
    level = 10.0 * np.log10(max(sender.power_w, 1e-12)) - noise_dbw
    middle = path.samples.geomagnetic_latitude_deg.shape[-1] // 2
    signal_lower, signal_upper = variability.signal_deciles_db(
        path.samples.geomagnetic_latitude_deg[..., middle, None]
    )
    lower = np.sqrt(signal_lower**2 + noise.upper_decile_db**2 + station_spread_db**2)
    upper = np.sqrt(signal_upper**2 + noise.lower_decile_db**2 + station_spread_db**2)
    shape = path.median_gain_db.shape
    by_day = distinct_days(path.gain_db) + level[..., None, None]
    return OneWay(
        snr_db=np.broadcast_to(by_day, path.gain_db.shape),
        median_day_snr_db=path.median_gain_db + level,
        noise_dbw=np.broadcast_to(noise_dbw, shape),
        noise=noise,
        lower_db=np.broadcast_to(lower, shape),
        upper_db=np.broadcast_to(upper, shape),
    )


def _median(signal: OneWay) -> FloatArray:
    """Median SNR over all days: the level reached on half of them; within 0.1 dB (tested).

    Uses the secant method on the chance, from the mean over the sporadic-E days of the middle layer day.
    Three evaluations of the chance suffice for most cells; the few that are not close get more.
    """
    middle = distinct_days(signal.snr_db)[..., variability.LAYER_NODES.size // 2, :]
    level = middle[..., 0] if middle.shape[-1] == 1 else middle @ variability.ES_WEIGHTS
    found, seen = _towards_half(signal, level, LOOKS)
    far = np.abs(seen - 0.5) > CLOSE_CHANCE
    if np.any(far):
        few = signal.of_cells(far, es=True)
        found[far], _ = _towards_half(few, found[far], MORE_LOOKS)
    return found


def _towards_half(signal: OneWay, level: FloatArray, looks: int) -> tuple[FloatArray, FloatArray]:
    """Level at which the chance is a half, after a number of evaluations, and the last chance found.

    The chance falls everywhere with the level, so the evaluations bracket the median. A step that would leave
    the bracket goes to its middle.
    """
    spread = (signal.lower_db + signal.upper_db) / (2.0 * DECILE_Z)
    seen = signal.chance(level)
    low, high = np.where(seen > 0.5, level, -np.inf), np.where(seen > 0.5, np.inf, level)
    following = level + (seen - 0.5) * spread / _NORMAL_PEAK
    for _ in range(looks):
        seen_following = signal.chance(following)
        step = following - level
        slope = (seen_following - seen) / np.where(np.abs(step) < 1e-6, 1e-6, step)
        slope = np.clip(slope, -1.2 * _NORMAL_PEAK / spread, -0.12 * _NORMAL_PEAK / spread)
        level, seen = following, seen_following
        low, high = np.where(seen > 0.5, level, low), np.where(seen > 0.5, high, level)
        following = level - (seen - 0.5) / slope
        outside = (following < low) | (following > high)
        following = np.where(outside & np.isfinite(high - low), 0.5 * (low + high), following)
    return following, seen


def both_ways(
    out: OneWay, back: OneWay, required_out_db: FloatLike, required_back_db: FloatLike
) -> FloatArray:
    """Fraction of days on which both directions reach their required SNR (N, T, B)."""
    return over_days(both_by_day(out, back, required_out_db, required_back_db))


def both_by_day(
    out: OneWay, back: OneWay, required_out_db: FloatLike, required_back_db: FloatLike
) -> FloatArray:
    """Fraction on each kind of day: (N, T, B, U, V), or (N, T, B, U, 1) where sporadic E changes nothing.

    The two directions share the path and its fading; each has its own noise. On each kind of day the chances
    p1 and p2 are combined as p1 p2 + g (min(p1, p2) - p1 p2), g = rho / 2 + asin(rho) / pi. rho is the share
    of the variance due to the signal. This is exact for rho = 0 and 1, and within 0.03 of the bivariate
    normal distribution between (tested).
    """
    return together(out, back, out.chance_by_day(required_out_db), back.chance_by_day(required_back_db))


def together(out: OneWay, back: OneWay, p_out: FloatArray, p_back: FloatArray) -> FloatArray:
    """Combined chances of both directions by kind of day, as in `both_by_day`."""
    signal = 0.5 * (variability.SIGNAL_LOWER_DB[0] + variability.SIGNAL_UPPER_DB[0])
    mean_square = 0.25 * ((out.lower_db + out.upper_db) ** 2 + (back.lower_db + back.upper_db) ** 2) / 2.0
    rho = np.clip(signal**2 / np.maximum(mean_square, 1.0), 0.0, 1.0)
    shared = (0.5 * rho + np.arcsin(rho) / np.pi).astype(p_out.dtype)[..., None, None]
    alone = p_out * p_back
    smaller = np.minimum(p_out, p_back)
    smaller -= alone
    smaller *= shared
    smaller += alone
    return smaller


def unknown_receiver_db(level: NoiseLevel) -> float:
    """Decile [dB] of a receiver of which only the kind of place is known: its antenna and its own noise.

    The noise of places of one kind spreads as in P.372: 9.0 dB in all in residential places, 10.1 in the
    country, 11.9 in a city.
    """
    return float(DECILE_Z * np.hypot(ANTENNAS_SPREAD_DB, level.spread_db))


def ordinary_shortfall_db(frequency_mhz: FloatLike) -> FloatArray:
    """Radiated power of an ordinary station below that of a plain 0 dBi antenna [dB]; broadcasts.

    0 from 7 MHz on, 2.6 dB on 80 m, 5.4 dB on 160 m, where antennas are low and short for the wavelength.
    """
    log_f = np.log(as_float(frequency_mhz))
    return as_float(np.interp(log_f, np.log(_LOW_BANDS_MHZ), _LOW_BANDS_LESS_DB))
