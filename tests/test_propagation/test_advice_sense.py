"""The demo scenario from end to end in six seasons and solar levels: does the advice agree with the trade?

Common practice, no source: 40 m is local by day, at the minimum of the cycle not in winter, and far by night;
10 m opens only by day and at high sun; 20 m goes far while dawn or dusk passes along the path; the skip zone
on 20 m hides neighbours at 300 km.
"""

from __future__ import annotations

import numpy as np
import pytest
from worlds import forecast_of

from propagation.advice.cause_weights import reasons
from propagation.advice.why import near_and_far, zones
from propagation.advice.windows import Windows, find_windows
from propagation.base.units import FloatArray
from propagation.geo import sun
from propagation.signal.chances.forecast import Forecast
from propagation.space_weather.state import conditions
from propagation.station import station
from propagation.station.terminals import Terminals

SEASONS = [
    ("2026-03-20", 20.0), ("2026-03-20", 150.0), ("2026-06-21", 20.0), ("2026-06-21", 150.0),
    ("2026-12-21", 20.0), ("2026-12-21", 150.0),
]  # fmt: skip
NEIGHBOUR, MIDDLE, FAR = "KG43", "KI88", "GF25"  # 310 km, 3190 km, 7760 km from the demo's ridge
DAY, NIGHT = (8, 12), (19, 23)  # UTC; noon on the ridge is 10:00 UTC, midnight 22:00
EARLY_NIGHT = (17, 20)  # UTC; the sun sets at 15:10 in June, at 17:00 in December


@pytest.fixture(scope="module")
def days(own: station.Station, terminals: Terminals) -> dict[tuple[str, float, str], Forecast]:
    """The forecasts of all seasons towards three targets, every half hour."""
    found = {}
    for date, ssn in SEASONS:
        state, start = conditions.typed_in(ssn=ssn, kp=2), np.datetime64(date, "s")
        for text in (NEIGHBOUR, MIDDLE, FAR):
            found[date, ssn, text] = forecast_of(own, terminals, text, state, start, step_min=30)
    return found


def chance(result: Forecast, band: str, hours: tuple[int, int]) -> FloatArray:
    hour = (result.times - result.times[0]) / np.timedelta64(3600, "s")
    inside = (hour >= hours[0]) & (hour <= hours[1])
    return np.asarray(result.region_chance[inside, result.band_index(band)])


def muf_mhz(result: Forecast, hours: tuple[int, int]) -> FloatArray:
    """Basic MUF [MHz] of the short route to the target's only point."""
    hour = (result.times - result.times[0]) / np.timedelta64(3600, "s")
    return np.asarray(result.muf_mhz[0, 0, (hour >= hours[0]) & (hour <= hours[1])])


Days = dict[tuple[str, float, str], Forecast]


@pytest.mark.parametrize(("date", "ssn"), SEASONS)
def test_40_m_is_local_by_day_and_far_by_night(days: Days, date: str, ssn: float) -> None:
    """In June with 20 spots the layer carries 6 MHz to the neighbour at most: then the local band is 60 m.

    By night it then carries 7.0 to 7.3 MHz to 3190 km, the band itself, and 40 m is far in the evening.
    """
    near, far = days[date, ssn, NEIGHBOUR], days[date, ssn, MIDDLE]
    carried = muf_mhz(near, DAY)
    local = "40m" if np.mean(carried) > 7.0 else "60m"
    assert (local == "60m") == ((date, ssn) == ("2026-06-21", 20.0))
    assert np.mean(chance(near, local, DAY)) > 0.5
    if local == "60m":
        assert np.max(carried) < 6.3
        assert np.max(chance(near, "40m", DAY)) < 0.5
    assert np.max(chance(far, "40m", DAY)) < 0.1
    night = NIGHT if np.min(muf_mhz(far, NIGHT)) > 7.5 else EARLY_NIGHT
    assert (night == EARLY_NIGHT) == (local == "60m")
    assert np.mean(chance(far, "40m", night)) > 0.15
    assert np.mean(chance(far, "40m", night)) > 5.0 * np.mean(chance(far, "40m", DAY))


@pytest.mark.parametrize(("date", "ssn"), SEASONS)
def test_10_m_opens_by_day(days: Days, date: str, ssn: float) -> None:
    for target in (MIDDLE, FAR):
        result = days[date, ssn, target]
        assert np.max(chance(result, "10m", (0, 3))) < 0.35
        whole = result.region_chance[:, result.band_index("10m")]
        if whole.max() > 0.1:
            hour = float((result.times[int(np.argmax(whole))] - result.times[0]) / np.timedelta64(3600, "s"))
            assert 6.0 <= hour <= 20.0


@pytest.mark.parametrize("date", ["2026-03-20", "2026-06-21", "2026-12-21"])
def test_10_m_wants_a_high_sun(days: Days, date: str) -> None:
    quiet, active = (np.mean(chance(days[date, ssn, FAR], "10m", (8, 18))) for ssn in (20.0, 150.0))
    assert quiet < 0.1
    assert active > 3.0 * quiet


@pytest.mark.parametrize(("date", "ssn"), SEASONS)
def test_20_m_goes_far_at_dawn_and_dusk_rather_than_at_noon(days: Days, date: str, ssn: float) -> None:
    """Between South Africa and Uruguay: while the sun is up at one end alone, against an hour within the time
    when it is up at both."""
    result = days[date, ssn, FAR]
    ends = ((-29.27, 29.46), (-34.5, -55.0))
    lit = np.array([sun.zenith_deg(lat, lon, result.times) < 90.8 for lat, lon in ends])  # 0.8: refraction
    both = lit[0] & lit[1]
    well = both & np.roll(both, 2) & np.roll(both, -2)  # two steps of half an hour
    assert np.count_nonzero(well) >= 4
    whole = result.region_chance[:, result.band_index("20m")]
    ends_of_day, noon = np.max(whole[lit[0] != lit[1]]), np.max(whole[well])
    assert ends_of_day >= noon
    if ends_of_day > 0.1:
        assert ends_of_day > 3.0 * noon


@pytest.mark.parametrize(("date", "ssn"), SEASONS)
def test_the_skip_zone_on_20_m_hides_the_neighbour(
    days: Days, terminals: Terminals, date: str, ssn: float
) -> None:
    near, far = days[date, ssn, NEIGHBOUR], days[date, ssn, MIDDLE]
    hidden = np.mean(chance(near, "20m", (5, 19)))
    assert hidden < np.mean(chance(far, "20m", (5, 19))) - 0.2
    if ssn < 50.0:
        assert np.max(chance(near, "20m", (0, 24))) < 0.2
    index, time = near.band_index("20m"), near.time_index(near.times[0] + np.timedelta64(6 * 3600, "s"))
    if near.region_chance[time, index] < 0.1:
        assert reasons(near, terminals, index, time).causes[0].cause == "skip zone"


@pytest.mark.parametrize(("date", "ssn"), SEASONS)
def test_far_ones_are_heard_over_the_neighbours_on_20_m(
    days: Days, terminals: Terminals, date: str, ssn: float
) -> None:
    result = days[date, ssn, MIDDLE]
    found = near_and_far(result, terminals, result.band_index("20m"), 10)  # 05 UTC, early morning
    _, gap, _ = zones(found.distance_km, found.chance, 0.2)
    assert gap is not None
    assert gap[1] > 300.0
    assert found.skip_km is not None
    assert found.skip_km > 300.0
    assert found.cause is None or found.cause.cause == "skip zone"


@pytest.mark.parametrize(("date", "ssn"), SEASONS)
def test_the_windows_of_the_demo_are_whole(days: Days, terminals: Terminals, date: str, ssn: float) -> None:
    """Every season gives a neighbour and a middle distance to advise on, with a reason at each edge."""
    for target in (NEIGHBOUR, MIDDLE):
        result = days[date, ssn, target]
        found: Windows = find_windows(result, terminals)
        assert found.windows
        assert found.windows[0].chance > 0.5
        for window in found.windows:
            assert (window.began is None) == (not window.opens)
            assert (window.ended is None) == (not window.closes)
            assert window.chance <= result.region_chance[:, result.band_index(window.band)].max() + 0.03
        assert "160m" in {row.band for row in found.left_out}  # the short vertical does not tune there


def test_sunset_lengthens_the_low_bands_and_shortens_the_high_ones(days: Days, terminals: Terminals) -> None:
    """The reasons name it so: what closes 15 m or 10 m at night is the MUF, what opens 40 m is absorption."""
    result = days["2026-03-20", 150.0, MIDDLE]
    found = find_windows(result, terminals).windows
    closes = [w.ended.cause for w in found if w.ended is not None and w.band in ("10m", "12m")]
    opens = [w.began.cause for w in found if w.began is not None and w.band in ("40m", "60m")]
    assert closes
    assert set(closes) == {"above the MUF"}
    assert "absorption" in opens
