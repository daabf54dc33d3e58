"""On which band people are at which hour: the table from reports, and what it may not claim."""

from __future__ import annotations

import numpy as np
import pytest
import reception
from hypothesis import given
from hypothesis import strategies as st

from propagation.advice import activity
from propagation.base.errors import InputError
from propagation.base.units import FloatArray
from propagation.data.builders import activity as builder
from propagation.geo import sun
from propagation.geo.locator import Position
from propagation.geo.regions import point
from propagation.spectrum.bands import BAND_NAMES

BANDS = ("20m", "40m", "80m")
EDGES = ((0, 500), (500, 1000))
SPRING = np.datetime64("2026-03-20T12:00", "s")


@pytest.fixture(scope="module")
def world() -> builder.ReportDay:
    return builder.load()


def made_up(reports: FloatArray | float, chance: FloatArray | float) -> builder.ReportDay:
    shape = (len(BANDS), len(EDGES), 24)
    return builder.ReportDay(BANDS, EDGES, np.broadcast_to(reports, shape), np.broadcast_to(chance, shape))


# --- how the table is made -------------------------------------------------------------------------------


def test_the_table_is_what_its_builder_makes(world: builder.ReportDay) -> None:
    """Made again with python -m propagation.data.builders.activity when levels or shares have moved."""
    assert builder.table_text(builder.split(world), world.bands) == activity.TABLE.read_text(encoding="ascii")


def test_without_reports_common_practice_remains() -> None:
    found = builder.split(made_up(0.0, 1e-9))
    # half a report at a chance of 0.003 on every band: nothing distinguishes the bands but their usual shares
    usual = builder.usual_shares(BANDS)
    assert np.all(found.weight < 0.1)
    np.testing.assert_allclose(found.times_usual, 1.0, atol=0.1)
    np.testing.assert_allclose(usual @ found.times_usual, 1.0)


def test_a_closed_band_does_not_say_who_would_be_on_it() -> None:
    """Ten times the expected reports: believed on an open band, on a closed one less than a tenth of it."""
    usual = builder.usual_shares(BANDS)[:, None, None]
    ratio = {}
    for chance in (0.9, 0.003):
        chances = np.array([0.9, 0.9, chance])[:, None, None]
        reports = 1000.0 * usual * chances * np.array([1.0, 1.0, 10.0])[:, None, None]
        found = builder.split(made_up(reports, chances))
        ratio[chance] = found.times_usual[2] / found.times_usual[1]
        assert np.all((found.weight[2] > 0.9) if chance == 0.9 else (found.weight[2] < 0.1))
    assert np.all(ratio[0.9] > 5.0)
    assert np.all(ratio[0.003] < 10.0**0.1)  # of ln 10 less than a tenth


def test_a_known_split_is_found_again_where_bands_are_open_and_reports_many() -> None:
    usual = builder.usual_shares(BANDS)[:, None]
    true = usual * np.stack([1.0 + 0.5 * np.cos(np.arange(24) * np.pi / 12.0), np.ones(24), np.ones(24)])
    awake = np.linspace(0.2, 2.0, 24)  # common to all bands: it must not enter
    stations = np.array([1e4, 1e5])[:, None]
    found = builder.split(made_up(0.97 * true[:, None] * awake * stations, 0.97))
    np.testing.assert_allclose(found.times_usual, true / np.sum(true, axis=0) / usual, rtol=0.05)


def test_a_tighter_prior_stays_nearer_to_common_practice(world: builder.ReportDay) -> None:
    tight, loose = (np.abs(np.log(builder.split(world, None, d).times_usual)) for d in (0.1, 1.0))
    assert np.mean(tight) < 0.5 * np.mean(loose)


# --- what the table says ---------------------------------------------------------------------------------


def test_the_bands_of_the_reports_keep_their_usual_share_together(world: builder.ReportDay) -> None:
    table = activity.by_band_and_hour()
    assert set(table) == set(builder.MHZ) < set(BAND_NAMES)
    usual = np.array([activity.BY_BAND[band] for band in table])
    each = np.array(list(table.values()))
    np.testing.assert_allclose(usual @ each, np.sum(usual), rtol=1e-3)  # three decimals in the file
    assert each.shape == (len(table), 24)
    assert np.all(
        (each > 1.0 / 20.0) & (each < 3.0)
    )  # the order of magnitude of common practice, never nobody


def test_people_leave_the_low_bands_at_noon_and_20_m_at_night() -> None:
    table = {band: np.array(values) for band, values in activity.by_band_and_hour().items()}
    noon, night = slice(10, 15), [22, 23, 0, 1]
    for band in ("80m", "160m"):
        assert np.mean(table[band][night]) > 4.0 * np.mean(table[band][noon])
    assert np.mean(table["20m"][noon]) > 1.5 * np.mean(table["20m"][night])


def test_reports_kept_apart_are_foretold_better_up_to_4000_km(world: builder.ReportDay) -> None:
    for fitted, kept in ((0, 1), (1, 0)):
        table = builder.split(world, world.near[fitted::2]).times_usual
        usual = reception.split_deviance(world, None, world.near[kept::2])
        assert reception.split_deviance(world, table, world.near[kept::2]) < 0.7 * usual
        # and the band that comes first is heard as often, or more often
        score, common = (reception.expected(world, t)[:, world.near[kept::2]] for t in (table, None))
        reports = world.reports[:, world.near[kept::2]]
        assert reception.first_choice(score, reports) > reception.first_choice(common, reports)
    # beyond, it has learnt nothing, and may cost little
    far = [i for i in range(len(world.edges_km)) if i not in world.near]
    beyond = reception.split_deviance(world, builder.split(world).times_usual, far)
    assert beyond < 1.2 * reception.split_deviance(world, None, far)


# --- how it is read --------------------------------------------------------------------------------------


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0), st.integers(0, 365 * 24))
def test_everybody_is_on_some_band(lat_deg: float, lon_deg: float, hours: int) -> None:
    at = SPRING + hours * np.timedelta64(3600, "s")
    found = activity.shares(lat_deg, lon_deg, at, BAND_NAMES)
    assert found.shape == (len(BAND_NAMES),)
    assert np.all(found > 0.0)
    assert np.sum(found) == pytest.approx(1.0, abs=1e-3)


def test_shares_follow_the_sun_of_the_place() -> None:
    quarters = np.datetime64("2026-12-21T00:00", "s") + np.arange(96) * np.timedelta64(900, "s")
    lat = np.array([50.0, -50.0])[:, None]
    hour = activity.table_hour(lat, 0.0, quarters)
    solar = sun.local_solar_hour(0.0, quarters)
    # in the middle of a winter day an hour is a larger part of it; at night the other way round
    assert np.all(np.diff(np.unwrap(hour, period=24.0)) > 0.0)
    sunset = np.argmin(np.abs(sun.zenith_deg(lat, 0.0, quarters) - 90.0) + 100.0 * (solar < 12.0), axis=-1)
    at_sunset = np.take_along_axis(hour, sunset[:, None], axis=-1)[:, 0]
    np.testing.assert_allclose(at_sunset, 19.7, atol=0.4)  # sunset of the table's day; steps of a quarter
    assert np.all(
        np.abs(solar[sunset] - [16.0, 20.0]) < 0.5
    )  # of that day: 16 h in the north, 20 h in the south


def test_the_tables_own_day_is_read_as_written() -> None:
    times = activity.TABLE_DAY + np.arange(24) * np.timedelta64(3600, "s")
    place = (activity.TABLE_LATITUDE_DEG, 0.0)
    np.testing.assert_allclose(
        activity.table_hour(*place, times), sun.local_solar_hour(0.0, times), atol=0.02
    )  # hours: the declination moves during the day
    written = activity.by_band_and_hour()["80m"]
    hour = sun.local_solar_hour(0.0, activity.TABLE_DAY)
    # from noon by the clock to half past twelve by the sun, the middle of hour 12
    middle = activity.TABLE_DAY + np.timedelta64(round(3600.0 * (12.5 - float(hour))), "s")
    found = activity.shares(*place, middle, ["80m"])[0]
    assert found == pytest.approx(activity.BY_BAND["80m"] * written[12], rel=1e-3)


@pytest.mark.parametrize("lat_deg", [-90.0, -70.0, 70.0, 90.0])
def test_polar_days_and_nights_have_shares(lat_deg: float) -> None:
    hour = activity.table_hour(lat_deg, 0.0, SPRING + np.arange(0, 365 * 24, 5) * np.timedelta64(3600, "s"))
    assert np.all((hour >= 0.0) & (hour <= 24.0))


def test_a_band_or_a_mode_without_a_figure_is_refused() -> None:
    with pytest.raises(InputError, match="no share of the people for 11m: add it to by_band"):
        activity.shares(0.0, 0.0, SPRING, ["20m", "11m"])
    only_cw = activity.Habits(by_mode={"CW": 1.0})
    with pytest.raises(InputError, match="no share of the people for SSB: add it to by_mode"):
        activity.listening(point("there", Position(50.0, 0.0)), np.array([SPRING]), ["20m"], "SSB", only_cw)
    # a band that no report speaks of keeps its usual share all day
    assert activity.shares(0.0, 0.0, SPRING, ["30m"])[0] == activity.BY_BAND["30m"]
