"""Meteor trails: the radar equation by hand, the law of the wavelength, where and when they serve."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from propagation.signal.losses.meteor_scatter import meteor_loss_db, take_off_deg


def test_straight_up_by_hand() -> None:
    """Back-scatter of both stations at one place, integrated by hand over a flat sky at 95 km.

    One trail: lambda^3 re^2 q^2 / (32 pi^2 R^3) for lambda^2 / (32 pi^2 D) seconds, across the ray with a
    chance of L / 2R (McKinley 1961, from memory); 160 / q trails per m2 and second up to those that come once
    a minute, half lost to polarisation. The table's sky is curved and cut into squares: 1 dB.
    """
    wavelength = 299.792458 / 21.0
    height, length, widest = 95e3, 15e3, np.hypot(95e3, 1100e3)
    once_a_minute = 160.0 * 60.0 * np.pi * length * (widest - height)  # integral of 2 pi R dR L / 2R
    energy = 160.0 * 1e14 * (1.0 + 2.0 * (np.sqrt(once_a_minute / 1e14) - 1.0))
    one = wavelength**5 * 2.818e-15**2 / (32.0 * np.pi**2) ** 2 / 5.8
    sky = np.pi * length * 0.5 * (height**-2 - widest**-2)  # integral of 2 pi R dR (L / 2R) / R^3
    blurred = 8.0 * np.pi**2 * (0.84 / wavelength) ** 2
    gain = 10.0 * np.log10(0.5 * one * sky * energy) - blurred * 10.0 / np.log(10.0)
    np.testing.assert_allclose(meteor_loss_db(0.0, 21.0, 12.0), -gain, atol=1.0)


def test_the_fifth_power_of_the_wavelength() -> None:
    """Long trails fade slowly and scatter well: 15 dB an octave, and a little more for their width."""
    loss = meteor_loss_db(500.0, np.array([7.0, 14.0]), 12.0)
    np.testing.assert_allclose(loss[1] - loss[0], 15.05, atol=1.0)


def test_morning_is_best_and_far_is_nothing() -> None:
    """The rate before dawn is some three times that of the evening (textbook): 5 dB."""
    morning, evening = meteor_loss_db(500.0, 21.0, np.array([6.0, 18.0]))
    np.testing.assert_allclose(evening - morning, 4.8, atol=0.1)
    assert meteor_loss_db(1900.0, 21.0, 12.0) > meteor_loss_db(500.0, 21.0, 12.0) + 15.0
    np.testing.assert_allclose(take_off_deg(np.array([0.0, 1000.0])), [45.0, 10.8], atol=0.1)


@given(st.floats(0.0, 20000.0), st.floats(1.8, 150.0), st.floats(0.0, 24.0))
def test_always_a_loss_of_weak_signals(distance: float, frequency: float, hour: float) -> None:
    loss = meteor_loss_db(distance, frequency, hour)
    assert np.isfinite(loss)
    assert 120.0 < loss <= 400.0
