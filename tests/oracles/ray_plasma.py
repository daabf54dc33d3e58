"""Electron density for the ray tracer: layers along a path, and a layer whose rays have a closed form."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from oracles.ray_tracer import EARTH_KM
from propagation.base.units import FloatArray, IntArray

E_PEAK_KM: Final = 110.0  # km; with the thicknesses below the E layer of NeQuick (Nava 2008, from memory)
E_BELOW_KM: Final = 5.0  # km, thickness under the peak
E_ABOVE_KM: Final = 7.0  # km, thickness over the peak
F1_RATIO: Final = 1.4  # foF1 over foE by day (NeQuick 2, from memory)
F1_THICKNESS: Final = 0.3  # of its height over the E layer: leaves a shallow valley between them (ours)
F1_FOE_MHZ: Final = (1.5, 2.5)  # MHz of foE, over which the F1 layer comes in (ours: NeQuick steps at 2)


def bottom_thickness_km(fof2_mhz: FloatArray, m3000f2: FloatArray) -> FloatArray:
    """Thickness B of the F2 layer under its peak [km]: N falls as 4 e^z / (1 + e^z)^2, z = (h - hm) / B.

    0.385 Nm over the steepest slope, ln(dN/dh) = -3.467 + 0.857 ln(foF2^2) + 2.02 ln(M), in 10^9 per m^3 and
    km (Mosert de Gonzalez and Radicella 1990, as NeQuick has it; from memory).
    """
    slope = np.exp(-3.467 + 1.714 * np.log(fof2_mhz) + 2.02 * np.log(m3000f2))
    return 0.385 * 12.4 * fof2_mhz**2 / slope


@dataclass(frozen=True, eq=False)
class Layers:
    """E, F1 and F2 as Epstein layers added up, linear between points evenly spaced along N paths.

    figures (5, N, P): the peaks' plasma frequencies squared of E, F1 and F2 [MHz^2], height and thickness of
    the F2 layer [km]. length_km (N,): of the paths. Beyond the ends the layers are those at the ends. F1
    lies half way between E and F2 and is thick enough to reach both; over its peak F2 is three times as
    thick as under it (NeQuick, from memory).
    """

    figures: FloatArray
    length_km: FloatArray

    def at(
        self, path: IntArray, height_km: FloatArray, angle_rad: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """fp^2 and its slopes (`ray_tracer.Plasma`)."""
        points = self.figures.shape[-1]
        flat = self.figures.reshape(5, -1)
        per_rad = EARTH_KM * (points - 1) / self.length_km[path]
        place = np.clip(angle_rad * per_rad, 0.0, points - 1.0)
        left = np.minimum(place.astype(np.int64), points - 2)
        index = path * points + left
        here = flat.take(index, axis=1)
        rise = flat.take(index + 1, axis=1) - here
        here += (place - left) * rise
        rise *= np.where((place > 0.0) & (place < points - 1.0), per_rad, 0.0)
        foe2, f1_2, fof2_2, middle, thick = here
        foe2_t, f1_2_t, fof2_2_t, middle_t, thick_t = rise

        over_e = height_km - E_PEAK_KM
        e_b = np.where(over_e < 0.0, E_BELOW_KM, E_ABOVE_KM)
        e, e_z = _epstein(over_e / e_b)
        gap = 0.5 * (middle - E_PEAK_KM)
        f1_b = F1_THICKNESS * gap
        f1_at = (over_e - gap) / f1_b
        f1, f1_z = _epstein(f1_at)
        f2_b = np.where(height_km < middle, 1.0, 3.0) * thick
        f2_at = (height_km - middle) / f2_b
        f2, f2_z = _epstein(f2_at)
        f1_z_by_h, f2_z_by_h = f1_2 * f1_z / f1_b, fof2_2 * f2_z / f2_b
        square = foe2 * e + f1_2 * f1 + fof2_2 * f2
        slope = foe2 * e_z / e_b + f1_z_by_h + f2_z_by_h
        tilt = foe2_t * e + f1_2_t * f1 + fof2_2_t * f2
        tilt -= f2_z_by_h * (middle_t + (height_km - middle) * thick_t / thick)
        tilt -= f1_z_by_h * (0.5 * middle_t) * (1.0 + (over_e - gap) / gap)
        return square, slope, tilt


def layers(
    foe_mhz: FloatArray, fof2_mhz: FloatArray, hm_km: FloatArray, m3000f2: FloatArray, length_km: FloatArray
) -> Layers:
    """The layers of N paths from their figures at P points (N, P).

    What F1 and F2 have at another layer's peak is taken off that layer, so that the sum there is right.
    """
    thick = bottom_thickness_km(fof2_mhz, m3000f2)
    middle = 0.5 * (hm_km + E_PEAK_KM)
    at_f1, _ = _epstein((middle - hm_km) / thick)
    at_e, _ = _epstein((E_PEAK_KM - hm_km) / thick)
    come = np.clip((foe_mhz - F1_FOE_MHZ[0]) / (F1_FOE_MHZ[1] - F1_FOE_MHZ[0]), 0.0, 1.0)
    f1_2 = come * np.maximum((F1_RATIO * foe_mhz) ** 2 - fof2_mhz**2 * at_f1, 0.0)
    foot, _ = _epstein(np.asarray(-1.0 / F1_THICKNESS))  # of F1 at the E layer's peak
    foe2 = np.maximum(foe_mhz**2 - f1_2 * foot - fof2_mhz**2 * at_e, 0.0)
    return Layers(np.stack([foe2, f1_2, fof2_mhz**2, hm_km, thick]), length_km)


def _epstein(z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """4 e^z / (1 + e^z)^2 and its slope."""
    t = np.tanh(np.clip(0.5 * z, -30.0, 30.0))
    value = 1.0 - t * t
    return value, -t * value


@dataclass(frozen=True, eq=False)
class QuasiParabolic:
    """The quasi-parabolic layer, the same everywhere: rays through it have a closed form.

    fp^2 = fc^2 [1 - ((r - rm) / ym)^2 (rb / r)^2] between rb = rm - ym and where it falls to nought above
    (de Voogt 1953; Croft and Hoogasian 1968, Radio Science 3(1) 69-74; from memory).
    """

    critical_mhz: float
    base_km: float
    half_km: float

    def at(
        self, path: IntArray, height_km: FloatArray, angle_rad: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """fp^2 and its slopes (`ray_tracer.Plasma`)."""
        r = EARTH_KM + height_km
        foot = EARTH_KM + self.base_km
        middle = foot + self.half_km
        off = (r - middle) / self.half_km * (foot / r)
        inside = (np.abs(off) < 1.0) & (r > foot)
        square = self.critical_mhz**2 * (1.0 - off * off)
        slope = -2.0 * self.critical_mhz**2 * off * (foot * middle / (self.half_km * r * r))
        return np.where(inside, square, 0.0), np.where(inside, slope, 0.0), np.zeros_like(r)

    def closed_form(
        self, frequency_mhz: FloatArray, elevation_deg: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Ground range and group path of one hop [km]; NaN for rays that get through."""
        beta = np.radians(elevation_deg)
        foot = EARTH_KM + self.base_km
        middle = foot + self.half_km
        ratio = frequency_mhz / self.critical_mhz
        spin = EARTH_KM * np.cos(beta)
        gamma = np.arccos(spin / foot)
        width = foot / (ratio * self.half_km)
        a = 1.0 - 1.0 / ratio**2 + width**2
        b = -2.0 * middle * width**2
        c = (middle * width) ** 2 - spin**2
        discriminant = np.where(b * b - 4.0 * a * c > 0.0, b * b - 4.0 * a * c, np.nan)
        root_a, root_c, sine = np.sqrt(a), np.sqrt(c), np.sin(gamma)
        in_layer = np.log(discriminant / (4.0 * c * (sine + root_c / foot + 0.5 * b / root_c) ** 2))
        ground = 2.0 * EARTH_KM * ((gamma - beta) - 0.5 * spin / root_c * in_layer)
        up = foot * sine
        logarithm = np.log(discriminant / (2.0 * a * foot + b + 2.0 * root_a * up) ** 2)
        group = 2.0 * (up - EARTH_KM * np.sin(beta) + (-up - b / (4.0 * root_a) * logarithm) / a)
        return ground, group
