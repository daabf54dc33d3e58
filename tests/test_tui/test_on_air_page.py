"""On the air: now, next, then; contacts and calls in two keystrokes; everything on disk at once."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import synthetic
from fake_engine import FakeEngine
from screen_text import go, run, settle, text_of
from textual.pilot import Pilot
from textual.widgets import Input

from propagation.advice.rates import Prospect, Rate
from propagation.logbook import adif
from propagation.logbook.journal import Made
from propagation.wording import outing as say_on_air
from tui.app import outing_journal
from tui.app import outing_log as on_air
from tui.app.app import BandwhenApp
from tui.app.queries import PlanQuery
from tui.features.outing.page import OnAirPage
from tui.features.outing.queries import LearnQuery, MarkAnswered
from tui.features.outing.view import LearntView
from tui.features.review.page import ReviewQuery

ROOT = Path(__file__).resolve().parents[2]
MINUTE = np.timedelta64(60, "s")


def engine_with(said: str = "") -> FakeEngine:
    return FakeEngine(made_up={MarkAnswered: lambda query: said})


async def write(app: BandwhenApp, pilot: Pilot[None], line: str) -> None:
    await pilot.press("c")
    await settle(app, pilot)
    await pilot.press(*("space" if sign == " " else sign for sign in line))
    await pilot.press("enter")
    await settle(app, pilot)


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
            assert "no contact yet" in text, size
            assert "until 09:45 by the plan" in text, size
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


def until_killed(command: list[str], lines: int) -> list[str]:
    """All that a program says until it is killed after so many lines."""
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as child:
        assert child.stdout is not None
        told = [child.stdout.readline().strip() for _ in range(lines)]
        os.kill(child.pid, signal.SIGKILL)
        return [*told, *(line.strip() for line in child.stdout.read().splitlines())]


def test_killed_at_any_moment_every_contact_that_was_told_of_is_there(tmp_path: Path) -> None:
    """A child writes contacts and says each when it is written; killed, its log has all it said."""
    program = (
        "import sys; from pathlib import Path; from propagation.base import files\n"
        "from propagation.logbook import journal; import numpy as np\n"
        "file = Path(sys.argv[1])\n"
        "for n in range(100000):\n"
        "    at = np.datetime64('2026-03-20T12:00:00', 's')\n"
        "    one = journal.Worked(f'ZS{n % 10}T{n:05d}', '59', '59', at, '20m', 14.2, 'SSB', 5.0)\n"
        "    files.append(file, journal.record(one), journal.header())\n"
        "    print(one.call, flush=True)\n"
    )
    for turn in range(3):
        file = tmp_path / f"{turn}.adi"
        told = until_killed([sys.executable, "-c", program, str(file)], 5 + 7 * turn)
        log = adif.read(file.read_bytes())
        there = {record.fields["CALL"] for record in log.records}
        whole = [call for call in told if len(call) == 9]
        assert len(whole) >= 5
        assert set(whole) <= there


def test_the_log_keeps_its_name_when_the_plan_is_made_again() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await write(app, pilot, "zs1test")
        hours = app.state.hours
        assert hours is not None
        moved = replace(hours, start=hours.start + 30 * MINUTE)
        assert on_air.log_file(outing_journal.carried_over(hours, moved)) == Path(hours.log)

    run(scenario, engine=engine_with())


def log_of(app: BandwhenApp) -> list[dict[str, str]]:
    hours = app.state.hours
    assert hours is not None
    log = adif.read(Path(hours.log).read_bytes())
    assert log.problems == () or not log.records
    return [record.fields for record in log.records]


async def type_in(app: BandwhenApp, pilot: Pilot[None], line: str) -> None:
    app.screen.query_one(Input).value = line
    await settle(app, pilot)


def test_one_line_takes_everything_and_says_before_enter_how_it_was_understood() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("c")
        await type_in(app, pilot, "40m zs0abc 0912 599 579 Thandi, zz/ab-001 first one today")
        shown = " ".join(text_of(app).split())
        assert "ZS0ABC on 40 m at 09:12 UTC, sent 599, received 579, name Thandi, ZZ/AB-001, note:" in shown
        assert app.state.hours is None or not app.state.hours.log, "nothing is written before Enter"
        await pilot.press("enter")
        await settle(app, pilot)
        (fields,) = log_of(app)
        assert (fields["BAND"], fields["TIME_ON"], fields["NAME"]) == ("40m", "091200", "Thandi")
        assert (fields["SOTA_REF"], fields["COMMENT"]) == ("ZZ/AB-001", "first one today")
        assert "FREQ" not in fields, "none was typed"
        assert len(fields["MY_GRIDSQUARE"]) == 6
        await pilot.press("c")
        await type_in(app, pilot, "zs0abc 2355")
        assert "at 2026-03-13 23:55 UTC" in " ".join(text_of(app).split()), "later than now: yesterday's"

    run(scenario, engine=engine_with())


def test_contacts_stand_in_a_list_and_are_corrected_taken_out_and_put_back() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        for line in ("zs1aaa 1201", "zs2bbb 1202 40m", "zs1aaa 1203"):
            await pilot.press("c")
            await type_in(app, pilot, line)
            await pilot.press("enter")
            await settle(app, pilot)
        await pilot.press("escape")  # the note
        listed = [line for line in text_of(app).splitlines() if "ZS1AAA" in line or "ZS2BBB" in line]
        assert ["DUPLICATE" in line for line in listed[-3:]] == [True, False, False]
        await pilot.press("down", "enter")
        await type_in(app, pilot, app.screen.query_one(Input).value.replace("ZS2BBB", "ZS2BBC"))
        await pilot.press("enter")
        await settle(app, pilot)
        before = log_of(app)
        assert [fields["CALL"] for fields in before] == ["ZS1AAA", "ZS2BBC", "ZS1AAA"]
        await pilot.press("down", "delete")
        await settle(app, pilot)
        assert [fields["CALL"] for fields in log_of(app)] == ["ZS2BBC", "ZS1AAA"]
        await pilot.press("u")
        assert "Taken back: ZS1AAA on 10 m at 12:01, taken out of the log" in " ".join(text_of(app).split())
        assert sorted(map(str, log_of(app))) == sorted(map(str, before))
        await pilot.press("u", "u")
        await settle(app, pilot)
        assert sorted(fields["CALL"] for fields in log_of(app)) == ["ZS1AAA", "ZS2BBB"]

    run(scenario, engine=engine_with())


def test_u_takes_back_the_last_thing_done_whatever_it_was() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        begun = app.state.hours
        await pilot.press("v", "g", "x")
        await settle(app, pilot)
        await pilot.press("b", "down", "enter")
        await settle(app, pilot)
        assert app.state.hours is not None
        assert app.state.hours.band
        await write(app, pilot, "zs1test")
        for word in ("ZS1TEST", "as the band in use", "taken as dead", "heard one way", "no answer"):
            await pilot.press("u")
            await settle(app, pilot)
            assert word in app.state.notice
            assert app.state.notice.startswith("Taken back: ")
        assert log_of(app) == []
        assert app.state.hours == begun
        assert app.state.hours is not None
        assert app.state.hours.marks == ()
        await pilot.press("u")
        assert "nothing to take back" in app.state.notice

    run(scenario, engine=engine_with())


def test_after_a_restart_the_latest_is_taken_back_first() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("v")
        await write(app, pilot, "zs1test 1201")

    async def later(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("u")
        assert "no answer on" in app.state.notice
        await pilot.press("u")
        assert "ZS1TEST" in app.state.notice
        assert log_of(app) == []

    run(scenario, engine=engine_with())
    run(later, engine=engine_with())


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
