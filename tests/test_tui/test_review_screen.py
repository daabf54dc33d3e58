"""The review screen on a made-up review: what it shows, that nothing sticks out, that its keys do their
work.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Awaitable, Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from fake_engine import PATIENCE_S, FakeEngine
from rich.cells import cell_len
from screen_text import golden, make_app, rows_of, settle, text_of
from textual.pilot import Pilot

from propagation.advice.switching import BandStay
from propagation.base.errors import InputError
from propagation.logbook.kept_offset import Learnt, LearntBand
from propagation.wording import quantities as say
from tui.app import learnt_store, paths
from tui.app.app import BandwhenApp
from tui.features.review import answer as presenting
from tui.features.review.page import INVITATION, Headway, ReviewPage, ReviewQuery
from tui.features.review.view import SIGN_OF, ContactRow, ReviewView
from tui.kit.worker_threads import under_way

CLOCKS = ("UTC", "local")
BANDS = ("40m", "30m", "20m", "17m", "15m", "10m")


def at(clock: str) -> np.datetime64:
    return np.datetime64(f"2026-03-14T{clock}", "s")


def made_up() -> ReviewView:
    times = at("08:00") + np.arange(25) * np.timedelta64(900, "s")
    share = np.outer(
        np.array([0.01, 0.02, 0.05, 0.03, 0.04, 0.001]), 0.5 + 0.5 * np.sin(np.linspace(0.0, 3.0, 25))
    )
    rows = [
        ContactRow(
            at("09:10"), "ZS1TEST", "20m", "1,100 km", "80 %", "+9 dB", "1F2", "expected", "[/] frost [b]"
        ),
        ContactRow(at("09:25"), "V51TEST", "20m", "1,452 km", "30 %", "-2 dB", "2F2", "fair"),
        ContactRow(
            at("11:40"), "G4[/]TEST", "15m", "9,458 km", "1 %", "-27 dB", "3F2 lp", "against the odds"
        ),
        ContactRow(at("11:55"), "X1TEST/MM", "15m", "-", "-", "-", "-", "no place"),
    ]
    return ReviewView(
        title="my [/] log.adi, Sat 14 Mar 2026, CW 50 W", times=times, bands=BANDS, figure=share,
        full="nearly every day", usable=np.array([True] * 5 + [False]), target="anyone",
        on=(BandStay("20m", at("09:05"), at("10:30"), 0.0, 0.0),
            BandStay("15m", at("11:30"), at("12:00"), 0.0, 0.0)),
        silent=(BandStay("20m", at("09:25"), at("10:30"), 0.0, 0.0),),
        plan=(BandStay("17m", at("09:00"), at("12:00"), 0.0, 0.0),),
        contacts=tuple(rows), sentences=("4 contacts on 20 m and 15 m.", "Against the odds: G4[/]TEST."),
        taught=("Your log says 6 dB worse on 40 m than the model (give or take 2): look at the radials.",),
        learnt_words="",
        learnt=Learnt(bands=(LearntBand("20m", -3.0, 1.5, 4),), entries=4, used=4, days=1),
        name="my [/] log.adi", setting="Sat 14 Mar 2026  CW 50 W",
    )  # fmt: skip


def reviewer(question: ReviewQuery) -> ReviewView:
    return made_up()


def on_page(
    scenario: Callable[[BandwhenApp, Pilot[None], ReviewPage], Awaitable[None]],
    size: tuple[int, int] = (80, 24),
    review: Any = reviewer,
) -> None:
    """Run a scenario on the page of a settled app."""
    app = make_app(FakeEngine(made_up={ReviewQuery: review}))

    async def body() -> None:
        async with app.run_test(size=size) as pilot:
            await settle(app, pilot)
            await pilot.press("9")
            await settle(app, pilot)
            assert isinstance(app.page, ReviewPage)
            await scenario(app, pilot, app.page)

    asyncio.run(body())


async def opened(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
    page.open_log("log.adi")
    await settle(app, pilot)


def test_before_a_log_is_opened_the_page_says_what_it_is_for() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        assert page.sentences(app.state) == list(INVITATION)
        await pilot.press("down", "l", "tab")  # nothing to choose, nothing to keep: no harm
        assert page.view is None
        assert page.row == 0

    on_page(scenario)


def test_the_outing_is_as_on_file() -> None:
    """Lanes with the own track, contacts, lesson; names with brackets stay what they are."""

    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        await opened(app, pilot, page)
        golden("review_outing_132x43", text_of(app))
        assert "[/] frost [b]" in text_of(app)
        await pilot.press("down", "down")
        assert "[/] frost [b]" not in text_of(app), "the comment is of the contact chosen"

    on_page(scenario, (132, 43))


def test_the_views_of_a_small_screen_are_as_on_file() -> None:
    """Tab steps through them; before a log is opened there is but one."""

    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        await pilot.press("tab")
        await settle(app, pilot)
        assert page.pane == 0
        await opened(app, pilot, page)
        for pane in page.panes:
            golden(f"review_opened_{pane}_80x24", text_of(app))
            await pilot.press("tab")
            await settle(app, pilot)

    on_page(scenario)


@pytest.mark.parametrize("size", [(40, 10), (80, 24), (100, 30), (132, 43), (240, 70)])
def test_nothing_sticks_out_and_every_sign_takes_one_cell(size: tuple[int, int]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        await opened(app, pilot, page)
        for _ in range(3):
            for widget in page.walk_children():
                if widget.display and widget.region.area:
                    assert page.region.contains_region(widget.region), widget
            for row in rows_of(app):
                assert len(row) == cell_len(row) <= size[0]
            await pilot.press("tab")

    on_page(scenario, size)


@pytest.mark.parametrize("height", [24, 36, 48])
def test_no_label_of_the_page_is_cut(height: int) -> None:
    """From 80 to 160 columns: legend, hours, heading of the columns and verdicts are whole or not there."""

    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        await opened(app, pilot, page)
        for width in range(80, 161, 4):
            await pilot.resize_terminal(width, height)
            await settle(app, pilot)
            seen = text_of(app)
            if page.compact:
                await pilot.press("tab")
                await settle(app, pilot)
                seen += text_of(app)
                await pilot.press("tab", "tab", "tab")
                await settle(app, pilot)
            for whole in ("full: nearly every day", "? no place", "* against the odds"):
                assert whole in seen, (width, whole)
            assert seen.count("against the odds") == 2 or width < 62, width
            for head in ("call", "chance", "margin"):
                assert head in seen, (width, head)
            assert "Sat 14 Mar 2026, CW 50 W" in seen, width

    on_page(scenario, (80, height))


def test_the_lanes_take_the_rows_that_few_contacts_leave() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        await opened(app, pilot, page)
        contacts = page.query_one("#contacts")
        assert page.query_one("#outing").size.height > (40 - 3) // 2, "more than half of the page"
        assert contacts.size.height >= 4 + 2

    on_page(scenario, (112, 40))


def test_the_log_s_name_gives_way_in_the_title() -> None:
    view = replace(made_up(), title=f"{'long' * 20}.adi, Sat 14 Mar 2026", name=f"{'long' * 20}.adi")
    assert view.title_in(120) == view.title
    assert len(view.title_in(60)) == 60
    assert view.title_in(60).endswith("…g.adi, Sat 14 Mar 2026") or "…" in view.title_in(60)
    assert view.title_in(20) == "Sat 14 Mar 2026"


def test_the_top_line_agrees_with_what_is_reviewed() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        top = rows_of(app)[0]
        assert "◆" not in top, "no target where nothing of it is shown"
        await opened(app, pilot, page)
        top = rows_of(app)[0]
        assert "◆ anyone" in top
        assert "Sat 14 Mar 2026  CW 50 W" in top
        await pilot.press("1")
        await settle(app, pilot)
        assert "◆ anyone" not in rows_of(app)[0]

    on_page(scenario, (100, 24))


def test_times_are_on_both_clocks_and_z_turns_them_over() -> None:
    """Axis and list at once; the sentences are made anew from the same review, without reading the log."""
    asked: list[ReviewQuery] = []

    def review(question: ReviewQuery) -> ReviewView:
        asked.append(question)
        return replace(made_up(), found=SimpleNamespace())  # type: ignore[arg-type]

    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        say.set_clock_face(say.ClockFace(ZoneInfo("Africa/Johannesburg")))
        await opened(app, pilot, page)
        rows = rows_of(app)
        utc, local = (next(i for i, row in enumerate(rows) if row.startswith(f" {word} ")) for word in CLOCKS)
        assert local == utc + 1
        assert "08" in rows[utc]
        assert "10" in rows[local]
        assert any(row.startswith("▸ 09:10 11:10 ZS1TEST") for row in rows)
        await pilot.press("z")
        await settle(app, pilot)
        rows = rows_of(app)
        assert any(row.startswith("▸ 11:10 09:10 ZS1TEST") for row in rows)
        assert any(row.startswith("  local UTC   call") for row in rows)
        assert [one.local for one in asked] == [False, True]
        assert asked[0].found is None
        assert asked[1].found is not None
        await pilot.press("z")
        await settle(app, pilot)

    on_page(scenario, (112, 40), review)


def test_logs_are_offered_and_entered(tmp_path: Path) -> None:
    """The demo's log and those opened before; Enter opens the marked one; a log that is gone is left out."""
    asked: list[str] = []

    def review(question: ReviewQuery) -> ReviewView:
        asked.append(question.path)
        return made_up()

    log = tmp_path / "my [b].adi"
    log.write_text("x", encoding="utf-8")
    gone = tmp_path / "gone.adi"

    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        app.chosen = replace(app.chosen, logs=f"{gone}\n{log}")
        page.fill(app.state)
        assert "my [b].adi" in text_of(app)
        assert "gone.adi" not in text_of(app)
        assert "ridge_day.adi" in text_of(app)
        assert "Enter open it" in text_of(app)
        await pilot.press("down", "enter")
        await settle(app, pilot)
        assert asked == [presenting.demo_log()]
        assert "Enter open it" not in text_of(app)
        await pilot.press("enter")  # of a contact there is nothing to open
        await settle(app, pilot)
        assert len(asked) == 1
        assert app.chosen.logs.splitlines()[0] == presenting.demo_log()

    on_page(scenario, review=review)


def test_the_log_of_the_outing_is_offered_first(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    log = tmp_path / "outing.adi"
    log.write_text("x", encoding="utf-8")

    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        monkeypatch.setattr(ReviewPage, "_own_log", property(lambda page: str(log)))
        monkeypatch.setattr("tui.app.outing_log.made", lambda hours: ("one",) * 12)
        page.fill(app.state)
        rows = rows_of(app)
        first = next(number for number, row in enumerate(rows) if "Logs to review" in row) + 1
        assert rows[first].split() == ["today's", "outing", "12", "contacts"]
        assert "ridge_day.adi" in rows[first + 1]

        def unreadable(hours: object) -> None:
            raise InputError("no")

        monkeypatch.setattr("tui.app.outing_log.made", unreadable)
        page.fill(app.state)
        assert "cannot be read" in text_of(app)

    on_page(scenario)


def test_recent_logs_are_few_and_each_is_there_once(tmp_path: Path) -> None:
    text = ""
    for name in "abcdefga":
        text = presenting.with_log(text, f"{tmp_path}/{name}.adi", 4)
    assert [Path(line).stem for line in text.splitlines()] == ["a", "g", "f", "e"]
    for name in "ae":
        (tmp_path / f"{name}.adi").touch()
    (paths.outings_dir()).mkdir(parents=True)
    own = [paths.outings_dir() / f"outing-2026-03-{day}-0800.adi" for day in (14, 20)]
    for file in own:
        file.touch()
    known = [Path(path).name for path, _, _ in presenting.logs_known(text, 4, str(own[1]))]
    assert known == ["a.adi", "e.adi", own[0].name]


def test_signs_tell_the_verdicts_without_colour() -> None:
    signs = [sign for sign, _ in SIGN_OF.values()]
    assert len(set(signs)) == len(signs) == 4


def test_a_fault_is_one_sentence_and_the_page_goes_on() -> None:
    def broken(question: ReviewQuery) -> ReviewView:
        raise InputError("There is no file 'log [/].adi'.")

    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        await opened(app, pilot, page)
        assert "There is no file 'log [/].adi'." in text_of(app)
        assert "After the outing: open its log" in text_of(app)

    on_page(scenario, review=broken)


def test_a_later_log_overtakes_an_earlier_one() -> None:
    first_may_end = threading.Event()

    def slow(question: ReviewQuery) -> ReviewView:
        if question.path == "first":
            assert first_may_end.wait(PATIENCE_S)
        return replace(made_up(), title=question.path)

    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        page.open_log("first")
        await pilot.pause()
        page.open_log("second")
        await settle(app, pilot)
        first_may_end.set()
        while under_way():
            await pilot.pause(0.01)
        await settle(app, pilot)
        assert page.view is not None
        assert page.view.title == "second"

    on_page(scenario, review=slow)


def test_the_lesson_is_kept_used_and_forgotten_by_keys() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        await opened(app, pilot, page)
        file = learnt_store.learnt_file(page._station)
        for key, told, there in (
            ("l", "in use: 20 m -3.0 dB", True),
            ("u", "not in use", True),
            ("f", "", False),
        ):
            await pilot.press(key)
            await settle(app, pilot)
            assert file.exists() == there
            assert told in page.learnt_words
        assert "forgotten" in text_of(app)

    on_page(scenario)


@pytest.mark.parametrize(
    ("sd_db", "used", "reason"), [(5.8, 4, "too few, or too far"), (3.2, 1, "One usable report")]
)
def test_a_lesson_that_is_none_is_refused_with_the_reason(sd_db: float, used: int, reason: str) -> None:
    none = Learnt(bands=(LearntBand("20m", 3.2, sd_db, used),), entries=4, used=used, days=1)

    def review(question: ReviewQuery) -> ReviewView:
        return replace(made_up(), learnt=none)

    async def scenario(app: BandwhenApp, pilot: Pilot[None], page: ReviewPage) -> None:
        await opened(app, pilot, page)
        await pilot.press("l")
        await settle(app, pilot)
        assert not learnt_store.learnt_file(page._station).exists()
        assert page.learnt_words == ""
        assert "Nothing is kept" in text_of(app)
        assert reason in " ".join(text_of(app).split())

    on_page(scenario, review=review)


def test_names_of_logs_are_completed_and_checked(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    for name in ("a.adi", "b.csv", "c.txt", ".hidden.adi"):
        (tmp_path / name).write_text("", encoding="utf-8")
    assert presenting.suggest(f"{tmp_path}/") == [
        f"{tmp_path}/a.adi",
        f"{tmp_path}/b.csv",
        f"{tmp_path}/sub/",
    ]
    assert presenting.suggest(f"{tmp_path}/b") == [f"{tmp_path}/b.csv"]
    assert presenting.suggest("/nowhere/at/all/") == []
    assert presenting.check(f"{tmp_path}/a.adi") == ""
    assert "There is no file" in presenting.check(f"{tmp_path}/z.adi")
    assert "folder" in presenting.check(str(tmp_path))
    assert presenting.check(" ").startswith("Type the name")
    assert "cannot be used" in presenting.check("a\0b") or "no file" in presenting.check("a\0b")


def test_the_engine_s_review_of_the_demo_log_reaches_the_page() -> None:
    view = presenting.work_out(
        presenting.demo_log(), "", np.datetime64("2026-03-20T12:00", "s"), lambda: False, Headway().of
    )
    assert len(view.contacts) >= 10
    assert view.figure.shape == (len(view.bands), view.times.size)
    assert {row.verdict for row in view.contacts} <= set(SIGN_OF)
    assert view.learnt_words == ""
    assert view.sentences[0].startswith(str(len(view.contacts)))
    empty = Path(presenting.demo_log()).parent.parent / "logs" / "only_header.adi"
    with pytest.raises(InputError, match="no contact"):
        presenting.work_out(
            str(empty), "", np.datetime64("2026-03-20T12:00", "s"), lambda: False, Headway().of
        )


def test_the_screens_forecast_uses_what_was_learnt() -> None:
    """The end the screens compute with carries the offset, and loses it with the switch."""
    from propagation.logbook import kept_offset
    from tui.app.choice import Choice
    from tui.app.sites import Sites

    choice = Choice("", "Uruguay", np.datetime64("2026-03-14T00:00", "s"), "CW", 50.0)
    sites = Sites()
    assert sites.near(choice).offset_db is None
    file = learnt_store.learnt_file(paths.demo_station_file())
    kept = Learnt(bands=(LearntBand("20m", -3.0, 1.5, 4),), entries=4, used=4, days=1)
    kept_offset.save(kept, file)
    offset = sites.near(choice).offset_db
    assert offset is not None
    np.testing.assert_allclose(offset(np.array([14.1])), -3.0)
    kept_offset.save(replace(kept, on=False), file)
    assert sites.near(choice).offset_db is None
