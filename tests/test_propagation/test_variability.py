"""From medians to chances: the quadrature of the days, the deciles, the normal distribution."""

from __future__ import annotations

from itertools import pairwise
from math import erf, sqrt
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.ionosphere import variability


def test_gauss_hermite_nodes_and_weights() -> None:
    """Seven points for a standard normal variable: Abramowitz and Stegun table 25.10, times sqrt 2 and over
    sqrt pi."""
    nodes = sqrt(2.0) * np.array([0.0, 0.816287882858965, 1.673551628767471, 2.651961356835233])
    weights = np.array([8.102646175568e-1, 4.256072526101e-1, 5.451558281913e-2, 9.717812450995e-4])
    order = np.argsort(variability.LAYER_NODES)
    np.testing.assert_allclose(variability.LAYER_NODES[order][3:], nodes, atol=1e-10)
    np.testing.assert_allclose(variability.LAYER_WEIGHTS[order][3:], weights / sqrt(np.pi), rtol=1e-9)


def test_the_days_have_the_moments_of_a_normal_variable() -> None:
    """1, 0, 1, 0, 3, 0, 15 ...: exact to the thirteenth moment."""
    moments = [1.0, 0.0, 1.0, 0.0, 3.0, 0.0, 15.0, 0.0, 105.0, 0.0, 945.0, 0.0, 10395.0, 0.0]
    for power, expected in enumerate(moments):
        found = np.sum(variability.LAYER_WEIGHTS * variability.LAYER_NODES**power)
        np.testing.assert_allclose(found, expected, atol=1e-9 * max(1.0, expected))


def test_sporadic_e_days_are_the_middles_of_their_bins() -> None:
    edges = np.concatenate([[0.0], np.cumsum(variability.ES_WEIGHTS)])
    np.testing.assert_allclose(edges[-1], 1.0)
    middles = [NormalDist().inv_cdf(0.5 * (a + b)) for a, b in pairwise(edges)]
    np.testing.assert_allclose(variability.ES_NODES, middles, atol=0.001)


def test_normal_distribution_against_erf() -> None:
    z = np.linspace(-9.0, 9.0, 3601)
    exact = np.array([0.5 * (1.0 + erf(one / sqrt(2.0))) for one in z])
    np.testing.assert_allclose(variability.normal_cdf(z), exact, atol=1e-6)
    assert np.all(np.diff(variability.normal_cdf(z)) >= 0.0)
    np.testing.assert_allclose(variability.normal_cdf(np.array([-40.0, 40.0])), [0.0, 1.0], atol=1e-9)


def test_chance_at_the_deciles() -> None:
    """P.842's structure: a half at the median, 90 % at a margin of the lower decile, 10 % at minus the
    upper."""
    margin = np.array([0.0, 8.0, -5.0])
    np.testing.assert_allclose(variability.chance_above(margin, 8.0, 5.0), [0.5, 0.9, 0.1], atol=1e-4)


def test_chance_is_near_the_formula_of_p842() -> None:
    """130 - 80 / (1 + (SN - r) / Dl) and 80 / (1 + (r - SN) / Du) - 30 percent (from memory): within 5 %."""
    above, below = np.linspace(0.0, 8.0, 33), np.linspace(0.0, 5.0, 21)
    np.testing.assert_allclose(
        variability.chance_above(above, 8.0, 5.0), 1.30 - 0.80 / (1.0 + above / 8.0), atol=0.05
    )
    np.testing.assert_allclose(
        variability.chance_above(-below, 8.0, 5.0), 0.80 / (1.0 + below / 5.0) - 0.30, atol=0.05
    )


@pytest.mark.parametrize(
    ("hour", "latitude", "lower", "upper"),
    [(12.0, 20.0, 0.85, 1.15), (0.0, 20.0, 0.78, 1.25), (6.0, 20.0, 0.75, 1.20), (12.0, 80.0, 0.70, 1.30)],
)
def test_spread_of_the_muf_where_its_rules_are_plain(
    hour: float, latitude: float, lower: float, upper: float
) -> None:
    """Lower and upper decile over the median by day, night, sunrise and at high latitude (from memory)."""
    low, high = variability.muf_spread(hour, latitude, 100.0)
    np.testing.assert_allclose(1.0 - variability.DECILE_Z * low, lower, atol=0.006)
    np.testing.assert_allclose(1.0 + variability.DECILE_Z * high, upper, atol=0.006)
    quiet_sun, _ = variability.muf_spread(hour, latitude, 10.0)
    np.testing.assert_allclose(variability.DECILE_Z * (quiet_sun - low), 0.03, atol=1e-9)


def test_spread_of_the_muf_beside_a_month_of_measurements() -> None:
    """Sodankylä (geomagnetic 64 degrees), July 2006: deciles of foF2 over the median by hour, 00 to 11
    local time.

    From the daily values in the station's bulletin (Sodankylä Geophysical Observatory, IB_200607). A quiet
    summer month at the edge of the oval: the spread of the program, made for all seasons there, is at least
    as wide.
    """
    lower = np.array([0.88, 0.90, 0.84, 0.87, 0.87, 0.92, 0.93, 0.91, 0.95, 0.91, 0.95, 0.95])
    upper = np.array([1.08, 1.15, 1.11, 1.14, 1.11, 1.08, 1.15, 1.10, 1.09, 1.07, 1.09, 1.05])
    low, high = variability.muf_spread(np.arange(12.0) - 0.25, 64.0, 17.0)
    assert np.all(1.0 - variability.DECILE_Z * low < lower)
    assert np.all(1.0 + variability.DECILE_Z * high > upper)


@given(st.floats(-30.0, 30.0), st.floats(-90.0, 90.0), st.floats(0.0, 250.0), st.floats(-4.0, 4.0))
def test_a_better_day_has_a_higher_muf(hour: float, latitude: float, r12: float, score: float) -> None:
    spread = variability.muf_spread(hour, latitude, r12)
    assert 0.0 < spread[0] < 0.3
    assert 0.0 < spread[1] < 0.3
    factor = variability.layer_factor(*spread, score)
    assert 0.3 <= factor <= variability.layer_factor(*spread, score + 0.1)


def test_signal_deciles_by_latitude() -> None:
    """P.842 table 1 at f/MUF of 0.8 or less (from memory): 8 and 6 dB, 11 and 9 dB above 60 degrees."""
    lower, upper = variability.signal_deciles_db(np.array([0.0, 80.0, -80.0]))
    np.testing.assert_allclose(lower, [8.0, 11.0, 11.0], atol=0.01)
    np.testing.assert_allclose(upper, [6.0, 9.0, 9.0], atol=0.01)


def width(values: np.ndarray, places: np.ndarray) -> tuple[float, float]:
    """Where a falling or rising step is half done, and the way from a tenth of it to nine tenths."""
    share = (values - values[0]) / (values[-1] - values[0])
    tenth, half, most = (float(np.interp(level, share, places)) for level in (0.1, 0.5, 0.9))
    return half, most - tenth


def test_the_steps_of_the_tables_are_smoothed() -> None:
    """Day comes at 06 and goes at 18 within two hours, high latitudes begin at 60 within ten degrees (ours).

    On the upper decile by day and night, which has no sunrise of its own, and on the signal's.
    """
    for hours in (np.linspace(0.0, 12.0, 481), np.linspace(12.0, 24.0, 481)):
        _, upper = variability.muf_spread(hours, 0.0, 100.0)
        middle, over = width(upper, hours)
        np.testing.assert_allclose([middle, over], [6.0 if hours[0] == 0.0 else 18.0, 2.1], atol=0.1)
    latitudes = np.linspace(20.0, 90.0, 701)
    signal = variability.signal_deciles_db(latitudes)[0]
    spread = variability.muf_spread(12.0, latitudes, 100.0)[1]
    for values in (signal, spread):
        np.testing.assert_allclose(width(values, latitudes), [60.0, 11.0], atol=0.3)


def test_sunrise_widens_the_spread_for_two_hours_either_side() -> None:
    """Lower decile 0.75 at 06; of what day or night would have more, 1/e is left two hours off (ours)."""
    low, _ = variability.muf_spread(np.array([6.0, 3.0, 9.0]), 0.0, 100.0)
    left = np.exp(-2.25)  # an hour farther, where night and day are whole: exp(-(3/2)^2)
    expected = [0.75, 0.78 - left * 0.03, 0.85 - left * 0.10]
    np.testing.assert_allclose(1.0 - variability.DECILE_Z * low, expected, atol=6e-4)


def test_hours_go_round() -> None:
    """Local time beyond midnight is the next day's: 30 and -18 are 06."""
    low, high = variability.muf_spread(np.array([6.0, 30.0, -18.0, 12.0, 36.0]), 0.0, 100.0)
    np.testing.assert_allclose(low[[1, 2, 4]], low[[0, 0, 3]])
    np.testing.assert_allclose(high[[1, 2, 4]], high[[0, 0, 3]])


def test_a_quiet_sun_widens_the_spread_by_degrees() -> None:
    """0.03 in all, from an R12 of 75 down to 25 (the table's low and middle activity, from memory)."""
    low, _ = variability.muf_spread(12.0, 0.0, np.array([100.0, 75.0, 62.5, 50.0, 25.0, 0.0]))
    more = variability.DECILE_Z * (low - low[0])
    np.testing.assert_allclose(more, [0.0, 0.0, 0.0075, 0.015, 0.03, 0.03], atol=1e-9)


def test_no_day_without_a_layer() -> None:
    """A tenth of the days of a spread of 1 would have none; 0.3 of the median is the least (ours)."""
    np.testing.assert_allclose(variability.layer_factor(0.2, 0.2, np.array([-4.0, -3.4])), [0.3, 0.32])
