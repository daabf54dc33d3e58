"""Readings belong to the antenna they were taken with: set aside, told of, brought back, forgotten."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from propagation.antennas import measurements
from propagation.antennas.factory import build
from propagation.antennas.spec import AntennaSpec, Measurement

WHIP = AntennaSpec(radiator_m=2.0, radials=4, radial_m=4.5, radial_height_m=0.9)
SEEN = Measurement(14.2, 41.0, 0.3, "2026-08-01")


def test_a_reading_of_a_short_whip_says_nothing_of_a_long_one() -> None:
    short = measurements.kept(WHIP, SEEN)
    long = replace(short, radiator_m=5.6)
    assert build(short).on(14.2).basis == "measured"
    answer = build(long).on(14.2)
    assert answer.basis == "model"
    np.testing.assert_allclose(answer.efficiency, build(replace(long, measured=())).on(14.2).efficiency)
    told = [note for note in answer.notes if "set aside" in note]
    assert told == [
        "The reading of 2026-08-01 on 20m is set aside: it was taken with another antenna "
        "(radiator 2 m, now 5.6 m)."
    ]
    assert build(replace(long, radiator_m=2.0)).on(14.2).basis == "measured"  # as it was: it counts again


@pytest.mark.parametrize(
    "change",
    [
        {"radiator_m": 2.05}, {"coil_q": 100.0}, {"coil_uh_max": 40.0}, {"radial_m": 4.6},
        {"azimuth_deg": 90.0}, {"base_height_m": 1.0}, {"radius_mm": 3.0}, {"coil_height_m": 0.1},
    ],
)  # fmt: skip
def test_what_does_not_matter_leaves_the_reading_in_use(change: dict[str, float]) -> None:
    spec = replace(measurements.kept(WHIP, SEEN), **change)
    assert measurements.in_use(spec, 14.1) is not None
    assert not measurements.set_aside(spec, 14.1)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"kind": "vertical"}, "loaded vertical, now vertical"),
        ({"radials": 2}, "radials 4, now 2"),
        ({"radial_m": None}, "radials of 4.5 m, now cut to the band"),
        ({"radial_height_m": 0.0}, "ends of the radials at 0.9 m, now 0 m"),
        ({"coil_height_m": 1.0}, "coil 0 m, now 1 m"),
        ({"top_wires": 2, "top_wire_m": 1.0}, "top wires none, now 2"),
        ({"radials": 0, "mount": "vehicle"}, "mount none, now vehicle"),
    ],
)
def test_what_matters_sets_the_reading_aside_and_is_named(change: dict[str, object], told: str) -> None:
    spec = replace(measurements.kept(WHIP, SEEN), **change)  # type: ignore[arg-type]
    assert measurements.in_use(spec, 14.1) is None
    (aside,) = measurements.set_aside(spec, 14.1)
    assert told in measurements.set_aside_words(aside, spec)


def test_a_reading_is_brought_back_and_forgotten() -> None:
    spec = replace(measurements.kept(WHIP, SEEN), radiator_m=2.4)
    back = measurements.brought_back(spec, 14.1)
    assert measurements.in_use(back, 14.1) is not None
    assert len(back.measured) == 1
    assert measurements.forgotten(spec, 14.1).measured == ()
    assert measurements.forgotten(spec, 7.1) == spec
    with pytest.raises(ValueError, match="set aside"):
        measurements.brought_back(back, 14.1)


def test_a_new_reading_takes_the_place_of_the_old_one_of_the_same_antenna_alone() -> None:
    longer = replace(measurements.kept(WHIP, SEEN), radiator_m=2.4)
    both = measurements.kept(longer, replace(SEEN, total_resistance_ohm=30.0))
    assert [one.total_resistance_ohm for one in both.measured] == [41.0, 30.0]
    again = measurements.kept(both, replace(SEEN, total_resistance_ohm=35.0))
    assert [one.total_resistance_ohm for one in again.measured] == [41.0, 35.0]


def test_a_reading_without_a_description_belongs_to_the_antenna_until_that_is_edited() -> None:
    old = replace(WHIP, measured=(SEEN,))
    assert measurements.in_use(old, 14.1) == SEEN
    edited = replace(measurements.stamped(old), radiator_m=5.6)
    assert measurements.in_use(edited, 14.1) is None


def test_what_the_analyser_shows_beyond_the_description_is_unexplained_and_diagnosed() -> None:
    plain, seen = build(WHIP).on(14.2), build(measurements.kept(WHIP, SEEN)).on(14.2)
    assert plain.feed_resistance_ohm is not None
    np.testing.assert_allclose(seen.shares["unexplained"], 1.0 - plain.feed_resistance_ohm / 41.0)
    assert seen.shares["other"] == 0.0
    np.testing.assert_allclose(sum(seen.shares.values()), 1.0)
    assert any("unexplained loss: joint, cable, ground" in note for note in seen.notes)
    assert any("Usual causes" in note and "poor joint" in note for note in seen.notes)
