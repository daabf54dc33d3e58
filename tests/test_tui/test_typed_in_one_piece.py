"""Keys that come in one piece, as over a slow line: Enter never overtakes what was typed before it."""

from __future__ import annotations

from fake_engine import FakeEngine
from screen_text import go, run, settle
from textual import events
from textual.pilot import Pilot

from tui.app.app import BandwhenApp
from tui.kit.form import Form
from tui.kit.overlays import Ask


def burst(app: BandwhenApp, *keys: str) -> None:
    """Post keys to the app without giving it a moment between them; longer words are names of keys."""
    for key in keys:
        app.post_message(events.Key(key, key if len(key) == 1 else None))


def test_a_prompt_takes_the_word_before_enter() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("t")
        await settle(app, pilot)
        assert isinstance(app.screen, Ask)
        burst(app, "ctrl+u", *"Europe", "enter")
        await settle(app, pilot)
        assert not isinstance(app.screen, Ask)
        assert app.state.choice is not None
        assert app.state.choice.target == "Europe"

    run(scenario)


def test_a_form_keeps_each_word_in_its_own_entry() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "station")
        await pilot.press("f")
        await settle(app, pilot)
        assert isinstance(app.screen, Form)
        first, second = (field.key for field in app.screen.fields[:2])
        burst(app, *"Ada", "enter", *"KG33", "up")
        await settle(app, pilot)
        entries = app.screen.entries()
        assert entries[first] == "Ada"
        assert entries[second] == "KG33"

    run(scenario, engine=engine)
