"""The mouse: a click on a lane, an hour, an entry of the key line or of a list; the wheel scrolls words."""

from __future__ import annotations

import pytest
from screen_text import go, rows_of, run, settle
from textual import events
from textual.pilot import Pilot
from textual.widget import Widget

from tui.app.app import BandwhenApp
from tui.features.antenna.view import PowerShares
from tui.features.reach.view import Rulers
from tui.kit.canvas import BandRows
from tui.kit.lanes import LABEL, Lanes
from tui.kit.lists import Cards
from tui.kit.page_lines import KeyLine


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


@pytest.mark.parametrize(("place", "kind"), [("reach", Rulers), ("bench", PowerShares)])
def test_a_click_takes_the_band_of_a_row_and_the_wheel_the_next(place: str, kind: type[BandRows]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        state = app.state
        await go(app, pilot, place)
        rows = app.screen.query_one(kind)
        top, each, first, shown = rows._rows
        assert shown > 3
        await pilot.click(kind, offset=(3, top + 2 * each))
        await settle(app, pilot)
        assert state.cursor is not None
        assert state.cursor.band == rows._bands[first + 2]
        wheel(rows, events.MouseScrollDown)
        await settle(app, pilot)
        assert state.cursor.band == rows._bands[first + 3]
        wheel(rows, events.MouseScrollUp)
        await settle(app, pilot)
        assert state.cursor.band == rows._bands[first + 2]
        await pilot.click(kind, offset=(3, 0))  # on the heading: nothing
        assert state.cursor.band == rows._bands[first + 2]

    run(scenario)


def wheel(widget: Widget, kind: type[events.MouseScrollDown | events.MouseScrollUp]) -> None:
    """A turn of the wheel over a widget, on the way that the terminal's events take."""
    x, y = widget.region.x + 3, widget.region.y + 1
    widget.screen._forward_event(kind(None, x, y, 0, 0, 0, shift=False, meta=False, ctrl=False))


def test_the_wheel_over_the_lanes_takes_the_next_band_and_leaves_the_hour() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        state, lanes = app.state, app.screen.query_one(Lanes)
        before, time = state.band_index, state.time_index
        wheel(lanes, events.MouseScrollDown)
        await settle(app, pilot)
        assert (state.band_index, state.time_index) == (before + 1, time)

    run(scenario)


def test_lanes_beside_another_page_take_clicks_too() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        state = app.state
        for place in ("onair", "sked"):
            await go(app, pilot, place)
            lanes = app.screen.query_one(Lanes)
            assert lanes._places is not None
            width, top, each, first, _ = lanes._places
            wanted = 1 if state.band_index != first + 1 else 2
            await pilot.click(Lanes, offset=(LABEL + width // 2, top + wanted * each))
            await settle(app, pilot)
            assert state.band_index == first + wanted, place

    run(scenario, size=(160, 48))
