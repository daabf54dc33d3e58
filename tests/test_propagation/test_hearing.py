"""What a signal's chance says about the sun, and what the sky does over a place."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from propagation.advice.sky import sky_effects
from propagation.geo import places
from propagation.signal.chances.forecast import forecast
from propagation.signal.chances.report_likelihood import beacon_report, chance_of_hearing, station_report
from propagation.signal.chances.request import Request
from propagation.space_weather.state.conditions import built_in, typed_in
from propagation.space_weather.state.ear_reports import GRID_INDEX, believe
from propagation.space_weather.state.event_absorption import NO_EFFECTS, Effects
from propagation.spectrum import beacons
from propagation.station import station
from propagation.station.terminals import far_terminal
from propagation.wording.sky import sky_sentences

TIME = np.datetime64("2026-03-20T20:00", "s")
NOON = np.datetime64("2026-03-20T10:00", "s")


def test_chance_follows_the_sun_on_the_highest_band(demo: station.Station) -> None:
    target = places.resolve("Nairobi")
    chance = chance_of_hearing(demo, target, 28.4, TIME, built_in(), far_terminal(demo.far_end), -10.0)
    values = chance(np.array([0.0, 60.0, 120.0]))
    assert values.shape == (3,)
    assert ((values >= 0) & (values <= 1)).all()
    assert values[0] < values[1] < values[2]  # 28 MHz over 3000 km after dark


def test_chance_of_one_index_does_not_depend_on_its_neighbours(demo: station.Station) -> None:
    target = places.resolve("Nairobi")
    chance = chance_of_hearing(demo, target, 28.4, TIME, built_in(), far_terminal(demo.far_end), -10.0)
    whole = chance(GRID_INDEX)
    alone = [float(chance(np.array([r12]))[0]) for r12 in GRID_INDEX[[0, 12, 30]]]
    np.testing.assert_allclose(alone, whole[[0, 12, 30]], atol=1e-9)


def test_reports_from_the_forecast(demo: station.Station) -> None:
    target, sun = places.resolve("Nairobi"), typed_in(ssn=60.0)
    shifts = {}
    for heard in (True, False):
        report = station_report(demo, target, "10m", 28.4, TIME, sun, heard, "CW")
        assert report.words == "Nairobi, Kenya on 10 m"
        assert report.prior_index == pytest.approx(46.47, abs=0.01)  # goes with 60 sunspots
        shifts[heard] = believe(report.prior_index, [report], TIME).shift
    assert shifts[True] > 3 > 0 > shifts[False]


def test_beacon_report(demo: station.Station) -> None:
    schedule = beacons.load()
    kenya = schedule.beacons[schedule.number_of("Kenya")]
    report = beacon_report(demo, schedule, kenya, "10m", 28.2, TIME, typed_in(ssn=60.0), True)
    assert "Kenya" in report.words
    assert believe(report.prior_index, [report], TIME).shift > 3


def test_quiet_sky(demo: station.Station) -> None:
    effects = sky_effects(typed_in(flux_sfu=120.0, kp=1.0), demo.site.position, NOON)
    assert effects.storm_factor == 1.0
    assert effects.flare_mhz == 0.0
    assert effects.polar_cap_db == 0.0
    said = " ".join(sky_sentences(effects))
    assert "No ionospheric storm" in said
    assert "flare" not in said


def test_disturbed_sky(demo: station.Station) -> None:
    state = typed_in(flux_sfu=200.0, kp=7.0, xray_w_m2=1e-4, proton_pfu=1000.0, base=built_in())
    effects = sky_effects(state, demo.site.position, NOON)
    assert effects.storm_factor != 1.0
    assert 20.0 < effects.flare_mhz <= 25.0  # the sun stands high at the equinox
    assert 7.0 < effects.flare_db < 10.0  # two passages of 1.7 dB, 30 / 14 to the power of 1.5, and less C1
    assert effects.oval_edge_deg == pytest.approx(53.0)
    assert effects.muf_change > 0.05  # 200 sfu against the sunspots of a falling cycle
    said = " ".join(sky_sentences(effects))
    for word in ("class X1.0", "protons", "oval", "higher"):
        assert word in said
    dark = sky_effects(state, demo.site.position, np.datetime64("2026-03-20T22:00", "s"))
    assert dark.flare_mhz == 0.0
    assert dark.flare_db == 0.0
    assert "no flare absorption" in " ".join(sky_sentences(dark))


def test_muf_change_is_that_of_the_maps(demo: station.Station) -> None:
    same = sky_effects(built_in(basis="sunspots"), demo.site.position, NOON)
    np.testing.assert_allclose(same.muf_change, 0.0, atol=1e-6)  # the record is read between its days
    assert "essentially unchanged" in sky_sentences(same)[0]


def test_sunspots_and_index_explain_each_other(demo: station.Station) -> None:
    """In September 2019 IG12 was -10.7 (ig_rz.dat), the smoothed sunspot number 3.1 (version 2)."""
    time = np.datetime64("2019-09-16T12:00", "s")
    said = sky_sentences(sky_effects(built_in(), demo.site.position, time))[0]
    assert said.startswith("Sunspots 3 usually go with an index of -11; the F2 maps use -12 (IG12 of")
    assert said.endswith("lower.")


@pytest.fixture(scope="module")
def north() -> station.Station:
    """A station close to the auroral zone, where every disturbance would show."""
    return station.loads('[site]\nlocator = "KP03sd"\n[rig]\nmode = "CW"\n')


@pytest.mark.parametrize(
    ("kp", "effects"),
    # At Kp 2+ the effects are computed (the oval has begun to move) and still come to nothing but for the
    # oval.
    [(2.0, Effects()), (7 / 3, Effects(aurora=False))],
)
def test_a_quiet_sky_leaves_the_forecast_untouched_to_the_last_digit(
    north: station.Station, kp: float, effects: Effects
) -> None:
    target, times = places.resolve("Boston"), NOON + np.arange(0, 24, 6) * np.timedelta64(3600, "s")
    quiet = typed_in(flux_sfu=120.0, kp=kp, xray_w_m2=1e-6, proton_pfu=0.5)
    with_effects = forecast(Request(north, target, times, quiet, effects=effects))
    without = forecast(Request(north, target, times, quiet, effects=NO_EFFECTS))
    for name in ("chance", "snr_out_db", "snr_back_db", "muf_mhz", "elevation_deg"):
        np.testing.assert_array_equal(getattr(with_effects, name), getattr(without, name))


@pytest.mark.parametrize(
    ("numbers", "switch"),
    [
        ({"kp": 8.0}, "storm"),
        ({"kp": 8.0}, "aurora"),
        ({"xray_w_m2": 1e-4}, "flare"),
        ({"proton_pfu": 1e4}, "polar_cap"),
    ],
)
def test_each_effect_has_its_switch(north: station.Station, numbers: dict[str, Any], switch: str) -> None:
    target, times = places.resolve("Boston"), NOON + np.arange(0, 24, 6) * np.timedelta64(3600, "s")
    state = typed_in(flux_sfu=120.0, **numbers)
    median = forecast(Request(north, target, times, state, effects=NO_EFFECTS))
    bent = forecast(Request(north, target, times, state, effects=replace(NO_EFFECTS, **{switch: True})))
    assert np.nanmax(np.abs(bent.snr_back_db - median.snr_back_db)) > 1.0  # dB, somewhere on some band
