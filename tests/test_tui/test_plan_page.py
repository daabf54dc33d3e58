"""The plan page: a lane for each band that matters, and its keys while the plan is being worked out."""

from __future__ import annotations

import threading
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import synthetic
from fake_engine import FakeEngine
from screen_text import go, rows_of, run, settle, text_of
from textual.pilot import Pilot

from propagation.advice.rates import Prospect
from propagation.wording import quantities as say
from tui.app.app import BandwhenApp
from tui.app.queries import PlanQuery
from tui.features.plan.view import RunSheetRows, _shown
from tui.kit.canvas import Canvas
from tui.kit.plan_view import PlanView
from tui.kit.theme import CHOSEN, QUIET, RAMP, RAMP_STEPS, SKYLIGHT, TEXT

NOW = synthetic.NOW


def drawn(view: PlanView, width: int, height: int, step: int = 0) -> Canvas:
    """The picture of a plan at a size."""
    rows = RunSheetRows()
    rows.view, rows.step, rows.now = view, step, NOW
    canvas = Canvas(width, height)
    rows.paint(canvas)
    return canvas


def with_a_friend() -> PlanView:
    """The made-up plan, with days in place of contacts an hour."""
    view = synthetic.plan_view()
    days = [
        replace(lane, promised=tuple(Prospect(0.98) for _ in lane.promised), mean=Prospect(0.98))
        for lane in view.lanes
    ]
    return replace(view, lanes=tuple(days))


def lane_rows(canvas: Canvas) -> dict[str, str]:
    """The row of each band's label among the lanes."""
    texts = canvas.texts()
    foot = next(number for number, row in enumerate(texts) if "full lane" in row)
    first = next(number for number, row in enumerate(texts) if row.startswith((" UTC", " local")))
    return {row[2:6].strip(): row for row in texts[first:foot] if row[2:6].strip().endswith(" m")}


def row_of(canvas: Canvas, band: str) -> int:
    """The row of a band's label among the lanes, below the hours."""
    texts = canvas.texts()
    hours = next(number for number, row in enumerate(texts) if row.startswith(" UTC"))
    return next(number for number, row in enumerate(texts) if number > hours and row[2:6].strip() == band)


@pytest.mark.parametrize("size", [(80, 18), (83, 38), (102, 44)])
def test_bands_of_the_plan_and_their_backups_have_lanes_with_brackets_and_changes(
    size: tuple[int, int],
) -> None:
    view = synthetic.plan_view()
    canvas = drawn(view, *size)
    found = lane_rows(canvas)
    assert {"20 m", "15 m", "10 m"} <= set(found)
    text = "\n".join(canvas.texts())
    assert text.count("├") == text.count("┤") == len(view.steps)
    assert text.count("full lane: 20 contacts an hour") == 1  # the scale, named once
    assert "absorbed" in text  # a pattern of a closed part is named
    assert "now 12:20" in text
    for change in ("09:45", "12:06"):
        assert change in canvas.texts()[2] + canvas.texts()[3]
    changes = {row.index("├") for row in canvas.texts() if "├" in row} - {7}
    assert len(changes) == 2
    assert all(row[column] in "├┤│" for row in found.values() for column in changes)


def test_lanes_are_bright_where_the_plan_uses_them_and_dim_elsewhere() -> None:
    canvas = drawn(synthetic.plan_view(), 80, 40)
    row = row_of(canvas, "15 m")
    begin = canvas.texts()[row - 1].index("├")
    end = canvas.texts()[row - 1].index("┤")
    bright = set(range(RAMP, RAMP + RAMP_STEPS))
    assert set(canvas.inks[row, begin + 1 : end].tolist()) <= bright
    outside = {*canvas.inks[row, 8:begin].tolist(), *canvas.inks[row, end + 1 : 72].tolist()}
    assert not outside & (bright | {SKYLIGHT})
    assert outside & {QUIET, TEXT}
    # also without a colour: a full cell has another sign in use than out of use
    used, rest = canvas.texts()[row][begin + 1 : end], canvas.texts()[row][8:begin]
    assert "█" in used
    assert "█" not in rest
    plain = canvas.texts(plain=True)[row]
    assert set(plain[begin + 1 : end]) == {"#"}
    assert "#" not in plain[8:begin]


def test_the_chosen_step_is_marked_on_its_lane() -> None:
    canvas = drawn(synthetic.plan_view(), 80, 40, step=1)
    row = row_of(canvas, "15 m")
    assert canvas.texts()[row].startswith("▸")
    assert (canvas.grounds[row] == CHOSEN).any()


def test_with_a_friend_lanes_show_days_and_no_slab() -> None:
    canvas = drawn(with_a_friend(), 80, 30)
    text = "\n".join(canvas.texts())
    assert text.count("full lane: every day") == 1
    assert "contacts an hour" not in text.split("full lane")[0]
    found = lane_rows(canvas)
    assert len(found) >= 4
    assert all("98 %" in row for row in found.values())
    slab = 0
    for row in canvas.texts():
        slab = slab + 1 if row.count("█") > 40 else 0
        assert slab < 4


def test_as_many_lanes_as_fit_and_two_at_least() -> None:
    view = synthetic.plan_view()
    for rows, count, each in ((2, 2, 1), (3, 3, 1), (4, 4, 1), (9, 4, 2), (12, 6, 2), (24, 6, 4), (99, 6, 6)):
        shown, tall = _shown(view, rows)
        assert (len(shown), tall) == (count, each), rows
        assert [lane.frequency_mhz for lane in shown] == sorted(lane.frequency_mhz for lane in shown)
    assert {lane.band for lane in _shown(view, 4)[0]} == {"20m", "15m", "10m", "12m"}
    assert len(_shown(view, 1)[0]) == 2


def test_a_dead_band_is_marked() -> None:
    view = synthetic.plan_view()
    dead = replace(view.lanes[0], dead=True)
    assert "x dead" in lane_rows(drawn(replace(view, lanes=(dead, *view.lanes[1:])), 80, 24))["20 m"]


def test_the_axis_has_both_clocks_and_follows_the_one_told_first() -> None:
    say.set_clock_face(say.ClockFace(ZoneInfo("Africa/Johannesburg")))
    utc, local = drawn(synthetic.plan_view(), 80, 24).texts()[2:4]
    assert utc.startswith(" UTC   08:00")
    assert local.startswith(" local 10:00")
    assert utc.index("09:45") == local.index("11:45")
    assert utc.index("now 12:20") == local.index("14:20")
    say.set_clock_face(say.ClockFace(ZoneInfo("Africa/Johannesburg"), local=True))
    local, utc = drawn(synthetic.plan_view(), 80, 24).texts()[2:4]
    assert local.startswith(" local 10:00")
    assert utc.startswith(" UTC   08:00")
    assert "now 14:20" in local


@pytest.mark.parametrize("size", [(160, 48), (132, 43)])
def test_a_large_screen_shows_each_lane_once(size: tuple[int, int]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "plan")
        rows = rows_of(app)
        assert sum(row[2:6] == "15 m" for row in rows) == 1
        assert "Keep clear of overhead lines." in text_of(app)

    run(scenario, size)


@pytest.mark.parametrize("key", ["x", "e"])
def test_a_key_of_a_plan_that_is_not_there_yet_says_so(key: str) -> None:
    held = threading.Event()
    engine = FakeEngine()

    def plan(_query: PlanQuery) -> PlanView:
        held.wait(30.0)
        return synthetic.plan_view()

    engine.made_up[PlanQuery] = plan

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        try:
            await app.action_go("plan")
            await pilot.pause()
            await pilot.press(key)
            assert app.state.notice == (
                f"The plan is still being worked out; press {key} again once it is shown."
            )
            assert app.state.hours is not None
            assert app.state.hours.dead == ()
        finally:
            held.set()
        await settle(app, pilot)
        if key == "x":
            await pilot.press(key)
            await settle(app, pilot)
            assert [band for band, _ in app.state.hours.dead] == ["20m"]

    run(scenario, engine=engine)


def test_a_key_of_a_plan_that_failed_says_so() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "plan")
        await pilot.press("x")
        assert "was not worked out" in app.state.notice

    run(scenario, engine=FakeEngine(fail=("plan",)))


def test_x_without_a_step_says_why() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "plan")
        await pilot.press("x")
        assert "no band that could be taken as dead" in app.state.notice

    empty = replace(synthetic.plan_view(), steps=(), lanes=(), times=tuple(np.array([], "datetime64[s]")))
    run(scenario, engine=FakeEngine(made_up={PlanQuery: lambda _: empty}))


@pytest.mark.parametrize("size", [(80, 9), (36, 30)])
def test_where_there_is_little_room_the_steps_go_before_the_lanes(size: tuple[int, int]) -> None:
    text = "\n".join(drawn(synthetic.plan_view(), *size).texts())
    assert "full lane" not in text
    assert "08:00-09:45" in text
