"""The year ahead on its page: asked once, filled by months, walked through, opened, exported, compared."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import synthetic
from fake_engine import PATIENCE_S, FakeEngine
from screen_text import go, rows_of, run, settle, text_of
from textual.pilot import Pilot

from propagation.advice.season import months_ahead
from propagation.wording import quantities as say
from tui.app.app import BandwhenApp
from tui.app.prompts import Export
from tui.app.queries import Engine, OpeningQuery
from tui.features.season.page import SeasonQuery
from tui.features.season.view import Months, SeasonView
from tui.kit.overlays import Ask, Pick


def test_the_months_are_asked_once_and_walked_through() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("j")
        await settle(app, pilot)
        assert "Mar 26" in text_of(app)
        assert "March 2026, 12:00 to 13:00 UTC: 40 m" in text_of(app)
        await pilot.press("down", "right", "right")
        assert "April 2026, 14:00 to 15:00 UTC" in text_of(app)
        await pilot.press("end")
        assert "February 2026" in text_of(app)
        await pilot.press("home", "left", "left", "left")
        assert "March 2026, 11:00 to 12:00 UTC" in text_of(app)
        app.go_to_day(app.state.choice.start + np.timedelta64(2, "D"))  # type: ignore[union-attr]
        await settle(app, pilot)
        assert engine.asked.count("season") == 1, "another day of the month changes nothing"

    run(scenario, engine=engine)


def test_a_month_opens_into_its_bands() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "season")
        assert "15 m" not in text_of(app).split("The best of them")[0]
        await pilot.press("enter")
        opened = text_of(app)
        assert all(f"{band} m" in opened for band in (40, 20, 15, 10))
        await pilot.press("enter")
        assert "Apr 26" in text_of(app)

    run(scenario)


def test_a_click_chooses_the_cell() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "season")
        await pilot.click(Months, offset=(8 + 3 * 9, 4))
        assert "June 2026, 09:00 to 10:00 UTC" in text_of(app)

    run(scenario)


def test_it_is_exported_and_set_beside_another_station() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "season")
        await pilot.press("e")
        await settle(app, pilot)
        assert isinstance(engine.last(Export).view, type(synthetic.season_view()))
        await pilot.press("b")
        await settle(app, pilot)
        assert isinstance(app.screen, Pick)
        await pilot.press("up", "up", "enter")
        await settle(app, pilot)
        asked: Any = engine.last(SeasonQuery)
        assert asked.beside == "/tmp/other.toml"
        await pilot.press("b")
        await settle(app, pilot)
        await pilot.press("down", "enter")  # from the other station to another place
        await settle(app, pilot)
        assert isinstance(app.screen, Ask)
        await pilot.press(*"nowhere at all", "enter")
        await settle(app, pilot)
        assert isinstance(app.screen, Ask)  # no such place: a sentence, and the entry stays
        await pilot.press("ctrl+u", *"Durban", "enter")
        await settle(app, pilot)
        asked = engine.last(SeasonQuery)
        assert (asked.beside, asked.elsewhere) == (None, "Durban")

    run(scenario, engine=engine)


def of_months(count: int) -> SeasonView:
    """The made-up season as it is while only its first months are finished."""
    whole = synthetic.season_view()
    return replace(
        whole, months=whole.months[:count], titles=whole.titles[:count], worth=whole.worth[:count],
        best_band=whole.best_band[:count], limit=whole.limit[:count], suits=whole.suits[:count],
        times=whole.times[:count], zones=whole.zones[:count], cells=whole.cells[:count],
        best=whole.best[:count], amount=whole.amount[:count], awaited=whole.months[count:],
        news=(f"{count} of 12 months worked out so far; Esc stops it.",),
    )  # fmt: skip


class Growing:
    """A season whose months come one by one, each when it is let through; then it waits for the end."""

    def __init__(self) -> None:
        self.queries: list[Any] = []
        self.end = threading.Event()
        self.engine = FakeEngine(made_up={SeasonQuery: self.answer})

    def answer(self, query: Any) -> SeasonView:
        self.queries.append(query)
        query.part(of_months(1))
        query.part(of_months(3))
        assert self.end.wait(PATIENCE_S)
        return synthetic.season_view()

    async def shown(self, app: BandwhenApp, pilot: Pilot[None], what: str) -> str:
        """The screen once it shows something."""
        await until(pilot, lambda: what in text_of(app))
        return text_of(app)


async def until(pilot: Pilot[None], seen: Callable[[], bool]) -> None:
    """Wait for something that a worker thread brings; the test fails if it never comes."""
    async with asyncio.timeout(PATIENCE_S):
        while not seen():
            await asyncio.sleep(0.01)
            await pilot.pause()


def test_the_months_there_are_are_shown_and_the_others_are_marked() -> None:
    growing = Growing()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("j")
        text = await growing.shown(app, pilot, "3 of 12 months worked out so far")
        assert [month in text for month in ("Mar 26", "May 26", "Jun 26", "Feb 26")] == [True] * 4
        june = next(row for row in text.splitlines() if "Jun 26" in row)
        july = next(row for row in text.splitlines() if "Jul 26" in row)
        assert "being worked out" in june
        assert july.split("Jul 26")[1].split() == ["?"] * 24
        assert "The best so far" in text
        assert not app.page.has_class("-stale")  # type: ignore[union-attr]
        await pilot.press("end", "right")
        assert "May 2026, 13:00 to 14:00 UTC" in text_of(app)  # the last month there is
        await pilot.press("w")
        await pilot.pause()
        assert "3 of 12 months worked out so far" in text_of(app)
        await pilot.press("w", "g")
        await pilot.pause()
        assert "?" in next(row for row in text_of(app).splitlines() if "Jul 26" in row)
        await pilot.press("e")
        await pilot.pause()
        assert "when they are complete" in text_of(app)
        growing.end.set()
        await settle(app, pilot)
        text = text_of(app)
        assert "?   ?" not in text
        assert "so far" not in text
        assert app.state.answers.get(SeasonQuery) is not None

    run(scenario, engine=growing.engine)


@pytest.mark.parametrize("how", ["leave", "mode", "escape"])
def test_what_is_no_longer_wanted_is_cancelled_and_its_late_months_are_dropped(how: str) -> None:
    growing = Growing()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("j")
        await growing.shown(app, pilot, "3 of 12 months worked out so far")
        first = growing.queries[0]
        if how == "leave":
            await pilot.press("1")
            await pilot.pause()
            assert app.jobs.open_query("season") is None
        elif how == "mode":
            app.set_mode("CW")
            await until(pilot, lambda: len(growing.queries) == 2)
        else:
            await pilot.press("escape")
            assert "not worked out" in await growing.shown(app, pilot, "not worked out ?")
        first.part(of_months(7))  # late: the thread had not heard of it yet
        await pilot.pause()
        assert "7 of 12" not in text_of(app)
        kept = app.state.answers.part(first)
        assert kept is None or len(kept.months) == 3, "also where the page is not shown"
        growing.end.set()
        await settle(app, pilot)
        if how == "leave":
            await pilot.press("j")
            await settle(app, pilot)
            assert len(growing.queries) == 2, "asked again on return"

    run(scenario, engine=growing.engine)


def test_local_hours_stand_beside_utc_and_z_turns_them_over() -> None:
    engine = FakeEngine()
    engine.made_up[OpeningQuery] = lambda q: replace(engine._opening(q), time_zone="Africa/Johannesburg")

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "season")
        utc, local = rows_of(app)[1:3]
        assert utc.split()[:3] == ["UTC", "00", "01"]
        assert local.split()[:3] == ["UTC+2", "02", "03"]
        assert utc.index("12") == local.index("14")
        await pilot.press("enter")
        assert rows_of(app)[1].startswith("Mar UTC")
        await pilot.press("enter", "z")
        await settle(app, pilot)
        assert rows_of(app)[1].split()[:2] == ["UTC+2", "02"]
        assert rows_of(app)[2].split()[:2] == ["UTC", "00"]
        assert engine.last(SeasonQuery).local
        assert engine.asked.count("season") == 2  # its sentences are told anew

    run(scenario, engine=engine)


def test_poor_cells_name_the_band_and_the_sign_of_the_cause() -> None:
    """The whole grid poor: each cell has its band and the sign of what limits it, named below."""
    whole = synthetic.season_view()
    poor = replace(
        whole, worth=0.01 * whole.worth / whole.worth.max(), slots=(), news=("No hour is likely.",)
    )
    engine = FakeEngine(made_up={SeasonQuery: lambda query: poor})

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "season")
        rows = rows_of(app)
        march = next(row for row in rows if "Mar 26" in row)
        assert march.count("40╱") == 24
        assert any("╱ above the MUF" in row for row in rows)
        assert "No hour is likely." in text_of(app)
        assert "The best of them" not in text_of(app)
        await pilot.press("enter")
        assert "╱" in next(row for row in rows_of(app) if "20 m" in row)

    run(scenario, engine=engine)


def test_the_same_station_elsewhere_is_computed_there() -> None:
    """The ridge, or the coast: the other side has the other place's name, noise and licence as at home."""
    from tui.app.choice import Choice
    from tui.features.season.answer import season_view

    choice = Choice("", "Montevideo", synthetic.NOW, "CW", 50.0)
    parts: list[SeasonView] = []
    view = season_view(
        Engine(lambda: synthetic.NOW), choice, None, "Durban friend", parts.append, lambda: False
    )
    assert view.beside_name.startswith("Durban friend, ")  # a friend of that name, where that friend is
    assert view.beside.shape == view.amount.shape
    assert any("Durban" in told for told in view.says)
    assert [len(part.months) for part in parts] == [*range(1, 13), *[12] * 11]
    assert [len(part.awaited) for part in parts[:12]] == [*range(11, 0, -1), 0]
    assert "12 of 12 months worked out so far, 11 of the other side" in parts[-1].news[0]
    for part in parts[:11]:  # the months there are, are final
        count = len(part.months)
        np.testing.assert_array_equal(part.worth, view.worth[:count])
        assert part.amount.tolist() == view.amount[:count].tolist()
        np.testing.assert_array_equal(part.best_band, view.best_band[:count])


def test_turning_the_clock_over_tells_the_kept_figures_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    from tui.app.choice import Choice
    from tui.features.season import answer

    monkeypatch.setattr(answer, "months_ahead", lambda start: months_ahead(start, 1))
    say.set_clock_face(say.ClockFace(ZoneInfo("Africa/Johannesburg")))
    engine, choice = Engine(lambda: synthetic.NOW), Choice("", "Montevideo", synthetic.NOW, "CW", 50.0)
    first = answer.season_view(engine, choice, None, None, lambda _: None, lambda: False)
    assert "UTC (" in first.cells[0][12]
    say.set_clock_face(say.ClockFace(ZoneInfo("Africa/Johannesburg"), local=True))
    monkeypatch.setattr(answer, "season", None)  # not computed again
    again = answer.season_view(engine, choice, None, None, lambda _: None, lambda: False)
    assert "14:00 to 15:00 local (12:00 to 13:00 UTC" in again.cells[0][12]
    assert np.shares_memory(again.worth, first.worth)


def test_a_region_without_a_likely_hour_says_why_and_what_would_help(monkeypatch: pytest.MonkeyPatch) -> None:
    from tui.app.choice import Choice
    from tui.features.season import answer

    monkeypatch.setattr(answer, "months_ahead", lambda start: months_ahead(start, 2))
    engine, choice = Engine(lambda: synthetic.NOW), Choice("", "Uruguay", synthetic.NOW, "CW", 50.0)
    view = answer.season_view(engine, choice, None, None, lambda _: None, lambda: False)
    assert view.slots == ()
    none, friends, changes = view.news
    assert none.startswith("No hour of these months is likely enough with CW and 50 W: at best ")
    assert "Uruguay friend is a friend there" in friends
    assert changes.startswith("In that hour, with ")
    assert "with DIGITAL: a contact in some " in changes
