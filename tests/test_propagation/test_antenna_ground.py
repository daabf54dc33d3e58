"""Kinds of earth and Fresnel reflection."""

import numpy as np
import pytest

from propagation.base.errors import InputError
from propagation.geo.ground import GROUND_NAMES, GROUNDS, PERFECT, Ground, fresnel, ground_of


def test_every_name_of_the_station_file_is_known():
    assert GROUND_NAMES == ("sea", "wet", "good", "average", "dry", "city")
    assert set(GROUNDS) == set(GROUND_NAMES)
    for name in GROUND_NAMES:
        assert ground_of(name.upper()).name == name


def test_constants_order_the_grounds():
    conductivities = [GROUNDS[n].conductivity_s_per_m for n in ("dry", "average", "good", "sea")]
    assert conductivities == sorted(conductivities)


def test_explicit_constants_and_their_errors():
    assert ground_of(permittivity=7.0, conductivity_s_per_m=0.002).permittivity == 7.0
    assert ground_of() is GROUNDS["average"]
    with pytest.raises(InputError, match="together"):
        ground_of(permittivity=7.0)
    with pytest.raises(InputError, match="swamp"):
        ground_of("swamp")
    for bad in (0.5, 1.0, 1.9, float("nan"), 1e6):
        with pytest.raises(InputError, match="permittivity"):
            Ground("x", bad, 0.01)
    for bad in (-0.1, 0.0, float("nan")):
        with pytest.raises(InputError, match="conductivity"):
            Ground("x", 10.0, bad)


def test_complex_permittivity_by_its_definition():
    """eps_r - j 60 lambda sigma, the form of Recommendation P.527 (from memory); 59.96 to be exact."""
    wavelength_m = 299.792458 / 14.2
    found = GROUNDS["average"].complex_permittivity(14.2)
    np.testing.assert_allclose(found, 13.0 - 59.96j * wavelength_m * 0.005, rtol=1e-4)


def test_normal_incidence_is_that_of_optics():
    """At the zenith both polarisations reflect (1 - n) / (1 + n) in size, n = sqrt(eps)."""
    rho_v, rho_h = fresnel(np.array(4.0 + 0j), 90.0)
    np.testing.assert_allclose(rho_h, -1.0 / 3.0, atol=1e-12)
    np.testing.assert_allclose(rho_v, 1.0 / 3.0, atol=1e-12)


def test_grazing_incidence_turns_both_over():
    rho_v, rho_h = GROUNDS["average"].reflection(14.2, 0.0)
    np.testing.assert_allclose([rho_v, rho_h], [-1.0, -1.0], atol=1e-9)


def test_brewster_angle_of_a_dielectric():
    """A lossless earth of eps = 9 does not reflect the vertical polarisation at elevation atan(1 / 3)."""
    rho_v, _ = fresnel(np.array(9.0 + 0j), float(np.degrees(np.arctan(1.0 / 3.0))))
    np.testing.assert_allclose(rho_v, 0.0, atol=1e-9)


def test_perfect_ground_is_a_mirror_and_shapes_broadcast():
    rho_v, rho_h = PERFECT.reflection(np.ones((3, 1)), np.arange(5.0))
    assert rho_v.shape == (3, 5)
    np.testing.assert_array_equal(rho_v, np.ones((3, 5)))
    np.testing.assert_array_equal(rho_h, -np.ones((3, 5)))
    rho_v, _ = GROUNDS["sea"].reflection(np.array([[7.0], [28.0]]), np.array([5.0, 30.0, 60.0]))
    assert rho_v.shape == (2, 3)
    assert np.all(np.abs(rho_v) <= 1.0)
