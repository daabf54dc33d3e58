"""Ears: a report moves the index the right way, within bounds, and is forgotten."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.base.errors import InputError
from propagation.base.store import Store, Stored
from propagation.base.units import FloatArray
from propagation.space_weather.state.conditions import built_in
from propagation.space_weather.state.ear_reports import (
    COPY_NAME,
    FORGET_HOURS,
    GRID_INDEX,
    LARGEST_SHIFT,
    Report,
    add_report,
    believe,
    forget_reports,
    heard_offset,
    report,
    reports_of,
    weight_of_age,
)
from propagation.space_weather.state.stored_conditions import from_store

NOW = np.datetime64("2031-02-27T09:30", "s")
HOUR = np.timedelta64(3600, "s")


def rising(r12: FloatArray) -> FloatArray:
    """A high band: opens as the sun rises above R12 = 80."""
    return 1.0 / (1.0 + np.exp(-(r12 - 80.0) / 10.0))


def one(heard: bool, hours_ago: float = 0.0, words: str = "Europe on 10m", prior: float = 70.0) -> Report:
    at = NOW - np.timedelta64(int(hours_ago * 3600), "s")
    return report(at, words, heard, rising, prior)


def test_heard_raises_and_silence_lowers() -> None:
    up, down = believe(70.0, [one(True)], NOW), believe(70.0, [one(False)], NOW)
    assert up.shift > 5
    assert down.shift < -3
    assert up.spread < 25
    np.testing.assert_allclose(up.weights.sum(), 1.0)


def test_by_hand() -> None:
    # Bayes on the grid: prior normal about 70 with spread 25, likelihood 0.03 + 0.97 x 0.6 x chance.
    prior = np.exp(-0.5 * ((GRID_INDEX - 70.0) / 25.0) ** 2)
    prior /= prior.sum()
    after = prior * (0.03 + 0.97 * 0.6 * rising(GRID_INDEX))
    after /= after.sum()
    shift = float(after @ GRID_INDEX - prior @ GRID_INDEX)
    np.testing.assert_allclose(believe(70.0, [one(True)], NOW).shift, shift, atol=1e-9)


def test_nothing_said_moves_nothing() -> None:
    for prior in (0.0, 3.0, 70.0, 199.0):
        assert believe(prior, [], NOW).shift == pytest.approx(0.0, abs=1e-9)


@given(st.lists(st.booleans(), max_size=12), st.floats(0, 200))
def test_any_reports_stay_within_bounds(answers: list[bool], prior: float) -> None:
    belief = believe(prior, [one(heard) for heard in answers], NOW)
    assert abs(belief.shift) <= LARGEST_SHIFT
    assert np.isfinite(belief.weights).all()
    assert 0 <= prior + max(belief.shift, -prior) <= 260


def test_age_takes_weight() -> None:
    assert weight_of_age(0.0) == weight_of_age(2.0) == 1.0
    assert weight_of_age(5.0) == 0.5
    assert weight_of_age(FORGET_HOURS) == weight_of_age(100.0) == 0.0
    fresh, old = believe(70.0, [one(True)], NOW), believe(70.0, [one(True, 5.0)], NOW)
    assert fresh.shift > old.shift > 0
    assert believe(70.0, [one(True, 9.0)], NOW).shift == pytest.approx(0.0, abs=1e-9)


def test_a_report_that_says_nothing_of_the_sun_is_refused() -> None:
    with pytest.raises(InputError, match="cannot move it"):
        report(NOW, "Europe on 80m", True, lambda r12: np.full(len(r12), 0.9), 70.0)


def test_stored_reports_move_the_conditions_and_fade(tmp_path: Path) -> None:
    store = Store(tmp_path)
    add_report(store, one(True))
    state, base = from_store(store, NOW, NOW), built_in()
    moved = [
        float(state.index_at(NOW + n * HOUR) - base.index_at(NOW + n * HOUR)) for n in (-3, 0, 1, 5, 8, 30)
    ]
    shift = believe(70.0, [one(True)], NOW).shift
    assert moved[0] == 0.0
    np.testing.assert_allclose(moved[1:3], shift, atol=0.01)
    np.testing.assert_allclose(moved[3], shift / 2, atol=0.01)
    np.testing.assert_allclose(moved[4:], 0.0, atol=1e-9)
    assert state.source.startswith("heard on the air")
    assert (
        from_store(store, NOW, NOW + 9 * HOUR).source == base.source
        or reports_of(store, NOW + 9 * HOUR) == []
    )
    later = from_store(store, NOW + 9 * HOUR, NOW + 9 * HOUR)
    assert len(later.heard) == 0


def test_a_second_answer_to_the_same_question_replaces_the_first(tmp_path: Path) -> None:
    store = Store(tmp_path)
    add_report(store, one(True, 1.0))
    add_report(store, one(False))
    add_report(store, one(True, words="Japan on 12m"))
    reports = reports_of(store, NOW)
    assert {(r.words, r.heard) for r in reports} == {("Europe on 10m", False), ("Japan on 12m", True)}
    np.testing.assert_allclose(reports[0].chances, rising(GRID_INDEX), atol=1e-4)
    assert forget_reports(store)
    assert heard_offset(store, NOW)[1] == ()


@pytest.mark.parametrize("body", [b"", b"{}x", b"[1]", b'[{"at": "2031-02-27T09:00:00", "words": "x"}]'])
def test_damaged_reports_are_named(tmp_path: Path, body: bytes) -> None:
    store = Store(tmp_path)
    store.put(Stored(COPY_NAME, body, "ears", NOW, NOW))
    record, facts, damage = heard_offset(store, NOW)
    assert (len(record), facts) == (0, ())
    assert damage
    assert "damaged" in damage
    assert any("damaged" in note for note in from_store(store, NOW, NOW).notes)
    add_report(store, one(True))
    assert len(reports_of(store, NOW)) == 1


def test_what_is_counted_elsewhere_is_left_out(tmp_path: Path) -> None:
    """A report made within a minute of an event of the outing is that event; others stay."""
    store = Store(tmp_path)
    add_report(store, one(True, 1.0))
    add_report(store, one(True, words="Japan on 12m"))
    both, facts, _ = heard_offset(store, NOW)
    assert len(facts) == 2
    alone, facts, _ = heard_offset(store, NOW, besides=[NOW - np.timedelta64(30, "s")])
    assert [fact.value for fact in facts] == ["Europe on 10m"]
    assert 0.0 < alone.values.max() < both.values.max()
    none, facts, _ = heard_offset(store, NOW, besides=[NOW, NOW - HOUR])
    assert (len(none), facts) == (0, ())
    assert len(heard_offset(store, NOW, besides=[NOW + 2 * HOUR])[1]) == 2
    assert len(from_store(store, NOW, NOW, [NOW, NOW - HOUR]).heard) == 0
