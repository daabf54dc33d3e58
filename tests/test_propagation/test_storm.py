"""The storm-time correction of foF2 against the published coefficients' check values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.space_weather.indices.geomagnetic_activity import (
    AP_OF_KP_THIRDS,
    COEFFICIENTS,
    HOUR_WEIGHTS,
    SET_OF,
    ap_from_kp,
    interval_start,
    kp_from_ap,
    polynomial,
    storm_factor,
    weighted_ap,
)

JUNE = np.datetime64("2024-06-21T12", "s")
MARCH = np.datetime64("2024-03-22T12", "s")  # day 82 of a leap year, where the season index starts
DECEMBER = np.datetime64("2024-12-21T12", "s")
AT_1000 = [
    0.9335, 1.0341, 1.0, 1.0826, 1.0, 0.8452, 0.9108, 0.9556, 1.1191, 1.1129,
    0.8144, 0.8323, 0.8364, 0.9547, 1.0018, 0.8294, 0.8436, 0.838, 0.8798, 0.8382,
]  # fmt: skip
AT_3000 = [
    0.8429, 1.0067, 1.0, 1.1086, 1.0, 0.7465, 0.7588, 0.8191, 1.2615, 1.0596,
    0.6942, 0.5619, 0.592, 0.8251, 0.7372, 0.5822, 0.636, 0.532, 0.6006, 0.6716,
]  # fmt: skip


@pytest.mark.parametrize(("set_number", "factor"), [(11, 0.701), (13, 0.675), (15, 0.885)])
def test_check_values_at_weighted_ap_2000(set_number: int, factor: float) -> None:
    # Worked by hand from Araujo-Pradere et al. 2002: middle latitudes in summer, at equinox, in winter.
    np.testing.assert_allclose(polynomial(2000.0, set_number), factor, atol=6e-4)


def test_every_set_at_two_weights() -> None:
    """The fits at 1000 and 3000, as the coefficients gave them when they were typed: no digit has slipped."""
    sets = np.arange(1, 21)
    np.testing.assert_allclose(polynomial(1000.0, sets), AT_1000, atol=6e-5)
    np.testing.assert_allclose(polynomial(3000.0, sets), AT_3000, atol=6e-5)


def test_every_fit_sets_in_near_one() -> None:
    """At 300, where the fits begin, a storm has hardly changed anything: within 8 %."""
    np.testing.assert_allclose(polynomial(300.0, np.arange(1, 21)), 1.0, atol=0.08)


def test_the_fits_hold_from_300_on() -> None:
    """Set 19 alone, at 70 degrees on day 82 + 5 x 45.6 (5 November 2024): 1.0675 at 300, not less."""
    november = np.datetime64("2024-11-05T12", "s")
    np.testing.assert_allclose(storm_factor(70.0, november, 300.0), 1.0675, atol=0.002)


def test_seasons_mirror_each_other() -> None:
    """Spring and autumn share their sets; 10 degrees across the equator has the opposite season (by
    construction of the published table)."""
    for row in SET_OF:
        np.testing.assert_array_equal(np.roll(row, -2)[1:], np.roll(row, -2)[:0:-1])
    np.testing.assert_array_equal(SET_OF[0], np.roll(SET_OF[1], 4))
    assert [sorted(set(row)) for row in SET_OF[1:].tolist()] == [
        [1, 2, 3, 4, 5], [6, 7, 8, 9, 10], [11, 12, 13, 14, 15], [16, 17, 18, 19, 20], [16, 17, 18, 19, 20],
    ]  # fmt: skip
    assert [row[2] for row in SET_OF[1:].tolist()] == [1, 6, 11, 16, 16]  # midsummer


def test_a_storm_beyond_3500_is_held() -> None:
    """Past it the quadratics turn up again; the largest storms reach about 3500 in 36 hours."""
    rap = np.array([3400.0, 3500.0, 3600.0, 7000.0])
    factor = storm_factor(50.0, JUNE, rap)
    assert factor[0] != factor[1]
    np.testing.assert_array_equal(factor[1:], factor[1])


def test_hour_weights_by_the_source() -> None:
    """Rising by 1/27 an hour to one, then 2/3, 1/3, 0, 1/3, 2/3, 1 and 0.7 (IRI's weighting)."""
    rising = np.arange(1, 28) / 27.0
    expected = [0.0, 0.0, *rising, 2.0 / 3.0, 1.0 / 3.0, 0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0, 0.7]
    np.testing.assert_allclose(HOUR_WEIGHTS, expected)


def test_hour_weights_sum_to_17_7() -> None:
    np.testing.assert_allclose(HOUR_WEIGHTS.sum(), 17.7, rtol=1e-12)
    assert len(HOUR_WEIGHTS) == 36
    for hour in range(24):  # steady ap of 27 gives 478 whatever the hour
        rap = weighted_ap(np.full(13, 27.0), np.datetime64("2024-06-21") + np.timedelta64(hour, "h"))
        np.testing.assert_allclose(rap, 477.9, rtol=1e-9)


def test_weighting_hour_by_hour_equals_the_sum_written_out() -> None:
    ap = np.array([4, 9, 7, 12, 12, 9, 7, 22, 179, 300, 300, 400, 236.0])
    hourly = np.zeros(40)  # numbered from 1: the middle of each interval holds its ap
    for k in range(1, 14):
        hourly[3 * k - 1] = ap[k - 1]
    for k in range(1, 13):
        hourly[3 * k] = (2 * ap[k - 1] + ap[k]) / 3
        hourly[3 * k + 1] = (ap[k - 1] + 2 * ap[k]) / 3
    hourly[1], hourly[39] = ap[0], ap[12]
    for hour in (0, 1, 2):
        by_hand = sum(HOUR_WEIGHTS[j - 1] * hourly[hour + 1 + j] for j in range(1, 37))
        time = np.datetime64("2024-05-11T03", "s") + np.timedelta64(hour, "h")
        np.testing.assert_allclose(weighted_ap(ap, time), by_hand, rtol=1e-12)


def test_set_in_force_by_latitude_and_season() -> None:
    for latitude, time, set_number in [
        (50.0, MARCH, 13), (50.0, DECEMBER, 15), (70.0, MARCH, 18), (30.0, MARCH, 8), (10.0, MARCH, 3),
    ]:  # fmt: skip
        # December: day 356 lies a hair before the seventh column; the neighbours differ by less than 0.01
        np.testing.assert_allclose(
            storm_factor(latitude, time, 2000.0), polynomial(2000.0, set_number), atol=0.01
        )
    # Summer at 50 degrees is set 11, reached exactly on day 82 + 2 x 45.6.
    np.testing.assert_allclose(storm_factor(50.0, JUNE, 2000.0), 0.7015, atol=0.002)
    # The south is 172 days on: day 356 counts as day 163, between the columns of sets 12 and 11.
    share = (163 - 82) / 45.6 - 1
    by_hand = (1 - share) * polynomial(2000.0, 12) + share * polynomial(2000.0, 11)
    np.testing.assert_allclose(storm_factor(-50.0, DECEMBER, 2000.0), by_hand, rtol=1e-12)


@given(st.floats(-90, 90), st.floats(0, 200), st.integers(0, 20000))
def test_quiet_field_changes_nothing_to_the_last_digit(latitude: float, rap: float, day: int) -> None:
    assert storm_factor(latitude, np.datetime64("1995-01-01") + np.timedelta64(day, "D"), rap) == 1.0


def test_ordinary_field_is_quiet() -> None:
    # ap 7 (Kp 2) held for 36 hours weighs 124: below 200.
    rap = weighted_ap(np.full(13, ap_from_kp(2.0)), JUNE)
    assert storm_factor(50.0, JUNE, rap) == 1.0
    assert rap < 200.0


@given(st.floats(-90, 90), st.floats(0, 8000), st.integers(0, 20000))
def test_factor_stays_within_reason(latitude: float, rap: float, day: int) -> None:
    # The fits themselves reach from 0.44 (winter, polar set 20) to 1.35 (winter, low latitude set 10).
    assert 0.35 < storm_factor(latitude, np.datetime64("1995-01-01") + np.timedelta64(day, "D"), rap) < 1.4


def test_growth_from_200_to_300_is_continuous() -> None:
    rap = np.array([200.0, 200.001, 250.0, 299.999, 300.0, 300.001])
    factor = storm_factor(50.0, JUNE, rap)
    np.testing.assert_allclose(factor[1], 1.0, atol=1e-6)
    np.testing.assert_allclose(factor[3], factor[4], atol=1e-6)
    np.testing.assert_allclose(factor[4], factor[5], atol=1e-6)
    np.testing.assert_allclose(factor[2], (1.0 + factor[4]) / 2, atol=1e-6)


def test_shapes_and_edges() -> None:
    times = JUNE + np.arange(24) * np.timedelta64(1, "h")
    latitudes = np.array([-90.0, -0.0, 0.0, 50.0, 90.0])[:, None]
    factor = storm_factor(latitudes, times, np.full(24, 1500.0))
    assert factor.shape == (5, 24)
    assert np.isfinite(factor).all()
    assert storm_factor(50.0, JUNE, 1500.0).shape == ()
    assert np.isnan(storm_factor(np.nan, JUNE, 1500.0))
    assert np.isnan(storm_factor(50.0, JUNE, np.nan))
    assert weighted_ap(np.full((5, 24, 13), 15.0), np.broadcast_to(times, (5, 24))).shape == (5, 24)


def test_table_is_whole() -> None:
    assert COEFFICIENTS.shape == (20, 4)
    assert set(SET_OF.ravel()) == set(range(1, 21))


@pytest.mark.parametrize(
    ("kp", "ap"),
    # Bartels's table: 0o 0, 1o 4, 2o 7, 3o 15, 4o 27, 5o 48, 6o 80, 7o 132, 8o 207, 9o 400; thirds as
    # reported
    [
        (0, 0),
        (1, 4),
        (2, 7),
        (3, 15),
        (4, 27),
        (5, 48),
        (6, 80),
        (7, 132),
        (8, 207),
        (9, 400),
        (2.67, 12),
        (5.33, 56),
    ],
)
def test_kp_and_ap(kp: float, ap: float) -> None:
    assert ap_from_kp(kp) == ap
    np.testing.assert_allclose(kp_from_ap(ap), kp, atol=0.005)


@given(st.floats(0, 9))
def test_ap_rises_with_kp_and_back(kp: float) -> None:
    ap = ap_from_kp(kp)
    assert 0 <= ap <= 400
    np.testing.assert_allclose(kp_from_ap(ap), kp, atol=0.02)  # thirds within 0.02 are taken as the third


def test_kp_out_of_range_is_clipped_and_nan_stays() -> None:
    assert ap_from_kp(12.0) == 400
    assert ap_from_kp(-1.0) == 0
    assert np.isnan(ap_from_kp(np.nan))
    assert len(AP_OF_KP_THIRDS) == 28


def test_three_hour_intervals() -> None:
    times = np.array(["2024-05-11T02:59:59", "2024-05-11T03:00", "1969-12-31T23:30"], dtype="datetime64[s]")
    starts = np.array(["2024-05-11T00", "2024-05-11T03", "1969-12-31T21"], dtype="datetime64[s]")
    assert (interval_start(times) == starts).all()
