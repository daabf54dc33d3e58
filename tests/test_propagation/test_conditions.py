"""The built-in record, the index behind the maps, and conditions typed in."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from propagation.base.errors import InputError
from propagation.base.text import age_words
from propagation.base.time_series import EMPTY, TimeSeries, as_times, shifted
from propagation.geo.sun import distance_au
from propagation.space_weather.indices.smoothed_index import (
    FADE_DAYS,
    FLUX_HOUR,
    effective_index,
    history_days,
    without_bursts,
)
from propagation.space_weather.indices.solar_history import solar_history
from propagation.space_weather.indices.solar_index import (
    LOWEST_INDEX,
    flux_from_index,
    following,
    index_from_flux,
    index_from_ssn,
)
from propagation.space_weather.state.conditions import QUIET_KP, built_in, typed_in


def t(text: str) -> np.datetime64:
    return np.datetime64(text, "s")


def test_record_of_known_days() -> None:
    # Kp was 9o on 11 May 2024 at 00-03 and 09-12 UT; the daily Ap was 271 on that day, 204 on 29 October and
    # 191 on 30 October 2003 (GFZ Potsdam, from memory). The flux in the quiet autumn of 2019 was near 70 sfu.
    now = built_in()
    np.testing.assert_array_equal(now.kp_at(as_times(["2024-05-11T01:00", "2024-05-11T10:00"])), [9.0, 9.0])
    for day, daily_ap in (("2024-05-11", 271), ("2003-10-29", 204), ("2003-10-30", 191)):
        ap = now.ap_history(t(f"{day}T22:00"))[5:]
        np.testing.assert_allclose(ap.mean(), daily_ap, atol=0.51)  # Ap is rounded to whole numbers
    assert 65 < now.flux_at(t("2019-10-15T20:00")) < 72
    assert now.kp_known(t("2024-05-10T16:00"))
    assert not now.kp_known(t("1980-01-01"))
    assert now.kp_at(t("1980-01-01")) == QUIET_KP


def test_smoothed_sunspot_number_of_known_months() -> None:
    # SILSO, 13-month smoothed, version 2 (from memory, whole numbers): maxima 180.3 in November 2001, 116.4
    # in April 2014, 232.9 in December 1979; minima 2.2 in December 2008, 1.8 in December 2019.
    history = solar_history()
    for month, value in (
        ("2001-11", 180.3),
        ("2014-04", 116.4),
        ("1979-12", 232.9),
        ("2008-12", 2.2),
        ("2019-12", 1.8),
    ):
        np.testing.assert_allclose(history.ssn_at(as_times([f"{month}-16"])), value, atol=1.5)


def test_smoothing_by_hand() -> None:
    history = solar_history()
    middle = int(np.flatnonzero(history.month_middles.astype("datetime64[M]") == np.datetime64("2018-06"))[0])
    daily = history.daily_flux_sfu
    months = history.days.astype("datetime64[M]")
    first = np.datetime64("2017-12")
    means = [daily[months == first + np.timedelta64(step, "M")].mean() for step in range(13)]
    by_hand = (0.5 * means[0] + sum(means[1:12]) + 0.5 * means[12]) / 12
    np.testing.assert_allclose(history.smoothed_flux_sfu[middle], by_hand, atol=0.06)  # kept in tenths


def test_radio_bursts_do_not_move_the_index() -> None:
    # 7 March 2011: the measurement fell into a burst, 939 sfu between 143 and 167.
    flux = built_in().flux_at(as_times(["2011-03-06T20:00", "2011-03-07T20:00", "2011-03-08T20:00"]))
    assert flux[1] < 170
    days = np.array([142.5, 938.6, 166.7, 143.1, 150.0, np.nan, 155.0, 153.0])
    cleaned = without_bursts(days)
    assert cleaned[1] < 170
    np.testing.assert_array_equal(np.delete(cleaned, 1), np.delete(days, 1))


def test_index_by_hand() -> None:
    # The month's index, and on it what three days up to the day and 81 days around it depart, at 1 AU.
    history = solar_history()
    day = np.datetime64("2012-05-20")
    at = int((day - history.days[0]).astype(int))
    noon = t("2012-05-20T20:00")
    flux = without_bursts(history.daily_flux_sfu) * distance_au(shifted(history.days, FLUX_HOUR)) ** 2
    proxy = (flux[at - 2 : at + 1].mean() + flux[at - 40 : at + 41].mean()) / 2
    above = index_from_flux(proxy) - index_from_flux(history.flux_at(noon))
    by_hand = history.index_at(noon) + following() * above
    np.testing.assert_allclose(built_in().index_at(noon), by_hand, atol=1e-6)


def test_the_index_by_sunspots_is_the_one_that_goes_with_the_published_number() -> None:
    times = as_times(["1965-03-01", "2003-07-15", "2033-01-01"])
    by_spots = built_in(times, basis="sunspots")
    expected = index_from_ssn(solar_history().ssn_at(times))
    np.testing.assert_allclose(by_spots.index_at(times), expected, atol=0.2)  # a daily table read in between
    np.testing.assert_allclose(by_spots.ssn_at(times), solar_history().ssn_at(times), atol=0.2)


def test_without_daily_flux_the_index_is_the_months() -> None:
    times = as_times(["1965-03-01", "1983-08-10", "2033-01-01"])
    np.testing.assert_allclose(built_in(times).index_at(times), solar_history().index_at(times), atol=0.05)


def test_the_minimum_of_2019_lies_below_nought() -> None:
    """IG12 of that year was -10 to -13; the daily flux hardly moved it, and the seasons leave no trace.

    As observed the flux of January is 6.8 % above that of July, by the distance of the sun alone: taken as it
    is, that would move the index by 8 units.
    """
    days = np.datetime64("2019-01-01", "s") + np.arange(365) * np.timedelta64(86_400, "s")
    index = built_in().index_at(days)
    assert index.min() >= LOWEST_INDEX
    assert index.max() < -6.0
    summer, winter = index[150:240].mean(), np.delete(index, np.arange(60, 310)).mean()
    np.testing.assert_allclose(summer, winter, atol=2.5)


def test_no_step_from_day_to_day() -> None:
    """Nowhere from 1957 to 2042 more than the daily flux can bring; none where record and forecast meet."""
    days = np.datetime64("1957-01-01", "s") + np.arange(31_400) * np.timedelta64(86_400, "s")
    index = built_in().index_at(days)
    assert np.isfinite(index).all()
    steps = np.abs(np.diff(index))
    assert steps.max() < 9.0  # 7 November 2003: from 186 to 97 sfu in three days
    unknown = (days[1:] < t("1994-09-01")) | (days[1:] > t("2026-09-15"))
    assert steps[unknown].max() < 0.5  # ten units a month, the steepest rise of any cycle, are 0.33 a day


def test_index_fades_into_the_monthly_index_after_the_last_known_day() -> None:
    history = solar_history()
    days = history_days(history)
    flux = np.full(len(days), np.nan)
    last = int(np.flatnonzero(days == np.datetime64("2012-05-20"))[0])
    flux[last - 100 : last + 1] = 300.0
    index, whole = effective_index(days, flux, history)
    monthly = history.index_at(shifted(days, np.timedelta64(20, "h")))
    departure = index - monthly
    assert departure[last] > 25
    assert (np.diff(departure[last : last + 28]) < 0).all()
    np.testing.assert_allclose(departure[last + int(FADE_DAYS) : last + 60], 0.0, atol=1e-9)
    assert np.abs(np.diff(index[last : last + 28])).max() < 12  # no step
    assert not np.isnan(whole).any()
    nothing, smooth = effective_index(days, np.full(len(days), np.nan), history)
    np.testing.assert_array_equal(nothing, monthly)
    assert len(smooth) == len(days)


def test_every_time_has_an_answer() -> None:
    now = built_in()
    times = as_times(["1900-01-01", "1957-01-01", "1995-01-01", "2026-08-20", "2041-10-20", "2100-01-01"])
    assert np.isfinite(now.index_at(times)).all()
    assert np.isfinite(now.flux_at(times)).all()
    assert (now.index_at(times) >= LOWEST_INDEX).all()
    grid = times.reshape(2, 3)
    assert now.index_at(grid).shape == (2, 3)
    assert now.ap_history(grid).shape == (2, 3, 13)
    assert now.ap_history(times[0]).shape == (13,)
    assert (now.xray_at(grid) == 0.0).all()
    assert (now.protons_at(grid) == 0.0).all()


def test_history_of_ap_ends_with_the_interval_of_the_time() -> None:
    ap = built_in().ap_history(t("2024-05-11T01:30"))
    np.testing.assert_allclose(ap[-3:], [300.0, 300.0, 400.0])  # 9-, 9-, 9o
    steady = typed_in(flux_sfu=100, kp=5).ap_history(t("2026-01-01"))
    np.testing.assert_array_equal(steady, np.full(13, 48.0))


def test_typed_in() -> None:
    by_flux = typed_in(flux_sfu=148.0, kp=3.0)
    np.testing.assert_allclose(flux_from_index(by_flux.index_at(t("2026-01-01"))), 148.0)
    by_number = typed_in(ssn=100.0)
    np.testing.assert_allclose(by_number.index_at(t("2030-01-01")), 80.77, atol=0.01)  # by the relation
    assert by_number.as_dict(t("2030-01-01"))["r12"] == 70.0
    np.testing.assert_allclose(by_number.ssn_at(t("2030-01-01")), 100.0)
    over = typed_in(kp=6.0, base=built_in(), proton_pfu=50.0, xray_w_m2=1e-5)
    assert over.kp_at(t("2020-01-01")) == 6.0
    assert over.protons_at(t("2020-01-01")) == 50.0
    assert over.xray_at(t("2020-01-01")) == 1e-5
    assert over.index_at(t("2020-01-01")) == built_in().index_at(t("2020-01-01"))
    assert over.source.startswith("typed in: K 6")
    assert "sunspot number 100" in by_number.index_words(t("2030-01-01"))


@pytest.mark.parametrize(
    "numbers",
    [
        {"ssn": 100.0, "flux_sfu": 150.0}, {}, {"kp": 3.0}, {"ssn": -1.0}, {"ssn": 500.0}, {"flux_sfu": 20.0},
        {"flux_sfu": float("nan")}, {"ssn": 50.0, "kp": 11.0}, {"ssn": 50.0, "proton_pfu": -2.0},
    ],
)  # fmt: skip
def test_typed_in_refuses(numbers: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        typed_in(**numbers)


def test_as_dict_is_fit_for_json() -> None:
    import json

    state = built_in().as_dict(t("2031-01-01"), t("2026-11-24"))
    assert json.loads(json.dumps(state, allow_nan=False)) == state
    assert state["xray_w_m2"] is None
    assert state["kp_known"] is False


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (10, "just now"), (1800, "30 minutes old"), (10800, "3 hours old"), (5 * 86400, "5 days old"),
        (400 * 86400, "13 months old"), (-7200, "from the future (check the clock)"),
    ],
)  # fmt: skip
def test_ages(seconds: int, words: str) -> None:
    assert age_words(np.timedelta64(seconds, "s")) == words


def test_sources_in_words() -> None:
    assert "daily record" in built_in(t("2020-01-01")).source
    assert "cycle forecast" in built_in(t("2031-01-01")).source
    assert "begins in April 1958" in built_in(t("1900-01-01")).source
    assert "ends in October 2041" in built_in(t("2100-01-01")).source
    assert built_in(t("2020-01-01")).age_text(t("2026-07-04T12:00")) == "4 days old"
    assert built_in().age_text(t("2020-01-01")) == "of the day itself"
    for early in ("1900-01-01", "1985-06-01"):
        assert built_in().age_text(t(early)) == "of no day of its own (daily values begin in 1995)"
    assert built_in().age_text(t("2026-07-02")) == "flux 28 hours old, K 27 hours old"


@pytest.mark.parametrize(
    ("time", "words"),
    [
        ("1900-01-01", "the first of the record, April 1958, held"),
        ("1980-01-01", "IG12 of ionosondes"),
        ("2020-01-01", "IG12 of ionosondes and the daily flux"),
        ("2026-01-01", "IG12 of ionosondes to March 2025, then the daily flux"),
        ("2031-01-01", "IG12 of ionosondes to March 2025, then the predicted flux"),
        ("2100-01-01", "the last of the prediction, October 2041, held"),
    ],
)
def test_where_the_index_comes_from(time: str, words: str) -> None:
    assert built_in().index_words(t(time)) == words


def test_records() -> None:
    record = TimeSeries.of([t("2020-01-02"), t("2020-01-01"), t("2020-01-02")], [1.0, 2.0, 3.0])
    np.testing.assert_array_equal(record.values, [2.0, 3.0])  # of equal times the last counts
    over = TimeSeries.of([t("2020-01-01")], [9.0]).over(record)
    np.testing.assert_array_equal(over.values, [9.0, 3.0])
    day = np.timedelta64(86400, "s")
    held = record.held_at(as_times(["2019-12-31", "2020-01-01T12:00", "2020-01-02", "2020-01-03"]), day)
    np.testing.assert_array_equal(held, [np.nan, 2.0, 3.0, np.nan])
    assert np.isnan(EMPTY.linear_at(t("2020-01-01")))
    assert np.isnan(EMPTY.held_at(t("2020-01-01"), day))
    assert len(TimeSeries.of([np.datetime64("NaT", "s"), t("2020-01-01")], [1.0, np.nan])) == 0
