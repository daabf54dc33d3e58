"""Ground wave against Sommerfeld's exact function, free space, the textbook's horizon, and common sense."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from propagation.signal.losses import ground_wave

AVERAGE, SEA = (13.0, 0.005), (75.0, 5.0)


def free_space_db(distance_km: float, frequency_mhz: float) -> float:
    """P.525: 20 log (4 pi d / lambda)."""
    wavelength_km = 0.299792458 / frequency_mhz
    return float(20.0 * np.log10(4.0 * np.pi * distance_km / wavelength_km))


@pytest.mark.parametrize("ground", [AVERAGE, SEA, (5.0, 0.001)])
@pytest.mark.parametrize("frequency", [1.9, 7.1, 14.2, 28.4])
def test_surface_attenuation_against_sommerfelds_function(
    ground: tuple[float, float], frequency: float
) -> None:
    """|1 - j sqrt(pi w) exp(-w) erfc(j sqrt w)|, w = -j k d / 2 (Z / Z0)^2, by scipy's Faddeeva function.

    Norton's short formula is within 2 dB of it from 2 km on (up to 6 dB nearer than that, over dry ground).
    """
    permittivity, conductivity = ground
    distance_km = np.geomspace(2.0, 200.0, 40)
    epsilon = permittivity - 1j * 18000.0 * conductivity / frequency
    surface_impedance = np.sqrt(epsilon - 1.0) / epsilon
    k_d = 2.0 * np.pi * frequency / 299.792458 * distance_km * 1e3
    w = -0.5j * k_d * surface_impedance**2
    exact = np.abs(1.0 - 1j * np.sqrt(np.pi * w) * special.wofz(-np.sqrt(w)))
    ours = ground_wave.surface_attenuation(distance_km, frequency, permittivity, conductivity)
    np.testing.assert_allclose(20.0 * np.log10(ours), 20.0 * np.log10(exact), atol=2.0)


def test_close_in_over_the_sea_it_is_free_space() -> None:
    for frequency in (1.9, 7.1, 14.2):
        loss = ground_wave.ground_wave_loss_db(1.0, frequency, *SEA, 0.0, 0.0)
        np.testing.assert_allclose(loss, free_space_db(1.0, frequency), atol=0.3)


def test_raised_antennas_in_sight_have_free_space_on_2_m() -> None:
    """A 600 m ridge to a 10 m mast: 10 km off nothing is lost to the ground (two rays), tens of dB past the
    horizon."""
    near = ground_wave.ground_wave_loss_db(10.0, 144.2, *AVERAGE, 600.0, 10.0)
    np.testing.assert_allclose(near, free_space_db(10.0, 144.2), atol=0.1)
    horizon = float(ground_wave.radio_horizon_km(600.0, 10.0))
    at = float(ground_wave.ground_wave_loss_db(horizon, 144.2, *AVERAGE, 600.0, 10.0))
    # at grazing incidence over smooth earth some 20 dB are lost (P.526's own limit of the line of sight)
    assert 15.0 < at - free_space_db(horizon, 144.2) < 30.0
    beyond = float(ground_wave.ground_wave_loss_db(horizon + 50.0, 144.2, *AVERAGE, 600.0, 10.0))
    assert beyond - at > 20.0


def test_the_radio_horizon() -> None:
    """sqrt(2 k a h) with k a = 8495 km is 4.12 sqrt(h) km for h in metres (textbook)."""
    expected = np.sqrt(2.0 * 8494.7 * 0.1) + np.sqrt(2.0 * 8494.7 * 0.010)
    np.testing.assert_allclose(ground_wave.radio_horizon_km(100.0, 10.0), expected, rtol=0.001)


def test_diffraction_far_out_falls_by_the_kilometre() -> None:
    """Deep in the shadow the first term of the residue series: 17.6 dB for each unit of X (P.526)."""
    far = ground_wave.diffraction_loss_db(np.array([300.0, 400.0]), 144.2, 10.0, 10.0)
    unit_km = 1.0 / (2.188 * np.cbrt(144.2) * 8494.7 ** (-2.0 / 3.0))
    growth = 17.6 * 100.0 / unit_km - 10.0 * np.log10(400.0 / 300.0)
    np.testing.assert_allclose(far[1] - far[0], growth, rtol=1e-4)


def test_sea_carries_farther_than_land_and_low_farther_than_high() -> None:
    """100 km over the sea on 80 m is worked with ease, over land it is not (common practice, no source)."""
    land, sea = (ground_wave.ground_wave_loss_db(100.0, 3.6, *g, 0.0, 0.0) for g in (AVERAGE, SEA))
    assert land - sea > 30.0
    loss = ground_wave.ground_wave_loss_db(50.0, np.array([1.9, 3.6, 7.1, 14.2, 28.4]), *AVERAGE, 0.0, 0.0)
    assert np.all(np.diff(loss) > 0.0)


@given(st.floats(1.8, 150.0), st.floats(1.0, 80.0), st.floats(1e-4, 5.0), st.floats(0.0, 3000.0))
def test_farther_is_never_louder_and_never_over_free_space(
    frequency: float, permittivity: float, conductivity: float, height: float
) -> None:
    distance = np.concatenate([[0.0, 0.05], np.geomspace(0.1, 20000.0, 300)])
    loss = ground_wave.ground_wave_loss_db(distance, frequency, permittivity, conductivity, height, 2.0)
    assert np.all(np.isfinite(loss))
    assert np.all(np.diff(loss) >= -0.05)
    floor = 32.4 + 20.0 * np.log10(frequency) + 20.0 * np.log10(np.maximum(distance, 0.1))
    assert np.all(loss >= np.minimum(floor, ground_wave.LOSS_MAX_DB) - 0.1)
