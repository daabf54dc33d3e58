"""Basic MUF of the F2 and E layers by P.1240, and the skip distance as its inverse.

"Basic MUF" is the highest frequency that ordinary refraction returns at a distance; weaker signals
pass above it, which the loss above the MUF describes (`path_loss`).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from propagation.base.constants import E_LAYER_HEIGHT_KM
from propagation.base.units import FloatArray, FloatLike, as_float
from propagation.ionosphere import hops

F2_HOP_MAX_KM = 4000.0  # km, longest F2 hop counted (P.1240, from memory)
E_HOP_MAX_KM = 2000.0  # km, longest E hop counted (P.1240, from memory)
SHARING_STEP = 1.2  # ratio of distances over which the rise of the MUF is taken (ours)
SHARING_LEAST = 0.1  # least rise, d ln MUF / d ln distance (ours: 0.3 to 0.6 in use)


def _b_factor(m3000f2: FloatArray, x: FloatArray) -> FloatArray:
    """B of P.1240 section 3: MUF(3000)F2 over foF2, corrected for the E layer below (from memory)."""
    return m3000f2 - 0.124 + (m3000f2**2 - 4.0) * (0.0215 + 0.005 * np.sin(7.854 / x - 1.9635))


def _ratio(fof2_mhz: FloatArray, foe_mhz: FloatArray) -> FloatArray:
    return np.maximum(fof2_mhz / np.maximum(foe_mhz, 0.05), 2.0)


def f2_dmax_km(fof2_mhz: FloatLike, foe_mhz: FloatLike, m3000f2: FloatLike) -> FloatArray:
    """dmax of P.1240 section 3 [km], uncapped as its equations use it (about 5180 km at M = 3, x = 3)."""
    x = _ratio(as_float(fof2_mhz), as_float(foe_mhz))
    return _dmax(_b_factor(as_float(m3000f2), x), x)


def _dmax(b: FloatArray, x: FloatArray) -> FloatArray:
    y = 1.0 / (x * x)
    return 4780.0 + (12610.0 + y * (2140.0 + y * (-49720.0 + y * 688900.0))) * (1.0 / b - 0.303)


def distance_factor(z: FloatLike) -> FloatArray:
    """C_D of P.1240 section 3 as a polynomial in Z = 1 - 2 D / dmax: 0 at D = 0 and 1 at D = dmax."""
    zz = as_float(z)
    return 0.74 + zz * (-0.591 + zz * (-0.424 + zz * (-0.090 + zz * (0.088 + zz * (0.181 + zz * 0.096)))))


def f2_muf_mhz(
    hop_km: FloatLike, fof2_mhz: FloatLike, foe_mhz: FloatLike, m3000f2: FloatLike, gyro_300_mhz: FloatLike
) -> FloatArray:
    """Basic MUF [MHz] of one F2 hop of ground length `hop_km` [km]; every argument broadcasts.

    Layer figures at the hop's middle, `gyro_300_mhz` the gyrofrequency at 300 km. Distances are held at
    4000 km (and at dmax): longer paths have more hops. P.1240 Annex 1 section 3, from memory, with the
    limits C(0) = 0 and C(dmax) = 1 checked.
    """
    fof2, m3000 = as_float(fof2_mhz), as_float(m3000f2)
    x = _ratio(fof2, as_float(foe_mhz))
    b = _b_factor(m3000, x)
    dmax = np.maximum(_dmax(b, x), 3000.0)  # very tall layers: the fit is not to be used below 3000 km
    d = np.minimum(np.minimum(as_float(hop_km), F2_HOP_MAX_KM), dmax)
    c_d = distance_factor(1.0 - 2.0 * d / dmax)
    c_3000 = distance_factor(1.0 - 6000.0 / dmax)
    half_gyro = 0.5 * as_float(gyro_300_mhz)
    muf = (1.0 + c_d / c_3000 * (b - 1.0)) * fof2 + half_gyro * (1.0 - d / dmax)
    # the fit dips by up to 0.06 MHz in the first 200 km; a fixed layer returns overhead what it returns
    # aslant
    return np.maximum(muf, fof2 + half_gyro)


def sharing(hop_km: FloatLike, longest_km: float = F2_HOP_MAX_KM) -> tuple[FloatArray, FloatArray]:
    """Distribution of a path's distance over its F2 hops, for equal hops of `hop_km` [km]: (exponent, most).

    Layers differ along a path, and the ray makes its hop longer where the layer is weak, shorter where it is
    strong: the MUFs of its hops become one, and the path's MUF is more than the lowest MUF of equal hops.
    About a hop's length the MUF rises as its power 1/q, so the lengths are as MUF^-q and the path's MUF is
    the mean of power -q over the hops' (`hop_layers`); no hop's MUF grows with its length beyond
    `longest_km`, so none is over `most` times its own. Both from the course of P.1240's MUF with distance in
    a middling layer (M = 3, foF2/foE = 3). Held against rays traced through tilted layers
    (tests/ray_paths.py). Ours.
    """
    distance = np.clip(as_float(hop_km), 300.0, F2_HOP_MAX_KM)

    def course(km: FloatLike) -> FloatArray:
        return f2_muf_mhz(km, 9.0, 3.0, 3.0, 0.0)

    here, longest = course(np.minimum(distance, longest_km)), course(longest_km)
    shorter = np.minimum(distance, F2_HOP_MAX_KM / SHARING_STEP)
    rise = np.log(course(SHARING_STEP * shorter) / course(shorter)) / np.log(SHARING_STEP)
    return 1.0 / np.maximum(rise, SHARING_LEAST), longest / here


def e_muf_mhz(hop_km: FloatLike, foe_mhz: FloatLike) -> FloatArray:
    """Basic MUF [MHz] of one E hop: foE times the secant of incidence at 110 km (P.533 3.3, from memory).

    Distances are held at 2000 km.
    """
    d = np.minimum(as_float(hop_km), E_HOP_MAX_KM)
    elevation = hops.elevation_deg(d, E_LAYER_HEIGHT_KM)
    return as_float(foe_mhz) * hops.sec_incidence(elevation, E_LAYER_HEIGHT_KM)


def skip_km(
    frequency_mhz: FloatLike,
    fof2_mhz: FloatLike,
    foe_mhz: FloatLike,
    m3000f2: FloatLike,
    gyro_300_mhz: FloatLike,
) -> FloatArray:
    """Skip distance [km]: the shortest distance at which the F2 or the E layer returns `frequency_mhz`.

    0 where the layer returns it from overhead, NaN where no layer returns it at any distance of one hop.
    The inverse of `f2_muf_mhz` and `e_muf_mhz` for a layer that is the same everywhere, by bisection on
    their monotone rise with distance, to 0.1 km. Every argument broadcasts.
    """
    f, fof2, foe, m3000, gyro = np.broadcast_arrays(
        *(as_float(v) for v in (frequency_mhz, fof2_mhz, foe_mhz, m3000f2, gyro_300_mhz))
    )
    by_f2 = _shortest_km(lambda d: f2_muf_mhz(d, fof2, foe, m3000, gyro) - f, F2_HOP_MAX_KM, f.shape)
    by_e = _shortest_km(lambda d: e_muf_mhz(d, foe) - f, E_HOP_MAX_KM, f.shape)
    return np.fmin(by_f2, by_e)


def _shortest_km(
    excess_mhz: Callable[[FloatArray], FloatArray], longest_km: float, shape: tuple[int, ...]
) -> FloatArray:
    """Smallest distance at which a rising function is not negative: 0, a root, or NaN."""
    low, high = np.zeros(shape), np.full(shape, longest_km)
    for _ in range(16):  # 4000 km / 2^16 = 0.06 km
        middle = 0.5 * (low + high)
        enough = excess_mhz(middle) >= 0.0
        high = np.where(enough, middle, high)
        low = np.where(enough, low, middle)
    result = np.where(excess_mhz(np.full(shape, longest_km)) >= 0.0, high, np.nan)
    return np.where(excess_mhz(np.zeros(shape)) >= 0.0, 0.0, result)
