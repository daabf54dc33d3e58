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


def typed_as_target(*keys: str) -> tuple[str, str, str]:
    """The target after these keys in its prompt, the text of the prompt before the last, and the heading."""
    seen: list[str] = []

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("t", "ctrl+u", *keys[:-1])
        await settle(app, pilot)
        seen.append(text_of(app))
        await pilot.press(keys[-1])
        await settle(app, pilot)
        seen.append(text_of(app).splitlines()[0])

    app = run(scenario, engine=RealNames())
    assert app.state.choice is not None
    return app.state.choice.target, *seen


def test_a_friend_whose_name_begins_so_is_offered_first_and_taken() -> None:
    target, seen, top = typed_as_target(*"urug", "enter")
    assert target == "Uruguay friend"
    assert seen.index("Uruguay friend") < seen.index("the country, any station")
    assert "a friend, GF25" in seen
    assert "Uruguay friend" in top


def test_a_region_of_the_name_typed_and_the_friend_are_both_offered() -> None:
    target, seen, _ = typed_as_target(*"uruguay", "enter", "enter")
    assert target == "Uruguay friend"  # the first of the two
    assert SEVERAL[:20] in seen
    assert "the country, any station" in seen
    target, _, top = typed_as_target(*"uruguay", "enter", "down", "down", "enter")
    assert target == "Uruguay"
    assert "◆ Uruguay " in top


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("europe", "Europe"),
        ("usa", "United States"),
        ("gf25AB", "GF25ab"),
        ("lisbon", "Lisbon, Portugal"),
        ("hamilton, ontario", "Hamilton, Ontario"),
        ("Hamilton, Ontario, Canada", "Hamilton, Ontario, Canada"),
        ("uruguay FRIEND", "Uruguay friend"),
        ("an", "field AN"),
        ("nowhere at all", "nowhere at all"),
    ],
)
def test_a_target_is_told_in_its_own_spelling(typed: str, told: str) -> None:
    assert Sites().spelling(typed) == told
    known = typed != "nowhere at all"
    assert Sites().open("", typed).target == (told if known else "Uruguay friend")  # else the first friend
