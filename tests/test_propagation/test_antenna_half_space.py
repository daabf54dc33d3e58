"""The reflected half of the Green's function, against closed forms and a brute-force integration."""

import numpy as np
import pytest
from oracles.sommerfeld import brute_force

from propagation.antennas import sommerfeld
from propagation.antennas.sommerfeld import EarthTable
from propagation.geo.ground import GROUNDS

K0_7MHZ = 2.0 * np.pi * 7.1 / 299.792458


def test_bessel_functions_against_the_handbook():
    """Abramowitz and Stegun, table 9.1: ten-figure values; the approximations claim 1e-7."""
    x = np.array([0.0, 1.0, 2.0, 3.0, 5.0, 10.0, 17.0])
    j0 = [1.0, 0.7651976866, 0.2238907791, -0.2600519549, -0.1775967713, -0.2459357645, -0.1698542522]
    j1 = [0.0, 0.4400505857, 0.5767248078, 0.3390589585, -0.3275791376, 0.0434727462, -0.0976684928]
    found0, found1 = sommerfeld.bessel_j0_j1(x)
    np.testing.assert_allclose(found0, j0, atol=2e-7)
    np.testing.assert_allclose(found1, j1, atol=2e-7)


@pytest.mark.parametrize("name", ["average", "sea", "dry"])
@pytest.mark.parametrize(("height_m", "aside_m"), [(0.05, 0.3), (0.05, 4.0), (0.9, 0.0), (0.9, 8.0)])
def test_kernels_against_brute_force(name, height_m, aside_m):
    """Within 4e-4 of the size of a mirror's field, 1 / R: far below what one per cent of R_ant needs."""
    permittivity = complex(GROUNDS[name].complex_permittivity(7.1))
    rho, zeta = max(aside_m, 1e-6) * K0_7MHZ, 2.0 * height_m * K0_7MHZ
    images = sommerfeld.image_strengths(permittivity, zeta)
    found = sommerfeld.reflected(permittivity, images, np.array([rho]), np.array([zeta]))[:, 0, 0]
    wanted = brute_force(permittivity, images, rho, zeta)
    np.testing.assert_allclose(np.abs(found - wanted) * np.hypot(rho, zeta), 0.0, atol=4e-4)


def test_a_very_good_conductor_is_a_mirror():
    """For eps = -j 1e9 nothing is left beside the mirror's images -1, +1, -1."""
    rho, zeta = np.array([0.1, 1.0, 5.0]), np.array([0.3, 2.0])
    images = np.array([-1.0, 1.0, -1.0], dtype=complex)
    left = sommerfeld.reflected(1.0 - 1e9j, images, rho, zeta)
    size = np.hypot(rho[:, None], zeta)
    np.testing.assert_allclose(np.abs(left) * size, 0.0, atol=2e-3)


def test_no_earth_reflects_nothing():
    """With eps = 1 the kernels vanish (the images are none)."""
    permittivity = 1.0 - 1e-9j
    images = sommerfeld.image_strengths(permittivity, 0.3)
    found = sommerfeld.reflected(permittivity, images, np.array([0.5, 3.0]), np.array([0.3, 1.0]))
    np.testing.assert_allclose(np.abs(found), 0.0, atol=1e-6)
    np.testing.assert_allclose(np.abs(images), 0.0, atol=1e-6)


def test_images_tend_to_electrostatics_over_poor_earth():
    """Close to the ground a charge's image is -(eps - 1) / (eps + 1) (electrostatics)."""
    _, _, charge = sommerfeld.image_strengths(5.0 - 1j, 1e-4)
    np.testing.assert_allclose(charge, -(4.0 - 1j) / (6.0 - 1j), atol=1e-4)


def test_interpolation_in_the_table():
    """The table gives back the kernels between its points, to 3e-5 of a mirror's 1 / R."""
    permittivity = complex(GROUNDS["average"].complex_permittivity(14.2))
    images = sommerfeld.image_strengths(permittivity, 0.2)
    table = EarthTable(permittivity, images, 6.0, 0.2, 2.0)
    rho, zeta = np.array([0.0, 0.333, 1.77, 5.9]), np.array([0.21, 0.9, 1.23, 1.99])
    wanted = sommerfeld.reflected(permittivity, images, rho, np.concatenate([[0.2], zeta]))[:, :, 1:]
    found = table.at(*np.meshgrid(rho, zeta, indexing="ij"))
    size = np.hypot(rho[:, None], zeta)[..., None]
    np.testing.assert_allclose(np.abs(found - wanted.transpose(1, 2, 0)) * size, 0.0, atol=3e-5)
