"""The question for a target: Enter takes the marked row, several meanings are listed; forms likewise."""

from __future__ import annotations

import pytest
from fake_engine import FakeEngine
from screen_text import go, run, settle, text_of
from textual.pilot import Pilot

from tui.app.app import BandwhenApp
from tui.app.queries import Heard
from tui.app.sites import Sites
from tui.app.station_form import check, meanings
from tui.features.stations.form import SaveFriend, SaveStation
from tui.kit.form import Form
from tui.kit.overlays import SEVERAL, Ask, Pick


class RealNames(FakeEngine):
    """Names are judged as they really are."""

    def check_target(self, text: str) -> str:
        return self.sites.check_target(text)


def target_after(*keys: str) -> str:
    """The target chosen once these keys have been pressed in the question."""
    found: list[str] = []

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("t")
        await settle(app, pilot)
        await pilot.press(*keys)
        await settle(app, pilot)
        assert not isinstance(app.screen, Ask), text_of(app)
        assert app.state.choice is not None
        found.append(app.state.choice.target)

    run(scenario, engine=RealNames())
    return found[0]


def test_enter_takes_the_marked_row() -> None:
    assert target_after(*"Eur", "enter") == "Europe"


def test_enter_takes_what_is_typed_where_that_is_a_name() -> None:
    assert target_after(*"KG30", "enter") == "KG30"


def test_a_name_with_several_meanings_offers_them() -> None:
    meanings = Sites().meanings("Hamilton")
    assert len(meanings) > 2
    assert target_after(*"Hamilton", "enter", "down", "down", "enter") in meanings
    assert target_after(*"Hamilton", "enter", "enter") == meanings[0]


# -- in forms -------------------------------------------------------------------------------------

FORMS = {  # the page, and its key that opens the form
    "friend": ("station", "f"),
    "hearing": ("sky", "h"),
    "hours": ("plan", "h"),
    "station": ("station", "s"),
}


def form_after(name: str, *keys: str) -> tuple[RealNames, BandwhenApp]:
    """A form in whose place Hamilton was typed and these keys pressed; all else in it is as it was."""
    place, opens = FORMS[name]
    engine = RealNames(made_up={SaveStation: lambda question: "/tmp/new.toml"})

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, place)
        await pilot.press(opens)
        await settle(app, pilot)
        form = app.screen
        assert isinstance(form, Form)
        if name == "friend":
            await pilot.press(*"Ana")
        at = [field.place for field in form.fields].index(True)
        await pilot.press(*["down"] * at, *"Hamilton", "enter")
        await settle(app, pilot)
        assert isinstance(app.screen, Pick), "the meanings are to choose from"
        assert SEVERAL[:20] in text_of(app)
        await pilot.press(*keys)
        await settle(app, pilot)
        await pilot.press("ctrl+s")
        await settle(app, pilot)

    return engine, run(scenario, engine=engine)


@pytest.mark.slow
@pytest.mark.parametrize("down", [0, 2])
def test_a_form_offers_the_meanings_of_a_place_and_goes_on_with_the_one_chosen(down: int) -> None:
    keys = (*["down"] * down, "enter")
    meant = Sites().meanings("Hamilton")[down]
    engine, _ = form_after("friend", *keys)
    assert engine.last(SaveFriend).friend.place == meant
    engine, _ = form_after("hearing", *keys)
    assert engine.last(Heard).place == meant
    _, app = form_after("hours", *keys)
    assert app.state.hours is not None
    assert app.state.hours.target == meant
    engine, _ = form_after("station", *keys)
    assert engine.last(SaveStation).entries["site.locator"] == meanings("Hamilton")[down]


def test_every_meaning_a_station_is_offered_is_a_place() -> None:
    assert len(meanings("Hamilton")) > 2
    for name in meanings("Hamilton"):
        assert check({"site.locator": name}) == ""
    assert meanings("Montevideo") == meanings("") == meanings("KG40") == meanings("nowhere at all") == ()


def test_a_list_of_meanings_left_leaves_the_form_as_it_was() -> None:
    place, opens = FORMS["friend"]

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, place)
        await pilot.press(opens, *"Ana", "down", *"Hamilton", "ctrl+s")
        await settle(app, pilot)
        assert isinstance(app.screen, Pick)
        await pilot.press("escape")
        await settle(app, pilot)
        assert isinstance(app.screen, Form)
        assert app.screen.entries()["place"] == "Hamilton"

    run(scenario, engine=RealNames())
