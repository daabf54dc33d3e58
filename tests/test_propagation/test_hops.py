"""Ray geometry against the triangle it comes from, and against the exact table of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from oracles.plane_triangle import triangle

from propagation.ionosphere import hops

RADIUS_KM = 6371.0

# Take-off angle [deg] by hop length [km] for mirrors at 110, 300 and 350 km on a sphere of 6371 km: the exact
# form of 47 CFR 73.190 (d), computed once and written down.
TABLE = {
    300: (35.34, 62.22, 65.56),
    500: (22.44, 48.41, 52.60),
    1000: (10.05, 28.12, 32.00),
    1500: (4.89, 17.95, 21.03),
    2000: (1.71, 11.81, 14.28),
    2500: (None, 7.53, 9.58),
    3000: (None, 4.26, 5.99),
}
# Longest hop [km] at take-off angles of 0, 3 and 5 degrees, likewise
LONGEST = {110: (2351, 1776, 1486), 300: (3836, 3225, 2877), 350: (4130, 3515, 3160)}


@pytest.mark.parametrize(("hop_km", "row"), TABLE.items())
def test_elevation_table(hop_km: int, row: tuple[float | None, ...]) -> None:
    for height, expected in zip((110.0, 300.0, 350.0), row, strict=True):
        if expected is not None:  # to the table's last digit
            np.testing.assert_allclose(hops.elevation_deg(hop_km, height), expected, atol=0.005)


@pytest.mark.parametrize(("height", "row"), LONGEST.items())
def test_longest_hops(height: int, row: tuple[int, ...]) -> None:
    np.testing.assert_allclose(hops.hop_km(np.array([0.0, 3.0, 5.0]), height), row, atol=0.5)


def test_secant_at_110_km_of_an_f_hop() -> None:
    """1000 km by a mirror at 300 km meets the E layer with a secant of 2.007 (the same source)."""
    elevation = hops.elevation_deg(1000.0, 300.0)
    np.testing.assert_allclose(hops.sec_incidence(elevation, 110.0), 2.007, atol=0.0005)


@given(st.floats(1.0, 3500.0), st.floats(60.0, 800.0))
def test_every_formula_is_the_triangle(hop_km: float, height_km: float) -> None:
    elevation, incidence, slant = triangle(hop_km, height_km)
    np.testing.assert_allclose(hops.elevation_deg(hop_km, height_km), elevation, atol=1e-6)
    if elevation < 0.0:  # below the horizon the angle is refused by the caller
        return
    np.testing.assert_allclose(
        hops.sec_incidence(elevation, height_km), 1.0 / np.cos(np.radians(incidence)), rtol=1e-6
    )
    np.testing.assert_allclose(hops.slant_from_height_km(elevation, height_km), slant, rtol=1e-6, atol=1e-3)
    np.testing.assert_allclose(hops.hop_km(elevation, height_km), hop_km, atol=1e-3)
    np.testing.assert_allclose(2.0 * hops.crossing_km(elevation, height_km), hop_km, atol=1e-3)


def test_straight_up() -> None:
    assert hops.elevation_deg(0.0, 300.0) == pytest.approx(90.0)
    assert hops.slant_from_height_km(90.0, 300.0) == pytest.approx(600.0)
    assert hops.sec_incidence(90.0, 110.0) == pytest.approx(1.0)


def test_shapes() -> None:
    assert hops.elevation_deg(1000.0, 300.0).shape == ()
    assert hops.elevation_deg(np.ones(3), np.ones((2, 1)) * 300.0).shape == (2, 3)
    assert np.isnan(hops.elevation_deg(np.nan, 300.0))


@given(st.integers(0, 3), st.integers(0, 4), st.floats(150.0, 800.0), st.floats(0.01, 0.999), st.booleans())
def test_common_angle_spans_the_distance(
    low: int, high: int, height_km: float, share: float, beside_others: bool
) -> None:
    """One angle for all hops of a mixed path: their lengths add up to the distance within a metre."""
    if low + high == 0:
        return
    at_horizon = low * hops.hop_km(0.0, 110.0) + high * hops.hop_km(0.0, height_km)
    distance = share * float(at_horizon)
    lows, highs = np.array([float(low)]), np.array([float(high)])
    if beside_others:  # computed among other mixtures the answer is the same
        lows, highs = np.append(lows, [1.0, 2.0]), np.append(highs, [1.0, 0.0])
    angle = hops.common_elevation_deg(distance, lows, 110.0, highs, height_km)[0]
    spanned = low * hops.hop_km(angle, 110.0) + high * hops.hop_km(angle, height_km)
    np.testing.assert_allclose(spanned, distance, atol=1e-3 + 1e-6 * distance)
    assert angle >= 0.0


def test_common_angle_of_one_layer_is_the_plain_one() -> None:
    np.testing.assert_allclose(
        hops.common_elevation_deg(3000.0, 0.0, 110.0, 2.0, 300.0), hops.elevation_deg(1500.0, 300.0)
    )
    np.testing.assert_allclose(
        hops.common_elevation_deg(3000.0, 2.0, 110.0, 0.0, 300.0), hops.elevation_deg(1500.0, 110.0)
    )
