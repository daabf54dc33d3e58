"""The mouse on numbered entries: steps of the plan, slots of an appointment, contacts of a log; the wheel."""

from __future__ import annotations

import pytest
from fake_engine import FakeEngine
from screen_text import go, rows_of, run, settle
from test_review_screen import reviewer
from textual.pilot import Pilot

from tui.app.app import BandwhenApp
from tui.features.plan.page import PlanPage
from tui.features.plan.view import RunSheetRows
from tui.features.review.page import ReviewPage, ReviewQuery
from tui.features.review.view import ContactList
from tui.features.sked.page import SkedPage
from tui.features.sked.view import Clocks
from tui.kit.canvas import EntryRows

SIZES = [(80, 24), (160, 48)]


async def click_row(app: BandwhenApp, pilot: Pilot[None], kind: type[EntryRows], text: str) -> None:
    """Click the row of a picture in which a text stands."""
    region = app.screen.query_one(kind).region
    rows = rows_of(app)
    y = next(y for y in range(region.y, region.bottom) if text in rows[y])
    await pilot.click(kind, offset=(rows[y].index(text) - region.x, y - region.y))
    await pilot.pause()


@pytest.mark.parametrize("size", SIZES)
def test_a_step_of_the_plan_is_clicked(size: tuple[int, int]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "plan")
        page = app.page
        assert isinstance(page, PlanPage)
        await click_row(app, pilot, RunSheetRows, "09:45-")
        assert page.step == 1
        assert page.chosen_band == "15m"
        region = app.screen.query_one(RunSheetRows).region
        lane = next(y for y, row in enumerate(rows_of(app)) if row[2:6] == "20 m")  # of the first stay
        await pilot.click(RunSheetRows, offset=(9, lane - region.y))
        await pilot.pause()
        assert page.step == 0
        app.screen.query_one(RunSheetRows).on_mouse_scroll_down()
        await pilot.pause()
        assert page.step == 1

    run(scenario, size=size)


@pytest.mark.parametrize("size", SIZES)
def test_a_slot_is_clicked(size: tuple[int, int]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "sked")
        page = app.page
        assert isinstance(page, SkedPage)
        await click_row(app, pilot, Clocks, "17:00-18:00")
        assert page.slot == 1
        clocks = app.screen.query_one(Clocks)
        mark = next(spot for spot in clocks._spots if spot[2] == 0)  # the number under the axis
        await pilot.click(Clocks, offset=(mark[0][0], mark[1][0]))
        await pilot.pause()
        assert page.slot == 0
        clocks.on_mouse_scroll_up()  # there is none before the first
        await pilot.pause()
        assert page.slot == 0

    run(scenario, size=size)


def test_a_contact_is_clicked() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "review")
        page = app.page
        assert isinstance(page, ReviewPage)
        page.open_log("log.adi")
        await settle(app, pilot)
        await click_row(app, pilot, ContactList, "V51TEST")
        assert page.row == 1
        await pilot.click(ContactList, offset=(4, 0))  # the heading is no contact
        await pilot.pause()
        assert page.row == 1

    run(scenario, size=(132, 43), engine=FakeEngine(made_up={ReviewQuery: reviewer}))
