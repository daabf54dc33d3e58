"""Conversions between sunspot numbers and flux."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from PyIRI import main_library

from propagation.space_weather.solar_index import flux_from_r12, r12_from_flux, r12_from_ssn, ssn_from_r12


def test_flux_of_p371() -> None:
    """Phi12 = 63.7 + 0.728 R12 + 8.9e-4 R12^2 worked by hand at R12 = 0, 50, 100, 150."""
    np.testing.assert_allclose(
        flux_from_r12([0.0, 50.0, 100.0, 150.0]), [63.7, 102.325, 145.4, 192.925], rtol=1e-12
    )


def test_flux_agrees_with_pyiri_but_for_its_constant() -> None:
    """PyIRI 0.1.7 takes 63.75 for 63.7, the rest of the formula alike."""
    r12 = np.linspace(0.0, 200.0, 21)
    np.testing.assert_allclose(main_library.R12_2_F107(r12) - flux_from_r12(r12), 0.05, atol=1e-9)
    flux = np.linspace(70.0, 300.0, 24)
    np.testing.assert_allclose(main_library.F107_2_R12(flux + 0.05), r12_from_flux(flux), rtol=1e-9)


@given(st.floats(0.0, 400.0))
def test_flux_and_back(r12: float) -> None:
    np.testing.assert_allclose(r12_from_flux(flux_from_r12(r12)), r12, atol=1e-9)


@given(st.floats(-50.0, 600.0), st.floats(0.0, 10.0))
def test_more_flux_never_means_fewer_spots(flux: float, more: float) -> None:
    assert 0.0 <= r12_from_flux(flux) <= r12_from_flux(flux + more)


def test_quiet_sun_is_the_floor() -> None:
    np.testing.assert_array_equal(r12_from_flux([0.0, 60.0, 63.7]), 0.0)
    np.testing.assert_array_equal(flux_from_r12([-30.0, 0.0]), 63.7)


def test_versions_of_the_sunspot_number() -> None:
    """The version-2 maximum of about 157 (late 2024) is about 110 on the scale of the maps."""
    np.testing.assert_allclose(r12_from_ssn(157.0), 109.9)
    np.testing.assert_allclose(ssn_from_r12(r12_from_ssn([0.0, 88.8])), [0.0, 88.8])
