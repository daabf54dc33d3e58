"""Sporadic E: the loss formula's worked values, and the spread of foEs from its deciles."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.ionosphere import hops
from propagation.ionosphere.sporadic_e import (
    BLANKETING_RATIO,
    foes_quantile_mhz,
    hidden_loss_db,
    p534_parts,
    reflection_loss_db,
)
from propagation.ionosphere.variability import normal_cdf


def p534_loss_db(hop_km: Any, frequency_mhz: Any, foes_mhz: float) -> Any:
    """One hop by P.534: both parts of the formula joined."""
    by_ratio, grazing = p534_parts(hop_km)
    return by_ratio * (frequency_mhz / foes_mhz) ** 2 + grazing


@pytest.mark.parametrize(
    ("frequency", "foes", "loss_db"),
    [
        (50.1, 5.0, 90.0), (50.1, 8.0, 35.0), (50.1, 12.0, 16.0),
        (28.4, 5.0, 29.0), (28.4, 8.0, 12.0), (28.4, 12.0, 5.6),
    ],
)  # fmt: skip
def test_worked_values_at_1500_km(frequency: float, foes: float, loss_db: float) -> None:
    """Worked from the form of P.534 (after Miya, Shimizu and Kojima 1978; constants from memory), to its
    last digit."""
    np.testing.assert_allclose(p534_loss_db(1500.0, frequency, foes), loss_db, atol=0.5)


def test_the_sheet_is_opaque_up_to_the_blanketing_frequency_aslant() -> None:
    distance = np.array([0.0, 500.0, 1000.0, 1500.0])
    sec = hops.sec_incidence(hops.elevation_deg(distance, 110.0), 110.0)
    loss = reflection_loss_db(distance, 0.999 * BLANKETING_RATIO * 5.0 * sec, 5.0)
    assert np.all(loss < 1.0)  # dB, no more than grazing


def test_at_the_top_frequency_aslant_it_is_that_of_p534() -> None:
    """And that is some 24 dB at any distance of a hop, though the formula knows nothing of the secant."""
    distance = np.arange(300.0, 2001.0, 100.0)
    top = 5.0 * hops.sec_incidence(hops.elevation_deg(distance, 110.0), 110.0)
    loss = reflection_loss_db(distance, top, 5.0)
    np.testing.assert_allclose(loss, p534_loss_db(distance, top, 5.0), atol=0.01)
    np.testing.assert_allclose(loss[distance <= 1500.0], 24.5, atol=3.0)


def test_the_best_hop_is_long_but_not_the_longest() -> None:
    """Steep rays pass; too far, below the horizon, the exponential."""
    distance = np.arange(0.0, 3001.0, 10.0)
    loss = reflection_loss_db(distance, 50.1, 9.0)
    assert 1300.0 < distance[np.argmin(loss)] < 2200.0
    assert reflection_loss_db(2600.0, 28.4, 12.0) > reflection_loss_db(2000.0, 28.4, 12.0) + 20.0


def test_what_the_e_layer_turns_never_reaches_sporadic_e() -> None:
    np.testing.assert_allclose(hidden_loss_db(7.0, 3.1, 3.5), 15.5, atol=0.1)  # x = 0.645
    assert hidden_loss_db(7.0, 5.0, 3.5) == 30.0  # at a lower angle: x = 0.4
    assert hidden_loss_db(14.0, 3.1, 3.5) == 0.0
    assert hidden_loss_db(7.0, 3.1, 0.6) == 0.0  # by night


def test_deciles_come_back() -> None:
    """Below 4 MHz as printed; 1 MHz less from 6 MHz on, where readings by eye are too high."""
    score = np.array([-1.2816, 0.0, 1.2816])
    np.testing.assert_allclose(foes_quantile_mhz(1.5, 2.0, 3.0, score), [1.5, 2.0, 3.0], rtol=1e-5)
    np.testing.assert_allclose(foes_quantile_mhz(2.0, 3.0, 7.0, score), [2.0, 3.0, 6.0], rtol=1e-5)


def test_the_mean_of_independent_hops() -> None:
    """Against draws: the median loss of a chain on its upper-decile day, hops with days of their own."""
    days = np.random.default_rng(1).normal(size=(200_000, 2))
    mean = np.exp(np.mean(np.log(foes_quantile_mhz(1.5, 2.0, 2.8, days)), axis=1))
    np.testing.assert_allclose(
        foes_quantile_mhz(1.5, 2.0, 2.8, 1.2816, 2.0), np.quantile(mean, float(normal_cdf(1.2816))), rtol=0.02
    )


@given(st.floats(0.0, 15.0), st.floats(0.0, 15.0), st.floats(0.0, 20.0))
def test_more_is_more(lower: float, median: float, upper: float) -> None:
    """Whatever the maps say, even deciles that cross: foEs rises with the day's score and stays finite."""
    found = foes_quantile_mhz(lower, median, upper, np.linspace(-3.0, 3.0, 25))
    assert np.all(np.isfinite(found))
    assert np.all(np.diff(found) >= -1e-12)


@given(st.floats(0.0, 6000.0), st.floats(1.8, 150.0), st.floats(0.0, 25.0))
def test_always_a_loss(hop_km: float, frequency: float, foes: float) -> None:
    loss = reflection_loss_db(hop_km, frequency, foes)
    assert 0.0 < loss <= 140.0
    assert reflection_loss_db(hop_km, frequency, foes + 0.5) <= loss
