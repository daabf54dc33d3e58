"""The measured sky in the forecast: what it says, for how long, and what it is worth on drawn days.

Drawn days stand on published statistics of ionosondes (`tests/sky_days.py`); all maps are invented.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import sky_days
from cases import computed
from worlds import forecast_of

from propagation.advice.cause_weights import reasons
from propagation.base.store import Store, Stored
from propagation.base.time_series import TimeSeries
from propagation.base.units import FloatArray, TimeArray
from propagation.geo import great_circle
from propagation.ionosphere import conditions_today
from propagation.ionosphere.conditions_today import BEST_ERROR, fof2_anomaly_of, smoothed
from propagation.signal.chances.link_budget import both_ways, one_way
from propagation.space_weather.sources.aurora_map import AuroraMap
from propagation.space_weather.sources.density_map import DensityFrame, kept_density
from propagation.space_weather.sources.hosts import day_copy
from propagation.space_weather.state import stored_conditions
from propagation.space_weather.state.conditions import Conditions, typed_in
from propagation.space_weather.state.event_absorption import (
    NO_EFFECTS,
    Effects,
    auroral_boundary_deg,
    flare_absorption_db,
)
from propagation.space_weather.state.measured_conditions import (
    DAY_SPREAD,
    LATITUDES_DEG,
    LONGITUDES_DEG,
    Fof2Anomaly,
    MeasuredAbsorption,
    MeasuredConditions,
    MeasuredOval,
    alike,
    oval_kp,
)
from propagation.space_weather.state.measured_maps import kept_frames
from propagation.space_weather.state.storm_corrections import StormCorrections, corrections_of
from propagation.station import station
from propagation.station.terminals import Terminals, plain_terminal

SUN = typed_in(ssn=90.0, kp=1.0)
TIME = np.datetime64("2031-03-18T10:00", "s")
HOUR = np.timedelta64(3600, "s")
ROUTES = 30


def after(*hours: float) -> TimeArray:
    """Times so many hours after TIME."""
    return TIME + np.round(np.array(hours) * 3600.0).astype("timedelta64[s]")


def flat(ln_ratio: float, error: float = 0.0, time: np.datetime64 = TIME) -> Fof2Anomaly:
    """The same departure everywhere, measured with an error variance relative to the days'."""
    grid = np.full((1, 36, 36), ln_ratio)
    return Fof2Anomaly.of(np.array([time]), grid, np.full((1, 36, 36), error if error else 1e-9))


def test_a_day_resembles_itself_as_published() -> None:
    """Five ionosondes, 2019: 0.68, 0.43, 0.28, 0.12 after 1, 2, 3, 6 h, 0.18 after 24 h."""
    found = alike(np.array([0.0, 1.0, 2.0, 3.0, 6.0, 24.0, -24.0]))
    np.testing.assert_allclose(found, [1.0, 0.68, 0.43, 0.28, 0.12, 0.18, 0.18], atol=1e-12)
    hours = np.linspace(0.0, 30.0, 121)
    values = np.linalg.eigvalsh(alike(hours[:, None] - hours[None, :]))
    assert values.min() > -1e-9  # a correlation that could be


def test_the_estimate_is_that_of_the_plain_formula() -> None:
    """Optimal linear estimation, K (K + E)^-1 y, solved cell by cell here (any textbook of kriging)."""
    random = np.random.default_rng(3)
    times = np.array([TIME, TIME - 3 * HOUR, TIME - 24 * HOUR])
    ratio = 0.1 * random.standard_normal((3, 36, 36))
    error = random.uniform(0.2, 3.0, (3, 36, 36))
    error[1, 5, 7] = np.inf
    found = Fof2Anomaly.of(times, ratio, error)
    hours = np.array([0.0, -3.0, -24.0])
    lags = alike(1.0 - hours)
    factor, share = found.at(LATITUDES_DEG[:, None], LONGITUDES_DEG[None, :], np.array(after(1.0)[0]))
    for row, column in ((5, 7), (20, 0), (35, 35)):
        known = np.isfinite(error[:, row, column])
        k = alike(hours[known, None] - hours[None, known]) + np.diag(error[known, row, column])
        expected = lags[known] @ np.linalg.solve(k, ratio[known, row, column])
        assert float(np.log(factor[row, column])) == pytest.approx(expected, abs=1e-9)
        certain = lags[known] @ np.linalg.solve(k, lags[known])
        assert float(share[row, column]) == pytest.approx(certain, abs=1e-9)


def test_it_lasts_for_hours_and_then_nothing_is_said() -> None:
    """At 6 h the forecast is exactly the median again; before, the departure fades with the correlation."""
    factor, share = flat(-0.2).at(np.array(40.0), np.array(10.0), after(0.0, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0))
    np.testing.assert_allclose(np.log(factor[:4]), -0.2 * np.array([1.0, 0.68, 0.43, 0.28]), rtol=1e-6)
    np.testing.assert_allclose(share[:4], np.array([1.0, 0.68, 0.43, 0.28]) ** 2, rtol=1e-6)
    np.testing.assert_array_equal(factor[4:], 1.0)
    np.testing.assert_array_equal(share[4:], 0.0)


def test_over_the_date_line_and_the_poles_it_is_whole() -> None:
    ratio = np.broadcast_to(0.1 * np.cos(np.deg2rad(LONGITUDES_DEG)), (1, 36, 36))
    found = Fof2Anomaly.of(np.array([TIME]), ratio, np.full((1, 36, 36), 1e-9))
    lon = np.linspace(-360.0, 360.0, 721)
    factor, _ = found.at(np.array(12.0), lon, np.array(TIME))
    assert np.abs(np.log(factor) - 0.1 * np.cos(np.deg2rad(lon))).max() < 0.001  # straight between the cells
    polar, _ = found.at(np.array([-90.0, 90.0]), np.array(0.0), np.array(TIME))
    assert np.isfinite(polar).all()


def test_where_nothing_was_observed_nothing_is_said() -> None:
    """A frame gives its background where it has no observation: that is no measurement."""
    seen = np.zeros((72, 72), np.int64)
    seen[50:60, 30:40] = 5
    blank = np.full((72, 72), np.nan)
    frame = DensityFrame(TIME, np.full((72, 72), 1e12), blank, seen)
    found = fof2_anomaly_of([frame], SUN)
    assert found is not None
    lat_deg, lon_deg = np.array([48.75, -30.0]), np.array([0.0, 120.0])  # inside and outside
    factor, share = found.at(lat_deg, lon_deg, np.array(TIME))
    assert share[1] == 0.0
    assert factor[1] == 1.0
    # with all observations the error is BEST_ERROR, and the middle of the patch keeps most of that
    best = 1.0 / (1.0 + (BEST_ERROR / DAY_SPREAD) ** 2)
    assert 0.8 * best < share[0] <= best
    ratio = np.log(8.98 / departure_usual(SUN, 48.75, 0.0))
    assert abs(np.log(factor[0])) <= abs(ratio)  # shrunk towards the usual, never beyond the measurement


def test_a_frame_that_counts_no_observation_anywhere_still_speaks() -> None:
    """Its flag does not count then: somewhere over the world there always are some. It weighs little."""
    frame = lower_frame(TIME)
    whole = fof2_anomaly_of([frame], SUN)
    silent = fof2_anomaly_of([replace(frame, observations=np.zeros((72, 72), np.int64))], SUN)
    assert whole is not None
    assert silent is not None
    place = np.array(40.0), np.array(10.0), np.array(TIME)
    full, little = (float(np.log(one.at(*place)[0])) for one in (whole, silent))
    assert full < little < 0.0


def departure_usual(state: Conditions, lat: float, lon: float) -> float:
    from propagation.ionosphere.layers import ionosphere

    return float(ionosphere(lat, lon, TIME, float(state.index_at(TIME))).fof2_mhz)


def test_smoothing_keeps_what_is_the_same_everywhere() -> None:
    random = np.random.default_rng(8)
    weight = random.uniform(0.0, 5.0, (2, 36, 36))
    mean, left = smoothed(np.full((2, 36, 36), 0.07), weight)
    np.testing.assert_allclose(mean, 0.07, rtol=1e-9)
    assert np.all((left >= weight.min() - 1e-12) & (left <= weight.max() + 1e-12))


@pytest.mark.slow
def test_without_maps_every_figure_is_bit_for_bit_the_same(
    own: station.Station, terminals: Terminals
) -> None:
    """No map, a map half a day away, or all effects off: the forecast's arrays are identical."""
    plain = forecast_of(own, terminals, "europe", SUN, TIME, mode=None, power_w=None)
    old = replace(SUN, measured=MeasuredConditions(layer=flat(-0.3, time=TIME - 40 * HOUR)))
    again = forecast_of(own, terminals, "europe", old, TIME, mode=None, power_w=None)
    for name in ("chance", "mixed", "muf_mhz", "snr_out_db", "limits"):
        np.testing.assert_array_equal(getattr(plain, name), getattr(again, name))
    assert (
        corrections_of(replace(SUN, measured=MeasuredConditions(layer=flat(-0.3))), NO_EFFECTS, after(0.0))
        is None
    )


def test_another_index_leaves_the_measured_factor() -> None:
    """An index by reports of what was heard moves the maps; the measured factor is on top of them."""
    state = replace(SUN, measured=MeasuredConditions(layer=flat(-0.1)))
    moved = replace(state, index=TimeSeries.of([TIME], [140.0]))
    for one in (state, moved):
        today = StormCorrections(one).layer_today(np.array(40.0), np.array(10.0), after(0.0))
        assert today is not None
        assert float(np.log(today[0][0])) == pytest.approx(-0.1, abs=1e-6)


# --- drawn days ------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def belt_errors() -> tuple[FloatArray, FloatArray]:
    """Mean square of ln foF2's error over the observed belt, usual and measured, at lags after the frame."""
    lags = np.array([0.5, 1.5, 2.5, 3.5, 6.5])
    random = np.random.default_rng(11)
    belt = (np.abs(LATITUDES_DEG) > 30.0) & (np.abs(LATITUDES_DEG) < 60.0)
    usual, measured = [], []
    for _ in range(30):
        day = sky_days.drawn_day(SUN, TIME, lags, random)
        found = fof2_anomaly_of([day.frame], SUN)
        assert found is not None
        factor, _ = found.at(
            LATITUDES_DEG[None, :, None], LONGITUDES_DEG[None, None, :], day.times[:, None, None]
        )
        usual.append(np.mean(day.truth[:, belt] ** 2, axis=(1, 2)))
        measured.append(np.mean((day.truth - np.log(factor))[:, belt] ** 2, axis=(1, 2)))
    return np.mean(usual, axis=0), np.mean(measured, axis=0)


def test_a_fresh_frame_takes_what_can_be_taken_off_the_error() -> None:
    """A frame half an hour old. The most that a perfect one takes off the mean square 1 h ahead, 1.5 h after
    it, is the correlation squared, 0.54^2 = 29 %; one with the error of 0.08 beside days of 0.14 a quarter
    less, 22 %; smoothing gives back some of the error: between them. It is half at the present moment, and
    never above the usual, exactly it at 6 h ahead.
    """
    usual, measured = belt_errors()
    left = measured / usual
    ideal = 1.0 - alike(np.array([0.5, 1.5, 2.5, 3.5])) ** 2
    assert np.all(left[:4] > ideal - 0.03)  # 0.03: 30 days of some twenty independent places each
    with_error = 1.0 - (1.0 - ideal) / (1.0 + (sky_days.FRAME_ERROR / sky_days.SPREAD) ** 2)
    assert np.all(left[:4] < with_error + 0.03)
    assert left[1] < 0.80
    assert np.all(np.diff(left) > 0.0)
    assert left[4] == 1.0


@lru_cache(maxsize=1)
def promised_and_kept() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Chances (days, N, T, B) as usual, as measured, and what the drawn day's own layer gave."""
    random = np.random.default_rng(7)
    end = plain_terminal(500.0)  # W: enough that every step of the chance is met often
    lat, lon = random.uniform(35.0, 58.0, ROUTES), random.uniform(-180.0, 180.0, ROUTES)
    there = (
        np.clip(lat + random.uniform(-15.0, 15.0, ROUTES), 30.0, 60.0),
        lon + random.uniform(8, 45, ROUTES),
    )
    route = great_circle.route((lat, lon), there)
    mhz = np.array([10.1, 14.1, 18.1, 21.2])

    def chance(disturber: object, times: TimeArray) -> FloatArray:
        index = SUN.index.linear_at(times)[None, :]
        path = computed(route, times, mhz, index, end, end, disturber, year=2031.2, keep_ray_paths=False)
        out, back = (one_way(path, end, end, towards_far_end=far) for far in (True, False))
        return both_ways(out, back, 5.0, 5.0)

    usual, measured, kept = [], [], []
    for _ in range(24):
        time = TIME + int(random.integers(-10, 14)) * HOUR
        day = sky_days.drawn_day(SUN, time, np.array([1.0, 2.0, 3.0]), random)
        sky = MeasuredConditions(layer=fof2_anomaly_of([day.frame], SUN))
        usual.append(chance(None, day.times))
        measured.append(chance(StormCorrections(replace(SUN, measured=sky)), day.times))
        kept.append(chance(sky_days.Truth(day), day.times))
    return np.array(usual), np.array(measured), np.array(kept)


def test_chances_keep_what_they_promise_on_drawn_days() -> None:
    """In each step of the chance promised, the first three hours after a frame keep it within 5 points."""
    _, measured, kept = promised_and_kept()
    edges = [0.0, 0.02, 0.1, 0.25, 0.5, 0.75, 0.9]
    for low, high in pairwise(edges):
        cells = (measured >= low) & (measured < high)
        assert np.sum(cells) > 300, (low, high)
        assert abs(np.mean(measured[cells]) - np.mean(kept[cells])) < 0.05, (low, high)


def test_chances_are_nearer_to_the_day_than_usual() -> None:
    """Mean square of promised less kept, by hour after the frame: less at each, by a fifth in the first."""
    usual, measured, kept = promised_and_kept()
    error = [np.mean((one - kept) ** 2, axis=(0, 1, 3)) for one in (measured, usual)]
    left = error[0] / error[1]
    assert np.all(left < 1.0)
    assert left[0] < 0.8


# --- absorption and the oval -----------------------------------------------------------------------------


def absorbed(
    sky: MeasuredConditions | None, lat: float, gm_lat: float, hours: float, zenith: float = 40.0
) -> float:
    """X of the extra absorption at a place and time."""
    state = replace(SUN, measured=sky)
    place = np.full((1, 1, 1), lat), np.zeros((1, 1, 1)), np.full((1, 1, 1), zenith)
    found = StormCorrections(state).extra_absorption(
        *place, np.full((1, 1, 1), gm_lat), after(hours)[None, :, None]
    )
    return float(found[0][0, 0, 0] + found[1][0, 0, 0])


def test_the_absorption_map_stands_for_the_estimates_while_it_is_fresh() -> None:
    """A map of 12 MHz everywhere on a day of which no flare is known. At a sun of 40 deg that is a flare of
    class M1 under it, 14.7 MHz, and counts as such; in the polar cap it is 1 dB at 12 MHz, less the ordinary
    sun's own. After an hour nothing of it is left but in the cap, after two nothing at all."""
    sky = MeasuredConditions(absorption=MeasuredAbsorption(TIME, np.full((90, 90), 12.0)))
    ordinary = (5.0 * np.cos(np.deg2rad(40.0)) ** 0.75) ** 1.5
    flux = 10.0 ** (0.1 * (12.0 / np.cos(np.deg2rad(40.0)) ** 0.75 - 65.0))
    assert absorbed(sky, 20.0, 20.0, 0.0) == pytest.approx(float(flare_absorption_db(1.0, 40.0, flux)))
    assert 0.0 < absorbed(sky, 20.0, 20.0, 0.6) < absorbed(sky, 20.0, 20.0, 0.1)
    assert absorbed(sky, 20.0, 20.0, 1.0) == 0.0
    assert absorbed(sky, 75.0, 75.0, 1.0) == pytest.approx(12.0**1.5 - ordinary, rel=1e-6)
    assert absorbed(sky, 75.0, 75.0, 2.0) == 0.0
    assert absorbed(sky, 20.0, 20.0, -0.5) == 0.0
    assert absorbed(None, 20.0, 20.0, 0.0) == 0.0


def test_newer_x_rays_replace_the_map_but_not_in_the_polar_cap() -> None:
    sky = MeasuredConditions(absorption=MeasuredAbsorption(TIME, np.full((90, 90), 12.0), flare_counts=False))
    assert absorbed(sky, 20.0, 20.0, 0.0) == 0.0
    assert absorbed(sky, 75.0, 75.0, 0.0) > 10.0


def test_a_gap_in_the_map_leaves_the_estimate() -> None:
    sky = MeasuredConditions(absorption=MeasuredAbsorption(TIME, np.full((90, 90), np.nan)))
    assert absorbed(sky, 20.0, 20.0, 0.0) == 0.0


def oval_map(edge_of_kp: float) -> AuroraMap:
    """An oval whose night edge lies where that of a K lies, 6 degrees wide, in geomagnetic latitude."""
    from propagation.geo.geomagnetic import geomagnetic_latitude_deg

    lat, lon = np.meshgrid(np.arange(181) - 90.0, np.arange(360.0), indexing="ij")
    magnetic = np.abs(geomagnetic_latitude_deg(lat, lon, 2031.2))
    edge = float(auroral_boundary_deg(edge_of_kp))
    value = np.where((magnetic >= edge) & (magnetic <= edge + 6.0), 40.0, 0.0)
    return AuroraMap(TIME, TIME, value)


@pytest.mark.parametrize("kp", [1.0, 4.0, 7.0])
def test_the_oval_gives_the_k_that_would_put_it_there(kp: float) -> None:
    """Within a quarter of a K: the map has whole degrees, a K moves the edge by two."""
    found = oval_kp(oval_map(kp), 2031.2)
    assert found is not None
    assert found == pytest.approx(kp, abs=0.3)


def test_a_sky_without_aurora_says_nothing_of_the_oval() -> None:
    assert oval_kp(AuroraMap(TIME, TIME, np.zeros((181, 360))), 2031.2) is None


def test_the_measured_oval_places_the_auroral_loss_and_fades() -> None:
    state = replace(SUN, measured=MeasuredConditions(oval=MeasuredOval(TIME, 6.0)))
    latitude = np.array(50.0)
    fresh, gone = (
        float(StormCorrections(state).oval_latitude_deg(latitude, after(h)[0])) for h in (0.5, 2.1)
    )
    assert fresh == pytest.approx(58.0)  # 2 degrees for each K over 2
    assert gone == 50.0


# --- from the copies -------------------------------------------------------------------------------------


def keep(store: Store, frame: DensityFrame, name: str) -> None:
    store.put(Stored(name, kept_density(frame), "a test", TIME, TIME))


def lower_frame(time: np.datetime64, factor: float = 0.8) -> DensityFrame:
    """A frame whose foF2 is everywhere the usual times a factor."""
    from propagation.ionosphere.conditions_today import usual_fof2_mhz

    usual = usual_fof2_mhz(stored_conditions.best(None, time, time), [time])[0] * factor
    density = np.kron((usual * 1e6) ** 2 / 80.6163, np.ones((2, 2)))
    return DensityFrame(time, density, np.full((72, 72), 300.0), np.full((72, 72), 5))


def test_a_kept_frame_is_in_the_conditions_and_typed_numbers_leave_it_out(tmp_path: Path) -> None:
    store, now = Store(tmp_path), TIME + HOUR
    assert conditions_today.best(store, after(1.0), now).measured is None
    keep(store, lower_frame(TIME), "measured-density")
    found = conditions_today.best(store, after(1.0), now)
    assert found.measured is not None
    assert found.measured.layer is not None
    factor, _ = found.measured.layer.at(np.array(-29.5), np.array(29.5), after(0.0))
    # shrunk by the frame's error: 0.75 of ln 0.8
    gain = 1.0 / (1.0 + (BEST_ERROR / DAY_SPREAD) ** 2)
    assert float(factor[0]) == pytest.approx(0.8**gain, abs=0.005)
    assert conditions_today.best(store, after(1.0), now, kp=2.0).measured is None
    assert conditions_today.best(store, after(30.0), now).measured is None
    assert conditions_today.best(store, after(-3.0), TIME - HOUR).measured is None  # not measured yet then


def test_damaged_copies_are_left_out(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.put(Stored("measured-density", b"nothing of use", "a test", TIME, TIME))
    store.put(Stored("measured-aurora", b"", "a test", TIME, TIME))
    assert conditions_today.best(store, after(0.0), TIME).measured is None


def test_a_frame_of_each_day_of_a_week_stays(tmp_path: Path) -> None:
    store = Store(tmp_path)
    days = [TIME - day * 24 * HOUR for day in range(10, -1, -1)]
    for time in days:
        keep(store, lower_frame(time), day_copy(time))
    keep(store, lower_frame(days[-1]), "measured-density")
    assert [frame.time for frame in kept_frames(store)] == days[:-8:-1]


def test_days_alike_correct_the_map_itself() -> None:
    """The same departure at the same hour of three days before says more than one day does."""
    frames = [lower_frame(TIME - day * 24 * HOUR) for day in range(4)]
    place = np.array(-29.5), np.array(29.5), after(3.0)
    state = stored_conditions.best(None, TIME, TIME)
    one, many = fof2_anomaly_of(frames[:1], state), fof2_anomaly_of(frames, state)
    assert one is not None
    assert many is not None
    assert float(many.at(*place)[0][0]) < float(one.at(*place)[0][0]) - 0.003
    other_hour = fof2_anomaly_of([frames[0], lower_frame(TIME - 18 * HOUR)], state)
    assert other_hour is not None
    assert other_hour.times.size == 1


# --- why -------------------------------------------------------------------------------------------------


def test_a_layer_measured_low_is_a_cause_of_its_own(own: station.Station, terminals: Terminals) -> None:
    """Europe from the ridge on 21 MHz, the layer 25 % down: "today's layer" is blamed; unmeasured it is not;
    a layer measured high is none."""
    found = {}
    for name, sky in (
        ("low", MeasuredConditions(flat(-0.3))),
        ("none", None),
        ("high", MeasuredConditions(flat(0.2))),
    ):
        state = replace(SUN, measured=sky)
        result = forecast_of(own, terminals, "europe", state, TIME, mode=None, power_w=None)
        band = result.band_index("12m")
        told = reasons(result, terminals, band, result.time_index(TIME))
        found[name] = {weighted.cause: weighted.weight for weighted in told.causes}
    assert found["low"]["today's layer"] > 0.05
    assert "today's layer" not in found["none"]
    assert "today's layer" not in found["high"]


def test_switching_the_layer_off_gives_the_usual_figures() -> None:
    state = replace(SUN, measured=MeasuredConditions(flat(-0.3)))
    off = StormCorrections(state, replace(Effects(), layer=False))
    assert off.layer_today(np.array(0.0), np.array(0.0), after(0.0)) is None
    assert off.spread_factor(np.array(0.0), np.array(0.0), after(0.0)) is None
