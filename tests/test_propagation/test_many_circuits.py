"""Many circuits at once, and the lowest usable frequency, agree with the single circuits they stand for."""

from __future__ import annotations

import numpy as np
import pytest
from cases import computed

from propagation.geo import great_circle
from propagation.geo.locator import Position, position_of
from propagation.signal.chances import many_circuits
from propagation.signal.chances.link_budget import (
    UNKNOWN_STATION_DB,
    one_way,
    ordinary_shortfall_db,
    unknown_receiver_db,
)
from propagation.signal.chances.lowest_usable import LOWEST_MHZ, lowest_usable_mhz
from propagation.signal.chances.many_circuits import Rows
from propagation.signal.rays.causes import CODE
from propagation.space_weather.state import conditions
from propagation.spectrum.modes import MODES, by_name
from propagation.spectrum.noise import NoiseLevel
from propagation.station.terminals import plain_terminal

SUN = conditions.typed_in(ssn=100.0, kp=2.0)
NOON = np.datetime64("2026-03-20T10:00", "s")


def rows(count: int) -> Rows:
    """Invented circuits all over the globe and the year."""
    rng = np.random.default_rng(3)

    def lat() -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, count)))

    def lon() -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return rng.uniform(-180.0, 180.0, count)

    minutes = rng.integers(0, 365 * 1440, count) * np.timedelta64(60, "s")
    return Rows(
        lat(), lon(), lat(), lon(), np.datetime64("2026-01-01", "s") + minutes,
        rng.choice([3.6, 7.1, 14.1, 28.2, 144.2], count), rng.uniform(20.0, 40.0, count),
    )  # fmt: skip


def test_a_row_is_the_single_circuit_it_stands_for() -> None:
    asked = rows(12)
    found = many_circuits.many_circuits(asked, SUN, -20.0)
    for i in range(len(asked)):
        tx = Position(float(asked.tx_lat_deg[i]), float(asked.tx_lon_deg[i]))
        rx = Position(float(asked.rx_lat_deg[i]), float(asked.rx_lon_deg[i]))
        watts = 10.0 ** (0.1 * (asked.power_dbm[i] - 30.0))
        sender, receiver = plain_terminal(watts), plain_terminal(1.0)
        answers = []
        for long in (False, True):
            when = asked.times[i : i + 1]
            path = computed(
                great_circle.route(tx, rx, long).rows(None), when, asked.frequency_mhz[i : i + 1],
                SUN.index_at(when)[None, :], sender, receiver,
            )  # fmt: skip
            both_db = float(
                np.hypot(UNKNOWN_STATION_DB, unknown_receiver_db(receiver.noise))
            )  # two ends of which nothing is known
            signal = one_way(path, sender, receiver, towards_far_end=True, station_spread_db=both_db)
            less_db = ordinary_shortfall_db(asked.frequency_mhz[i])
            snr, chance = signal.median_snr_db[0, 0, 0], signal.chance(-20.0 + less_db)[0, 0, 0]
            answers.append((float(snr), float(chance), float(path.muf_mhz[0, 0])))
        # the stronger route is told, and the long one is not looked at where the short is under 10 000 km
        is_long = float(great_circle.route(tx, rx).distance_km) > many_circuits.LONG_ROUTE_FROM_KM
        snr, chance, muf = max(answers) if is_long else answers[0]
        # arrays over modes are in single precision: seven digits of some 200 dB
        np.testing.assert_allclose(found.snr_db[i], snr, atol=1e-4)
        np.testing.assert_allclose(found.chance[i], chance, atol=1e-5)
        np.testing.assert_allclose(found.muf_mhz[i], muf, rtol=1e-9)


def test_no_nan_and_causes_that_fit_the_chance() -> None:
    found = many_circuits.many_circuits(rows(300), SUN, -26.0)
    for values in (found.snr_db, found.chance, found.muf_mhz):
        assert np.isfinite(values).all()
    assert ((found.chance >= 0.0) & (found.chance <= 1.0)).all()
    np.testing.assert_array_equal(found.limit == CODE["open"], found.chance >= 0.5)


def test_blocks_make_no_difference(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = rows(40)
    whole = many_circuits.many_circuits(asked, SUN, -26.0)
    done: list[int] = []
    monkeypatch.setattr(many_circuits, "BLOCK_ROWS", 7)
    parts = many_circuits.many_circuits(asked, SUN, -26.0, progress=done.append)
    np.testing.assert_allclose(parts.snr_db, whole.snr_db, atol=1e-9)
    np.testing.assert_allclose(parts.chance, whole.chance, atol=1e-12)
    # two threads take the blocks: the last, of five rows, may be done before the one before it
    assert sorted(np.diff([0, *done]).tolist()) == [5, 7, 7, 7, 7, 7]


@pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.name)
def test_at_the_lowest_usable_frequency_the_signal_just_meets_the_need(mode: object) -> None:
    emission = by_name(getattr(mode, "name", ""))
    tx, rx = position_of("KG40"), position_of("KH54")
    end = plain_terminal(100.0)
    lowest = lowest_usable_mhz(tx, rx, NOON, SUN, emission, end, end)
    if lowest is None:
        assert emission.name == "FM"  # 18 dB in 2500 Hz over 2500 km of daylight
        return
    assert lowest > LOWEST_MHZ
    found = many_circuits.many_circuits(
        Rows(*(np.array([v]) for v in (tx.lat_deg, tx.lon_deg, rx.lat_deg, rx.lon_deg)),
             np.array([NOON]), np.array([lowest]), np.array([50.0])),
        SUN, 0.0,
    )  # fmt: skip
    # joined linearly between steps of 4 %, over which the signal rises by up to 3 dB: 0.3 dB
    np.testing.assert_allclose(found.snr_db[0], emission.required_snr_2500_db, atol=0.3)


def test_receivers_of_the_country_spread_more_than_those_where_people_live() -> None:
    """1.2816 sqrt(4^2 + s^2) with P.372's 5.8, 6.8 and 8.4 dB between places: 9.0, 10.1 and 11.9 dB."""
    found = [unknown_receiver_db(NoiseLevel(where)) for where in ("residential", "rural", "city")]
    np.testing.assert_allclose(found, [9.03, 10.11, 11.92], atol=0.01)
