"""Storm, flare, aurora and polar cap in whole circuits: quiet is exactly quiet, and each does what it
should."""

from __future__ import annotations

from typing import Any

import numpy as np
from cases import computed

from propagation.geo import great_circle
from propagation.signal.circuit import Circuit
from propagation.space_weather.conditions import Conditions, typed_in
from propagation.space_weather.disturbance import NO_EFFECTS, Effects
from propagation.space_weather.disturbed import Disturbed, disturber_of
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
    disturber = None if conditions is None else Disturbed(conditions, effects or Effects())
    return computed(route, DAY, MHZ, 70.0, END, END, disturber)


def only(**which: bool) -> Effects:
    return Effects(**{**dict.fromkeys(("storm", "flare", "aurora", "polar_cap"), False), **which})


def test_quiet_leaves_the_circuit_untouched_to_the_last_digit() -> None:
    plain, quiet = run(None), run(QUIET)
    for name in (
        "gain_db",
        "median_gain_db",
        "path_mode",
        "muf_mhz",
        "support",
        "absorption_db",
        "auroral_db",
    ):
        assert np.array_equal(getattr(plain, name), getattr(quiet, name)), name
    assert disturber_of(QUIET, Effects(), DAY) is None


def test_switched_off_it_is_quiet_too() -> None:
    wild = typed_in(ssn=100.0, kp=8.0, xray_w_m2=2e-4, proton_pfu=3000.0)
    assert disturber_of(wild, NO_EFFECTS, DAY) is None
    assert np.array_equal(run(None).gain_db, run(wild, NO_EFFECTS).gain_db)
    assert disturber_of(wild, Effects(), DAY) is not None


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
    short = calm.path_mode < 20  # the modes
    night = np.all(zenith > 95.0, axis=-1)[..., None] & short & (calm.path_mode == flare.path_mode)
    noon = np.all(zenith < 60.0, axis=-1)
    assert np.any(night)
    np.testing.assert_allclose(np.where(night, extra, 0.0), 0.0, atol=1e-12)
    assert np.all(flare.median_gain_db <= calm.median_gain_db + 1e-9)
    lost = np.mean((calm.median_gain_db - flare.median_gain_db)[noon], axis=0)
    assert np.all(np.diff(lost[:3]) < 0.0)
    assert lost[0] > 8.0


def test_an_x1_flare_takes_1_db_at_25_mhz_straight_up() -> None:
    """HAF 25 MHz under the sun for X1, 1 dB there by definition, less the ordinary sun's own (5 MHz: 0.09
    dB)."""
    times = np.array([["2026-03-20T12:07"]], dtype="datetime64[s]")
    flare = Disturbed(typed_in(ssn=100.0, xray_w_m2=1e-4), only(flare=True))
    extra = flare.extra_absorption(*np.zeros((4, 1, 1, 1)), times[..., None])
    np.testing.assert_allclose(extra / 25.0**1.5, 1.0 - (5.0 / 25.0) ** 1.5, rtol=1e-6)


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
