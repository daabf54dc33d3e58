"""The year ahead on its page: asked once, walked through, opened, exported, set beside another station."""

from __future__ import annotations

from typing import Any

import numpy as np
import synthetic
from fake_engine import FakeEngine
from screen_text import go, run, settle, text_of
from textual.pilot import Pilot

from tui.app.app import BandwhenApp
from tui.app.prompts import Export
from tui.features.season.page import SeasonQuery
from tui.features.season.view import Months
from tui.kit.overlays import Ask, Pick


def test_the_months_are_asked_once_and_walked_through() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("j")
        await settle(app, pilot)
        assert "Mar 26" in text_of(app)
        assert "March 2026, 12:00 to 13:00 UTC: 40 m" in text_of(app)
        await pilot.press("down", "right", "right")
        assert "April 2026, 14:00 to 15:00 UTC" in text_of(app)
        await pilot.press("end")
        assert "February 2026" in text_of(app)
        await pilot.press("home", "left", "left", "left")
        assert "March 2026, 11:00 to 12:00 UTC" in text_of(app)
        app.go_to_day(app.state.choice.start + np.timedelta64(2, "D"))  # type: ignore[union-attr]
        await settle(app, pilot)
        assert engine.asked.count("season") == 1, "another day of the month changes nothing"

    run(scenario, engine=engine)


def test_a_month_opens_into_its_bands() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "season")
        assert "15 m" not in text_of(app).split("The best of them")[0]
        await pilot.press("enter")
        opened = text_of(app)
        assert all(f"{band} m" in opened for band in (40, 20, 15, 10))
        await pilot.press("enter")
        assert "Apr 26" in text_of(app)

    run(scenario)


def test_a_click_chooses_the_cell() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "season")
        await pilot.click(Months, offset=(8 + 3 * 9, 4))
        assert "June 2026, 09:00 to 10:00 UTC" in text_of(app)

    run(scenario)


def test_it_is_exported_and_set_beside_another_station() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "season")
        await pilot.press("e")
        await settle(app, pilot)
        assert isinstance(engine.last(Export).view, type(synthetic.season_view()))
        await pilot.press("b")
        await settle(app, pilot)
        assert isinstance(app.screen, Pick)
        await pilot.press("up", "up", "enter")
        await settle(app, pilot)
        asked: Any = engine.last(SeasonQuery)
        assert asked.beside == "/tmp/other.toml"
        await pilot.press("b")
        await settle(app, pilot)
        await pilot.press("down", "enter")  # from the other station to another place
        await settle(app, pilot)
        assert isinstance(app.screen, Ask)
        await pilot.press(*"nowhere at all", "enter")
        await settle(app, pilot)
        assert isinstance(app.screen, Ask)  # no such place: a sentence, and the entry stays
        await pilot.press("ctrl+u", *"Durban", "enter")
        await settle(app, pilot)
        asked = engine.last(SeasonQuery)
        assert (asked.beside, asked.elsewhere) == (None, "Durban")

    run(scenario, engine=engine)


def test_how_far_it_is_is_told_while_it_works() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        question = SeasonQuery(app.state.choice)  # type: ignore[arg-type]
        question.done.tell(7, 36)
        app.jobs._open["season"] = question
        app.state.answers.drop(SeasonQuery)
        await app.action_go("season")
        await pilot.pause()
        app.jobs._open["season"] = question
        page: Any = app.page
        assert "7 of 36 parts; Esc stops it" in page._how_far(app.state)

    run(scenario)


def test_the_same_station_elsewhere_is_computed_there() -> None:
    """The ridge, or the coast: the other side has the other place's name, noise and licence as at home."""
    from tui.app.choice import Choice
    from tui.app.sites import Sites
    from tui.features.season.answer import season_view

    choice = Choice("", "Montevideo", synthetic.NOW, "CW", 50.0)
    view = season_view(Sites(), choice, None, "Durban", synthetic.NOW, lambda _, __: None, lambda: False)
    assert view.beside_name.startswith("Durban")
    assert view.beside.shape == view.amount.shape
    assert any("Durban" in told for told in view.says)
