"""Scatter from the lit ring: its level beside an open path, where it serves, and that it stays a number."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from oracles.plane_triangle import triangle

from propagation.ionosphere.muf import skip_km
from propagation.signal.losses import scatter


def test_the_radar_equation_by_hand() -> None:
    """14 MHz, ring at 1500 km: the textbook's (4 pi)^3 R^4 / (lambda^2 sigma0 A) with 9 dB of other
    losses."""
    fof2, m3000 = 7.0, 3.0
    ring = float(scatter.ring_km(14.0, fof2, m3000))
    wavelength = 299.792458 / 14.0
    area = 2.0 * np.pi * 6371e3 * np.sin(ring / 6371.0) * 500e3
    slant = np.hypot(ring, 600.0) * 1e3
    cross_section = 10 ** (-25.0 / 10.0) * area
    loss = 10.0 * np.log10((4.0 * np.pi) ** 3 * slant**4 / (wavelength**2 * cross_section)) + 9.0
    np.testing.assert_allclose(scatter.scatter_loss_db(300.0, 14.0, fof2, m3000), loss, atol=0.01)


def test_the_level_is_that_of_weak_signals() -> None:
    """30 to 45 dB under free space to the ring: of use to narrow modes alone (common practice, no source)."""
    ring = float(scatter.ring_km(14.2, 7.0, 3.0))
    free_space = 32.45 + 20.0 * np.log10(14.2 * ring)
    assert 30.0 < scatter.scatter_loss_db(300.0, 14.2, 7.0, 3.0) - free_space < 50.0


def test_the_ring_begins_at_the_skip_distance() -> None:
    """Its middle is half its depth beyond the layer's own skip distance: within 9 %, for two layers."""
    for frequency, fof2, foe, m3000 in (
        (np.array([12.0, 14.0, 16.0, 18.0, 20.0]), 7.0, 2.0, 3.0),
        (np.array([8.0, 10.0, 12.0, 14.0, 16.0]), 5.0, 1.0, 3.2),
    ):
        skip = skip_km(frequency, fof2, foe, m3000, 1.2)
        np.testing.assert_allclose(scatter.ring_km(frequency, fof2, m3000), skip + 250.0, rtol=0.09)


def test_the_ring_of_the_muf_3000_is_at_3000_km() -> None:
    """By the definition of M(3000)F2; 600 and 3500 km are its limits (ours, no source)."""
    np.testing.assert_allclose(
        scatter.ring_km(np.array([21.0, 5.0, 40.0]), 7.0, 3.0), [3000.0, 600.0, 3500.0]
    )


def test_the_ring_is_lit_at_the_angle_of_a_hop_to_it() -> None:
    """One hop of 1500 to 2500 km from a mirror at 300 km: the middle of them, to a degree."""
    np.testing.assert_allclose(scatter.TAKE_OFF_DEG, triangle(2000.0, 300.0)[0], atol=1.0)


def test_beyond_the_ring_it_fades() -> None:
    inside, beyond = scatter.scatter_loss_db(np.array([500.0, 4000.0]), 14.2, 7.0, 3.0)
    assert beyond - inside > 30.0
    ring = float(scatter.ring_km(14.2, 7.0, 3.0))
    one, two = scatter.scatter_loss_db(ring + np.array([1000.0, 1500.0]), 14.2, 7.0, 3.0) - inside
    np.testing.assert_allclose([one, two], [20.0, 40.0])  # 20 dB for each depth of the ring (ours)
    np.testing.assert_allclose(scatter.scatter_loss_db(20000.0, 14.2, 7.0, 3.0), 300.0)  # no farther (ours)


@given(st.floats(0.0, 40030.0), st.floats(1.8, 150.0), st.floats(0.0, 20.0), st.floats(0.5, 4.5))
def test_always_a_number(distance: float, frequency: float, fof2: float, m3000: float) -> None:
    loss = scatter.scatter_loss_db(distance, frequency, fof2, m3000)
    assert np.isfinite(loss)
    assert 100.0 < loss <= 300.0
