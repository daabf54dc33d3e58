"""Experience with paths like one: classes, counts and errors of the table, and the words for them."""

from __future__ import annotations

import field_strength
import numpy as np
import pytest

from propagation.advice.experience import (
    DISTANCE_EDGES_KM,
    FREQUENCY_EDGES_MHZ,
    LEAST_FIELD_DBUV,
    Experience,
    class_of,
    classes,
    experience,
)
from propagation.geo.great_circle import EARTH_TURN_KM
from propagation.wording.experience import error_words, experience_sentence, experience_short, whole_sentence

STRONG = 20.0  # dB over 1 uV/m


def test_every_measured_hour_stands_in_one_class() -> None:
    found = field_strength.comparison()
    bank, zenith = found.bank, found.predicted.zenith_deg
    km, mhz, day = np.broadcast_arrays(
        *class_of(bank.distance_km[:, None], bank.frequency_mhz[:, None], zenith)
    )
    seen = np.isfinite(found.residual)
    assert np.all(mhz[seen] >= 0)
    counts = np.zeros_like(classes().hours)
    np.add.at(counts, (km[seen], mhz[seen], day[seen].astype(int)), 1)
    np.testing.assert_array_equal(counts, classes().hours)


def test_the_lengths_reach_round_the_earth_and_part_the_two_ways() -> None:
    """No short way is longer than half the way round, no long way shorter."""
    half_round_km = EARTH_TURN_KM / 2.0
    assert DISTANCE_EDGES_KM[0] == 0.0
    np.testing.assert_allclose(DISTANCE_EDGES_KM[-2:], [half_round_km, EARTH_TURN_KM], atol=1.0)
    for km, place in ((0.0, 0), (499.0, 0), (501.0, 1), (half_round_km - 1.0, 6), (half_round_km + 1.0, 7)):
        assert int(class_of(km, 7.1, 0.0)[0]) == place


def test_the_sun_on_the_horizon_parts_day_from_night() -> None:
    assert [bool(day) for day in class_of(300.0, 3.6, np.array([0.0, 89.9, 90.1, 180.0]))[2]] == [
        True, True, False, False
    ]  # fmt: skip


def test_a_class_of_many_hours_has_its_own_error_one_of_few_that_of_all_frequencies() -> None:
    table, standings = classes(), set()
    for i, km in enumerate(DISTANCE_EDGES_KM[:-1]):
        for j, mhz in enumerate(FREQUENCY_EDGES_MHZ[:-1]):
            for k, zenith in ((1, 40.0), (0, 140.0)):
                found = experience(km + 1.0, mhz + 0.1, zenith, STRONG)
                standings.add(found.standing)
                assert (found.hours, found.circuits) == (table.hours[i, j, k], table.circuits[i, j, k])
                assert (found.from_km, found.from_mhz, found.day) == (km, mhz, k == 1)
                if found.standing == "none":
                    assert found.hours == 0
                    assert found.error_db is None
                    continue
                like = (i, j, k) if found.standing == "many" else (i, slice(None), k)
                mean = np.sum(table.squares_db2[like]) / np.sum(table.hours[like])
                np.testing.assert_allclose(found.error_db, np.sqrt(mean))
    assert standings == {"many", "few", "none"}


@pytest.mark.parametrize("mhz", [1.84, 28.1, 50.1, 144.2])
def test_frequencies_outside_the_bank_are_a_guess(mhz: float) -> None:
    """It holds 2.5 to 25.8 MHz."""
    found = experience(700.0, mhz, 40.0, STRONG)
    assert (found.standing, found.hours, found.error_db) == ("none", 0, None)
    assert np.isnan(found.from_mhz)
    assert error_words(found) == "a guess"


def test_a_field_weaker_than_any_measured_is_a_guess() -> None:
    """1 hour in 150 of the bank is under the least field, so nothing can be said of weaker ones."""
    measured = field_strength.comparison().bank.measured_db
    assert np.nanmean(measured < LEAST_FIELD_DBUV) < 0.01
    found = experience(700.0, 7.1, 40.0, LEAST_FIELD_DBUV - 1.0)
    assert (found.standing, found.hours, found.error_db) == ("none", 0, None)
    assert experience(700.0, 7.1, 40.0, LEAST_FIELD_DBUV + 1.0).standing == "many"


def invented(**more: object) -> Experience:
    """An invented experience of many hours."""
    base = {
        "hours": 1200, "circuits": 8, "error_db": 8.6, "from_km": 2000.0, "to_km": 4000.0, "from_mhz": 12.0,
        "to_mhz": 16.0, "day": True, "too_weak": False,
    }  # fmt: skip
    return Experience(**{**base, **more})  # type: ignore[arg-type]


def told(**more: object) -> str:
    """The sentence on it."""
    return experience_sentence(invented(**more))


def test_the_sentences() -> None:
    assert told() == (
        "Levels agree with 1,200 measured hours of paths like this one (2,000 to 4,000 km, 12 to 16 MHz, "
        "by day) to +-9 dB."
    )
    assert told(hours=1, circuits=1, day=False, from_km=0.0, to_km=500.0) == (
        "Only 1 measured hour of paths like this one (under 500 km, 12 to 16 MHz, by night); levels at this "
        "length by night agree to +-9 dB."
    )
    assert "(over 12,000 km, " in told(from_km=12_000.0, to_km=20_015.0)
    assert "(the long way round, " in told(from_km=20_015.0, to_km=40_031.0)
    assert told(hours=0, circuits=0, error_db=None) == (
        "No measured path of this length and frequency by day: take the level as a guess."
    )
    assert told(too_weak=True, error_db=None).startswith("Fields this weak were not measured")
    assert experience_short(invented()) == "Levels agree with 1,200 measured hours of such paths to +-9 dB."
    assert (
        experience_short(invented(hours=40))
        == "Only 40 measured hours of such paths; levels agree to +-9 dB."
    )
    assert experience_short(invented(hours=0, error_db=None)).startswith("No such path was measured")
    assert experience_short(invented(too_weak=True, error_db=None)).startswith("Fields this weak")
    assert whole_sentence() == "With all 12,409 measured hours levels agree to +-9 dB."
