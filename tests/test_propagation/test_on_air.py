"""Who is on the air: weights by hour and weekend, and how numbers of amateurs become numbers of stations."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.advice import activity
from propagation.base.errors import InputError
from propagation.geo.locator import Position
from propagation.geo.places import resolve
from propagation.geo.regions import make_target, point
from propagation.spectrum.bands import BANDS

MONDAY = np.datetime64("2026-03-16T00:00", "s")
HOUR = np.timedelta64(3600, "s")
QUARTERS = MONDAY + np.arange(7 * 96) * np.timedelta64(900, "s")


@given(st.floats(-180.0, 180.0), st.floats(0.0, 3.5))
def test_a_week_comes_to_its_mean_at_every_place(lon_deg: float, weekend: float) -> None:
    # sums of a linear interpolation at 96 points a day: exact but for the turn of the day within a quarter
    mean = float(np.mean(activity.awake(lon_deg, QUARTERS, weekend)))
    assert mean == pytest.approx(1.0, abs=0.01)


def test_people_sleep_at_their_own_place() -> None:
    noon_utc = MONDAY + 12 * HOUR
    # the small hours in New Zealand (175 E: 23:40 solar), morning in Ohio (83 W: 06:28), noon in Kent
    new_zealand, ohio, kent = activity.awake(np.array([175.0, -83.0, 0.0]), noon_utc)
    assert new_zealand < kent
    assert ohio < kent
    by_hour = activity.awake(0.0, MONDAY + np.arange(24) * HOUR)
    assert int(np.argmin(by_hour)) in (3, 4)  # before dawn
    assert int(np.argmax(by_hour)) in (18, 19, 20)  # after supper
    assert by_hour.max() / by_hour.min() > 8.0  # nearly all of them asleep


def test_a_weekend_day_counts_more_and_begins_at_the_places_own_midnight() -> None:
    friday, saturday = MONDAY + 4 * 24 * HOUR + 12 * HOUR, MONDAY + 5 * 24 * HOUR + 12 * HOUR
    assert activity.awake(0.0, saturday) > 1.3 * activity.awake(0.0, friday)
    # 20:00 UTC on Friday is Saturday morning at 170 E (07:20) and still Friday at 0
    evening = MONDAY + 4 * 24 * HOUR + 20 * HOUR
    at_170_east, a_day_before = activity.awake(170.0, np.array([evening, evening - 24 * HOUR]))
    assert at_170_east > 1.3 * a_day_before


def test_amateurs_become_stations_by_the_stated_shares() -> None:
    habits = activity.Habits(active=0.5, hours_a_week=16.8, weekend=1.0, by_hour={})
    target = make_target("two", "region", [50.0, 50.0], [0.0, 0.0], [3.0, 1.0], ["a", "b"], amateurs=1000.0)
    found = activity.listening(target, np.array([MONDAY]), ["20m", "160m"], "SSB", habits)
    # 1000 amateurs, half of them active, a tenth of the time; 28 % on 20 m, 39 % of them by voice
    mean = 1000.0 * 0.5 * 0.1 * 0.28 * 0.39 * np.array([0.75, 0.25])
    np.testing.assert_allclose(found[:, 0, 0], mean * activity.awake(0.0, MONDAY, 1.0), rtol=1e-12)
    np.testing.assert_allclose(found[:, 0, 1] / found[:, 0, 0], 0.03 / 0.28, rtol=1e-12)


def test_a_band_without_people_is_refused() -> None:
    with pytest.raises(ValueError, match="7m: give how many are on the air"):
        replace(BANDS[0], name="7m", on_air=0.0)
    only_20m = activity.Habits(by_band={"20m": 1.0})
    with pytest.raises(InputError, match="no share of the people for 40m"):
        activity.listening(point("there", Position(50.0, 0.0)), np.array([MONDAY]), ["40m"], "SSB", only_20m)


def test_shares_of_bands_and_modes_make_one() -> None:
    assert sum(activity.BY_BAND.values()) == pytest.approx(1.0)
    assert sum(activity.BY_MODE.values()) == pytest.approx(1.0)


def test_targets_know_their_amateurs() -> None:
    here = Position(47.0, 9.0)
    assert point("here", here).amateurs == 1.0
    europe, germany = resolve("Europe"), resolve("Germany")
    assert europe.amateurs > germany.amateurs > 10_000.0
    near = resolve("within 500 km", here)
    assert germany.amateurs * 0.1 < near.amateurs < europe.amateurs


@pytest.mark.parametrize("wrong", [{"weekend": 4.0}, {"active": 1.2}, {"answering": -1.0}])
def test_impossible_habits_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError):
        activity.Habits(**wrong)  # type: ignore[arg-type]
