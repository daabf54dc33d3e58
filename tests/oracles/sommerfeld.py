"""The reflected half of the Green's function over earth, by brute force."""

import numpy as np
from scipy import special

from propagation.base.units import FloatArray
from propagation.geo.ground import ComplexArray


def brute_force(permittivity: complex, images: ComplexArray, rho: float, zeta: float) -> ComplexArray:
    """The four integrals by a very fine rule on the same path, without any fading out."""
    x, w = np.polynomial.legendre.leggauss(12)

    def spread(edges: FloatArray) -> tuple[FloatArray, FloatArray]:
        half, middle = np.diff(edges)[:, None] / 2.0, (edges[1:] + edges[:-1])[:, None] / 2.0
        return (middle + half * x).ravel(), (half * w).ravel()

    kz, kz_weight = spread(np.concatenate([[0.0], np.geomspace(1e-5, 1.0, 200)]))
    end = 50.0 / zeta
    fine = np.linspace(1.0, end, int(1000 + end * rho))
    t, t_weight = spread(np.unique(np.concatenate([[0.0], np.geomspace(1e-5, 1.0, 200), fine])))
    k_z = np.concatenate([kz + 0j, -1j * t])
    k_rho = np.concatenate([np.sqrt(1.0 - kz**2), np.sqrt(1.0 + t**2)])
    weight = np.concatenate([-1j * kz_weight, t_weight + 0j]) * np.exp(-1j * k_z * zeta)
    root = np.sqrt(permittivity - 1.0 + k_z**2)
    root = np.where(root.imag > 0.0, -root, root)
    rho_v = (permittivity * k_z - root) / (permittivity * k_z + root)
    rho_h = (k_z - root) / (k_z + root)
    j0, j1 = special.j0(k_rho * rho), special.j1(k_rho * rho)
    return np.array(
        [
            np.sum((rho_h - images[0]) * j0 * weight),
            np.sum((rho_v - (k_z / k_rho) ** 2 * (rho_h + rho_v) - images[1]) * j0 * weight),
            np.sum(((rho_h + k_z**2 * rho_v) / k_rho**2 - images[2]) * j0 * weight),
            np.sum(-1j * (k_z / k_rho) * (rho_h + rho_v) * j1 * weight),
        ]
    )
