"""What an outing teaches, from the files to the words: each event once, and nothing from a place."""

from __future__ import annotations

import numpy as np
import pytest
import sky_days

from propagation.base.store import Store, Stored
from propagation.logbook.journal import Made
from propagation.space_weather.sources.density_map import kept_density
from propagation.space_weather.state import stored_conditions
from propagation.space_weather.state.ear_reports import GRID_INDEX, add_report, report
from tui.app import paths
from tui.app import plan_answer as plan
from tui.app.choice import Choice, HoursOnAir, Mark
from tui.app.sites import Sites
from tui.features.outing import answer

START = np.datetime64("2026-03-20T12:00:00")
MINUTE = np.timedelta64(60, "s")
CHOICE = Choice("", "South Africa", START, "CW", 50.0)
HOURS = HoursOnAir(START, 1.0)
SITES = Sites()


@pytest.fixture(scope="module")
def at_home() -> plan.PlanView:
    return plan.plan_view(SITES, CHOICE, HOURS, START)


def test_calls_in_vain_and_contacts_are_told_and_the_forecast_is_made_once(at_home: plan.PlanView) -> None:
    band = at_home.steps[0].band
    assert answer.learnt_view(SITES, CHOICE, HOURS, (), (), at_home, START).plan is None
    ready = answer._LATEST.outing
    assert ready is not None
    made = tuple(Made(f"ZS{n}TEST", band, START + 3 * n * MINUTE, "599", "599") for n in range(1, 5))
    found = answer.learnt_view(SITES, CHOICE, HOURS, made, (), at_home, START + 15 * MINUTE)
    assert answer._LATEST.outing is ready, "worked out before the first event"
    assert "four answers" in found.sentence
    assert found.estimate.startswith("As it seems now: the layer ")
    calls = tuple(Mark("in vain", band, START + 5 * n * MINUTE) for n in range(1, 7))
    poor = answer.learnt_view(SITES, CHOICE, HOURS, (), calls, at_home, START + 31 * MINUTE)
    assert "six calls in vain" in poor.sentence
    if poor.better:
        assert poor.plan is not None
        assert poor.plan.steps[0].start >= START + 31 * MINUTE
        assert poor.plan.end == at_home.end


def test_what_the_ears_were_told_at_the_same_moment_does_not_count_again(at_home: plan.PlanView) -> None:
    band, at = at_home.steps[0].band, START + 4 * MINUTE
    made = (Made("ZS1TEST", band, at, "599", "599"),)
    before = answer.learnt_view(SITES, CHOICE, HOURS, made, (), at_home, at + MINUTE)
    store = Store(paths.conditions_dir())
    told = report(at, "South Africa", True, lambda index: index / 400.0 + 0.1, 100.0)
    assert told.chances.shape == GRID_INDEX.shape
    add_report(store, told)
    after = answer.learnt_view(SITES, CHOICE, HOURS, made, (), at_home, at + MINUTE)
    assert after == before
    other = (Made("ZS1TEST", band, at + 20 * MINUTE, "599", "599"),)
    heard_apart = answer.learnt_view(SITES, CHOICE, HOURS, other, (), at_home, at + 21 * MINUTE)
    outing = answer._LATEST.outing
    assert outing is not None
    assert len(outing.result.conditions.heard), "what was heard at another moment stays in the sky"
    assert heard_apart.sentence


def test_maps_fetched_during_the_outing_are_taken_up(at_home: plan.PlanView) -> None:
    """A frame measured while the outing runs: what events are held against is worked out anew with it."""
    answer.learnt_view(SITES, CHOICE, HOURS, (), (), at_home, START)
    before = answer._LATEST.outing
    assert before is not None
    time = START - 10 * MINUTE
    usual = stored_conditions.best(None, time, time)
    day = sky_days.drawn_day(usual, time, np.array([1.0]), np.random.default_rng(1))
    frame = Stored("measured-density", kept_density(day.frame), "invented", time, time)
    Store(paths.conditions_dir()).put(frame)
    answer.learnt_view(SITES, CHOICE, HOURS, (), (), at_home, START + MINUTE)
    after = answer._LATEST.outing
    assert after is not None
    assert before.result.conditions.measured is None
    assert after.result.conditions.measured is not None


def test_a_place_teaches_nothing(at_home: plan.PlanView) -> None:
    from dataclasses import replace

    made = (Made("ZS1TEST", "20m", START + 4 * MINUTE, "599", "599"),)
    friend = replace(HOURS, target="GF25")
    found = answer.learnt_view(SITES, CHOICE, friend, made, (), at_home, START + 5 * MINUTE)
    assert found.plan is None
    assert found.sentence == ""
