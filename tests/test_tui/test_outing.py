"""The outing: dead bands, hours and people last as long as it does, are shown, can be lifted, and survive a
restart; notes go when they have been read.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import synthetic
from fake_engine import FakeEngine
from screen_text import run, settle, text_of
from textual.pilot import Pilot
from textual.widgets import Input

from propagation.wording import outing as say_on_air
from tui.app import outing_journal, paths
from tui.app.app import BandwhenApp
from tui.app.choice import HoursOnAir
from tui.app.prompts import hours_proposed
from tui.app.queries import PlanQuery
from tui.kit.form import Form

HOUR = np.timedelta64(3600, "s")
DEAD = (("20m", synthetic.NOW),)


def test_a_dead_band_lasts_through_other_hours_and_a_restart_and_can_be_lifted() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("6")
        await settle(app, pilot)  # the plan, of which x marks a band
        await pilot.press("x")
        await settle(app, pilot)
        assert engine.last(PlanQuery).hours.dead[0][0] == "20m"
        await pilot.press("h")
        await settle(app, pilot)
        assert isinstance(app.screen, Form)
        app.screen.query_one("#field-1").value = "6"  # type: ignore[attr-defined]
        await pilot.press("ctrl+s")
        await settle(app, pilot)
        hours = engine.last(PlanQuery).hours
        assert (hours.hours, hours.dead_bands) == (6.0, ("20m",))
        assert "Taken as dead on this outing: 20 m since 12:20 UTC" in text_of(app)
        await pilot.press("1")
        await settle(app, pilot)
        assert "found dead" in text_of(app)

    run(scenario, engine=engine)
    again = FakeEngine()

    async def after_a_restart(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("6")
        await settle(app, pilot)
        assert again.last(PlanQuery).hours.dead_bands == ("20m",)
        await pilot.press("u")
        await settle(app, pilot)
        assert again.last(PlanQuery).hours.dead_bands == ()
        assert "Taken as dead" not in text_of(app)

    run(after_a_restart, engine=again)
    kept, note = outing_journal.load(synthetic.NOW)
    assert kept is not None
    assert (kept.hours, kept.dead, note) == (6.0, (), "")


def test_hours_and_people_are_written_and_read_alike() -> None:
    hours = HoursOnAir(synthetic.NOW, 3.5, 'a "friend" [x]', DEAD)
    outing_journal.save(hours)
    assert outing_journal.load(synthetic.NOW) == (hours, "")
    assert outing_journal.load(hours.end + 7 * HOUR) == (None, ""), "the outing is over"


@pytest.mark.parametrize(
    "text", ["hours = 3", "start = [", 'start = "x"\nhours = 3', "\x00", 'hours = "many"']
)
def test_a_damaged_journal_is_told_of_and_left_aside(text: str) -> None:
    paths.outing_file().parent.mkdir(parents=True, exist_ok=True)
    paths.outing_file().write_text(text, encoding="utf-8")
    found, note = outing_journal.load(synthetic.NOW)
    assert found is None
    assert str(paths.outing_file()) in note


def test_hours_of_another_day_begin_another_outing() -> None:
    before = HoursOnAir(synthetic.NOW, 4.0, "", DEAD)
    assert outing_journal.carried_over(before, replace(before, start=before.end + HOUR, dead=())).dead == DEAD
    assert (
        outing_journal.carried_over(before, replace(before, start=before.end + 24 * HOUR, dead=())).dead == ()
    )
    assert outing_journal.carried_over(None, replace(before, dead=())).dead == ()


def test_the_plan_takes_the_target_chosen_until_another_is_typed_in() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("6")
        await settle(app, pilot)
        query = engine.last(PlanQuery)
        assert (query.hours.target, query.choice.target) == ("", "Uruguay")
        assert hours_proposed(app.state).hours == 4.0
        assert "Uruguay" in text_of(app).splitlines()[0]

    run(scenario, engine=engine)


def test_a_plan_keeps_its_target_when_an_appointment_is_made() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for key in ("6", "7", "t"):
            await pilot.press(key)
            await settle(app, pilot)
        app.screen.query_one(Input).value = "GF15"
        await settle(app, pilot)
        await pilot.press("enter")
        await settle(app, pilot)
        assert app.state.choice is not None
        assert app.state.choice.target == "GF15"
        await pilot.press("0")
        await settle(app, pilot)
        query = engine.last(PlanQuery)
        assert (query.hours.target, query.choice.target) == ("Uruguay", "GF15")
        assert "Uruguay" in text_of(app).splitlines()[0]

    run(scenario, engine=engine)


def test_hours_of_tomorrow_say_their_day_count_in_hours_and_show_its_lanes() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("0", "h")
        await settle(app, pilot)
        app.screen.query_one("#field-0").value = "2026-03-15T09:00Z"  # type: ignore[attr-defined]
        await pilot.press("ctrl+s")
        await settle(app, pilot)
        assert app.state.hours is not None
        assert str(app.state.hours.start) == "2026-03-15T09:00:00"
        assert app.state.choice is not None
        assert app.state.choice.start == np.datetime64("2026-03-15", "s")

    run(scenario)
    start, now = np.datetime64("2026-03-15T09:00", "s"), synthetic.NOW
    assert say_on_air.from_words(start, now) == "from Sun 15 Mar 2026 09:00 UTC, in 20 h,"
    assert say_on_air.from_words(now + HOUR, now) == "from 13:20 UTC"
    assert say_on_air.in_words(now + 3 * HOUR + np.timedelta64(20, "m"), now) == "in 3 h 20 min"


def test_a_note_goes_with_the_next_key_or_page_or_after_a_while() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        rows = text_of(app).splitlines()
        note = "Saved in a folder with a name so long that the sentence takes two lines. " * 2
        app.say(note)
        await pilot.pause()
        shown = text_of(app).splitlines()
        assert "Saved in a folder" in text_of(app)
        assert [row for row in rows[:-2] if row not in shown] == [], "a note covers no answer"
        await pilot.press("down")
        await pilot.pause()
        assert "Saved in" not in text_of(app)
        app.say("Saved in /tmp/one.")
        await pilot.press("2")
        await settle(app, pilot)
        assert "Saved in" not in text_of(app)
        app.say("Saved in /tmp/two.")
        assert app._note_timer is not None
        app._note_timer._callback()  # type: ignore[misc]
        await pilot.pause()
        assert "Saved in" not in text_of(app)
        app.say("There is no plan.", fault="plan")
        await pilot.press("down")
        await pilot.pause()
        assert "There is no plan." in text_of(app), "a fault stays until it is mended"

    run(scenario)
