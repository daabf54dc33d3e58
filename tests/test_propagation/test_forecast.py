"""The forecast: its figures are those of single circuits, cut into any blocks, and make sense to the
trade."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from cases import computed
from worlds import demo, forecast_of

from propagation.geo.great_circle import EARTH_TURN_KM
from propagation.geo.regions import Target, make_target
from propagation.signal.chances import chunking
from propagation.signal.chances import forecast as engine
from propagation.signal.chances.forecast import FAINT_CHANCE, Forecast, day_times, forecast
from propagation.signal.chances.forecast_detail import detail
from propagation.signal.chances.link_budget import both_ways, one_way
from propagation.signal.chances.request import Request
from propagation.signal.chances.routes import both_routes
from propagation.signal.rays.causes import CODE
from propagation.signal.rays.ray_paths import REACH_KM
from propagation.space_weather.state.conditions import typed_in
from propagation.space_weather.state.event_absorption import Effects
from propagation.spectrum.bands import BANDS, by_name
from propagation.station import station
from propagation.station.terminals import Terminal, Terminals, far_terminal, own_terminal

TIMES = day_times(np.datetime64("2026-03-20"), 24.0, np.timedelta64(7200, "s"))
SUN = typed_in(ssn=110.0, kp=2.0)
PLACES = ("neighbour", "Johannesburg way", "Uruguay", "Europe", "Japan", "the same place")
LAT = np.array([-31.9, -26.2, -34.5, 48.0, 35.7, -29.2708])
LON = np.array([28.5, 28.0, -55.5, 11.0, 139.7, 29.4583])


@cache
def ends() -> tuple[Terminal, Terminal]:
    return own_terminal(demo()), far_terminal(demo().far_end)


def target() -> Target:
    return make_target("places", "region", LAT, LON, [3.0, 2.0, 2.0, 2.0, 1.0, 1.0], PLACES)


def run(**more: object) -> Forecast:
    near, far = ends()
    arguments = {"near": near, "far": far, **more}
    return forecast(Request(demo(), target(), TIMES, SUN, **arguments))  # type: ignore[arg-type]


@cache
def whole() -> Forecast:
    return run()


def test_shapes_and_bounds() -> None:
    found = whole()
    shape = (6, 2, TIMES.size, len(BANDS))
    for name in ("chance", "snr_out_db", "snr_back_db", "margin_db", "elevation_deg", "ray_path", "limits"):
        values = getattr(found, name)
        assert values.shape == shape, name
        assert np.all(np.isfinite(values)), name
    assert np.all((found.chance >= 0.0) & (found.chance <= 1.0))
    assert np.all((found.region_chance >= 0.0) & (found.region_chance <= 1.0 + 1e-12))
    np.testing.assert_allclose(found.distance_km.sum(axis=1), EARTH_TURN_KM)
    np.testing.assert_allclose(np.mod(found.bearing_deg[:, 1] - found.bearing_deg[:, 0], 360.0), 180.0)


def test_a_cell_is_the_circuit_it_stands_for() -> None:
    """Uruguay by the short route computed on its own, without blocks or other points."""
    found, (near, far) = whole(), ends()
    part = both_routes(demo(), target()).rows(np.array([2]))
    path = computed(
        part, TIMES, found.frequency_mhz, SUN.index_at(TIMES)[None, :], near, far, ground=demo().site.earth
    )
    there = one_way(path, near, far, towards_far_end=True)
    here = one_way(path, far, near, towards_far_end=False)
    need = found.mode.required_snr_2500_db
    np.testing.assert_allclose(found.snr_out_db[2, 0], there.median_snr_db[0], atol=1e-6)
    np.testing.assert_allclose(found.snr_back_db[2, 0], here.median_snr_db[0], atol=1e-6)
    np.testing.assert_allclose(found.chance[2, 0], both_ways(there, here, need, need)[0], atol=1e-6)
    np.testing.assert_array_equal(found.ray_path[2, 0], path.ray_path[0])


def test_the_detail_agrees_with_the_forecast() -> None:
    near, far = ends()
    for point, route in ((0, 0), (2, 1), (3, 0)):
        one = detail(whole(), point=point, route=route, near=near, far=far)
        np.testing.assert_allclose(one.chance, whole().chance[point, route], atol=1e-6)
        assert one.path.ray_path_gain_db is not None


@pytest.mark.parametrize(("cells", "threads"), [(100, 1), (100, 2), (1_000_000, 2)])
def test_blocks_make_no_difference(monkeypatch: pytest.MonkeyPatch, cells: int, threads: int) -> None:
    monkeypatch.setattr(chunking, "BLOCK_CELLS", cells)
    monkeypatch.setattr(chunking, "LONG_BLOCK_CELLS", cells)
    if threads == 1:
        monkeypatch.setattr(chunking, "by_two", lambda work, blocks: [work(block) for block in blocks])
    cut = run()
    for name in ("chance", "snr_out_db", "margin_db", "muf_mhz"):
        np.testing.assert_allclose(getattr(cut, name), getattr(whole(), name), atol=1e-9, err_msg=name)
    np.testing.assert_array_equal(cut.limits, whole().limits)


@pytest.mark.parametrize(
    ("n", "t", "b"), [(1, 1, 1), (2, 24, 12), (2, 144, 12), (500, 24, 12), (3, 100_000, 1)]
)
def test_blocks_hold_every_cell_once(n: int, t: int, b: int) -> None:
    seen = np.zeros((n, t), dtype=int)
    distance_km = np.linspace(40_000.0, 0.0, n)
    for rows, part in chunking.blocks_of(distance_km, t, b):
        seen[rows, part] += 1
        long = np.all(distance_km[rows] > REACH_KM)
        most = chunking.LONG_BLOCK_CELLS if long else chunking.BLOCK_CELLS
        assert len(rows) * (part.stop - part.start) * b <= max(2 * most, b)
    assert np.all(seen == 1)


def test_more_power_is_never_less_likely() -> None:
    weak, strong = run(power_w=5.0), run(power_w=50.0)
    assert np.all(strong.chance >= weak.chance)
    np.testing.assert_allclose(strong.snr_out_db - weak.snr_out_db, 10.0, atol=0.1)
    np.testing.assert_allclose(strong.snr_back_db, weak.snr_back_db)


def test_a_narrower_mode_reaches_more() -> None:
    """CW needs some 15 dB less than SSB; each is computed in its own part of the band, a per cent or two
    apart."""
    narrow, wide = run(mode="CW").chance, run(mode="SSB").chance
    assert np.all(narrow >= wide - 0.01)
    assert np.mean(narrow) > 1.2 * np.mean(wide)


def test_quiet_conditions_leave_the_forecast_untouched_to_the_last_digit() -> None:
    with_effects, without = run(), run(effects=Effects(False, False, False, False))
    for name in ("chance", "snr_out_db", "snr_back_db", "margin_db", "muf_mhz", "limits"):
        assert np.array_equal(getattr(with_effects, name), getattr(without, name)), name


def test_the_best_route_serves_the_target() -> None:
    found = whole()
    by_route = np.einsum("p,prtb->rtb", target().weight, found.chance)
    chosen = np.take_along_axis(by_route, found.route[None], axis=0)[0]
    open_enough = found.region_chance >= 0.02
    np.testing.assert_allclose(chosen[open_enough], np.max(by_route, axis=0)[open_enough])
    assert np.all(found.limit[(found.region_chance >= engine.OPEN) & found.usable] == CODE["open"])


def test_names_of_ways() -> None:
    """One hop to the neighbours, three to Uruguay, 7760 km: two would be of 3880 km, along the horizon."""
    found = whole()
    names = {
        found.ray_path_name(p, r, t, b)
        for p in range(6) for r in range(2) for t in range(0, TIMES.size, 3) for b in range(len(BANDS))
    }  # fmt: skip
    assert {"1F2", "3F2", "ground wave", "scatter"} <= names
    assert all(name[0].isdigit() or name in ("scatter", "ground wave") for name in names)


# --- sanity of the trade (common practice, no source) ---------------------------------------------------


def cell(point: str, band: str, hour: float) -> float:
    found = whole()
    time = found.time_index(TIMES[0] + np.timedelta64(int(hour * 3600), "s"))
    return float(np.max(found.chance[PLACES.index(point), :, time, found.band_index(band)]))


def test_40_m_is_local_by_day_and_far_by_night() -> None:
    """Noon on the ridge is 10 UTC, midnight 22 UTC."""
    assert cell("Johannesburg way", "40m", 10.0) > 0.6
    assert cell("Uruguay", "40m", 10.0) < 0.02
    assert cell("Europe", "40m", 22.0) > 10.0 * cell("Europe", "40m", 10.0)


def test_10_m_opens_by_day_only() -> None:
    assert cell("Europe", "10m", 14.0) > 0.1
    assert cell("Europe", "10m", 2.0) < 0.01


def test_20_m_skips_the_neighbour_and_reaches_europe_after_dusk() -> None:
    assert cell("Europe", "20m", 18.0) > cell("neighbour", "20m", 18.0)


def test_160_m_is_dead_at_noon() -> None:
    assert cell("Johannesburg way", "160m", 10.0) < 0.02


def test_the_lossy_antenna_costs_transmit_more_than_receive() -> None:
    """A perfect 0 dBi end in its place: on 40 m the outward signal gains more than the homeward
    signal-to-noise."""
    near, _ = ends()
    ideal = Terminal(power_w=near.power_w, noise=near.noise, height_m=near.height_m, skyline=near.skyline)
    better = run(near=ideal)
    band = whole().band_index("40m")
    night = whole().time_index(TIMES[0] + np.timedelta64(22, "h"))
    out = better.snr_out_db[3, 0, night, band] - whole().snr_out_db[3, 0, night, band]
    back = better.snr_back_db[3, 0, night, band] - whole().snr_back_db[3, 0, night, band]
    assert out > 5.0
    assert back < out - 3.0


def test_a_region_as_wide_as_the_world_is_represented_by_the_part_that_is_open() -> None:
    """Not by its largest town, of which nothing arrives, where one part alone is open."""
    own = station.loads(
        '[site]\nlocator = "IO76"\n[rig]\npower_w = 10\n[antenna]\nkind = "loaded vertical"\n'
    )
    ends = Terminals(own_terminal(own), far_terminal(own.far_end))
    at, day = typed_in(ssn=90.0, kp=2), np.datetime64("2026-06-19T09:00", "s")
    result = forecast_of(own, ends, "anyone", at, day, step_min=120, bands=[by_name("20m"), by_name("10m")])
    reached = result.at(result.chance)[0]
    assert result.region_chance[0, 0] < FAINT_CHANCE < reached[0]
    assert result.distance_km[result.best_point[0, 0], 0] < 3000.0
    assert result.at(result.elevation_deg)[0, 0] > 8.0
    assert result.best_point[0, 1] == result.target.heaviest  # where nothing is open
