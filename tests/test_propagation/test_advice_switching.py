"""The switching plan against every plan there is, on small cases; and its limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles.every_plan import best_of_all, earned

from propagation.advice.switching import BandStay, Rewards, make_plan, replan
from propagation.base.units import FloatArray

START = np.datetime64("2026-03-20T06:00:00", "s")
STEP_MIN = 15.0
NAMES = ("a", "b", "c")


def rewards(table: FloatArray | list[list[float]]) -> Rewards:
    values = np.asarray(table, dtype=float)
    times = START + (np.arange(values.shape[0]) * STEP_MIN * 60).astype("timedelta64[s]")
    return Rewards(times, NAMES[: values.shape[1]], values)


@st.composite
def cases(draw: st.DrawFn) -> tuple[Rewards, FloatArray, float, int | None]:
    times, bands = draw(st.integers(2, 6)), draw(st.integers(1, 3))
    chance = st.floats(0.0, 1.0, allow_nan=False)
    table = draw(st.lists(st.lists(chance, min_size=bands, max_size=bands), min_size=times, max_size=times))
    lost = st.sampled_from([0.0, 2.5, 7.0, 15.0, 31.0, float("inf")])
    cost = draw(st.lists(st.lists(lost, min_size=bands, max_size=bands), min_size=bands, max_size=bands))
    least = draw(st.sampled_from([0.0, 10.0, 20.0, 45.0]))
    current = draw(st.none() | st.integers(0, bands - 1))
    return rewards(table), np.array(cost), least, current


@settings(max_examples=150, deadline=None)
@given(cases())
def test_no_plan_earns_more(case: tuple[Rewards, FloatArray, float, int | None]) -> None:
    made, cost, least, current = case
    name = None if current is None else made.bands[current]
    plan = make_plan(made, cost, shortest_min=least, current=name)
    best = best_of_all(made, cost, least, current)
    if best >= 0.0:
        # 1e-4 min: a plan is charged a millionth of a minute for each change, to prefer the simpler of equals
        np.testing.assert_allclose(plan.reward, best, atol=1e-4)


@settings(max_examples=60, deadline=None)
@given(cases())
def test_a_plan_is_what_it_says(case: tuple[Rewards, FloatArray, float, int | None]) -> None:
    """Stays follow each other without a gap, cost what the matrix says, and sum to the reward."""
    made, cost, least, current = case
    name = None if current is None else made.bands[current]
    plan = make_plan(made, cost, shortest_min=least, current=name)
    assert plan.stays[0].start == made.times[0]
    assert plan.stays[-1].end == made.times[-1]
    assert len(plan.backups) == len(plan.stays)
    before = name
    for number, stay in enumerate(plan.stays):
        if number:
            assert stay.start == plan.stays[number - 1].end
            assert stay.band != before
        if before is not None and stay.band != before:
            assert stay.lost_min == cost[made.index(before), made.index(stay.band)]
        start = float((stay.start - START) / np.timedelta64(60, "s"))
        end = float((stay.end - START) / np.timedelta64(60, "s"))
        value = earned(made, made.index(stay.band), min(start + stay.lost_min, end), end)
        np.testing.assert_allclose(stay.reward, value, atol=1e-9)
        before = stay.band
    np.testing.assert_allclose(plan.reward, sum(stay.reward for stay in plan.stays))
    assert plan.gain >= -1e-4  # never worse than staying


def test_changes_that_cost_nothing_follow_the_best_band_of_every_step() -> None:
    rng = np.random.default_rng(4)
    made = rewards(rng.random((30, 3)))
    plan = make_plan(made, np.zeros((3, 3)), shortest_min=0.0)
    per_step = np.diff(made.earned(), axis=0)
    np.testing.assert_allclose(plan.reward, np.sum(per_step.max(axis=1)), atol=1e-4)


def test_changes_that_cost_everything_leave_the_best_single_band() -> None:
    rng = np.random.default_rng(5)
    made = rewards(rng.random((30, 3)))
    plan = make_plan(made, np.full((3, 3), np.inf))
    assert [stay.band for stay in plan.stays] == [plan.single_band]
    np.testing.assert_allclose(plan.reward, made.earned()[-1].max())
    assert plan.gain == pytest.approx(0.0)


def test_a_dearer_change_never_pays_better() -> None:
    rng = np.random.default_rng(6)
    made = rewards(rng.random((30, 3)))
    got = [make_plan(made, np.full((3, 3), minutes)).reward for minutes in (0.0, 2.0, 5.0, 10.0, 40.0)]
    assert got == sorted(got, reverse=True)


def test_equal_bands_are_no_reason_to_change() -> None:
    plan = make_plan(rewards(np.full((20, 3), 0.5)), np.zeros((3, 3)), shortest_min=0.0)
    assert len(plan.stays) == 1


def test_a_change_must_bring_what_is_asked_of_it() -> None:
    table = np.full((20, 2), 0.5)
    table[10:, 1] = 0.52
    cost = np.zeros((2, 2))
    assert len(make_plan(rewards(table), cost, shortest_min=0.0).stays) == 1  # b all the time
    table[:10, 1] = 0.49
    assert len(make_plan(rewards(table), cost, shortest_min=0.0).stays) == 2
    assert len(make_plan(rewards(table), cost, shortest_min=0.0, change_worth=0.05).stays) == 1


def test_the_least_stay_is_kept() -> None:
    table = np.tile([[1.0, 0.0], [0.0, 1.0]], (10, 1))
    plan = make_plan(rewards(table), np.zeros((2, 2)), shortest_min=45.0)
    assert all(stay.on_air_min >= 45.0 for stay in plan.stays)


def test_the_backup_is_the_next_best_for_the_time_that_is_left() -> None:
    table = np.column_stack([np.full(9, 0.9), np.full(9, 0.3), np.full(9, 0.4)])
    cost = np.array([[0.0, 0.0, 100.0], [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]])
    plan = make_plan(rewards(table), cost)
    assert plan.stays[0].band == "a"
    assert plan.backups[0] == "b"  # c is better, but the change to it would eat most of the time


def test_a_dead_band_is_left_and_comes_back_later() -> None:
    table = np.column_stack([np.full(25, 0.9), np.full(25, 0.3)])
    made, cost = rewards(table), np.full((2, 2), 3.0)
    now = made.times[4]
    again = replan(made, cost, now, dead={"a": made.times[14]}, current="a")
    assert again.stays[0].start == now
    assert [stay.band for stay in again.stays] == ["b", "a"]
    assert again.stays[0].lost_min == 3.0
    assert again.stays[1].end == made.times[-1]
    assert abs((again.stays[1].start - made.times[14]) / np.timedelta64(60, "s")) <= STEP_MIN


def test_alike_bands_are_chosen_by_their_rank_and_never_changed_for_nothing() -> None:
    """b and c are compared as alike to a, the surer b before c; what is earned is the true reward."""
    table = np.column_stack([np.linspace(0.50, 0.46, 25), np.linspace(0.46, 0.50, 25), np.full(25, 0.47)])
    alike = np.tile([0.5 * (1.0 + 1e-6), 0.5 * (1.0 + 3e-6), 0.5 * (1.0 + 2e-6)], (25, 1))
    made = replace(rewards(table), ranked=alike)
    plan = make_plan(made, np.full((3, 3), 3.0), shortest_min=0.0, change_worth=0.01)
    assert [stay.band for stay in plan.stays] == ["b"]
    assert plan.reward == pytest.approx(rewards(table).earned()[-1, 1])
    here = make_plan(made, np.full((3, 3), 3.0), shortest_min=0.0, change_worth=0.01, current="c")
    assert [(stay.band, stay.lost_min) for stay in here.stays] == [("c", 0.0)], "of alike bands, no change"


def test_a_change_that_only_the_rank_asks_for_is_taken_out() -> None:
    """a falls just under the step in which b is told, but not under b."""
    table = np.column_stack([np.full(25, 0.5), np.full(25, 0.49)])
    ranked = table.copy()
    ranked[12:, 1] = 0.55
    plan = make_plan(replace(rewards(table), ranked=ranked), np.full((2, 2), 1.0), shortest_min=0.0)
    assert [stay.band for stay in plan.stays] == ["a"]
    assert len(make_plan(rewards(ranked), np.full((2, 2), 1.0), shortest_min=0.0).stays) == 2


def test_every_band_alone_is_told() -> None:
    made = rewards(np.column_stack([np.full(9, 0.5), np.full(9, 0.4)]))
    cost = np.array([[0.0, 30.0], [30.0, 0.0]])
    plan = make_plan(made, cost, current="a")
    assert dict(plan.singles) == pytest.approx({"a": 0.5 * 120.0, "b": 0.4 * 90.0})
    assert plan.single_reward == dict(plan.singles)[str(plan.single_band)]


def test_no_time_or_no_band_is_no_plan() -> None:
    assert make_plan(rewards([[0.5, 0.5]]), np.zeros((2, 2))).stays == ()
    empty = Rewards(rewards([[0.1], [0.1]]).times, (), np.zeros((2, 0)))
    assert make_plan(empty, np.zeros((0, 0))).stays == ()


def test_a_whole_day_on_a_fine_grid_is_planned() -> None:
    rng = np.random.default_rng(7)
    hours = np.arange(289) / 12.0
    table = 0.5 + 0.5 * np.cos(2.0 * np.pi * (hours[:, None] - rng.uniform(0, 24, 3)) / 24.0)
    times = START + (np.arange(289) * 300).astype("timedelta64[s]")
    plan = make_plan(Rewards(times, NAMES, table), np.full((3, 3), 5.0))
    assert 2 <= len(plan.stays) <= 5
    assert isinstance(plan.stays[0], BandStay)
    assert plan.reward > plan.single_reward
