"""The Sun against pvlib's SPA, almanac times, and at the places where it does not rise or set."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from oracles.solar_position import place_deg
from pvlib import spa

from propagation.base.search import crossings
from propagation.base.units import FloatArray, TimeArray
from propagation.geo.locator import Position
from propagation.geo.sun import (
    declination_deg,
    distance_au,
    equation_of_time_minutes,
    hours_since_sunset,
    local_solar_hour,
    sun_events,
    zenith_deg,
)

JUNE = np.datetime64("2025-06-21T12:00", "s")
DECEMBER = np.datetime64("2025-12-21T12:00", "s")


def random_times(count: int) -> TimeArray:
    """Times spread over 2000 to 2050."""
    rng = np.random.default_rng(7)
    seconds = rng.integers(0, int(51 * 365.25 * 86400), count)
    return np.datetime64("2000-01-01", "s") + seconds.astype("timedelta64[s]")


def spa_zenith_deg(lat_deg: float, lon_deg: float, times: TimeArray) -> FloatArray:
    """Topocentric zenith without refraction by the NREL Solar Position Algorithm (Reda & Andreas 2004)."""
    unix = times.astype("datetime64[s]").astype(np.float64)
    result = spa.solar_position_numpy(
        unix, lat_deg, lon_deg, 0.0, 1013.25, 12.0, 69.2, 0.5667, 1, sst=False, esd=False
    )
    return np.asarray(result[1], dtype=np.float64)


def test_the_suns_place_without_the_observer() -> None:
    """0.004 degrees of declination and 0.011 of hour angle over 2000 to 2050: the limits of the theory.

    On the mean 0.003 degrees of hour angle, under a second of time, and none of declination.
    """
    times = random_times(4000)
    declination, hour_angle = place_deg(times)
    own_hour_angle = 15.0 * (local_solar_hour(0.0, times) - 12.0)
    off = declination_deg(times) - declination
    ahead = (own_hour_angle - hour_angle + 180.0) % 360.0 - 180.0
    assert np.max(np.abs(off)) < 0.004
    assert np.max(np.abs(ahead)) < 0.011
    assert abs(np.mean(off)) < 0.0003
    assert abs(np.mean(ahead)) < 0.003


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg"),
    [(0.0, 0.0), (51.5, 0.0), (-29.5, 29.5), (-60.0, 179.9), (78.0, -120.0), (89.9, 15.0)],
)
def test_zenith_against_spa(lat_deg: float, lon_deg: float) -> None:
    """0.02 degrees, five seconds of the Earth's turn; SPA itself is good to 0.0003 degrees."""
    times = random_times(3000)
    np.testing.assert_allclose(
        zenith_deg(lat_deg, lon_deg, times), spa_zenith_deg(lat_deg, lon_deg, times), rtol=0.0, atol=0.02
    )


def test_declination_of_a_textbook_example() -> None:
    """1992 October 13, 0 h dynamical time (Meeus, Astronomical Algorithms, example 25.a; from memory)."""
    time = np.datetime64("1992-10-12T23:58:51", "s")
    np.testing.assert_allclose(declination_deg(time), -7.785, atol=0.002)


def test_solstices_and_equinox() -> None:
    """Solstices and equinox of 2025: June 21 02:42, December 21 15:03, March 20 09:01 UT (from memory)."""
    obliquity = 23.436  # deg, of 2025
    np.testing.assert_allclose(declination_deg(np.datetime64("2025-06-21T02:42")), obliquity, atol=0.005)
    np.testing.assert_allclose(declination_deg(np.datetime64("2025-12-21T15:03")), -obliquity, atol=0.005)
    np.testing.assert_allclose(declination_deg(np.datetime64("2025-03-20T09:01")), 0.0, atol=0.01)


def test_distance_against_spa() -> None:
    """pvlib's solar position algorithm, a day in ten from 1960 to 2040: 1e-4 of the distance."""
    days = np.datetime64("1960-01-01", "s") + np.arange(0, 29_000, 10) * np.timedelta64(86_400, "s")
    theirs = spa.earthsun_distance(days.astype(np.int64).astype(np.float64), 67.0, 1)
    np.testing.assert_allclose(distance_au(days), theirs, atol=1.2e-4)


def test_equation_of_time() -> None:
    """Extremes of any almanac: -14.2 min about February 11, +16.4 about November 3; near zero April 15."""
    days = np.datetime64("2025-01-01T12:00", "s") + np.arange(365) * np.timedelta64(1, "D")
    minutes = equation_of_time_minutes(days)
    np.testing.assert_allclose(minutes.min(), -14.2, atol=0.1)
    np.testing.assert_allclose(minutes.max(), 16.4, atol=0.1)
    assert abs(int(minutes.argmin()) + 1 - 42) <= 2  # day of the year: 42 is February 11
    assert abs(int(minutes.argmax()) + 1 - 307) <= 2  # 307 is November 3
    assert abs(minutes[104]) < 0.3  # April 15


def test_local_solar_hour() -> None:
    assert abs(float(local_solar_hour(0.0, np.datetime64("2025-04-15T12:00"))) - 12.0) < 0.01
    noon = JUNE - np.timedelta64(round(60 * float(equation_of_time_minutes(JUNE))), "s")
    np.testing.assert_allclose(
        local_solar_hour(np.array([-90.0, 0.0, 90.0]), noon), [6.0, 12.0, 18.0], atol=0.001
    )
    at_date_line = local_solar_hour(np.array([-180.0, 180.0]), noon)
    np.testing.assert_allclose(np.minimum(at_date_line, 24.0 - at_date_line), 0.0, atol=0.001)


def test_shapes_and_units_of_time() -> None:
    day = JUNE.astype("datetime64[h]") + np.arange(24) * np.timedelta64(1, "h")
    lat = np.array([-90.0, 0.0, 90.0])[:, np.newaxis]
    whole = zenith_deg(lat, 0.0, day)
    assert whole.shape == (3, 24)
    assert np.ndim(zenith_deg(0.0, 0.0, JUNE)) == 0
    np.testing.assert_allclose(whole[1, 5], zenith_deg(0.0, 0.0, day[5]))
    for unit in ("m", "s", "ms", "us", "ns"):
        np.testing.assert_allclose(zenith_deg(lat, 0.0, day.astype(f"datetime64[{unit}]")), whole, atol=1e-9)
    np.testing.assert_allclose(
        zenith_deg(10.0, 0.0, np.datetime64("2025-06-21", "D")),
        zenith_deg(10.0, 0.0, day[0] - np.timedelta64(12, "h")),
    )
    assert np.isnan(zenith_deg(0.0, 0.0, np.datetime64("NaT", "s")))
    np.testing.assert_array_equal(
        np.isnan(zenith_deg(0.0, 0.0, np.array(["2025-01-01", "NaT"], dtype="datetime64[s]"))), [False, True]
    )
    assert np.isnan(zenith_deg(np.nan, 0.0, JUNE))


def test_poles_see_the_declination_all_day() -> None:
    day = JUNE + np.arange(24) * np.timedelta64(1, "h")
    np.testing.assert_allclose(zenith_deg(90.0, 40.0, day), 90.0 - declination_deg(day), atol=1e-6)
    np.testing.assert_allclose(zenith_deg(-90.0, 40.0, day), 90.0 + declination_deg(day), atol=1e-6)


def test_hours_since_sunset() -> None:
    events = crossings(lambda t: 90.0 - zenith_deg(45.0, 10.0, t), JUNE, JUNE + np.timedelta64(1, "D"))
    sunset = events.times[~events.rising][0]
    later = sunset + np.array([0, 1, 6]) * np.timedelta64(1, "h")
    found = hours_since_sunset(45.0, 10.0, later)
    np.testing.assert_allclose(np.minimum(found, 24.0 - found)[0], 0.0, atol=0.01)
    np.testing.assert_allclose(found[1:], [1.0, 6.0], atol=0.01)
    assert np.isnan(hours_since_sunset(np.array([80.0, -80.0, 90.0, -90.0]), 0.0, JUNE)).all()
    np.testing.assert_allclose(hours_since_sunset(0.0, 0.0, JUNE), 18.0, atol=0.05)


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "date", "sunrise", "sunset"),
    [
        # skyfield with ephemeris DE421; the US Naval Observatory's tables give the same for London
        (51.48, 0.0, "2025-06-21", "2025-06-21T03:43", "2025-06-21T20:21"),
        (51.48, 0.0, "2025-12-21", "2025-12-21T08:03", "2025-12-21T15:53"),
        # Newington, Connecticut; Singapore (skyfield, DE421): sunset before sunrise within the UTC date
        (41.7148, -72.7273, "2025-03-20", "2025-03-20T10:54", "2025-03-20T23:03"),
        (1.35, 103.82, "2025-09-23", "2025-09-22T22:54", None),
        (1.35, 103.82, "2025-09-22", None, "2025-09-22T11:01"),
    ],
)
def test_almanac_times(
    lat_deg: float, lon_deg: float, date: str, sunrise: str | None, sunset: str | None
) -> None:
    """Within a minute of the almanac, whose times are rounded to minutes."""
    events = sun_events(Position(lat_deg, lon_deg), dt.date.fromisoformat(date))
    for found, almanac in ((events.sunrise, sunrise), (events.sunset, sunset)):
        assert found is not None
        if almanac is not None:
            assert abs(found - np.datetime64(almanac, "s")) <= np.timedelta64(60, "s")


def test_events_belong_to_the_local_day() -> None:
    """They come in order around local noon, whatever UTC dates they fall on."""
    for lon in (-180.0, -179.9, -122.0, 0.0, 103.8, 151.0, 179.9, 180.0):
        events = sun_events(Position(35.0, lon), np.datetime64("2025-05-01"))
        assert [name for name, _ in events.in_order()] == ["dawn", "sunrise", "sunset", "dusk"]
        noon = np.datetime64("2025-05-01T12:00", "s") - np.timedelta64(round(lon * 240), "s")
        assert events.sunrise is not None
        assert events.sunset is not None
        assert events.sunrise < noon < events.sunset
        assert events.polar is None


@pytest.mark.parametrize(
    ("lat_deg", "date", "polar"),
    [
        (78.0, "2025-06-21", "day"),
        (78.0, "2025-12-21", "night"),
        (-78.0, "2025-06-21", "night"),
        (-78.0, "2025-12-21", "day"),
        (90.0, "2025-06-21", "day"),
        (90.0, "2025-12-21", "night"),
        (-90.0, "2025-12-21", "day"),
        (-90.0, "2025-06-21", "night"),
        (66.0, "2025-06-21", "day"),  # south of the circle, but refraction and the limb keep the Sun up
    ],
)
def test_polar_day_and_night(lat_deg: float, date: str, polar: str) -> None:
    events = sun_events(Position(lat_deg, 15.0), dt.date.fromisoformat(date))
    assert events.sunrise is None
    assert events.sunset is None
    assert events.polar == polar


def test_white_night_has_no_dusk() -> None:
    events = sun_events(Position(62.0, 25.0), dt.date(2025, 6, 21))
    assert events.sunrise is not None
    assert events.polar is None
    assert events.dawn is None
    assert events.dusk is None
    twilight_only = sun_events(Position(70.0, 25.0), dt.date(2025, 12, 21))  # noon 3.4 degrees below
    assert twilight_only.polar == "night"
    assert [name for name, _ in twilight_only.in_order()] == ["dawn", "dusk"]


@given(
    st.floats(-90.0, 90.0),
    st.floats(-180.0, 180.0),
    st.dates(min_value=dt.date(2000, 1, 1), max_value=dt.date(2050, 1, 1)),
)
@example(42.29844504373017, 68.7144533263602, dt.date(2032, 5, 20))  # sunrise at 0 h UTC
@example(54.96704905813169, 83.16274012852165, dt.date(2026, 10, 4))
@example(90.0, 180.0, dt.date(2025, 3, 20))
def test_events_agree_with_the_zenith_angle(lat: float, lon: float, date: dt.date) -> None:
    """The Sun stands where each event says it stands, and no event is missing.

    0.15 degrees: astral's refraction differs from the almanac's by up to 0.06 degrees and its place of the
    Sun by 0.02. Near a pole it works at 89.8 degrees, so there nothing is checked. Days on which the Sun only
    grazes the height may go either way: within 0.4 degrees, its own drift in a day.
    """
    events = sun_events(Position(lat, lon), date)
    noon = np.datetime64(date, "s") + np.timedelta64(round(43200 - 240 * lon), "s")
    noon -= np.timedelta64(round(60 * float(equation_of_time_minutes(noon))), "s")
    half_day = np.timedelta64(12, "h")
    at_noon, before, after = zenith_deg(lat, lon, noon + np.array([0, -1, 1]) * half_day)
    for event, midnight, height in (
        (events.dawn, before, 96.0),
        (events.sunrise, before, 90.833),
        (events.sunset, after, 90.833),
        (events.dusk, after, 96.0),
    ):
        if event is not None:
            assert abs(event - noon) <= half_day + np.timedelta64(20, "m")
            if abs(lat) < 89.5:
                np.testing.assert_allclose(zenith_deg(lat, lon, event), height, atol=0.15)
        elif abs(lat) < 89.5:
            assert not at_noon + 0.4 < height < midnight - 0.4
    assert (events.polar is None) == (events.sunrise is not None or events.sunset is not None)


@given(
    st.floats(-90.0, 90.0),
    st.floats(-180.0, 180.0),
    st.datetimes(min_value=dt.datetime(1900, 1, 1), max_value=dt.datetime(2100, 1, 1)),
)
def test_never_nan_on_the_globe(lat: float, lon: float, when: dt.datetime) -> None:
    time = np.datetime64(when, "us")
    assert 0.0 <= zenith_deg(lat, lon, time) <= 180.0
    assert 0.0 <= local_solar_hour(lon, time) < 24.0
    assert np.isfinite(zenith_deg(lat, lon, time))


@pytest.mark.parametrize(
    ("date", "polar"), [("2026-03-15", "night"), ("2026-03-22", "day"), ("2026-06-21", "day")]
)
def test_the_pole_has_day_from_the_upper_limb_on(date: str, polar: str) -> None:
    """Its noon zenith passes 90.8 degrees two days before the equinox (20 March 2026, 14:46 UTC)."""
    assert sun_events(Position(89.9, 0.0), dt.date.fromisoformat(date)).polar == polar
