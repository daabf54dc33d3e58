"""The mouse: a click on a lane, an hour, an entry of the key line or of a list; the wheel scrolls words."""

from __future__ import annotations

from screen_text import go, rows_of, run, settle
from textual.pilot import Pilot

from tui.app import BandwhenApp
from tui.widgets.cards import Cards
from tui.widgets.key_line import KeyLine
from tui.widgets.lanes import LABEL, Lanes


def test_clicks_do_what_keys_do() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        state = app.state
        lanes = app.screen.query_one(Lanes)
        assert lanes._places is not None
        width, top, each, first, _ = lanes._places
        await pilot.click(Lanes, offset=(LABEL + width - 1, top + 2 * each))
        await pilot.pause()
        assert state.cursor is not None
        assert state.day is not None
        assert state.cursor.band == state.day.bands[first + 2]
        assert state.time_index > state.day.times.size * 0.9
        row = rows_of(app)[-1]
        await pilot.click("#places", offset=(row.index("8 station"), 0))
        await settle(app, pilot)
        assert app.current_mode == "station"
        cards = app.screen.query_one(Cards)
        await pilot.click(Cards, offset=(6, 2))
        await pilot.pause()
        assert cards.at == 2
        assert app.screen.query_one("#places", KeyLine)._spans
        await go(app, pilot, "why")

    run(scenario)
