"""Non-auroral absorption of rays in the D and E layers.

The CCIR closed form is somewhat too strong near the vertical and far too strong at low angles: it charges
every ray the whole layer times the secant, though a low ray of low frequency turns back low in the E layer
and never meets the rest. Here the absorption along the ray,

    A = C integral N nu / ((omega + omega_L)^2 + nu^2) ds,   C = 8.686 e^2 / (2 eps0 m c) dB m^2,

(Appleton-Hartree, quasi-longitudinal, ordinary wave: textbook) was integrated once along rays through the
electron densities of FIRI-2018, and is put together again from four factors in each of two parts:

* the D part (under 92 km) = strength x course over f + fL x secant at 78 km x share of the D part;
* the E part (over 92 km) = foE^2 x dB per MHz^2 / (f + fL)^2 x secant at 110 km x share of the E part.

Strength and dB per MHz^2 follow the sun, season, latitude and activity (`absorbing_layers`). The shares say
what of each part the ray meets, by x = f cos i / foE and zenith angle: nearly nothing of the E part while the
ray turns low, more than all of it where it lingers (x near 1), one far above. foE is the program's own.

Against the integral itself along the model's own profile, with the loss under 60 dB: 99.5 % of the rays that
pass (x over 1.15) and 73 % of the others are within 5 % or 0.5 dB; 1 in 100 is off by more than 13 %.
The shares know one shape of the layers for each zenith angle; the model knows one for each state.

All that is the ordinary wave, of which absorption was measured. A linear antenna puts half its power into the
extraordinary wave, which meets f - fL in place of f + fL and so loses more: `both_waves_db`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from propagation.base.constants import E_LAYER_HEIGHT_KM
from propagation.base.units import FloatArray, FloatLike, as_float, single
from propagation.ionosphere import hops
from propagation.ionosphere.absorbing_layers import LOG_X_STEP, table

D_CROSSING_KM: Final = 78.0  # km, mean height of the D part by day (FIRI-2018, from the integral)
LEAST_X: Final = 1e-3  # f cos i / foE, guard against the logarithm of nothing (ours)
LEAST_FOE_MHZ: Final = 0.05  # MHz, guard against division by nothing (ours)
THROUGH_X: Final = 1.1  # least f cos i / foE of a ray that passes through the E layer (ours)
THROUGH: Final = np.inf  # f cos i / foE at which a ray is turned that passes through (by definition)
LEAST_DIFFERENCE_MHZ: Final = (
    0.2  # MHz, least f - fL: the collisions of the D layer by then count more (ours)
)
_WAVE_STEPS_PER_DB: Final = 20  # of the difference between the waves, in the table of `both_waves_db`
_WAVE_STEPS: Final = 800  # up to 40 dB, from where the extraordinary wave is nothing
TURNED_X: Final = 1.0  # greatest f cos i / foE of a ray the E layer turns: its peak (by definition)


def d_noon_db(frequency_mhz: FloatLike, longitudinal_gyro_mhz: FloatLike) -> FloatArray:
    """Two-way absorption [dB] of a D part of strength 1 straight up at f [MHz]; fL = |fH sin I| [MHz]."""
    data = table()
    effective = np.log(as_float(frequency_mhz) + as_float(longitudinal_gyro_mhz))
    return np.exp(np.interp(effective, data.log_effective, data.log_d_noon_db))


def shares(x: FloatLike, zenith_deg: FloatLike) -> tuple[FloatArray, FloatArray]:
    """Shares of the D part and of the E part met by rays with x = f cos i / foE; both broadcast.

    Relative to the secant times the part straight through. `zenith_deg` [deg] sets the shape of the layers.
    The nearest step of the table in x, 0.4 %, and linear in zenith angle.
    """
    data = table()
    step = np.clip(_step_of(x) + 0.5, 0.0, data.shares.shape[1] - 1.0)
    both = _shares_at(step, as_float(zenith_deg))
    return as_float(both.real), as_float(both.imag)


def _step_of(x: FloatLike) -> FloatArray:
    """Place of f cos i / foE, or of one of its factors, among the steps of the table of shares."""
    ratio = np.maximum(as_float(x), LEAST_X)
    return as_float((np.log(ratio) - table().log_x_first) * (1.0 / LOG_X_STEP))


def _shares_at(step: FloatArray, zenith_deg: FloatArray) -> NDArray[np.complex64]:
    """Shares at a step of the table, within it, the fraction cut off: D part + j E part."""
    data = table()
    rows, steps = data.shares.shape
    at_zenith = np.clip(zenith_deg, 0.0, rows - 1.0)
    below = np.minimum(np.floor(at_zenith), rows - 2.0)
    at = np.asarray(step.astype(np.intp) + below.astype(np.intp) * steps)
    both = np.asarray(data.shares.take(at))
    at += steps
    rise = np.asarray(data.shares.take(at))
    rise -= both
    rise *= single(at_zenith - below)
    both += rise
    return both


@dataclass(frozen=True, eq=False)
class Crossing:
    """State of the D and E layers where rays cross them; figures broadcast with the rays.

    d_strength, e_db_per_mhz2 [dB MHz^-2]: of `absorbing_layers`. foe_mhz [MHz]. zenith_deg [deg].
    """

    d_strength: FloatArray
    e_db_per_mhz2: FloatArray
    foe_mhz: FloatArray
    zenith_deg: FloatArray

    def in_single(self) -> Crossing:
        """The same in single precision."""
        return Crossing(
            single(self.d_strength), single(self.e_db_per_mhz2), single(self.foe_mhz), single(self.zenith_deg)
        )

    def by_frequency(self) -> Crossing:
        """The same (N, T, M) with an axis for the frequencies: (N, T, 1, M)."""
        return Crossing(
            self.d_strength[:, :, None],
            self.e_db_per_mhz2[:, :, None],
            self.foe_mhz[:, :, None],
            self.zenith_deg[:, :, None],
        )


@dataclass(frozen=True, eq=False)
class Rays:
    """Rays by their secants of incidence in the middle of the absorbing D layer and at the E layer.

    One shape, that of the modes along the last axis.
    """

    sec_d: FloatArray
    sec_e: FloatArray

    @classmethod
    def of(cls, cos_elevation: FloatLike) -> Rays:
        """Rays that leave at angles of this cosine."""
        cosine = as_float(cos_elevation)
        sec_d = hops.sec_incidence_of(cosine, D_CROSSING_KM)
        return cls(sec_d, hops.sec_incidence_of(cosine, E_LAYER_HEIGHT_KM))

    def steps(self, frequency_mhz: FloatLike) -> FloatArray:
        """Place of f cos i [MHz] among the steps of the table of shares; broadcasts."""
        return _step_of(as_float(frequency_mhz) / self.sec_e)

    def unit_losses_db(
        self, frequency_mhz: FloatLike, longitudinal_gyro_mhz: FloatLike
    ) -> tuple[FloatArray, FloatArray]:
        """Loss [dB] by one unit of each part of the layers in `layers_met`; broadcasts."""
        f = as_float(frequency_mhz)
        effective = f + as_float(longitudinal_gyro_mhz)
        noon = d_noon_db(f, longitudinal_gyro_mhz).astype(effective.dtype)
        return noon * self.sec_d, self.sec_e / effective**2


def layers_met(
    steps: FloatArray, crossing: Crossing, turned_at: FloatLike = THROUGH, weight: FloatLike = 1.0
) -> NDArray[np.complex64]:
    """What rays (`Rays.steps`) meet of the layers in the given state, times a weight; everything broadcasts.

    D part + j E part: strength, and foE^2 [MHz^2] x dB per MHz^2, each times its share. The parts of several
    crossings of one ray add up. See `hop_absorption_db` for `turned_at`. In single precision.
    """
    turned_at = as_float(turned_at)
    last = table().shares.shape[1] - 1.0
    lowest = np.clip(_step_of(np.where(np.isinf(turned_at), THROUGH_X, 0.0)) + 0.5, 0.0, last)
    highest = np.clip(_step_of(turned_at) + 0.5, 0.0, last)
    foe = np.maximum(crossing.foe_mhz, LEAST_FOE_MHZ)
    step = single(steps) - single(np.log(foe) * (1.0 / LOG_X_STEP) - 0.5)
    step = np.minimum(np.maximum(step, single(lowest)), single(highest))
    parts = np.broadcast_arrays(weight * crossing.d_strength, weight * (foe * foe * crossing.e_db_per_mhz2))
    met = single(_shares_at(step, crossing.zenith_deg)[..., None].view(np.float32))
    met = met * single(np.stack(parts, axis=-1))
    return met.view(np.complex64)[..., 0]


def hop_absorption_db(
    frequency_mhz: FloatLike,
    rays: Rays,
    longitudinal_gyro_mhz: FloatLike,
    crossing: Crossing,
    turned_at: FloatLike = THROUGH,
) -> FloatArray:
    """Absorption [dB] of a hop that crosses the layers twice in the given state; one crossing has half of it.

    Everything broadcasts. `frequency_mhz` [MHz]; `longitudinal_gyro_mhz` = |fH sin I| at 100 km [MHz].
    `turned_at` `THROUGH`: the ray passes through the E layer. Else the greatest x = f cos i / foE at which
    the layer turns it (1 at its peak, less where a patch lower down does): x is held on the ray's own side of
    the peak, as beyond it another loss takes over (above the MUF, or screening).
    """
    met = layers_met(rays.steps(frequency_mhz), crossing, turned_at)
    by_d, by_e = rays.unit_losses_db(frequency_mhz, longitudinal_gyro_mhz)
    return by_d * met.real + by_e * met.imag


@lru_cache(maxsize=1)
def _wave_table() -> FloatArray:
    difference = np.arange(_WAVE_STEPS + 1) / _WAVE_STEPS_PER_DB
    return -10.0 * np.log10(0.5 + 0.5 * np.power(10.0, -0.1 * difference))


def both_waves_db(
    ordinary_db: FloatLike, frequency_mhz: FloatLike, longitudinal_gyro_mhz: FloatLike
) -> FloatArray:
    """Absorption [dB] of the two waves together, from that of the ordinary one; everything broadcasts.

    Each has half the power (textbook, at middle latitudes and vertical or horizontal antennas alike). The
    extraordinary wave loses ((f + fL) / (f - fL))^2 times as much (Appleton-Hartree, quasi-longitudinal,
    collisions left out): near night nothing is added, by day up to 3 dB. One division of power for the whole
    path: a reflection at the ground returns an ordinary wave as one.
    """
    f, gyro = as_float(frequency_mhz), as_float(longitudinal_gyro_mhz)
    more = ((f + gyro) / np.maximum(f - gyro, LEAST_DIFFERENCE_MHZ)) ** 2 - 1.0
    ordinary = as_float(ordinary_db)
    place = np.minimum(ordinary * (more * _WAVE_STEPS_PER_DB) + 0.5, float(_WAVE_STEPS))
    return ordinary + _wave_table().take(place.astype(np.intp)).astype(ordinary.dtype)
