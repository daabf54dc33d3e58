"""Auroral losses at the cells of their table, between them, and outside."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.ionosphere.auroral import auroral_loss_db


@pytest.mark.parametrize(
    ("latitude", "hour", "season", "loss_db"),
    [
        (77.5, 2.5, -1, 2.0), (72.5, 5.5, -1, 8.3), (62.5, 5.5, -1, 16.0), (42.5, 23.5, -1, 0.3),
        (67.5, 8.5, 0, 21.4), (62.5, 23.5, 0, 15.0), (57.5, 11.5, 0, 5.0), (47.5, 14.5, 0, 1.4),
        (62.5, 20.5, 1, 9.5), (67.5, 17.5, 1, 5.4), (52.5, 17.5, 1, 5.0), (42.5, 2.5, 1, 0.8),
    ],
)  # fmt: skip
def test_cells(latitude: float, hour: float, season: float, loss_db: float) -> None:
    """Cells of P.533 table 2 as remembered (digits unverified): the table stands in the file the right way
    round."""
    np.testing.assert_allclose(auroral_loss_db(latitude, hour, season), loss_db)
    np.testing.assert_allclose(auroral_loss_db(-latitude, hour + 24.0, season), loss_db)


# Sums of P.533 table 2 as remembered: over the hours, latitudes 42.5 to 77.5, and over the latitudes, local
# times 02:30 to 23:30.
SUMS = {
    -1: (
        [3.6, 7.4, 11.2, 23.0, 65.8, 55.0, 30.2, 20.7], [23.2, 52.9, 54.7, 10.3, 6.0, 21.6, 28.8, 19.4]
    ),
    0: (
        [8.0, 16.3, 24.9, 38.3, 86.0, 82.9, 50.6, 24.2], [23.6, 45.0, 74.8, 37.4, 22.5, 34.1, 40.8, 53.0]
    ),
    1: (
        [8.1, 16.6, 25.2, 34.1, 58.6, 43.9, 27.4, 22.4], [24.1, 21.0, 28.0, 23.3, 21.6, 38.9, 42.1, 37.3]
    ),
}  # fmt: skip


@pytest.mark.parametrize("season", SUMS)
def test_sums_of_the_table(season: int) -> None:
    """No digit has slipped: every row and column sums to what the table's did when it was typed."""
    table = auroral_loss_db(np.arange(42.5, 78.0, 5.0)[:, None], np.arange(2.5, 24.0, 3.0), season)
    rows, columns = SUMS[season]
    np.testing.assert_allclose(table.sum(axis=1), rows, atol=1e-9)
    np.testing.assert_allclose(table.sum(axis=0), columns, atol=1e-9)


def test_half_way_between_cells_is_the_mean() -> None:
    np.testing.assert_allclose(auroral_loss_db(65.0, 8.5, 0.0), (21.4 + 17.0) / 2.0)
    np.testing.assert_allclose(auroral_loss_db(62.5, 10.0, 0.0), (17.0 + 9.0) / 2.0)
    np.testing.assert_allclose(auroral_loss_db(62.5, 1.0, 0.0), (15.0 + 6.7) / 2.0)  # over midnight
    np.testing.assert_allclose(auroral_loss_db(62.5, 8.5, 0.5), (17.0 + 9.0) / 2.0)  # equinox and summer


def test_nothing_at_low_latitudes() -> None:
    np.testing.assert_array_equal(auroral_loss_db(np.array([0.0, 37.5, -20.0]), 5.5, -1.0), 0.0)
    assert 0.0 < auroral_loss_db(40.0, 5.5, -1.0) < auroral_loss_db(42.5, 5.5, -1.0)


def test_the_pole_has_the_last_row() -> None:
    np.testing.assert_allclose(auroral_loss_db(90.0, 8.5, 0.0), 7.4)


def test_the_oval_is_worst_before_noon() -> None:
    """The shape that is safe: a ridge between 62 and 72 degrees, highest before noon."""
    latitude, hour = np.arange(40.0, 90.0, 0.5), np.arange(0.0, 24.0, 0.25)
    loss = auroral_loss_db(latitude[:, None], hour, 0.0)
    worst_latitude, worst_hour = np.unravel_index(np.argmax(loss), loss.shape)
    assert 62.0 <= latitude[worst_latitude] <= 72.0
    assert 4.0 <= hour[worst_hour] <= 11.0


@given(st.floats(-90.0, 90.0), st.floats(0.0, 24.0), st.floats(-1.0, 1.0))
def test_smooth_and_never_a_gain(latitude: float, hour: float, season: float) -> None:
    here = auroral_loss_db(latitude, hour, season)
    assert 0.0 <= here <= 21.4
    # the steepest cells differ by 14 dB over 5 degrees and 9 dB over 3 hours
    assert abs(auroral_loss_db(latitude + 0.1, hour, season) - here) < 0.35
    assert abs(auroral_loss_db(latitude, hour + 0.05, season) - here) < 0.3
