"""Keys that mean the same on every page: mode, power, date, target, the ends, and a page of words."""

from __future__ import annotations

import pytest
from fake_engine import FakeEngine
from screen_text import go, run, settle
from textual.pilot import Pilot
from textual.screen import Screen

from propagation.logbook import files
from tui.app.app import BandwhenApp
from tui.app.feature_list import PAGES
from tui.app.queries import PlanQuery
from tui.kit.lists import Notes
from tui.kit.overlays import Ask, Pick

DEPENDS = {
    "day": "tdmp", "why": "tdmp", "reach": "tdmp", "bench": "mp", "sky": "d", "plan": "tdmp", "sked": "tdmp",
    "season": "tdmp", "onair": "tmp",
}  # fmt: skip


def keys_of(place: str) -> set[str]:
    """The keys a page binds."""
    page = next(entry for entry in PAGES if entry.place == place).make()
    return {key for binding in page.BINDINGS for key in binding.key.split(",")}  # type: ignore[union-attr]


@pytest.mark.parametrize("place", DEPENDS)
def test_the_choice_can_be_changed_wherever_the_answer_depends_on_it(place: str) -> None:
    assert set(DEPENDS[place]) <= keys_of(place)


@pytest.mark.parametrize("entry", PAGES, ids=lambda entry: entry.place)
def test_words_that_do_not_fit_can_be_read_on_every_page(entry: object) -> None:
    assert {"pageup", "pagedown"} <= keys_of(entry.place)  # type: ignore[attr-defined]


def test_each_of_them_asks() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for place in ("plan", "sked", "sky"):
            await go(app, pilot, place)
            for key in DEPENDS[place]:
                await pilot.press(key)
                await settle(app, pilot)
                kinds: tuple[type[Screen[object]], ...] = (Ask, Pick)  # type: ignore[assignment]
                assert isinstance(app.screen, kinds), (place, key)
                await pilot.press("escape")
                await pilot.pause()

    run(scenario)


def test_home_and_end_go_to_the_ends_of_the_day_and_of_the_sheet() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        state = app.state
        assert state.choice is not None
        await pilot.press("end")
        assert str(state.cursor.time)[11:16] == "10:10" or state.time_index > 100  # type: ignore[union-attr]
        last = state.cursor.time  # type: ignore[union-attr]
        await pilot.press("home")
        assert state.cursor.time == state.choice.start < last  # type: ignore[union-attr]
        await go(app, pilot, "plan")
        await pilot.press("end")
        assert app.page.step == 2  # type: ignore[union-attr]
        await pilot.press("home")
        assert app.page.step == 0  # type: ignore[union-attr]

    run(scenario)


def test_page_down_scrolls_where_an_arrow_stands() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "bench")
        notes = app.screen.query_one("#bench-line", Notes)
        notes.show(["word " * 200])
        await pilot.press("pagedown")
        assert notes.first > 0
        await pilot.press("pageup")
        assert notes.first == 0

    run(scenario)


def test_the_date_of_the_plan_moves_its_hours() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "plan")
        await pilot.press("d")
        await settle(app, pilot)
        app.screen.query_one("#entry").value = "2026-03-20"  # type: ignore[attr-defined]
        await pilot.press("enter")
        await settle(app, pilot)
        assert str(engine.last(PlanQuery).hours.start) == "2026-03-20T12:20:00"

    run(scenario, engine=engine)


def test_problems_of_a_log_stand_at_their_line() -> None:
    data = b"a log\n<eoh>\n<call:4>AA1A<eor>\n\n<nonsense\n<call:1>x<eor>\n"
    found = files.read(data)
    assert found.problems
    for one in found.problems:
        assert one.line == data[: one.offset].count(b"\n") + 1
