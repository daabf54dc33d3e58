"""Flares, protons and the auroral oval: the examples of the trade, and exactly nothing when all is quiet."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.space_weather.disturbance import (
    auroral_boundary_deg,
    fading_xray_w_m2,
    flare_absorption_db,
    highest_affected_mhz,
    polar_cap_absorption_db,
    widened_latitude_deg,
    xray_class,
    xray_of_class,
)


@pytest.mark.parametrize(
    ("flux", "mhz"), [(1e-5, 15.0), (1e-4, 25.0), (1e-6, 5.0), (1e-3, 35.0), (1e-8, 0.0)]
)
def test_highest_affected_frequency_under_the_sun(flux: float, mhz: float) -> None:
    # The public space weather service's examples: M1 reaches 15 MHz, X1 25 MHz.
    np.testing.assert_allclose(highest_affected_mhz(flux), mhz, atol=1e-9)


def test_flare_by_zenith_angle() -> None:
    angles = np.array([0.0, 30.0, 60.0, 85.0, 90.0, 120.0, 180.0])
    reach = highest_affected_mhz(1e-4, angles)
    np.testing.assert_allclose(reach[2], 25.0 * 0.5**0.75, rtol=1e-12)
    assert (np.diff(reach[:5]) < 0).all()
    assert (reach[5:] == 0).all()
    loss = flare_absorption_db(14.2, angles, 1e-4)
    # One decibel at the highest affected frequency, by its definition, less the share of the ordinary sun.
    np.testing.assert_allclose(flare_absorption_db(25.0, 0.0, 1e-4), 1.0 - 0.2**1.5, rtol=1e-12)
    assert (np.diff(loss[:5]) < 0).all()
    assert (loss[5:] == 0.0).all()
    np.testing.assert_allclose(
        flare_absorption_db(7.1, 0.0, 1e-4, 2.0), 2 * flare_absorption_db(7.1, 0.0, 1e-4)
    )


@given(st.floats(0, 1e-6), st.floats(1.8, 50), st.floats(0, 180))
def test_ordinary_sun_adds_exactly_nothing(flux: float, frequency: float, zenith: float) -> None:
    assert flare_absorption_db(frequency, zenith, flux) == 0.0


def test_fading() -> None:
    flux = fading_xray_w_m2(1e-4, np.array([0.0, 20.0, 60.0, 1000.0]))
    np.testing.assert_allclose(flux[1], 1e-4 / np.e, rtol=1e-12)
    assert flux[0] == 1e-4
    assert (np.diff(flux) < 0).all()
    assert flux[3] == 1e-6
    assert fading_xray_w_m2(3e-8, 100.0) == 3e-8


@pytest.mark.parametrize(
    ("flux", "name"), [(1e-4, "X1.0"), (2.3e-5, "M2.3"), (4.2e-6, "C4.2"), (1.3e-7, "B1.3"), (4e-9, "A0.4")]
)
def test_classes_both_ways(flux: float, name: str) -> None:
    assert xray_class(flux) == name
    assert xray_of_class(name) == pytest.approx(flux)


@pytest.mark.parametrize("text", ["", "Q1", "Mtwo", "M-3", "12", "Xnan"])
def test_what_is_no_class(text: str) -> None:
    assert xray_of_class(text) is None


@given(st.floats(0, 0.99), st.floats(0, 180), st.floats(-90, 90), st.floats(0, 9))
def test_no_protons_no_polar_cap_absorption(
    protons: float, zenith: float, latitude: float, kp: float
) -> None:
    assert polar_cap_absorption_db(7.1, zenith, latitude, kp, protons) == 0.0


def test_polar_cap() -> None:
    # Sauer and Wilkinson's coefficients at 30 MHz, by day and by night, with 1000 pfu above 10 MeV.
    day = polar_cap_absorption_db(30.0, 50.0, 75.0, 2.0, 1000.0)
    night = polar_cap_absorption_db(30.0, 110.0, 75.0, 2.0, 1000.0)
    np.testing.assert_allclose(day, 0.115 * np.sqrt(1000 * (10 / 5.2) ** 1.5), rtol=1e-12)
    np.testing.assert_allclose(night, 0.020 * np.sqrt(1000 * (10 / 2.2) ** 1.5), rtol=1e-12)
    np.testing.assert_allclose(polar_cap_absorption_db(30.0, 90.0, 75.0, 2.0, 1000.0), (day + night) / 2)
    np.testing.assert_allclose(polar_cap_absorption_db(7.5, 50.0, 75.0, 2.0, 1000.0), 8 * day)
    assert polar_cap_absorption_db(7.0, 50.0, 50.0, 9.0, 1000.0) == 0.0
    assert polar_cap_absorption_db(7.0, 50.0, 61.0, 2.0, 1000.0) == 0.0
    assert polar_cap_absorption_db(7.0, 50.0, -61.0, 7.0, 1000.0) > 0.0


def test_oval_widens_with_kp() -> None:
    kp = np.arange(10.0)
    edge = auroral_boundary_deg(kp)
    np.testing.assert_allclose(np.diff(edge), -2.0)
    assert auroral_boundary_deg(2.0, 11.0) - auroral_boundary_deg(2.0, 23.0) == pytest.approx(7.0)


@given(st.floats(-90, 90), st.floats(0, 2))
def test_ordinary_field_leaves_latitudes_alone(latitude: float, kp: float) -> None:
    assert widened_latitude_deg(latitude, kp) == latitude


def test_latitudes_move_towards_the_oval_and_not_past_it() -> None:
    latitudes = np.array([-85.0, -60.0, -40.0, 0.0, 40.0, 60.0, 64.9, 65.0, 75.0])
    moved = widened_latitude_deg(latitudes, 7.0)
    np.testing.assert_allclose(moved, [-85.0, -65.0, -50.0, 10.0, 50.0, 65.0, 65.0, 65.0, 75.0])
