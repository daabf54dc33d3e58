"""Absorption against the closed form it is tied to, and its integrals against a quadrature of another
kind."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from propagation.ionosphere import absorption

NOON = {"zenith_deg": 0.0, "r12": 0.0}
FOE_NOON_MHZ = 3.43  # P.1239 section 4 on the equator, sun overhead, flux 66
GYRO_MHZ = 1.1  # fL


def one_hop_db(
    frequency: float, elevation: float, strength: float, foe: float, gyro: float, turned_by_e: bool
) -> float:
    """Absorption of one hop with the same layers at both of its crossings."""
    crossed = absorption.Crossed(np.array(1.0), np.array(strength), np.array(foe**2))
    turned_at = absorption.TURNED_X if turned_by_e else None
    cosine = np.cos(np.radians(elevation))
    return float(absorption.ray_absorption_db(frequency, cosine, gyro, crossed, turned_at))


def straight_up_db(frequency_mhz: float) -> float:
    """Two-way absorption at noon, both layers crossed."""
    d_part = absorption.d_layer_strength(0.0, 0.0) * absorption.d_layer_by_frequency(frequency_mhz, GYRO_MHZ)
    return float(d_part + FOE_NOON_MHZ**2 * absorption.e_layer_by_frequency(frequency_mhz, GYRO_MHZ))


def test_the_closed_form_by_hand() -> None:
    """677.2 I / ((f + fH)^1.98 + 10.2) (CCIR Report 252-2, from memory): 7 MHz, fH 1.3, I = 1: 8.88 dB.

    At R12 = 100 and a zenith angle of 30 degrees I = 1.37 x 0.895^1.3 = 1.186; at night 0.1.
    """
    np.testing.assert_allclose(absorption.vertical_closed_form_db(7.0, 0.0, 0.0, 1.3), 8.88, atol=0.01)
    ratio = absorption.vertical_closed_form_db(7.0, np.array([30.0, 120.0]), 100.0, 1.3) / 8.883
    np.testing.assert_allclose(ratio, [1.186, 0.1], atol=0.002)


def test_at_7_mhz_and_noon_the_integral_is_the_closed_form() -> None:
    """To the small part that is left at night, 2 %, which the calibration leaves out."""
    closed = absorption.vertical_closed_form_db(7.0, 0.0, 0.0, 1.3)
    np.testing.assert_allclose(straight_up_db(7.0), closed, rtol=0.02)


@pytest.mark.parametrize("frequency", [5.0, 7.0, 10.0, 14.0, 18.0, 21.0, 25.0, 30.0])
def test_straight_up_the_two_agree_over_the_bands(frequency: float) -> None:
    closed = absorption.vertical_closed_form_db(frequency, 0.0, 0.0, 1.3)
    np.testing.assert_allclose(straight_up_db(frequency), closed, rtol=0.25)


# --- the integrals again, written anew with scipy's adaptive quadrature -------------------------------

DB_M2 = 20.0 / np.log(10.0) * 1.602176634e-19**2 / (2.0 * 8.8541878e-12 * 9.1093837e-31 * 299792458.0)


def collisions(z: float) -> float:
    return 1.82e11 * np.exp(-0.15 * z)


def d_density(z: float) -> float:
    return 1.43e13 * np.exp(-0.15 * 72.0) * np.exp(0.20 * (z - 72.0))


def e_shape(z: float) -> float:
    y = (z - 110.0) / 8.0
    return float(np.exp(0.5 * (1.0 - y - np.exp(-y))))


@lru_cache
def e_column() -> float:
    return integrate.quad(lambda z: e_shape(z) * collisions(z), 92.0, 160.0, limit=200)[0] * 1e3


def d_integral_db(effective_mhz: float) -> float:
    omega = 2e6 * np.pi * effective_mhz
    value, _ = integrate.quad(
        lambda z: d_density(z) * collisions(z) / (omega**2 + collisions(z) ** 2), 55.0, 92.0, limit=200
    )
    return float(2.0 * DB_M2 * value * 1e3)


def e_integral_db(effective_mhz: float) -> float:
    return float(2.0 * DB_M2 * 1.24e10 * e_column() / (2e6 * np.pi * effective_mhz) ** 2)


def test_how_absorption_falls_with_frequency() -> None:
    """Each part's course over frequency is that of its integral; one factor serves both and all
    frequencies."""
    factors = []
    for frequency in (1.9, 3.6, 7.0, 14.0, 28.0, 50.0):
        ours = (
            absorption.d_layer_by_frequency(frequency, 1.1),
            absorption.e_layer_by_frequency(frequency, 1.1),
        )
        factors += [
            ours[0] / d_integral_db(frequency + 1.1), ours[1] / e_integral_db(frequency + 1.1)
        ]  # fmt: skip
    np.testing.assert_allclose(factors, factors[4], rtol=0.005)


def penetration(x: float) -> float:
    """Integral of shape x collisions / sqrt(1 - shape / x^2) to the turning point, over that straight
    through."""
    if x > 1.0:
        value, _ = integrate.quad(
            lambda z: e_shape(z) * collisions(z) / np.sqrt(1.0 - e_shape(z) / x**2), 92.0, 160.0,
            limit=400, points=[110.0],
        )  # fmt: skip
        return float(value * 1e3 / e_column())
    low, high = 60.0, 110.0  # the turning point: shape = x^2 below the peak
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if e_shape(middle) < x**2 else (low, middle)
    if high < 92.0:
        return 0.0
    depth = np.sqrt(high - 92.0)  # z = top - u^2 takes the root's singularity away
    value, _ = integrate.quad(
        lambda u: 2.0 * u * e_shape(high - u**2) * collisions(high - u**2)
        / np.sqrt(max(1.0 - e_shape(high - u**2) / x**2, 1e-12)),
        1e-6, depth, limit=400,
    )  # fmt: skip
    return float(value * 1e3 / e_column())


def test_penetration_factor_against_quadrature() -> None:
    """Averaged over the 6 % of day-to-day spread as the factor is; 3 % for its grid of x."""
    score = np.linspace(-2.0, 2.0, 17)
    weight = np.exp(-0.5 * score**2) / np.sum(np.exp(-0.5 * score**2))
    for x in (0.6, 0.8, 1.3, 1.6, 2.0, 4.0):
        expected = sum(w * penetration(x * np.exp(0.06 * s)) for w, s in zip(weight, score, strict=True))
        np.testing.assert_allclose(absorption.penetration_factor(x), expected, rtol=0.03)


def test_limits_of_the_penetration_factor() -> None:
    """Nothing for a ray turned at the layer's foot, all of it for one far above, most where it lingers at
    the peak."""
    x = np.geomspace(0.05, 20.0, 400)
    factor = absorption.penetration_factor(x)
    assert factor[0] < 0.001
    np.testing.assert_allclose(factor[-1], 1.0, atol=0.002)
    assert 0.97 < x[np.argmax(factor)] < 1.03
    assert 2.0 < np.max(factor) < 3.5
    assert np.all(np.diff(factor[x < 0.97]) >= 0.0)
    assert np.all(np.diff(factor[x > 1.03]) <= 0.0)


def test_a_low_ray_escapes_what_the_closed_form_charges() -> None:
    """At 3 degrees by day on 7 MHz the E layer turns the ray low: well under the secant times the whole
    layer."""
    strength = absorption.d_layer_strength(30.0, 50.0)
    low_ray = one_hop_db(7.0, 3.0, strength, 3.5, GYRO_MHZ, True)
    secant = 1.0 / np.sqrt(1.0 - (6371.0 / 6471.0 * np.cos(np.radians(3.0))) ** 2)
    charged = absorption.vertical_closed_form_db(7.0, 30.0, 50.0, 1.3) * secant
    assert 0.5 * charged < low_ray < 0.8 * charged


@given(st.floats(0.0, 180.0), st.floats(0.0, 250.0))
def test_the_d_layer_by_day_and_night(zenith: float, r12: float) -> None:
    strength = float(absorption.d_layer_strength(zenith, r12))
    activity = 1.0 + 0.0037 * r12
    assert 0.02 * activity <= strength * (1.0 + 1e-12)
    assert strength <= 1.02 * activity * (1.0 + 1e-12)
    assert absorption.d_layer_strength(min(zenith + 1.0, 180.0), r12) <= strength


@given(
    st.floats(1.8, 150.0), st.floats(-5.0, 90.0), st.floats(0.0, 2.0), st.floats(0.0, 6.0),
    st.floats(0.0, 1.8), st.booleans(),
)  # fmt: skip
def test_always_a_loss(
    frequency: float, elevation: float, strength: float, foe: float, gyro: float, turned_by_e: bool
) -> None:
    loss = one_hop_db(frequency, elevation, strength, foe, gyro, turned_by_e)
    assert np.isfinite(loss)
    assert loss >= 0.0
