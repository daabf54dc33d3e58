"""The ledger: it sums to the margin of the forecast, and its lines are what other modules say they are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from worlds import forecast_of

from propagation.advice import ledger as ledger_terms
from propagation.advice.ledger import Ledger, ledger
from propagation.advice.recompute import compute, one_cell
from propagation.signal.chances.forecast import Forecast
from propagation.signal.losses.path_loss import LOSS_TERMS
from propagation.space_weather.state import conditions
from propagation.station import station
from propagation.station.terminals import Terminals
from propagation.wording import why as words_of_why

DAY = np.datetime64("2026-06-20T00:00:00", "s")
HERE = """
[site]
locator = "KG40"
horizon_deg = {0 = 3, 180 = 0, 270 = 6}
[rig]
power_w = 20
mode = "SSB"
[antenna]
kind = "loaded vertical"
"""
NO_LEVEL_DB = -500.0  # dB, margin under which modes that do not exist, -900 dB each, are part of the sum
# near, middle, far, between the two methods, by modes over most of the earth, near the antipode, a region
TARGETS = ("KG41", "KI88", "GF25", "JN58", "-30,150", "FN31", "35,-150", "within 500 km")


@pytest.fixture(scope="module")
def results(own: station.Station, terminals: Terminals) -> list[Forecast]:
    state = conditions.typed_in(ssn=90, kp=6, xray_w_m2=5e-5)
    return [forecast_of(own, terminals, text, state, DAY, step_min=180) for text in TARGETS]


@pytest.mark.parametrize("which", range(len(TARGETS)), ids=TARGETS)
def test_the_terms_sum_to_the_margin(results: list[Forecast], terminals: Terminals, which: int) -> None:
    """To 0.01 dB, for every way: modes, sporadic E, the combined method, scatter, ground wave."""
    result = results[which]
    rng = np.random.default_rng(which)
    for _ in range(24):
        point, route, band, time = (int(rng.integers(n)) for n in (result.target.size, 2, 12, 9))
        account = ledger(result, terminals, point, route, band, result.times[time])
        np.testing.assert_allclose(account.margin_db, account.snr_db - account.need_db, atol=0.01)
        promised = result.margin_db[point, route, time, band]
        if promised > NO_LEVEL_DB:
            np.testing.assert_allclose(account.margin_db, promised, atol=0.01)
        assert account.mode == result.ray_path_name(point, route, time, band)
        assert abs(account.group("not listed")) < 0.001


@pytest.fixture(scope="module")
def accounts(results: list[Forecast], terminals: Terminals) -> list[tuple[Forecast, int, int, Ledger]]:
    """Ledgers of every other band at three hours, for every target."""
    found = []
    for result in results:
        for band in range(0, 12, 2):
            for time in (1, 4, 7):
                found.append((result, band, time, ledger(result, terminals, 0, 0, band, result.times[time])))
    return found


def test_every_kind_of_mode_is_met(
    accounts: list[tuple[Forecast, int, int, Ledger]], terminals: Terminals
) -> None:
    """So the sum above is tested on all of them, not only on F2 modes."""
    modes = {account.mode for *_, account in accounts}
    assert any("F2" in mode for mode in modes)
    assert "ground wave" in modes
    assert "scatter" in modes
    assert any("Es" in mode for mode in modes)


def test_power_and_need_are_the_stations_own(
    accounts: list[tuple[Forecast, int, int, Ledger]], terminals: Terminals
) -> None:
    for result, _, _, account in accounts:
        sender = terminals.near if account.towards_far_end else terminals.far
        np.testing.assert_allclose(account.group("power"), 10.0 * np.log10(sender.power_w), atol=1e-9)
        np.testing.assert_allclose(account.group("need"), -result.mode.required_snr_2500_db, atol=1e-9)


def test_it_stands_for_the_weaker_direction(
    accounts: list[tuple[Forecast, int, int, Ledger]], terminals: Terminals
) -> None:
    for result, band, time, account in accounts:
        there = result.snr_out_db[0, 0, time, band]
        here = result.snr_back_db[0, 0, time, band]
        assert account.towards_far_end == (there <= here)
        if account.snr_db > NO_LEVEL_DB:
            np.testing.assert_allclose(account.snr_db, min(there, here), atol=0.01)


def test_antenna_and_line_are_what_the_antenna_says(
    accounts: list[tuple[Forecast, int, int, Ledger]], terminals: Terminals
) -> None:
    antenna = terminals.near.antenna
    assert antenna is not None
    for result, band, _, account in accounts:
        f = float(result.frequency_mhz[band])
        answer = antenna.on(f)
        np.testing.assert_allclose(
            account.group("antenna losses", end="here"), answer.efficiency_db, atol=1e-6
        )
        np.testing.assert_allclose(
            account.group("feed line", end="here"), -answer.feedline_loss_db, atol=1e-6
        )


def test_free_space_is_that_of_the_slant_range(
    accounts: list[tuple[Forecast, int, int, Ledger]], terminals: Terminals
) -> None:
    """P.525: 32.45 + 20 log f + 20 log d, d being from the distance over the ground to 1.5 times it."""
    seen = 0
    for result, band, _, account in accounts:
        distance = float(result.distance_km[0, 0])
        if distance < 1000.0 or not account.group("free space"):
            continue
        seen += 1
        f = float(result.frequency_mhz[band])
        over_ground = 32.45 + 20.0 * np.log10(f) + 20.0 * np.log10(distance)
        assert over_ground - 0.3 <= -account.group("free space") <= over_ground + 3.6
    assert seen > 20


def test_losses_are_losses(accounts: list[tuple[Forecast, int, int, Ledger]], terminals: Terminals) -> None:
    names = (
        "free space", "absorption", "flare", "polar cap", "E screening", "ground reflections", "auroral zone",
        "stretched hops", "above the MUF", "feed line", "antenna losses", "skyline", "scatter", "ground wave",
    )  # fmt: skip
    for *_, account in accounts:
        for term in account.terms:
            if term.name in names:
                assert term.db <= 1e-9, term
    flare = [account.group("flare") for *_, account in accounts]
    assert min(flare) < -1.0  # a class M5 flare takes more than a decibel of some sunlit path


def test_ten_times_the_power_is_ten_decibels_in_one_line(
    results: list[Forecast], terminals: Terminals
) -> None:
    result = results[2]
    at = result.times[4]
    one = ledger(result, terminals, 0, 0, 5, at)
    strong = Terminals(replace(terminals.near, power_w=10.0 * terminals.near.power_w), terminals.far)
    ten = ledger(result, strong, 0, 0, 5, at)
    if one.towards_far_end and ten.towards_far_end:
        np.testing.assert_allclose(ten.margin_db - one.margin_db, 10.0, atol=1e-6)
    for name, end in {(term.name, term.end) for term in one.terms if term.name not in ("power", "noise")}:
        if one.towards_far_end == ten.towards_far_end:
            np.testing.assert_allclose(ten.group(name, end=end), one.group(name, end=end), atol=1e-6)


def test_a_cell_computed_again_is_the_forecasts(results: list[Forecast], terminals: Terminals) -> None:
    for result in results[:4]:
        again = compute(result, terminals, one_cell(0, 1, 5, result.times))
        np.testing.assert_allclose(again.chance[0], result.chance[0, 1, :, 5], atol=1e-9)
        np.testing.assert_allclose(again.margin_db[0], result.margin_db[0, 1, :, 5], atol=1e-9)


def test_every_loss_has_a_line_and_every_line_its_words() -> None:
    """A loss of the ray paths without a name in the ledger, or a name without words, would end `why`."""
    assert set(ledger_terms._NAMES) | {ledger_terms.EVENT_TERM} == set(LOSS_TERMS)
    for name in ledger_terms._NAMES.values():
        assert all(words_of_why._PATH[name]), name
