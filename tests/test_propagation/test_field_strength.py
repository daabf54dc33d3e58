"""The forecast's levels against measured monthly medians of field strength (`fixtures/field_strength/`)."""

from __future__ import annotations

from typing import Any

import field_strength
import numpy as np
from field_strength import Comparison, Score, comparison

from propagation.advice import experience
from propagation.data.builders.field_experience import table_text
from propagation.signal.chances.many_circuits import LONG, SHORT, Rows, many_circuits
from propagation.space_weather.state.conditions import typed_in

LEAST_COUNT = 150  # values, from which a class must have the right level
MEAN_DB = 3.5  # dB, largest mean difference of a class: under half of its standard deviation of 7 to 11 dB
RECEIVER_DEG = (54.0, 7.0)  # lat, lon of the receiving place of 30 circuits
# Hours that are off as a group, and why; without them every class is within MEAN_DB.
LOW_BY_DAY = "2.5 MHz by day under 500 km, one country: 422 hours 5.7 dB over the forecast"
STRONG_1982 = "one receiving place in 1982: 1208 hours 5 dB over the forecast, 0 dB in other years"
# Classes that are off by those hours: largest mean difference [dB] (measured is stronger), and the hours.
KNOWN = {
    ("frequency over MUF", "0.2 to 0.3"): (4.0, LOW_BY_DAY),
    ("0 to 500 km, day", "0.2 to 0.3 of the MUF"): (7.0, LOW_BY_DAY),
    ("activity, R12", "75 to 100"): (4.6, STRONG_1982),
    ("500 to 1000 km, day", "1.3 to 1.7 of the MUF"): (4.2, STRONG_1982),
}


def group(name: str, found: Comparison) -> Any:
    """The hours of a group: a mask that broadcasts with (N, 24)."""
    bank = found.bank
    if name == LOW_BY_DAY:
        low = (bank.frequency_mhz < 3.0) & (bank.distance_km < 500.0)
        return low[:, None] & (found.predicted.zenith_deg < 80.0)
    there = np.isclose(np.round(bank.rx), np.array(RECEIVER_DEG)[:, None]).all(axis=0)
    return (there & (bank.times[:, 0].astype("datetime64[Y]") == np.datetime64("1982")))[:, None]


def test_the_whole_and_both_ends_agree_as_well_as_was_reached() -> None:
    """9.0 dB over all: the method that became P.533 has 10.1 dB on the bank, a regression fitted to it with
    2040 coefficients 7.7 dB (Torres, Hernando and Tutor 1992, IEEE Trans. Broadcasting 38, 167)."""
    found = comparison()
    whole = found.score()
    assert whole.count == 12_409
    assert whole.rms_db <= 9.0
    assert abs(whole.mean_db) <= 1.0  # the reference of 1 kW and an isotropic antenna is right to that
    assert found.score(found.distance_km < 4000.0).rms_db <= 7.9
    assert found.score(found.distance_km > 9000.0).rms_db <= 9.4


def test_every_third_of_the_pairs_agrees_alike() -> None:
    """A constant that served a few pairs of places alone would leave a third behind by more than 1 dB."""
    found = comparison()
    fold = field_strength.fold_of(found.bank)
    thirds = [found.of(fold == k).score() for k in range(field_strength.FOLDS)]
    assert sum(third.count for third in thirds) == 12_409
    assert max(third.rms_db for third in thirds) <= 9.5


def large_classes(found: Comparison) -> dict[tuple[str, str], Score]:
    """Scores of all classes and cells with values enough, by their names."""
    every = (*found.classes(), *found.cells())
    return {(what, name): score for what, name, score in every if score.count >= LEAST_COUNT}


def test_the_level_of_every_large_class_is_right_or_known_to_be_off() -> None:
    found = large_classes(comparison())
    off = {names: round(s.mean_db, 2) for names, s in found.items() if abs(s.mean_db) > MEAN_DB}
    assert set(off) == set(KNOWN), off
    for names, (most_db, reason) in KNOWN.items():
        assert 0.0 < found[names].mean_db <= most_db, (names, off[names], reason)


def test_without_the_hours_known_to_be_off_every_large_class_has_the_right_level() -> None:
    whole = comparison()
    strange = group(LOW_BY_DAY, whole) | group(STRONG_1982, whole)
    left = whole.of(~strange)
    off = {names: s.mean_db for names, s in large_classes(left).items() if abs(s.mean_db) > MEAN_DB}
    assert not off
    assert left.score().count > 10_000


def test_over_the_hours_a_circuit_rises_and_falls_as_measured() -> None:
    """Half of the circuit-months have a correlation over the hours of 0.85 and more, near and far."""
    found = comparison()
    assert np.median(found.correlations(0.0, 4000.0)) >= 0.9
    assert np.median(found.correlations(4000.0, 9000.0)) >= 0.85
    assert np.median(found.correlations(9000.0, 41_000.0)) >= 0.85


def test_many_circuits_gives_the_same_fields() -> None:
    """Rows of one hour each, with their own activity and route, are the hours of the comparison."""
    found = comparison()
    bank = found.bank
    some = np.argwhere(np.isfinite(found.residual))[::97]
    month, hour = some.T
    rows = Rows(
        bank.tx[0][month], bank.tx[1][month], bank.rx[0][month], bank.rx[1][month], bank.times[month, hour],
        bank.frequency_mhz[month], np.full(len(month), 60.0), bank.r12[month],
        np.where(bank.long[month], LONG, SHORT),
    )  # fmt: skip
    # another activity in the conditions: it must not matter
    answers = many_circuits(rows, typed_in(ssn=3.0, kp=2.0), -26.0)
    # arrays over modes are in single precision: seven digits of some 200 dB
    np.testing.assert_allclose(answers.field_dbuv, found.predicted.field_db[month, hour], atol=1e-4)


def test_the_table_of_experience_is_that_of_this_engine() -> None:
    """Made again with python -m propagation.data.builders.field_experience when levels have moved."""
    found = comparison()
    now = [line.split(",") for line in table_text(found.bank, found.predicted).splitlines()]
    kept = [line.split(",") for line in experience.TABLE.read_text(encoding="ascii").splitlines()]
    assert [row[:5] for row in now] == [row[:5] for row in kept]  # classes and counts
    np.testing.assert_allclose(
        [float(row[5]) for row in now[1:]], [float(row[5]) for row in kept[1:]], atol=0.11
    )  # dB, printed to 0.1
    hours, error_db = experience.classes().whole
    assert hours == 12_409
    np.testing.assert_allclose(error_db, found.score().rms_db, atol=0.05)
