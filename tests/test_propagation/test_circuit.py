"""Whole circuits: reciprocity, every place and hour, how the modes add up, and how methods join."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from cases import computed
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.base.units import FloatArray
from propagation.geo import great_circle
from propagation.geo.great_circle import EARTH_TURN_KM, Route
from propagation.ionosphere import variability
from propagation.signal.losses import by_scatter, path_loss, terminal_gains
from propagation.signal.losses.circuit import Circuit
from propagation.signal.losses.counterfactual import NOTHING_SPARED
from propagation.signal.rays.ray_path_names import GROUND_WAVE, LONG_PATH, SCATTER
from propagation.signal.rays.ray_paths import TEMPLATES
from propagation.space_weather.state.conditions import typed_in
from propagation.space_weather.state.event_absorption import Effects
from propagation.space_weather.state.storm_corrections import StormCorrections
from propagation.station.terminals import plain_terminal

MHZ = np.array([1.84, 3.6, 7.1, 10.12, 14.2, 21.2, 28.4, 50.1, 144.2])
DAY = np.datetime64("2026-06-20", "s") + np.arange(0, 24, 3) * np.timedelta64(3600, "s")
PLAIN = plain_terminal(100.0)


@dataclass
class Sloping:
    """An end whose gain leans with angle, azimuth and frequency: made up, so that a swap of terminals would
    show."""

    height_m: float
    lean_db: float

    def gain_dbi(
        self, frequency_mhz: FloatArray, elevation_deg: FloatArray, azimuth_deg: FloatArray
    ) -> FloatArray:
        aside = np.cos(np.radians(azimuth_deg - 40.0))
        return np.asarray(-0.05 * self.lean_db * elevation_deg + self.lean_db * aside + 0.1 * frequency_mhz)

    def horizon_deg(self, azimuth_deg: FloatArray) -> FloatArray:
        return np.asarray(2.0 + 0.5 * self.lean_db * np.cos(np.radians(azimuth_deg)))

    def ground_wave_gain_dbi(self, frequency_mhz: FloatArray, azimuth_deg: FloatArray) -> FloatArray:
        return np.asarray(self.lean_db * np.cos(np.radians(azimuth_deg)) + 0.0 * frequency_mhz)


def route_of(lat: Any, lon: Any, bearing: Any, distance: Any) -> Route:
    """Routes by their start, bearing and length."""
    parts = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(v, dtype=float)) for v in (lat, lon, bearing, distance))
    )
    return Route(*(np.array(part) for part in parts))


def run(lat: Any, lon: Any, bearing: Any, distance: Any, times: Any = DAY, **more: Any) -> Circuit:
    arguments = {"near": PLAIN, "far": PLAIN, **more}
    return computed(route_of(lat, lon, bearing, distance), times, MHZ, 80.0, **arguments)


# --- reciprocity ----------------------------------------------------------------------------------------


@settings(max_examples=20, deadline=None)
@given(
    st.floats(-80.0, 80.0), st.floats(-180.0, 180.0), st.floats(0.0, 360.0),
    st.one_of(st.floats(5.0, 19_900.0), st.floats(20_100.0, 39_500.0)),
)  # fmt: skip
def test_the_path_is_the_same_both_ways(lat: float, lon: float, bearing: float, distance: float) -> None:
    """Terminals swapped, with different antennas and horizons: every gain worth having within 0.01 dB.

    Starts are moved off round degrees, which are the borders of the cells of the land mask: there a point's
    rounding decides which cell it is in.
    """
    one, other = Sloping(10.0, 3.0), Sloping(40.0, -1.0)
    there = route_of(lat + 0.0371, lon + 0.0229, bearing, distance)
    out = computed(there, DAY, MHZ, 80.0, one, other)
    home = Route(*there.at_km(there.distance_km), there.far_bearing_deg, there.distance_km)
    returned = computed(home, DAY, MHZ, 80.0, other, one)
    matters = out.median_gain_db > -250.0
    np.testing.assert_allclose(returned.median_gain_db[matters], out.median_gain_db[matters], atol=0.01)
    by_day = out.gain_db > -250.0
    np.testing.assert_allclose(returned.gain_db[by_day], out.gain_db[by_day], atol=0.01)
    np.testing.assert_allclose(returned.muf_mhz, out.muf_mhz, rtol=1e-3)


# --- everywhere and at every hour -----------------------------------------------------------------------


def check_numbers(found: Circuit) -> None:
    for name in (
        "gain_db",
        "median_gain_db",
        "elevation_deg",
        "muf_mhz",
        "absorption_db",
        "screening_db",
        "auroral_db",
    ):
        assert np.all(np.isfinite(getattr(found, name))), name
    assert not np.any(np.isnan(found.support))
    assert np.all(found.median_gain_db < 0.0)
    assert np.all((found.ray_path >= 0) & (found.ray_path <= GROUND_WAVE))
    assert np.all((found.elevation_deg >= -20.0) & (found.elevation_deg <= 90.0))
    assert np.all(found.muf_mhz > 0.0)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(-90.0, 90.0), st.floats(-180.0, 180.0), st.floats(0.0, 360.0), st.floats(0.0, EARTH_TURN_KM),
    st.sampled_from(["2026-01-01T00", "2026-06-21T13", "2026-12-21T23"]), st.floats(0.0, 250.0),
)  # fmt: skip
def test_a_number_everywhere(
    lat: float, lon: float, bearing: float, distance: float, time: str, r12: float
) -> None:
    times = np.datetime64(time, "s") + np.arange(0, 24, 6) * np.timedelta64(3600, "s")
    check_numbers(computed(route_of(lat, lon, bearing, distance), times, MHZ, r12, PLAIN, PLAIN))


@pytest.mark.parametrize(
    ("tx", "rx"),
    [
        ((90.0, 0.0), (-90.0, 0.0)),  # from pole to pole
        ((90.0, 0.0), (78.0, 15.0)),  # polar night or midnight sun at both ends
        ((-90.0, 0.0), (-77.0, 166.0)),
        ((10.0, 20.0), (-10.0, -160.0)),  # the antipode: any direction is right
        ((45.0, 7.0), (45.0, 7.0)),  # no distance at all
        ((10.0, 179.9), (10.0, -179.9)),  # over the date line
        ((0.0, 180.0), (0.0, -180.0)),
        ((69.6, 19.0), (64.1, -21.9)),
    ],
)
@pytest.mark.parametrize("date", ["2026-06-21", "2026-12-21"])
@pytest.mark.parametrize("long", [False, True])
def test_poles_antipode_date_line_and_no_distance(
    tx: tuple[float, float], rx: tuple[float, float], date: str, long: bool
) -> None:
    route = great_circle.route(tuple(np.array([v]) for v in tx), tuple(np.array([v]) for v in rx), long=long)
    times = np.datetime64(date, "s") + np.arange(0, 24, 2) * np.timedelta64(3600, "s")
    storm = StormCorrections(typed_in(ssn=50.0, kp=8.0, xray_w_m2=1e-4, proton_pfu=1000.0), Effects())
    for disturber in (None, storm):
        check_numbers(computed(route, times, MHZ, 80.0, PLAIN, PLAIN, disturber))


# --- how the modes add up --------------------------------------------------------------------------------


def test_the_median_day_is_the_sum_of_its_modes() -> None:
    found = run(-29.6, 30.4, 300.0, [100.0, 900.0, 2500.0, 5000.0, 6999.0])
    assert found.ray_path_gain_db is not None
    total = 10.0 * np.log10(np.sum(10.0 ** (found.ray_path_gain_db / 10.0), axis=-1))
    np.testing.assert_allclose(found.median_gain_db, total, atol=1e-6)
    best = np.take_along_axis(found.ray_path_gain_db, found.ray_path[..., None], axis=-1)[..., 0]
    np.testing.assert_allclose(best, np.max(found.ray_path_gain_db, axis=-1))


def test_the_middle_layer_day_without_sporadic_e_is_the_median_day_without_it() -> None:
    """But for trails of meteors, which are in the median field and in no day (`test_contribution`)."""
    found = run(-29.6, 30.4, 300.0, [100.0, 900.0, 2500.0, 5000.0])
    assert found.ray_path_gain_db is not None
    middle = int(np.argmin(np.abs(variability.LAYER_NODES)))
    no_es = [i for i in range(GROUND_WAVE + 1) if i >= len(TEMPLATES) or not TEMPLATES[i].is_es]
    no_es.remove(SCATTER)
    scattered = by_scatter.contribution(found.case, found.samples, NOTHING_SPARED, every_ray_path=True)
    assert scattered is not None
    plain = np.sum(10.0 ** (found.ray_path_gain_db[..., no_es] / 10.0), axis=-1)
    plain = plain + scattered.layer_power[..., middle]
    with_es = 10.0 ** (found.gain_db[..., middle, :] / 10.0)
    matters = plain > 1e-26  # -260 dB, under which nothing is heard anywhere
    assert np.mean(matters) > 0.5
    assert np.all((with_es >= 0.99 * plain[..., None])[matters])  # the table of what passes: 0.02 dB
    first_es_day = with_es[..., 0]
    strong = plain > 1e-20
    # most days have less sporadic E than the median day has of anything
    assert np.mean(first_es_day[strong] < 1.26 * plain[strong]) > 0.5


def test_a_day_with_a_better_layer_or_more_sporadic_e_is_never_worse() -> None:
    found = run(51.0, 0.0, 90.0, [300.0, 1200.0, 3000.0, 6000.0, 8000.0, 11_000.0])
    order = np.argsort(variability.LAYER_NODES)
    days = found.gain_db[..., order, :]
    assert np.all(np.diff(days, axis=-1) >= -1e-9)
    rising = np.diff(days, axis=-2)
    assert np.all(rising[:4] >= -1e-6)  # modes; the combined method's low end falls a little as fM rises


def test_keeping_the_modes_changes_nothing() -> None:
    distances = [0.0, 300.0, 1400.0, 2600.0, 5000.0, 8000.0, 15_000.0]
    kept, lean = (run(51.0, 0.0, 60.0, distances, keep_ray_paths=keep) for keep in (True, False))
    for name in (
        "gain_db",
        "median_gain_db",
        "ray_path",
        "low_hops",
        "high_hops",
        "elevation_deg",
        "mirror_km",
        "muf_mhz",
        "support",
        "absorption_db",
    ):
        np.testing.assert_allclose(
            getattr(lean, name), getattr(kept, name), rtol=1e-9, atol=1e-9, err_msg=name
        )
    assert lean.ray_path_gain_db is None


def test_rows_do_not_know_of_one_another() -> None:
    distances = [40.0, 700.0, 2100.0, 4300.0, 7700.0, 9500.0, 22_000.0]
    together = run(51.0, 0.0, 60.0, distances, keep_ray_paths=False)
    for row, distance in enumerate(distances):
        alone = run(51.0, 0.0, 60.0, distance, keep_ray_paths=False)
        # a mode that a row has not counts as -900 dB, and rows together lay out more of them: nothing is
        # said of levels near that
        there = alone.gain_db[0] > -600.0
        assert np.any(there)
        np.testing.assert_allclose(alone.gain_db[0][there], together.gain_db[row][there], atol=1e-9)
        heard = alone.median_gain_db[0] > -600.0
        np.testing.assert_array_equal(alone.ray_path[0][heard], together.ray_path[row][heard])


def test_a_frequency_for_each_row() -> None:
    distances = np.array([700.0, 2100.0, 9500.0])
    own = np.array([7.1, 14.2, 21.2])
    each = computed(route_of(51.0, 0.0, 60.0, distances), DAY, own[:, None, None], 80.0, PLAIN, PLAIN)
    for row, frequency in enumerate(own):
        band = int(np.flatnonzero(frequency == MHZ)[0])
        whole = run(51.0, 0.0, 60.0, distances[row])
        np.testing.assert_allclose(each.gain_db[row, :, 0], whole.gain_db[0, :, band], atol=1e-9)


# --- how the methods join -------------------------------------------------------------------------------


def test_7000_to_10000_km() -> None:
    """At 7000 km the modes alone, at 10 000 km the combined method alone, no step at either end."""
    lengths = [7000.0, 7000.001, 9999.999, 10_000.0, 10_000.001]
    edges = run(51.0, 0.0, 60.0, lengths, keep_ray_paths=False)
    for a, b in ((0, 1), (2, 3), (3, 4)):
        matters = edges.median_gain_db[a] > -250.0
        one, other = edges.median_gain_db[a][matters], edges.median_gain_db[b][matters]
        np.testing.assert_allclose(one, other, atol=0.02)
    assert edges.combined is not None
    assert np.all(edges.ray_path[4] == LONG_PATH)
    field = edges.combined.field_db(edges.frequency_mhz)[-1]
    loss = 137.2 + 20.0 * np.log10(MHZ) - field  # P.525, isotropic antennas
    np.testing.assert_allclose(edges.median_gain_db[4], -loss, atol=1e-6)


def test_half_way_between_the_methods() -> None:
    """P.533 section 5.4: linear in X = 10^(0.01 E): at 8500 km X is the mean of both."""
    found = run(51.0, 0.0, 60.0, 8500.0)
    assert found.ray_path_gain_db is not None
    assert found.combined is not None
    assert found.losses is not None
    by_long = found.combined.field_db(found.frequency_mhz) - 137.2 - 20.0 * np.log10(MHZ)
    by_modes = 10.0 * np.log10(
        np.sum(10.0 ** (found.ray_path_gain_db[..., : len(TEMPLATES)] / 10.0), axis=-1)
    )
    x = 0.5 * (10.0 ** (0.01 * by_modes) + 10.0 ** (0.01 * by_long))
    matters = found.median_gain_db > -250.0
    assert np.mean(matters) > 0.3
    np.testing.assert_allclose(found.median_gain_db[matters], 100.0 * np.log10(x[matters]), atol=0.05)


def test_the_path_muf_is_that_of_its_easiest_mode() -> None:
    found = run(-29.6, 30.4, 300.0, 2600.0)
    assert found.losses is not None
    f2 = np.max(np.where(np.isfinite(found.losses.f2_muf_mhz), found.losses.f2_muf_mhz, 0.0), axis=-1)
    np.testing.assert_allclose(found.muf_mhz, f2)


# --- low rays --------------------------------------------------------------------------------------------


@dataclass
class EveryWay(Sloping):
    """An end of 0 dBi at every angle, down to the horizon: one whose pattern has no low-angle loss in it."""

    def gain_dbi(
        self, frequency_mhz: FloatArray, elevation_deg: FloatArray, azimuth_deg: FloatArray
    ) -> FloatArray:
        return np.zeros(np.broadcast_shapes(np.shape(frequency_mhz), np.shape(elevation_deg)))

    def horizon_deg(self, azimuth_deg: FloatArray) -> FloatArray:
        return np.zeros(np.shape(azimuth_deg))


def test_a_pattern_counts_as_it_is_down_to_half_a_degree_and_less_below() -> None:
    """A ray under the horizon cannot leave: 2 dB a square degree at each end under half a degree, 9 at -1."""
    route = route_of(51.0, 0.0, 60.0, 2000.0)
    low = np.array([5.0, 3.0, 1.0, 0.5, 0.0, -1.0, -2.5]).reshape(1, 1, 1, -1)
    found = {}
    for name, end in (("pattern", EveryWay(10.0, 0.0)), ("plain", PLAIN)):
        case = computed(route, DAY[:1], 14.2, 80.0, end, end).case
        found[name] = terminal_gains.both_gains_db(case, np.array([0]), low)[0, 0, 0]
    np.testing.assert_allclose(found["pattern"], [0.0, 0.0, 0.0, 0.0, -1.0, -9.0, -36.0])
    np.testing.assert_allclose(found["plain"][:4], [0.0, -16.0, -64.0, -81.0])
    assert np.all(np.diff(found["plain"]) < 0.0)


# --- sanity of the trade (common practice, no source) ---------------------------------------------------


def test_160_m_is_dead_at_noon_beyond_the_ground_wave() -> None:
    """100 W are under what CW by ear takes, -15 dB in 2500 Hz, even over the noise of a quiet rural place."""
    noon = np.datetime64("2026-06-20T12", "s")
    found = run(50.0, 0.0, 90.0, [30.0, 600.0, 1500.0], noon)
    gain = found.median_gain_db[:, 0, 0]
    assert found.ray_path[0, 0, 0] == GROUND_WAVE
    assert gain[0] > -110.0
    noise_dbw = 53.6 - 28.6 * np.log10(MHZ[0]) + 10.0 * np.log10(2500.0) - 204.0  # P.372, from memory
    assert np.all(20.0 + gain[1:] - noise_dbw < -15.0)
    night = run(50.0, 0.0, 90.0, [600.0, 1500.0], np.datetime64("2026-12-20T00", "s"))
    assert np.all(night.median_gain_db[:, 0, 0] > -135.0)


def test_the_dead_zone_of_20_m_is_filled_by_scatter_alone() -> None:
    """300 km on 14.2 MHz at noon, low sun-spots: 30 dB or more under the open path at 1500 km."""
    noon = np.datetime64("2026-03-20T12", "s")
    found = run(50.0, 0.0, 90.0, [300.0, 1500.0], noon)
    near, far = found.median_gain_db[:, 0, 4]
    assert far - near > 30.0
    assert found.ray_path[0, 0, 4] in (SCATTER, *(i for i, s in enumerate(TEMPLATES) if s.is_es))


def test_near_vertical_on_40_m_by_day() -> None:
    """200 km on 7.1 MHz at noon under foF2 of 8 MHz or so: the F2 layer from overhead, steeper than 60
    degrees."""
    noon = np.datetime64("2026-03-20T12", "s")
    found = run(45.0, 10.0, 45.0, 200.0, noon)
    assert found.elevation_deg[0, 0, 2] > 60.0
    assert -135.0 < found.median_gain_db[0, 0, 2] < -105.0
    assert path_loss.above_muf_loss_db(found.support[0, 0, 2], "F2") < 5.0
