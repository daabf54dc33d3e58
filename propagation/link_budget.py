"""From a circuit to signal-to-noise ratio and chance, one way and both ways.

SNR = power + path gain (both antennas in) - noise at the receiver, in 2500 Hz. The chance is the fraction of days of
the month, at that hour, on which the SNR reaches what the mode needs: an average over the days of
`variability` (layers), each with the rest of the spread about it (signal and noise, P.842's structure). A contact needs
both directions, which share the path and its fading but not the noise.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation import variability
from propagation.circuit import Circuit
from propagation.ends import End
from propagation.noise import Noise, external_noise, noise_power_dbw
from propagation.path_samples import PathSamples
from propagation.units import FloatArray, FloatLike, as_float, db

REFERENCE_BANDWIDTH_HZ: Final = 2500.0  # Hz, in which signal-to-noise ratios are given
UNKNOWN_STATION_DB: Final = 7.0  # dB, decile of an unknown antenna's and receiver's difference from 0 dBi (ours)


@dataclass(frozen=True)
class OneWay:
    """Signal one way; (N, T, B) unless said.

    snr_db (N, T, B, U, V): in 2500 Hz, on each kind of day. median_snr_db: over all days. noise_dbw: noise power in
    2500 Hz. noise: the external noise's figures. lower_db, upper_db: deciles of signal and noise about a day's SNR.
    """

    snr_db: FloatArray
    median_snr_db: FloatArray
    noise_dbw: FloatArray
    noise: Noise
    lower_db: FloatArray
    upper_db: FloatArray

    def chance(self, required_db: FloatLike) -> FloatArray:
        """Fraction of days on which the SNR in 2500 Hz reaches `required_db` (broadcasts with (N, T, B))."""
        margin = self.snr_db - as_float(required_db)[..., None, None]
        by_day = variability.chance_above(margin, self.lower_db[..., None, None], self.upper_db[..., None, None])
        return _over_days(by_day)


def _over_days(values: FloatArray) -> FloatArray:
    return np.einsum("...uv,u,v->...", values, variability.LAYER_WEIGHTS, variability.ES_WEIGHTS)


def receiver_noise(
    samples: PathSamples, frequency_mhz: FloatArray, end: End, at_far_end: bool
) -> tuple[Noise, FloatArray]:
    """External noise and noise power [dBW in 2500 Hz] at one end of each route, (N, T, B)."""
    place = -1 if at_far_end else 0
    noise = external_noise(
        end.noise, frequency_mhz, samples.lat_deg[:, place, None, None], samples.solar_hour[..., place, None],
        samples.season[..., place, None], samples.fof2_mhz[..., place, None],
    )
    power = noise_power_dbw(
        noise.fam_db, REFERENCE_BANDWIDTH_HZ, end.receive_efficiency(frequency_mhz), end.noise_figure_db
    )
    return noise, power


def one_way(
    path: Circuit, sender: End, receiver: End, *, towards_far_end: bool, station_spread_db: float = 0.0
) -> OneWay:
    """The signal from `sender` as `receiver` has it. `station_spread_db`: decile added for an unknown station [dB]."""
    noise, noise_dbw = receiver_noise(path.samples, path.frequency_mhz, receiver, towards_far_end)
    level = 10.0 * np.log10(max(sender.power_w, 1e-12)) - noise_dbw
    snr = path.gain_db + level[..., None, None]
    middle = path.samples.geomagnetic_latitude_deg.shape[-1] // 2
    signal_lower, signal_upper = variability.signal_deciles_db(
        path.samples.geomagnetic_latitude_deg[..., middle, None]
    )
    lower = np.sqrt(signal_lower**2 + noise.upper_decile_db**2 + station_spread_db**2)
    upper = np.sqrt(signal_upper**2 + noise.lower_decile_db**2 + station_spread_db**2)
    shape = snr.shape[:-2]
    lower, upper = np.broadcast_to(lower, shape), np.broadcast_to(upper, shape)
    return OneWay(
        snr_db=snr, median_snr_db=_median(snr, lower, upper), noise_dbw=np.broadcast_to(noise_dbw, shape),
        noise=noise, lower_db=lower, upper_db=upper,
    )


def _median(snr_db: FloatArray, lower_db: FloatArray, upper_db: FloatArray) -> FloatArray:
    """Median over all days: where the mixture of days crosses one half.

    The mean of the two middle quantiles of the days' medians starts it, two steps of the secant on the mixture's
    chance settle it to 0.1 dB; the chance falls with the level, so the steps cannot stray far.
    """
    days = snr_db.reshape(*snr_db.shape[:-2], -1)
    weights = (variability.LAYER_WEIGHTS[:, None] * variability.ES_WEIGHTS).ravel()
    order = np.argsort(days, axis=-1)
    ranked = np.take_along_axis(days, order, axis=-1)
    total = np.cumsum(weights[order], axis=-1) - 0.5 * weights[order]
    right = np.clip(np.sum(total < 0.5, axis=-1), 1, days.shape[-1] - 1)[..., None]
    low, high = (np.take_along_axis(ranked, right - i, axis=-1)[..., 0] for i in (1, 0))
    t_low, t_high = (np.take_along_axis(total, right - i, axis=-1)[..., 0] for i in (1, 0))
    share = np.clip((0.5 - t_low) / np.maximum(t_high - t_low, 1e-9), 0.0, 1.0)
    return low + (high - low) * share


def both_ways(out: OneWay, back: OneWay, required_out_db: FloatLike, required_back_db: FloatLike) -> FloatArray:
    """Fraction of days on which both directions reach what they need.

    The two share the path and its fading; each has its own noise. The weaker direction decides what is shared, and
    the rest counts as independent: rho min(p1, p2) + (1 - rho) p1 p2 on each kind of day, rho the share of the variance
    that is signal. Exact for rho = 0 and 1; in between within 0.02 of the bivariate normal (checked).
    """
    p_out = _by_day(out, required_out_db)
    p_back = _by_day(back, required_back_db)
    signal = 0.5 * (variability.SIGNAL_LOWER_DB[0] + variability.SIGNAL_UPPER_DB[0])
    mean_square = 0.25 * ((out.lower_db + out.upper_db) ** 2 + (back.lower_db + back.upper_db) ** 2) / 2.0
    rho = np.clip(signal**2 / np.maximum(mean_square, 1.0), 0.0, 1.0)[..., None, None]
    return _over_days(rho * np.minimum(p_out, p_back) + (1.0 - rho) * p_out * p_back)


def _by_day(way: OneWay, required_db: FloatLike) -> FloatArray:
    margin = way.snr_db - as_float(required_db)[..., None, None]
    return variability.chance_above(margin, way.lower_db[..., None, None], way.upper_db[..., None, None])


def hour_chance(margin_db: FloatLike) -> FloatArray:
    """Share of the minutes of the hour in which the signal is above the need, by fading within the hour alone."""
    return variability.chance_above(
        margin_db, variability.WITHIN_HOUR_LOWER_DB, variability.WITHIN_HOUR_UPPER_DB
    )


def power_dbw(power_w: FloatLike) -> FloatArray:
    """Power [W] in dBW."""
    return db(power_w)
