"""Windows: the curve through the samples, the search against dense scans, and that no reason contradicts."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from worlds import forecast_of

from propagation.advice.nothing_now import narrower_forecast, nothing_between
from propagation.advice.ranking import told_chance
from propagation.advice.recompute import Cells, compute
from propagation.advice.region_chance import chance_curve, mean_over
from propagation.advice.windows import (
    ENOUGH,
    FLOOR,
    OF_PEAK,
    Windows,
    best_hope,
    find_windows,
    left_out,
    openings,
)
from propagation.base.units import FloatArray, TimeArray
from propagation.geo.places import resolve
from propagation.signal.chances.forecast import ROUTES, Forecast, day_times, forecast
from propagation.signal.chances.request import Request
from propagation.signal.losses.counterfactual import Counterfactual
from propagation.signal.rays.causes import LOSSES
from propagation.space_weather.state import conditions
from propagation.station import station
from propagation.station.terminals import Terminals
from propagation.wording.causes import clause
from propagation.wording.windows import (
    RULE,
    edge_words,
    left_out_words,
    no_window_sentence,
    nothing_sentence,
    reason,
    window_sentence,
)

DAY = np.datetime64("2026-03-20T00:00:00", "s")
MINUTE = np.timedelta64(60, "s")
HERE = """
name = "test hill"
[site]
locator = "KG40"
[rig]
power_w = 100
mode = "CW"
[antenna]
kind = "dipole"
height_m = 10
"""


def look(own: station.Station, terminals: Terminals, target: str, ssn: float = 120.0) -> Forecast:
    return forecast_of(own, terminals, target, conditions.typed_in(ssn=ssn, kp=2), DAY, step_min=15)


@pytest.fixture(scope="module")
def day(own: station.Station, terminals: Terminals) -> Forecast:
    return look(own, terminals, "GF25")


@pytest.fixture(scope="module")
def found(day: Forecast, terminals: Terminals) -> Windows:
    return find_windows(day, terminals)


# --- the curve and the rule ------------------------------------------------------------------------------


def hours(times: TimeArray) -> FloatArray:
    return np.asarray((times - DAY) / np.timedelta64(3600, "s"), dtype=float)


def bumps(times: TimeArray) -> FloatArray:
    """Two openings of 0.9 at 06:10 and 0.4 at 17:25, 0.02 between."""
    x = hours(times)
    return 0.02 + 0.88 * np.exp(-(((x - 6.1667) / 1.2) ** 2)) + 0.38 * np.exp(-(((x - 17.4167) / 1.5) ** 2))


def test_the_curve_goes_through_its_samples_and_stays_a_chance() -> None:
    times = DAY + np.arange(97) * 15 * MINUTE
    values = bumps(times)
    curve = chance_curve(times, values)
    np.testing.assert_allclose(curve(times), values, atol=1e-9)
    dense = DAY + np.arange(1441) * MINUTE
    np.testing.assert_allclose(curve(dense), bumps(dense), atol=0.004)  # 0.4 day in 100
    edges = chance_curve(times, (hours(times) > 12.0).astype(float))(dense)
    assert np.all((edges >= 0.0) & (edges <= 1.0))


def test_the_mean_over_a_span() -> None:
    times = DAY + np.arange(97) * 15 * MINUTE
    curve = chance_curve(times, bumps(times))
    dense = DAY + np.arange(120) * MINUTE + 300 * MINUTE
    np.testing.assert_allclose(mean_over(curve, dense[0], dense[-1]), np.mean(bumps(dense)), atol=0.003)


def test_each_peak_has_its_own_window_at_half_its_height() -> None:
    times = DAY + np.arange(97) * 15 * MINUTE
    values = bumps(times)
    spans = openings(chance_curve(times, values), times[0], times[-1], values)
    assert len(spans) == 2
    dense = DAY + np.arange(0, 1441) * MINUTE
    exact = bumps(dense)
    for span, level, peak in zip(spans, (0.45, 0.2), (6.1667, 17.4167), strict=True):
        inside = dense[(exact >= level) & (np.abs(hours(dense) - peak) < 4.0)]
        assert abs(span.start - inside[0]) <= 2 * MINUTE
        assert abs(span.end - inside[-1]) <= 2 * MINUTE
        assert abs(hours(np.array([span.peak_time]))[0] - peak) < 0.06  # 4 minutes


def test_a_dip_that_keeps_half_the_lower_peak_does_not_split() -> None:
    times = DAY + np.arange(97) * 15 * MINUTE
    x = hours(times)
    two = 0.8 * np.exp(-(((x - 10.0) / 2.0) ** 2)) + 0.6 * np.exp(-(((x - 13.5) / 2.0) ** 2))
    spans = openings(chance_curve(times, two), times[0], times[-1], np.minimum(two, 0.99))
    assert len(spans) == 1


def test_a_flat_chance_is_one_window_and_a_faint_one_none() -> None:
    times = DAY + np.arange(25) * 60 * MINUTE
    high, low = np.full(25, 0.7), np.full(25, FLOOR / 2.0)
    spans = openings(chance_curve(times, high), times[0], times[-1], high)
    assert [(span.opens, span.closes) for span in spans] == [(False, False)]
    assert openings(chance_curve(times, low), times[0], times[-1], low) == []


# --- windows of a day ------------------------------------------------------------------------------------


def test_windows_agree_with_a_dense_scan(
    own: station.Station, terminals: Terminals, day: Forecast, found: Windows
) -> None:
    """Every edge lies within 7.5 minutes of where a forecast for every 2.5 minutes crosses the level.

    Five minutes is what is promised; 2.5 more is the step of the scan.
    """
    bands = [day.bands[day.band_index(name)] for name in dict.fromkeys(w.band for w in found.windows)]
    times = DAY + np.arange(577) * 150 * np.timedelta64(1, "s")
    fine = forecast(
        Request(own, day.target, times, day.conditions, near=terminals.near, far=terminals.far, bands=bands)
    )
    slack = 450 * np.timedelta64(1, "s")
    assert len(found.windows) >= 4
    for window in found.windows:
        chance = fine.chance[0, ROUTES.index(window.route), :, fine.band_index(window.band)]
        around = (times >= window.start - slack) & (times <= window.end + slack)
        peak = float(chance[around].max())
        np.testing.assert_allclose(window.chance, peak, atol=0.02)
        level = min(max(OF_PEAK * peak, FLOOR), ENOUGH)
        at = int(np.argmin(np.abs(times - window.peak_time)))
        inside = chance >= level
        first = at
        while first > 0 and inside[first - 1]:
            first -= 1
        last = at
        while last < times.size - 1 and inside[last + 1]:
            last += 1
        assert abs(window.start - times[first]) <= slack, window
        assert abs(window.end - times[last]) <= slack, window


def test_times_are_told_to_five_minutes_and_in_order(found: Windows) -> None:
    for window in found.windows:
        for moment in (window.start, window.peak_time, window.end):
            assert int(moment.astype(np.int64)) % 300 == 0
        assert window.start <= window.peak_time <= window.end
        assert window.mean <= window.best_hour + 1e-9
        assert window.best_hour <= window.chance + 1e-9


def test_the_rule_of_ranking_is_kept(found: Windows) -> None:
    assert [window.rank for window in found.windows] == list(range(1, len(found.windows) + 1))
    for one, other in pairwise(found.windows):
        figures = [float(told_chance(window.best_hour)) for window in (one, other)]
        assert figures[0] >= figures[1]
        assert figures[0] > figures[1] or one.best_hour >= other.best_hour, "of alike ones the surer first"
    assert "best hour" in RULE


def test_windows_of_one_band_and_route_do_not_meet(found: Windows) -> None:
    for one in found.windows:
        for other in found.windows:
            if one is not other and (one.band, one.route) == (other.band, other.route):
                assert one.end <= other.start or other.end <= one.start


def test_every_band_is_accounted_for(day: Forecast, found: Windows) -> None:
    names = (
        {w.band for w in found.windows} | {c.band for c in found.closed} | {r.band for r in found.left_out}
    )
    assert names == {band.name for band in day.bands}
    assert all(closed.best.chance < FLOOR + 0.01 for closed in found.closed)


def test_bands_that_licence_or_antenna_rule_out_are_told(terminals: Terminals) -> None:
    only = station.loads(HERE + '[limits]\nbands = ["20m", "40m"]\n')
    result = look(only, terminals, "GF25")
    rows = left_out(result)
    assert {row.band for row in rows} == {band.name for band in result.bands} - {"20m", "40m"}
    assert all("licence" in left_out_words(row) for row in rows if row.cause == "licence")
    windows = find_windows(result, terminals, explained=False)
    assert {window.band for window in windows.windows} <= {"20m", "40m"}


def test_nothing_to_advise_says_the_best_there_is(own: station.Station, terminals: Terminals) -> None:
    times = day_times(DAY, 24.0, np.timedelta64(3600, "s"))
    state = conditions.typed_in(ssn=10, kp=2)
    result = forecast(
        Request(
            own,
            resolve("JO22"),
            times,
            state,
            mode="FM",
            power_w=0.01,
            near=terminals.near,
            far=terminals.far,
        )
    )
    windows = find_windows(result, terminals)
    assert windows.windows == ()
    nothing = nothing_between(result, 0, len(times), lambda: narrower_forecast(result, terminals))
    assert nothing is not None
    text = nothing_sentence(result, nothing)
    assert text.endswith("; with Morse (CW) no band is open either.")
    better = narrower_forecast(replace(result, power_w=100.0), terminals)
    assert better is not None
    found = nothing_between(result, 0, len(times), lambda: better)
    assert found is not None
    assert re.search(
        r"; with .* \d+ m at (once|\d\d:\d\d UTC) would work\.$", nothing_sentence(result, found)
    )
    best = max(windows.closed, key=lambda closed: closed.best.chance)
    assert best.band.removesuffix("m") in text
    assert clause(best.limit) in text
    assert best.band.removesuffix("m") in no_window_sentence(result, best_hope(result))


# --- reasons ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("target", "ssn"), [("GF25", 120.0), ("KI88", 60.0), ("KG43", 30.0)])
def test_no_reason_contradicts_the_numbers(
    own: station.Station, terminals: Terminals, target: str, ssn: float
) -> None:
    """What a sentence says to rise or fall does so, as computed again here, on the side it says."""
    result = look(own, terminals, target, ssn=ssn)
    windows = find_windows(result, terminals).windows
    assert windows
    told = 0
    for window in windows:
        band, route = result.band_index(window.band), ROUTES.index(window.route)
        for why, edge, sign in ((window.began, window.start, 1), (window.ended, window.end, -1)):
            if why is None:
                continue
            told += 1
            text = edge_words(why)
            outside = edge - sign * 45 * MINUTE
            inside = edge + sign * min(45 * MINUTE, abs(window.peak_time - edge))
            cells = Cells(np.array([0]), np.array([route]), np.array([band]), np.array([[outside, inside]]))
            margin = compute(result, terminals, cells).margin_db[0]
            if why.cause in LOSSES:
                spared = compute(
                    result, terminals, cells, counterfactual=Counterfactual({why.cause: np.array([True])})
                )
                cost = spared.margin_db[0] - margin
                assert cost[0] > cost[1], (window.band, text)
                np.testing.assert_allclose(cost[0] - cost[1], why.change_db, atol=0.7)  # edge to 5 min
            numbers = re.search(r"MUF (rises|falls) from ([\d.]+) to ([\d.]+)", text)
            if numbers:
                first, last = float(numbers[2]), float(numbers[3])
                assert (last > first) == (numbers[1] == "rises") == (sign > 0)
                assert {round(first, 1), round(last, 1)} == {
                    round(why.muf_outside_mhz, 1), round(why.muf_inside_mhz, 1)
                }  # fmt: skip
            if "absorption" in text:
                assert ("falls" in text) == (sign > 0)
                if why.event is not None:
                    assert why.event.kind == ("sunset" if sign > 0 else "sunrise")
            if why.event is not None and "MUF" in text:
                assert why.event.kind == ("sunrise" if sign > 0 else "sunset")
    assert told >= 2


def test_the_sun_named_in_a_reason_stands_at_the_horizon(day: Forecast, found: Windows) -> None:
    """The time and place named as a sunrise or sunset are one, by the sun's own module."""
    from propagation.geo import great_circle, sun

    goal = day.target.centre
    seen = 0
    for window in found.windows:
        route = great_circle.route(day.station.site.position, goal, long=window.route == "long")
        for why in (window.began, window.ended):
            if why is None or why.event is None:
                continue
            seen += 1
            lat, lon = route.at_km(np.array(why.event.along_km))
            minute = np.array([-5, 5]) * MINUTE
            before, after = sun.zenith_deg(lat, lon, why.event.time + minute)
            assert (after < before) == (why.event.kind == "sunrise")
            np.testing.assert_allclose(
                (before + after) / 2.0, 90.833, atol=0.2
            )  # deg, under a minute of time
    assert seen >= 2


def test_sentences_hold_the_windows_own_numbers(found: Windows) -> None:
    for window in found.windows:
        text = window_sentence(window)
        assert str(window.start)[11:16] in text
        assert window.mode in text
        assert reason(window).startswith("Opens as" if window.began else "Open at")
        assert ("closes as" in reason(window)) == (window.ended is not None)
