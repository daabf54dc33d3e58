"""The question for a target: Enter takes the marked row, and a name with several meanings lists them."""

from __future__ import annotations

from fake_engine import FakeEngine
from screen_text import run, settle, text_of
from textual.pilot import Pilot

from tui.app import BandwhenApp
from tui.presenting.sites import Sites
from tui.screens.overlays import Ask


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
