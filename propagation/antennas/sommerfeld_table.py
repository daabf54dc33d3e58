"""The earth's kernels tabulated over the distances one structure needs, and read by interpolation."""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.antennas.sommerfeld import reflected
from propagation.base.units import FloatArray, IntArray
from propagation.geo.ground import ComplexArray

_AT_ONCE: Final = 2048  # places read together: what is worked on stays in the processor's cache
_TABLE_STEP: Final = 0.12  # spacing of the table in asinh(rho / scale) and log(zeta)


class EarthTable:
    """The remainder of the reflected kernels (see `half_space.reflected`) over a range of distances.

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
        phase = np.exp(1j * np.hypot(rho[:, None], zeta))  # of the wave from the image: taken out, put back
        table = reflected(permittivity, images, rho, zeta) * phase
        self.columns = columns
        kernels = np.ascontiguousarray(table.transpose(1, 2, 0)).reshape(rows * columns, 4)
        self.table = kernels.view(np.float64)  # weights are real: the parts of a number need not know
        self.rows = rows

    def at(self, rho: FloatArray, zeta: FloatArray) -> ComplexArray:
        """The four kernels at distances [1/k0] of any one shape; returns (..., 4). Cubic interpolation."""
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
