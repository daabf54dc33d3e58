"""While a new answer is worked out, the earlier one is dimmed and named."""

from __future__ import annotations

import threading

from fake_engine import FakeEngine
from screen_text import run, settle, text_of
from textual.pilot import Pilot

from tui.app.app import BandwhenApp
from tui.kit.lanes import Lanes
from tui.kit.theme import QUIET


def test_the_earlier_answer_is_dimmed_and_named_until_the_new_one_is_here() -> None:
    gate = threading.Event()
    gate.set()
    engine = FakeEngine(gate=gate)

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        lanes = app.screen.query_one(Lanes)
        assert lanes._canvas is not None
        assert (lanes._canvas.inks != QUIET).any()
        gate.clear()
        app.set_target("Europe")
        await pilot.pause(0.1)
        shown = " ".join(text_of(app).split())
        assert "Dimmed: still demo ridge to Uruguay" in shown
        assert "being worked out" in shown
        assert (lanes._canvas.inks == QUIET).all()
        await pilot.press("escape")
        await pilot.pause(0.1)
        await pilot.press("down")
        await pilot.pause(0.1)
        assert "was not worked out" in " ".join(text_of(app).split())
        gate.set()
        app.set_mode("CW")
        await settle(app, pilot)
        assert "Dimmed" not in text_of(app)
        assert (lanes._canvas.inks != QUIET).any()

    run(scenario, engine=engine)
