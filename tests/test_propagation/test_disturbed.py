"""Storm, flare, aurora and polar cap in whole circuits: quiet is exactly quiet, and each does what it
should."""

from __future__ import annotations

from typing import Any

import numpy as np
from cases import computed

from propagation.geo import great_circle
from propagation.signal.losses.circuit import Circuit
from propagation.space_weather.state.conditions import Conditions, typed_in
from propagation.space_weather.state.event_absorption import NO_EFFECTS, Effects
from propagation.space_weather.state.storm_corrections import (
    StormCorrections,
    corrections_of,
    events_at,
    flare_about,
)
from propagation.station.terminals import plain_terminal

MHZ = np.array([7.1, 14.2, 21.2, 28.4])
DAY = np.datetime64("2026-06-20", "s") + np.arange(0, 24, 2) * np.timedelta64(3600, "s")
END = plain_terminal(100.0)
QUIET = typed_in(ssn=100.0, kp=2.0)


def run(conditions: Conditions | None, effects: Effects | None = None, tx: Any = (51.0, 0.0)) -> Circuit:
    here, there = (
        (np.full(4, tx[0]), np.full(4, tx[1])),
        (np.array([48.0, 40.0, 64.0, -33.0]), np.array([11.0, -74.0, -22.0, 18.0])),
    )
    route = great_circle.route(here, there)
    disturber = None if conditions is None else StormCorrections(conditions, effects or Effects())
    return computed(route, DAY, MHZ, 70.0, END, END, disturber)


def only(**which: bool) -> Effects:
    return Effects(**{**dict.fromkeys(("storm", "flare", "aurora", "polar_cap"), False), **which})


def test_quiet_leaves_the_circuit_untouched_to_the_last_digit() -> None:
    plain, quiet = run(None), run(QUIET)
    for name in (
        "gain_db",
        "median_gain_db",
        "ray_path",
        "muf_mhz",
        "support",
        "absorption_db",
        "auroral_db",
    ):
        assert np.array_equal(getattr(plain, name), getattr(quiet, name)), name
    assert corrections_of(QUIET, Effects(), DAY) is None


def test_switched_off_it_is_quiet_too() -> None:
    wild = typed_in(ssn=100.0, kp=8.0, xray_w_m2=2e-4, proton_pfu=3000.0)
    assert corrections_of(wild, NO_EFFECTS, DAY) is None
    assert np.array_equal(run(None).gain_db, run(wild, NO_EFFECTS).gain_db)
    assert corrections_of(wild, Effects(), DAY) is not None


def test_a_storm_lowers_the_mufs_of_middle_latitudes_in_summer() -> None:
    """STORM (Araujo-Pradere et al. 2002): some 25 % of foF2 at Kp 8 in the summer of the north."""
    calm, stormy = run(None), run(typed_in(ssn=100.0, kp=8.0), only(storm=True))
    ratio = stormy.muf_mhz[:2] / calm.muf_mhz[:2]
    assert np.all(ratio <= 1.0)
    assert np.mean(ratio) < 0.9
    assert np.all(stormy.samples.fof2_mhz <= 1.1 * calm.samples.fof2_mhz)


def test_a_flare_absorbs_by_day_only_and_the_low_bands_most() -> None:
    calm, flare = run(None), run(typed_in(ssn=100.0, kp=2.0, xray_w_m2=1e-4), only(flare=True))
    extra = flare.absorption_db - calm.absorption_db
    zenith = calm.samples.zenith_deg
    short = calm.ray_path < 20  # the modes
    night = np.all(zenith > 95.0, axis=-1)[..., None] & short & (calm.ray_path == flare.ray_path)
    noon = np.all(zenith < 60.0, axis=-1)
    assert np.any(night)
    np.testing.assert_allclose(np.where(night, extra, 0.0), 0.0, atol=1e-12)
    assert np.all(flare.median_gain_db <= calm.median_gain_db + 1e-9)
    lost = np.mean((calm.median_gain_db - flare.median_gain_db)[noon], axis=0)
    assert np.all(np.diff(lost[:3]) < 0.0)
    assert lost[0] > 8.0


def test_an_x1_flare_by_its_two_passages() -> None:
    """1.7 dB for each at 30 MHz straight under the sun, less the ordinary sun's own, a tenth (C1)."""
    times = np.array([["2026-03-20T12:07"]], dtype="datetime64[s]")
    flare = StormCorrections(typed_in(ssn=100.0, xray_w_m2=1e-4), only(flare=True))
    extra = flare.extra_absorption(*np.zeros((4, 1, 1, 1)), times[..., None])[0]
    # the sun stands within half a degree of overhead
    np.testing.assert_allclose(extra / 30.0**1.5, 2.0 * 1.7 * 0.9, rtol=1e-4)


def test_an_x1_flare_takes_20_m_over_1500_km_in_daylight() -> None:
    """R3 of the public scale, a wide-area blackout. One hop at 20 deg crosses the D region twice at 68 deg:
    some 16 dB on 20 m under a sun at 47 deg, twice that on 30 m and lower, little on 10 m. An hour later,
    three e-folds of the X-rays, a few decibels are left."""
    route = great_circle.route((np.array([48.0]), np.array([0.0])), (np.array([42.0]), np.array([16.8])))
    noon = np.array(["2026-03-20T12:00"], dtype="datetime64[s]")

    def lost(xray_w_m2: float) -> Any:
        calm, flare = (
            computed(
                route,
                noon,
                MHZ,
                80.0,
                END,
                END,
                StormCorrections(typed_in(ssn=100.0, kp=2.0, xray_w_m2=flux)),
            )
            for flux in (1e-6, xray_w_m2)
        )
        return (calm.median_gain_db - flare.median_gain_db)[0, 0], flare

    x1, path = lost(1e-4)
    assert 14.0 < x1[1] < 24.0
    assert x1[0] > 2.0 * x1[1] > 3.0 * x1[2] > 0.0
    # told of the strongest mode: less by what modes of like strength add to it on a calm day, 3 dB for two
    assert x1[1] - 3.0 < path.event_db[0, 0, 1] < x1[1] + 0.01
    assert lost(1e-4 * np.exp(-3.0))[0][1] < 0.25 * x1[1]


def test_long_paths_and_scatter_lose_by_a_flare_too() -> None:
    """Once the long way round, by the combined method, and inside the dead zone, by scattered signals."""
    here = np.array([48.0]), np.array([11.0])
    noon = np.array(["2026-03-20T12:00"], dtype="datetime64[s]")
    flare = StormCorrections(typed_in(ssn=100.0, kp=2.0, xray_w_m2=1e-4))
    far, near = (np.array([35.0]), np.array([139.0])), (np.array([50.0]), np.array([13.0]))
    for there, long in ((far, True), (near, False)):
        route = great_circle.route(here, there, long=long)
        calm, under = (computed(route, noon, MHZ[1:3], 80.0, END, END, one) for one in (None, flare))
        assert np.all((calm.median_gain_db - under.median_gain_db)[0, 0] > 3.0)


def test_what_flares_and_protons_take_is_told_apart() -> None:
    both = typed_in(ssn=100.0, kp=2.0, xray_w_m2=1e-4, proton_pfu=1000.0)
    where = np.full((1, 1, 1), 75.0), np.zeros((1, 1, 1)), np.full((1, 1, 1), 60.0), np.full((1, 1, 1), 75.0)
    flare, protons = StormCorrections(both).extra_absorption(*where, DAY[:1, None, None])
    assert float(flare[0, 0, 0]) > 0.0
    assert float(protons[0, 0, 0]) > 0.0
    for which, kept in (("flare", 0), ("polar_cap", 1)):
        parts = StormCorrections(both, only(**{which: True})).extra_absorption(*where, DAY[:1, None, None])
        assert parts[kept] == (flare, protons)[kept]
        assert parts[1 - kept] == 0.0
    low = (np.full((1, 1, 1), 30.0), *where[1:3], np.full((1, 1, 1), 30.0))
    assert StormCorrections(both).extra_absorption(*low, DAY[:1, None, None])[1] == 0.0


def test_events_are_known_by_their_times() -> None:
    assert not events_at(QUIET, Effects(), DAY).any()
    assert events_at(typed_in(ssn=100.0, xray_w_m2=1e-5), Effects(), DAY).all()
    assert not events_at(typed_in(ssn=100.0, xray_w_m2=1e-5), NO_EFFECTS, DAY).any()
    assert events_at(typed_in(ssn=100.0, proton_pfu=10.0), Effects(), DAY).all()
    assert not flare_about(typed_in(ssn=100.0, xray_w_m2=9e-6), Effects(), DAY).any()
    assert flare_about(typed_in(ssn=100.0, xray_w_m2=1e-5), Effects(), DAY).all()


def test_the_wider_oval_takes_paths_that_are_clear_on_ordinary_days() -> None:
    calm, wide = run(None), run(typed_in(ssn=100.0, kp=7.0), only(aurora=True))
    assert np.all(wide.auroral_db >= calm.auroral_db - 1e-9)
    # London to Munich, some 50 degrees geomagnetic: hardly touched at Kp 2, reached by the oval at Kp 7
    assert np.mean(calm.auroral_db[0]) < 3.5
    assert np.mean(wide.auroral_db[0]) > np.mean(calm.auroral_db[0]) + 2.0


def test_protons_shut_the_polar_cap_and_nothing_else() -> None:
    storm = typed_in(ssn=100.0, kp=2.0, proton_pfu=1000.0)
    calm, shut = run(None, tx=(75.0, 0.0)), run(storm, only(polar_cap=True), tx=(75.0, 0.0))
    assert np.mean((calm.median_gain_db - shut.median_gain_db)[2, :, 0]) > 10.0
    low_calm, low = run(None, tx=(0.0, 20.0)), run(storm, only(polar_cap=True), tx=(0.0, 20.0))
    np.testing.assert_array_equal(low.gain_db[3], low_calm.gain_db[3])
