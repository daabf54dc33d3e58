"""Non-auroral absorption in the D and E layers, from an integral through a model of both.

The CCIR closed form (`vertical_closed_form_db`) is right near the vertical and much too strong at low angles:
it charges every ray the whole layer times the secant, though a low ray of low frequency turns back low in the
E layer and never meets the rest. Here the absorption along the ray,

    A = C integral N nu / ((omega + omega_L)^2 + nu^2) ds,   C = 8.686 e^2 / (2 eps0 m c) dB m^2,

(Appleton-Hartree, quasi-longitudinal, ordinary wave: textbook) is split into two parts, each a
one-dimensional integral made once:

* the D part, crossed by every ray: proportional to the secant of incidence at 78 km, to an effective
  frequency f + fL through `d_layer_by_frequency`, and to the sun's height;
* the E part: proportional to foE^2 and to a penetration factor of x = f cos i / foE (`penetration_factor`):
  small while the ray turns low in the layer (x < 1), large where it lingers at the peak (x near 1), one when
  it passes straight through.

Electron densities: an exponential D region (Wait and Spies 1964, h' = 72 km, beta = 0.35 per km, and their
collision frequency; from memory) under a Chapman E layer. One factor, on the product of density and collision
frequency, makes the noon absorption at 7 MHz straight up equal to the closed form's.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from propagation.base.constants import (
    E_LAYER_HEIGHT_KM,
    ELECTRON_CHARGE_C,
    ELECTRON_MASS_KG,
    SPEED_OF_LIGHT_M_PER_S,
    VACUUM_PERMITTIVITY_F_PER_M,
)
from propagation.base.units import FloatArray, FloatLike, as_float, cosd
from propagation.ionosphere import hops

D_CROSSING_KM: Final = 78.0  # km, middle of the absorbing part of the D layer (from the integral below)
_D_TOP_KM: Final = 92.0  # km, where the model passes from the D to the E part (ours)
_WAIT_H_KM: Final = 72.0  # km, reference height of the daytime D region (Wait and Spies 1964, from memory)
_WAIT_BETA: Final = 0.35  # per km, its sharpness (the same, from memory)
_CHAPMAN_SCALE_KM: Final = 8.0  # km, scale height of the E layer's lower side (from memory)
_SOLAR_SLOPE: Final = (
    0.0037  # per unit of R12, growth of absorption with activity (CCIR Report 252, from memory)
)
_ZENITH_EXPONENT: Final = 1.3  # of cos(0.881 chi) (CCIR Report 252, from memory)
_NIGHT_SHARE: Final = (
    0.02  # D-layer absorption left at night over noon (CCIR later form gives 0.03, from memory)
)
LEAST_FOE_MHZ: Final = 0.05  # MHz, guard against division by nothing (ours)
THROUGH_X: Final = 1.1  # least f cos i / foE of a ray that passes through the E layer (ours)
TURNED_X: Final = 1.0  # greatest f cos i / foE of a ray the E layer turns: its peak (by definition)
_E_SPREAD: Final = (
    0.06  # relative day-to-day spread of foE that rounds the peak of the penetration factor (ours)
)
_X_LEAST: Final = 0.05  # f cos i / foE, ends of the table of the penetration factor
_X_MOST: Final = 20.0
_CELLS: Final = 400  # heights in one integral of the penetration factor (ours)
_X_STEPS: Final = 480
# Reference state of the calibration: overhead sun, R12 = 0, mid-latitude fL
_REFERENCE_FOE_MHZ: Final = 3.43  # MHz, P.1239 at chi = 0 and flux 66
_REFERENCE_FL_MHZ: Final = 1.1  # MHz
_CALIBRATION_MHZ: Final = 7.0  # MHz


def vertical_closed_form_db(
    frequency_mhz: FloatLike, zenith_deg: FloatLike, r12: FloatLike, gyro_mhz: FloatLike
) -> FloatArray:
    """Absorption [dB] of one hop straight up by the CCIR closed form (Report 252-2, from memory).

    677.2 I / ((f + fH)^1.98 + 10.2), I = (1 + 0.0037 R12) cos^1.3(0.881 chi), not under 0.1. The yardstick of
    the calibration, and a check.
    """
    index = (1.0 + _SOLAR_SLOPE * as_float(r12)) * _sunlit(zenith_deg)
    return 677.2 * np.maximum(index, 0.1) / ((as_float(frequency_mhz) + as_float(gyro_mhz)) ** 1.98 + 10.2)


def _sunlit(zenith_deg: FloatLike) -> FloatArray:
    return np.maximum(cosd(0.881 * np.minimum(as_float(zenith_deg), 102.0)), 0.0) ** _ZENITH_EXPONENT


def d_layer_strength(zenith_deg: FloatLike, r12: FloatLike) -> FloatArray:
    """Density of the D layer relative to overhead sun at R12 = 0, at zenith angle `zenith_deg` [deg].

    cos^1.3(0.881 chi) with the sun's activity, joined smoothly to a small remainder at night.
    """
    activity = 1.0 + _SOLAR_SLOPE * as_float(r12)
    return activity * (_sunlit(zenith_deg) + _NIGHT_SHARE)


def _coefficient_db() -> float:
    per_neper = 20.0 / np.log(10.0)
    return float(
        per_neper
        * ELECTRON_CHARGE_C**2
        / (2.0 * VACUUM_PERMITTIVITY_F_PER_M * ELECTRON_MASS_KG * SPEED_OF_LIGHT_M_PER_S)
    )


def _collision_hz(height_km: FloatArray) -> FloatArray:
    """Effective collision frequency [1/s]: 1.82e11 exp(-0.15 z) (Wait and Spies 1964, from memory)."""
    return 1.82e11 * np.exp(-0.15 * height_km)


def _d_density_per_m3(height_km: FloatArray) -> FloatArray:
    """Electron density [1/m3] of the D region with the sun overhead (Wait and Spies 1964, from memory)."""
    at_h = 1.43e13 * np.exp(-0.15 * _WAIT_H_KM)
    return as_float(at_h * np.exp((_WAIT_BETA - 0.15) * (height_km - _WAIT_H_KM)))


def _e_shape(height_km: FloatArray) -> FloatArray:
    """Chapman layer relative to its peak at 110 km."""
    y = (height_km - E_LAYER_HEIGHT_KM) / _CHAPMAN_SCALE_KM
    return np.exp(0.5 * (1.0 - y - np.exp(-y)))


@lru_cache(maxsize=1)
def _d_layer_table() -> tuple[FloatArray, FloatArray]:
    """Uncalibrated two-way D-layer absorption straight up [dB] over log(f + fL)."""
    height = np.linspace(55.0, _D_TOP_KM, 149)
    n_nu = _d_density_per_m3(height) * _collision_hz(height)
    effective_mhz = np.geomspace(1.0, 200.0, 60)
    omega = 2e6 * np.pi * effective_mhz[:, None]
    integrand = n_nu / (omega**2 + _collision_hz(height) ** 2)
    total = np.trapezoid(integrand, height * 1e3, axis=1)
    return as_float(np.log(effective_mhz)), as_float(2.0 * _coefficient_db() * total)


@lru_cache(maxsize=1)
def _e_column() -> float:
    """Integral of shape x collision frequency through the E layer [m/s], once up."""
    height = np.linspace(_D_TOP_KM, 160.0, 273)
    return float(np.trapezoid(_e_shape(height) * _collision_hz(height), height * 1e3))


@lru_cache(maxsize=1)
def _penetration_table() -> tuple[FloatArray, FloatArray]:
    """Penetration factor over log x, rounded at the peak by the day-to-day spread of foE; and its rises."""
    log_x = np.linspace(np.log(_X_LEAST), np.log(_X_MOST), _X_STEPS + 1)
    middle = (np.arange(_CELLS) + 0.5) / _CELLS
    x = np.exp(log_x)[:, None]
    rising = np.arange(_D_TOP_KM, E_LAYER_HEIGHT_KM, 0.01)
    # to the turning point, in steps of its root: z = top - u^2, where the integrand is smooth
    depth = np.interp(np.minimum(x, 1.0) ** 2, _e_shape(rising), rising) - _D_TOP_KM
    u = np.sqrt(depth) * middle
    turned = x < 1.0
    straight = _D_TOP_KM + (160.0 - _D_TOP_KM) * middle
    height = np.where(turned, _D_TOP_KM + depth - u * u, straight)
    step_km = np.where(turned, 2.0 * u * np.sqrt(depth), 160.0 - _D_TOP_KM) / _CELLS
    shape = _e_shape(height)
    inside = np.maximum(1.0 - shape / (x * x), 1e-6)
    factor = np.sum(shape * _collision_hz(height) / np.sqrt(inside) * step_km, axis=1) * 1e3
    factor /= _e_column()
    spread = np.linspace(-2.0, 2.0, 17) * _E_SPREAD
    kernel = np.exp(-0.5 * (spread / _E_SPREAD) ** 2)
    kernel /= kernel.sum()
    rounded = as_float(
        sum(w * np.interp(log_x + s, log_x, factor) for w, s in zip(kernel, spread, strict=True))
    )
    return rounded, np.diff(rounded, append=rounded[-1])


def penetration_factor(x: FloatLike) -> FloatArray:
    """Share of the E layer's straight-through absorption met by a ray with x = f cos i / foE.

    Rises from near 0 (turned back at the layer's foot) to a peak above 2 at x = 1 and falls to 1.
    """
    values, rises = _penetration_table()
    per_step = _X_STEPS / np.log(_X_MOST / _X_LEAST)
    place = np.log(np.clip(as_float(x), _X_LEAST, _X_MOST) / _X_LEAST) * per_step
    left = place.astype(np.intp)
    return as_float(values.take(left) + rises.take(left) * (place - left))


@lru_cache(maxsize=1)
def _calibration() -> float:
    """Factor on density x collision frequency that matches the closed form straight up at 7 MHz, noon."""
    ours = float(
        _d_part(_CALIBRATION_MHZ + _REFERENCE_FL_MHZ)
        + _e_part(_CALIBRATION_MHZ + _REFERENCE_FL_MHZ) * _REFERENCE_FOE_MHZ**2
    )
    return float(vertical_closed_form_db(_CALIBRATION_MHZ, 0.0, 0.0, 1.3)) / ours


def _d_part(effective_mhz: FloatLike) -> FloatArray:
    log_f, table = _d_layer_table()
    return np.exp(np.interp(np.log(as_float(effective_mhz)), log_f, np.log(table)))


def _e_part(effective_mhz: FloatLike) -> FloatArray:
    """Two-way absorption straight through the E layer [dB] for foE = 1 MHz, uncalibrated."""
    density = 1.24e10  # electrons per m3 at a critical frequency of 1 MHz (textbook)
    omega = 2e6 * np.pi * as_float(effective_mhz)
    return 2.0 * _coefficient_db() * density * _e_column() / omega**2


def d_layer_by_frequency(frequency_mhz: FloatLike, longitudinal_gyro_mhz: FloatLike) -> FloatArray:
    """Two-way D-layer absorption straight up [dB] at f [MHz], overhead sun; fL = |fH sin I| [MHz]."""
    return _calibration() * _d_part(as_float(frequency_mhz) + as_float(longitudinal_gyro_mhz))


def e_layer_by_frequency(frequency_mhz: FloatLike, longitudinal_gyro_mhz: FloatLike) -> FloatArray:
    """Two-way absorption straight through an E layer of foE = 1 MHz [dB]; it grows as foE squared."""
    return _calibration() * _e_part(as_float(frequency_mhz) + as_float(longitudinal_gyro_mhz))


@dataclass(frozen=True, eq=False)
class Crossed:
    """The D and E layers where the rays of some paths cross them, hops of one kind together.

    Figures broadcast with the rays; each hop counts with the mean of its two crossings. hops: number of hops,
    0 where a path has none of the kind. d_strength: sum over the hops of `d_layer_strength`. foe_square: sum
    over the hops of foE squared [MHz^2].
    """

    hops: FloatArray
    d_strength: FloatArray
    foe_square: FloatArray

    def foe_mhz(self) -> FloatArray:
        """foE of a typical hop [MHz]: the root of the mean square."""
        return np.maximum(np.sqrt(self.foe_square / np.maximum(self.hops, 1.0)), LEAST_FOE_MHZ)


def ray_absorption_db(
    frequency_mhz: FloatLike,
    cos_elevation: FloatLike,
    longitudinal_gyro_mhz: FloatLike,
    crossed: Crossed,
    turned_at: float | None = None,
) -> FloatArray:
    """Absorption [dB] of rays over all their hops of one kind; everything broadcasts.

    `frequency_mhz` [MHz]; `cos_elevation`: cosine of the take-off angle; `longitudinal_gyro_mhz` = |fH sin I|
    at 100 km [MHz]. `turned_at` None: the ray passes through the E layer. Else the greatest x = f cos i / foE
    at which the layer turns it (1 at its peak, less where a patch lower down does): x is held on the ray's
    own side of the peak, as beyond it another loss takes over (above the MUF, or screening).
    """
    f, cosine = as_float(frequency_mhz), as_float(cos_elevation)
    sec_e = hops.sec_incidence_of(cosine, E_LAYER_HEIGHT_KM)
    sec_d = hops.sec_incidence_of(cosine, D_CROSSING_KM)
    x = f / (sec_e * crossed.foe_mhz())
    x = np.maximum(x, THROUGH_X) if turned_at is None else np.minimum(x, turned_at)
    d_part = d_layer_by_frequency(f, longitudinal_gyro_mhz) * crossed.d_strength * sec_d
    e_part = e_layer_by_frequency(f, longitudinal_gyro_mhz) * crossed.foe_square * sec_e
    return d_part + e_part * penetration_factor(x)
