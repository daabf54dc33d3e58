"""Reflection of a current element's field by a flat, lossy ground: four kernels of the Green's function.

A wire antenna near the ground is a boundary-value problem of Sommerfeld (1909). The field of a short current
element above the ground is a sum over cylindrical waves. Each wave is reflected with the Fresnel coefficient
of its own (complex) angle. The sums below are evaluated numerically for the four kernels of a mixed-potential
integral equation (K. A. Michalski and J. R. Mosig, IEEE Trans. Antennas Propag. 45 (1997) 508, their
formulation C, derived anew for one interface). `EarthTable` tabulates them over the distances of one
structure and interpolates. Lengths are in units of the wave's radian length, k0 x metres; time convention
exp(j w t). Each kernel is normalised so that the field of the element itself would be exp(-j R) / R.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray
from propagation.geo.ground import ComplexArray

_FADE_FROM: Final = 12.0  # k_rho x rho (beyond 1.5 rho) from which the evanescent waves are faded out,
_FADE_OVER: Final = 6.0  # over this ratio: their sum cancels there
_PRODUCT_SIZE: Final = 200_000  # multiplications in one matrix product


@lru_cache(maxsize=1)
def _nodes() -> tuple[ComplexArray, FloatArray, ComplexArray]:
    """Quadrature over the waves: k_z, k_rho and the weight k_rho d(k_rho) / (j k_z), all in units of k0.

    The path goes from vertical (k_z = 1) through grazing (k_z = 0) to the evanescent waves (k_z = -j t). The
    nodes are denser near grazing, to resolve the Zenneck pole of salt water.
    """
    grazing = np.concatenate([[0.0], np.geomspace(1e-4, 0.25, 17)])
    steep = np.linspace(0.25, 1.0, 17)[1:]
    kz_edges = np.concatenate([grazing, steep])
    t_edges = np.concatenate([grazing, np.geomspace(0.25, 6e4, 120)[1:]])
    x, w = np.polynomial.legendre.leggauss(5)

    def spread(edges: FloatArray) -> tuple[FloatArray, FloatArray]:
        half = np.diff(edges)[:, None] / 2.0
        middle = (edges[1:] + edges[:-1])[:, None] / 2.0
        return (middle + half * x).ravel(), (half * w).ravel()

    kz, kz_weight = spread(kz_edges)
    t, t_weight = spread(t_edges)
    k_z = np.concatenate([kz.astype(np.complex128), -1j * t])
    k_rho = np.concatenate([np.sqrt(1.0 - kz**2), np.sqrt(1.0 + t**2)])
    return k_z, k_rho, np.concatenate([-1j * kz_weight, t_weight.astype(np.complex128)])


def bessel_j0_j1(x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Bessel functions J0 and J1 of real x >= 0, to 1e-7.

    Abramowitz and Stegun, Handbook of Mathematical Functions, 9.4.1, 9.4.3, 9.4.4 and 9.4.6.
    """
    y = (np.minimum(x, 3.0) / 3.0) ** 2
    near0 = np.polynomial.polynomial.polyval(y, _J0_NEAR)
    near1 = x * np.polynomial.polynomial.polyval(y, _J1_NEAR)
    large = np.maximum(x, 3.0)
    z = 3.0 / large
    root = 1.0 / np.sqrt(large)
    far0 = root * np.polynomial.polynomial.polyval(z, _F0)
    far0 = far0 * np.cos(large + np.polynomial.polynomial.polyval(z, _T0))
    far1 = root * np.polynomial.polynomial.polyval(z, _F1)
    far1 = far1 * np.cos(large + np.polynomial.polynomial.polyval(z, _T1))
    small = x < 3.0
    return np.where(small, near0, far0), np.where(small, near1, far1)


_J0_NEAR: Final = np.array([1.0, -2.2499997, 1.2656208, -0.3163866, 0.0444479, -0.0039444, 0.0002100])
_J1_NEAR: Final = np.array([0.5, -0.56249985, 0.21093573, -0.03954289, 0.00443319, -0.00031761, 0.00001109])
_F0: Final = np.array(
    [0.79788456, -0.00000077, -0.00552740, -0.00009512, 0.00137237, -0.00072805, 0.00014476]
)
_T0: Final = np.array(
    [-0.78539816, -0.04166397, -0.00003954, 0.00262573, -0.00054125, -0.00029333, 0.00013558]
)
_F1: Final = np.array([0.79788456, 0.00000156, 0.01659667, 0.00017105, -0.00249511, 0.00113653, -0.00020033])
_T1: Final = np.array([-2.35619449, 0.12499612, 0.00005650, -0.00637879, 0.00074348, 0.00079824, -0.00029166])


def _spectra(permittivity: complex, k_z: ComplexArray) -> ComplexArray:
    """Reflection of each wave for the four kernels: shape (4, waves); k_z in units of k0."""
    root = np.sqrt(permittivity - 1.0 + k_z**2)
    root = np.where(root.imag > 0.0, -root, root)
    rho_v = (permittivity * k_z - root) / (permittivity * k_z + root)
    rho_h = (k_z - root) / (k_z + root)
    both = rho_h + rho_v
    k_rho2 = 1.0 - k_z**2
    return np.stack(
        [
            rho_h,
            rho_v - (k_z**2 / k_rho2) * both,
            both / k_rho2 - rho_v,
            -1j * (k_z / np.sqrt(k_rho2)) * both,
        ]
    )


def image_strengths(permittivity: complex, zeta_min: float) -> ComplexArray:
    """Strengths of the mirror images that remove the singular part of the kernels.

    Returns the factors of exp(-j R') / R' for horizontal current, vertical current and charge, shape (3,); R'
    is the distance to the image. They are the spectra at the dominant waves of a structure whose lowest point
    has zeta = `zeta_min` [1/k0]. They tend to electrostatics over poor ground and to a mirror over salt
    water.
    """
    if np.isinf(permittivity.real) or np.isinf(permittivity.imag):
        return np.array([-1.0, 1.0, -1.0], dtype=np.complex128)
    return _spectra(permittivity, np.array([-1j / zeta_min]))[:3, 0]


def reflected(permittivity: complex, images: ComplexArray, rho: FloatArray, zeta: FloatArray) -> ComplexArray:
    """The four kernels on a grid, minus mirror images of the given strengths.

    permittivity: complex, relative [1]; images: see `image_strengths`; rho: horizontal distances [1/k0],
    shape (n,); zeta: sums of the two heights, all > 0 [1/k0], shape (m,). Returns shape (4, n, m): horizontal
    current (E along a horizontal element from a parallel one), vertical current, charge, and the cross kernel
    (E upward from a horizontal element pointing towards the observer; the converse carries a minus sign).
    """
    k_z, k_rho, weight = _nodes()
    keep = (np.abs(k_z) < 1.0) | (k_rho * zeta.min() < 40.0)
    k_z, k_rho, weight = k_z[keep], k_rho[keep], weight[keep]
    spectrum = _spectra(permittivity, k_z)
    spectrum[:3] -= images[:, None]
    argument = rho[:, None] * k_rho
    j0, j1 = bessel_j0_j1(argument)
    fade_from = _FADE_FROM + 1.5 * rho[:, None]
    fade = np.clip(np.log(np.maximum(argument, 1e-30) / fade_from) / np.log(_FADE_OVER), 0.0, 1.0)
    window = np.where(fade < 1.0, 1.0 - fade**4 * (35.0 - 84.0 * fade + 70.0 * fade**2 - 20.0 * fade**3), 0.0)
    decay = np.exp(-1j * k_z[:, None] * zeta)
    out = np.empty((4, rho.size, zeta.size), dtype=np.complex128)
    # Small products: a large one starts the linear algebra's threads, which costs more time than it saves.
    rows = max(1, _PRODUCT_SIZE // (k_z.size * zeta.size))
    for kernel, bessel in enumerate((j0, j0, j0, j1)):
        waves = bessel * window * (spectrum[kernel] * weight)
        for first in range(0, rho.size, rows):
            part = slice(first, first + rows)
            out[kernel, part] = waves[part] @ decay
    return out


_AT_ONCE: Final = 2048  # places read together, so that the data fit in the processor's cache
_TABLE_STEP: Final = 0.12  # spacing of the table in asinh(rho / scale) and log(zeta)


class EarthTable:
    """The remainder of the reflected kernels (see `reflected`) over a range of distances.

    rho_max: the largest horizontal distance; zeta_min, zeta_max: the range of sums of two heights [1/k0].
    """

    def __init__(
        self, permittivity: complex, images: ComplexArray, rho_max: float, zeta_min: float, zeta_max: float
    ) -> None:
        self.scale = zeta_min
        rows = int(np.ceil(np.arcsinh(rho_max / self.scale) / _TABLE_STEP)) + 4
        columns = int(np.ceil(np.log(zeta_max / zeta_min) / _TABLE_STEP)) + 4
        rho = self.scale * np.sinh(_TABLE_STEP * np.arange(rows))
        zeta = zeta_min * np.exp(_TABLE_STEP * (np.arange(columns) - 1.0))
        phase = np.exp(1j * np.hypot(rho[:, None], zeta))  # of the image's wave; restored in `at`
        table = reflected(permittivity, images, rho, zeta) * phase
        self.columns = columns
        kernels = np.ascontiguousarray(table.transpose(1, 2, 0)).reshape(rows * columns, 4)
        self.table = kernels.view(np.float64)  # weights are real, so real and imaginary parts are separate
        self.rows = rows

    def at(self, rho: FloatArray, zeta: FloatArray) -> ComplexArray:
        """Interpolate the four kernels at distances [1/k0] of any one shape; returns (..., 4). Cubic."""
        row, row_weight = _cubic(np.arcsinh(rho / self.scale) / _TABLE_STEP, self.rows)
        column, column_weight = _cubic(np.log(zeta / self.scale) / _TABLE_STEP + 1.0, self.columns)
        start = (row * self.columns + column).ravel()
        across, along = ([weight.ravel() for weight in weights] for weights in (row_weight, column_weight))
        total = np.zeros((start.size, 8))
        for first in range(0, start.size, _AT_ONCE):
            part = slice(first, first + _AT_ONCE)
            sums, read = total[part], np.empty_like(total[part])
            for i in range(4):
                for j in range(4):
                    index = start[part] + (i * self.columns + j)
                    np.take(self.table, index, axis=0, out=read, mode="clip")
                    read *= (across[i][part] * along[j][part])[:, None]
                    sums += read
        kernels = total.view(np.complex128).reshape(*rho.shape, 4)
        kernels *= np.exp(-1j * np.sqrt(rho**2 + zeta**2))[..., None]
        return kernels


def _cubic(position: FloatArray, count: int) -> tuple[IntArray, list[FloatArray]]:
    """First index and the four weights of Lagrange's cubic at a position on a row of `count` points."""
    first = np.clip(np.floor(position).astype(np.int64) - 1, 0, count - 4)
    x = position - first
    a, b, c, d = x, x - 1.0, x - 2.0, x - 3.0
    return first, [-b * c * d / 6.0, a * c * d / 2.0, -a * b * d / 2.0, a * b * c / 6.0]
