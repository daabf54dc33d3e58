"""On the air: now, next, then; contacts and calls in two keystrokes; everything on disk at once."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import synthetic
from fake_engine import FakeEngine
from screen_text import go, run, settle, text_of
from textual.pilot import Pilot

from propagation.advice.rates import Prospect, Rate
from propagation.logbook import adif
from propagation.logbook.journal import Made
from propagation.wording import outing as say_on_air
from propagation.wording import quantities as say
from tui.app import outing_journal
from tui.app import outing_log as on_air
from tui.app.app import BandwhenApp
from tui.app.choice import Mark
from tui.app.queries import PlanQuery
from tui.features.outing.page import OnAirPage
from tui.features.outing.queries import LearnQuery, MarkAnswered
from tui.features.outing.rows import hours_view, rows
from tui.features.outing.view import LearntView
from tui.features.review.page import ReviewQuery

MINUTE = np.timedelta64(60, "s")


def engine_with(said: str = "") -> FakeEngine:
    return FakeEngine(made_up={MarkAnswered: lambda query: said})


async def write(app: BandwhenApp, pilot: Pilot[None], line: str) -> None:
    await pilot.press("c")
    await settle(app, pilot)
    await pilot.press(*("space" if sign == " " else sign for sign in line))
    await pilot.press("enter")
    await settle(app, pilot)


def test_a_contact_tells_of_the_path_to_its_own_place_not_to_the_target() -> None:
    engine = engine_with()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        for line, place in (("zs2test", "Eastern Cape"), ("dl1test", "Germany"), ("dl2test JO31", "JO31")):
            await write(app, pilot, line)
            assert engine.last(MarkAnswered).heard.place == place
        told = len([one for one in engine.put if isinstance(one, MarkAnswered)])
        await write(app, pilot, "k6test/mm")  # a ship: nothing is known of the path
        assert len([one for one in engine.put if isinstance(one, MarkAnswered)]) == told
        await pilot.press("g")  # one way: of the people it calls
        await settle(app, pilot)
        assert engine.last(MarkAnswered).heard.place == "Uruguay"

    run(scenario, engine=engine)


def test_now_next_and_then_stand_on_the_page_at_every_size() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        plan = app.state.answers.get(PlanQuery)
        assert plan is not None
        second = plan.steps[1]
        app.state.now = plan.steps[0].start
        for size in ((60, 16), (80, 24), (160, 48)):
            await pilot.resize_terminal(*size)
            await pilot.pause()
            app.refresh_page()
            await pilot.pause()
            text = " ".join(text_of(app).split())
            assert "No contact yet" in text, size
            assert "until 09:45 UTC by the plan" in text, size
            assert "about 20 contacts an hour (11 to 27)" in text, size
            assert second.setup.split(",")[0] in text, size

    run(scenario, engine=engine_with())


def test_a_contact_is_on_disk_before_anything_else_and_its_duplicate_is_told() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("v")
        await write(app, pilot, "zs1test 5nn")
        hours = app.state.hours
        assert hours is not None
        log = adif.read(Path(hours.log).read_bytes())
        assert [record.fields["CALL"] for record in log.records] == ["ZS1TEST"]
        assert "APP_BANDWHEN_TRIED" in log.records[0].fields
        assert "1 contact, the last ZS1TEST" in text_of(app)
        await write(app, pilot, "zs1test")
        assert "Duplicate: worked on 10 m at" in " ".join(text_of(app).split())

    run(scenario, engine=engine_with())


def test_what_is_no_contact_is_refused_while_it_is_typed() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("c", "5", "9", "enter")
        await settle(app, pilot)
        assert "There is no call sign in it" in text_of(app)
        await pilot.press("escape")
        assert app.state.hours is None or not app.state.hours.log

    run(scenario, engine=engine_with())


def test_marks_last_over_a_restart_and_can_be_taken_back() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("v", "g")
        await settle(app, pilot)
        hours, note = outing_journal.load(synthetic.NOW)
        assert note == ""
        assert hours is not None
        assert [mark.kind for mark in hours.marks] == ["in vain", "one way"]
        await pilot.press("u")
        again, _ = outing_journal.load(synthetic.NOW)
        assert again is not None
        assert [mark.kind for mark in again.marks] == ["in vain"]

    run(scenario, engine=engine_with())


@pytest.mark.parametrize("answered", [False, True])
def test_a_band_is_offered_as_dead_only_where_nobody_has_answered(answered: bool) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        if answered:
            await write(app, pilot, "zz1aa 599 579")
        for _ in range(2):
            await pilot.press("v")
            await settle(app, pilot)
        said = " ".join(text_of(app).split())
        assert "called, nobody answered" in said
        assert ("x takes the band as dead" in said) is not answered

    run(scenario, engine=engine_with())


def test_an_answer_moves_the_sky_and_one_sentence_says_so() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        before = app.state.choice
        await write(app, pilot, "zs1test")
        assert before is not None
        assert app.state.choice is not None
        assert app.state.choice.sky == before.sky + 1, "the forecast is made again"
        assert "The layer is up" in text_of(app)

    run(scenario, engine=engine_with("The layer is up: index 60 to 75."))


def learns(query: LearnQuery) -> LearntView:
    """Made up: two calls in vain and the plan is another one."""
    plan, calls = query.at_hand, len(query.marks)
    if not calls and not query.contacts:
        return LearntView()
    if calls < 2:
        return LearntView(plan, False, "The plan stands: one call cannot tell.", "As it seems now: as usual.")
    step = replace(plan.steps[0], band="17m", start=query.now, end=plan.end, setup="coil 5.5 µH")
    better = replace(plan, steps=(step, replace(step, band="10m", start=plan.end, setup="coil out")))
    return LearntView(better, True, "Better to 17 m now: two calls say so.", "As it seems now: poor.")


def learning_engine() -> FakeEngine:
    engine = engine_with()
    engine.made_up[LearnQuery] = learns
    return engine


def test_what_was_learnt_stands_on_the_page_and_the_better_plan_is_followed() -> None:
    engine, rung = learning_engine(), []

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        page = app.page
        assert isinstance(page, OnAirPage)
        assert page.learnt(app.state) is None, "nothing happened yet, and the forecast was made ready"
        assert engine.last(LearnQuery).marks == ()
        app.bell = lambda: rung.append("bell")  # type: ignore[method-assign]
        await pilot.press("v")
        await settle(app, pilot)
        text = " ".join(text_of(app).split())
        assert "The plan stands: one call cannot tell." in text
        assert "As it seems now: as usual." in text
        first = page.band_in_use(app.state)
        await pilot.press("v")
        await settle(app, pilot)
        text = " ".join(text_of(app).split())
        assert "Better to 17 m now: two calls say so." in text
        assert "10 m in" in text, "the step after it"
        assert page.band_in_use(app.state) == "17m" != first
        assert any("Better to 17 m now" in line for line in page.sentences(app.state))
        await pilot.press("v")
        await settle(app, pilot)
        hours = app.state.hours
        assert hours is not None
        assert [mark.band for mark in hours.marks] == [first, first, "17m"]
        assert engine.last(LearnQuery).at_hand.steps[0].band == "17m", "the next weighs the new plan"
        assert rung

    run(scenario, engine=engine)


def test_after_a_restart_all_that_was_written_down_is_learnt_from_again() -> None:
    first = learning_engine()

    async def outing_(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await write(app, pilot, "zs1test 5nn 559")
        await pilot.press("v", "g")
        await settle(app, pilot)
        before = first.last(LearnQuery)
        again = learning_engine()

        async def later(app: BandwhenApp, pilot: Pilot[None]) -> None:
            await go(app, pilot, "onair")
            after = again.last(LearnQuery)
            assert after.contacts == before.contacts
            assert after.marks == before.marks
            assert [(one.call, one.received) for one in after.contacts] == [("ZS1TEST", "559")]
            assert "Better to 17 m now" in " ".join(text_of(app).split())

        kept.append(later)
        engines.append(again)

    kept: list[Any] = []
    engines: list[FakeEngine] = []
    run(outing_, engine=first)
    run(kept[0], engine=engines[0])


def test_where_nothing_can_be_learnt_the_plan_is_followed_as_it_is() -> None:
    engine = FakeEngine(made_up={MarkAnswered: lambda query: ""}, fail=("learning",))

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("v")
        await settle(app, pilot)
        page = app.page
        assert isinstance(page, OnAirPage)
        assert page.followed(app.state) == app.state.answers.get(PlanQuery)

    run(scenario, engine=engine)


def test_the_review_opens_with_this_outing() -> None:
    engine = engine_with()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await write(app, pilot, "zs1test")
        await app.action_go("review")
        await settle(app, pilot)
        assert app.state.hours is not None
        assert engine.last(ReviewQuery).path == app.state.hours.log

    run(scenario, engine=engine)


def test_a_change_is_announced_once() -> None:
    rung: list[str] = []

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        app.bell = lambda: rung.append("bell")  # type: ignore[method-assign]
        await go(app, pilot, "onair")
        page = app.page
        assert isinstance(page, OnAirPage)
        plan = app.state.answers.get(PlanQuery)
        assert plan is not None
        before = len(rung)
        app.state.now = plan.steps[1].start - 3 * MINUTE
        for _ in range(3):
            page.take(app.state)
        assert len(rung) == before + 1

    run(scenario, engine=engine_with())


def test_the_words_of_the_page() -> None:
    at = synthetic.NOW
    assert (
        say_on_air.change_words("17m", at + 24 * MINUTE, at, "coil 3.4 µH") == "17 m in 24 min: coil 3.4 µH"
    )
    assert say_on_air.minutes_left(at - MINUTE, at) == 0
    assert say_on_air.offer_words(2) == "Two calls without an answer: x takes the band as dead."
    few, more = (Prospect(0.5, Rate(n / 2.0, n, 1.5 * n), 4) for n in (4.0, 22.0))
    assert say_on_air.half_words("20m", few, "40m", more) == (
        "20 m is down to about 4 contacts an hour (2 to 6); 40 m has about 22 contacts an hour (11 to 33)."
    )
    assert "2 contacts, the last B on 20 m at 12:21" in say_on_air.tally(
        [Made("A", "40m", at, "", ""), Made("B", "20m", at + MINUTE, "", "")], [], []
    )


@pytest.mark.parametrize("page", ["onair", "plan"])
def test_every_kind_of_mark_is_taken_back_on_every_page_that_shows_it(page: str) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("v", "g", "x")
        await settle(app, pilot)
        await go(app, pilot, page)
        for left in (2, 1, 0):
            if page == "onair":
                await pilot.press("delete")
            else:
                await pilot.press("u")
            await settle(app, pilot)
            hours = app.state.hours
            assert hours is not None
            assert len(hours.marks) + len(hours.dead) == left

    run(scenario, engine=engine_with())


def test_the_band_in_use_is_the_operators_and_kills_no_band() -> None:
    engine = engine_with()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("b")
        await settle(app, pilot)
        await pilot.press("up", "enter")
        await settle(app, pilot)
        hours = engine.last(PlanQuery).hours
        assert (hours.band, hours.dead) == ("12m", ())
        assert hours.band_before
        kept, _ = outing_journal.load(synthetic.NOW)
        assert kept == hours, "a restart keeps it"

    run(scenario, engine=engine)


def test_the_band_in_use_says_what_it_costs_or_gains() -> None:
    assert say_on_air.choice_words("20m", "15m", -3.2) == (
        "20 m by your choice: about three contacts fewer than with 15 m, which the plan had."
    )
    for mine, its, told in (
        (0.62, 0.98, "6 days in 10, about 4 days in 10 fewer than with 15 m, which the plan had "
         "(nearly every day)."),
        (0.9, 0.52, "9 days in 10, about 4 days in 10 more than with 15 m, which the plan had "
         "(5 days in 10)."),
        (0.64, 0.66, "6 days in 10, a little fewer than with 15 m, which the plan had (7 days in 10)."),
        (0.98, 0.99, "nearly every day, about as with 15 m, which the plan had."),
    ):  # fmt: skip
        assert say_on_air.choice_days_words("20m", "15m", mine, its) == f"20 m by your choice: {told}"


def blank_rows(text: str) -> int:
    """Rows without a sign between the heading and the keys."""
    return sum(not row.strip(" \u2502") for row in text.splitlines()[1:-2])


@pytest.mark.parametrize("size", [(60, 16), (80, 24), (100, 50), (120, 36), (160, 48)])
def test_the_page_is_full_and_contacts_take_the_room_as_they_come(size: tuple[int, int]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        plan = app.state.answers.get(PlanQuery)
        assert plan is not None
        app.state.now = plan.steps[0].start
        await pilot.resize_terminal(*size)
        await settle(app, pilot)
        app.refresh_page()
        await settle(app, pilot)
        text = text_of(app)
        assert blank_rows(text) <= (17 if size[1] > 48 else 5), text
        if size[0] == 80:
            assert "Set for 20 m: coil 6.0 uH, two radials raised" in text
            assert re.search(r"(?m)^   20 m .*├.* \d+/h$", text), "a lane of the hours"
        first = app.state.hours
        for number in range(12):
            app.plan_for(replace(app.state.hours or first, marks=marks(number + 1)))  # type: ignore[type-var]
            await settle(app, pilot)
            rows = text_of(app).splitlines()
            assert rows[-1].startswith(" 1 day"), "the keys stay at the foot"
            listed = sum(re.search(r"\d\d:\d\d +20 m +no answer", row) is not None for row in rows[8:-2])
            assert listed >= min(number + 1, 4 if size[1] > 20 else 2), (size, number)
            assert len(rows) == size[1]
            assert not any("▇" in row for row in rows if row.startswith(" c contact")), "no scroll bar"

    run(scenario, engine=engine_with())


def marks(count: int) -> tuple[Mark, ...]:
    return tuple(Mark("in vain", "20m", synthetic.NOW + number * MINUTE) for number in range(count))


def test_sentences_that_follow_one_another_are_all_readable_the_newest_first() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await write(app, pilot, "zs1test")
        text = " ".join(text_of(app).split())
        assert text.index("The layer is up") < text.index("Written: ZS1TEST"), "one note hides no other"
        await pilot.press("down")
        assert "Written: ZS1TEST" not in text_of(app)
        assert app.state.notices == ()
        await pilot.press("v", "g")  # the second key comes before the first note can be read
        text = " ".join(text_of(app).split())
        assert text.index("they did not hear me") < text.index("nobody answered; noted")
        app.say("There is no plan.", fault="plan")
        app.say("Written.")
        assert [one for one, _ in app.state.notices[:2]] == ["Written.", "There is no plan."]
        await pilot.press("down")
        assert app.state.notices == (("There is no plan.", "plan"),), "a note takes no fault away"
        app._mended("plan")
        assert app.state.notices == ()
        said = [line for line in app._sentences(app.page) if line.startswith("Said at")]  # type: ignore[arg-type]
        assert said[0] == "Said at 12:20 UTC: Written."
        assert any("Written: ZS1TEST" in line for line in said)

    run(scenario, engine=engine_with("The layer is up: index 60 to 75."))


def test_every_time_on_the_page_is_told_on_both_clocks() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await write(app, pilot, "zs1test 1201z")
        await pilot.press("v", "x")
        await settle(app, pilot)
        for local, other in ((False, "local"), (True, "UTC")):
            say.set_clock_face(say.ClockFace(ZoneInfo("Africa/Johannesburg"), local))
            page = app.page
            assert isinstance(page, OnAirPage)
            page.take(app.state)
            made = on_air.made(app.state.hours)
            listed = rows(page.hours, made, np.datetime64("2026-03-15T09:00", "s"))
            assert all(re.match(r"(Sat|Fri) \d\d:\d\d ", row.card.name.strip()) for row in listed)
            told = [*page.sentences(app.state), *(row.card.name[4:] for row in listed)]
            for line in told:
                times = re.findall(r"\d\d:\d\d", line)
                assert len(times) % 2 == 0, line
                if times and not line[0].isdigit():
                    assert line.count(other) >= len(times) // 2, line

    run(scenario, engine=engine_with())


def test_lanes_of_the_hours_have_the_bands_of_the_plan_first_and_dead_ones_last() -> None:
    plan = synthetic.plan_view()
    view = hours_view(plan, plan.start + 60 * MINUTE, ("15m",), True)
    assert view is not None
    assert [lane.band for lane in view.lanes] == ["20m", "10m", "17m", "12m", "15m"]
    assert view.lanes[-1].figure == "dead"
    assert view.lanes[0].figure.endswith("/h")
    assert view.stays[1][0] == "15m"
    assert [view.height(rows) for rows in (3, 5, 7, 12, 20)] == [(2, 1), (4, 1), (5, 1), (5, 2), (5, 3)]
