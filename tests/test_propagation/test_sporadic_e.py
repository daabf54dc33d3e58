"""Sporadic E: the loss formula's worked values, and the spread of foEs from its deciles."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.ionosphere.sporadic_e import foes_quantile_mhz, loss_by_distance


def loss_db(hop_km: Any, frequency_mhz: float, foes_mhz: float) -> Any:
    """One hop: both parts of the formula joined."""
    by_ratio, by_distance = loss_by_distance(hop_km)
    return by_ratio * (frequency_mhz / foes_mhz) ** 2 + by_distance


@pytest.mark.parametrize(
    ("frequency", "foes", "expected_db"),
    [
        (50.1, 5.0, 90.0), (50.1, 8.0, 35.0), (50.1, 12.0, 16.0),
        (28.4, 5.0, 29.0), (28.4, 8.0, 12.0), (28.4, 12.0, 5.6),
    ],
)  # fmt: skip
def test_worked_values_at_1500_km(frequency: float, foes: float, expected_db: float) -> None:
    """Worked from the form of P.534 (after Miya, Shimizu and Kojima 1978; constants from memory), to its
    last digit."""
    np.testing.assert_allclose(loss_db(1500.0, frequency, foes), expected_db, atol=0.5)


def test_the_best_hop_is_long_but_not_the_longest() -> None:
    """Straight up the whole 40 dB and the ratio squared; too far, below the horizon, the exponential."""
    distance = np.arange(0.0, 3001.0, 10.0)
    loss = loss_db(distance, 50.1, 8.0)
    assert 1300.0 < distance[np.argmin(loss)] < 2200.0
    np.testing.assert_allclose(loss_db(0.0, 8.0, 8.0), 40.0, atol=0.01)
    assert loss_db(2600.0, 28.4, 12.0) > loss_db(2000.0, 28.4, 12.0) + 20.0


def test_deciles_come_back() -> None:
    score = np.array([-1.2816, 0.0, 1.2816])
    np.testing.assert_allclose(foes_quantile_mhz(2.0, 3.0, 6.0, score), [2.0, 3.0, 6.0], rtol=1e-5)


@given(st.floats(0.0, 15.0), st.floats(0.0, 15.0), st.floats(0.0, 20.0))
def test_more_is_more(lower: float, median: float, upper: float) -> None:
    """Whatever the maps say, even deciles that cross: foEs rises with the day's score and stays finite."""
    found = foes_quantile_mhz(lower, median, upper, np.linspace(-3.0, 3.0, 25))
    assert np.all(np.isfinite(found))
    assert np.all(np.diff(found) >= -1e-12)


@given(st.floats(0.0, 6000.0), st.floats(1.8, 150.0), st.floats(0.2, 25.0))
def test_always_a_loss(hop_km: float, frequency: float, foes: float) -> None:
    loss = loss_db(hop_km, frequency, foes)
    assert 0.0 < loss < np.inf
    assert loss_db(hop_km, frequency, foes + 0.5) <= loss
