"""A page nobody knew of: one screen, one question with its answer type, one entry in the list of pages."""

from __future__ import annotations

import threading
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, ClassVar

from fake_engine import PATIENCE_S, FakeEngine
from screen_text import run, settle, text_of
from textual.binding import Binding, BindingType
from textual.pilot import Pilot
from textual.widget import Widget

from tui.app.app import BandwhenApp
from tui.app.feature_list import PAGES, PageEntry
from tui.app.page import BAND_KEYS, Page
from tui.app.queries import Cancelled, Engine, Query
from tui.app.state import State
from tui.kit.lists import Notes
from tui.kit.worker_threads import under_way


@dataclass(frozen=True)
class Tide:
    """The answer."""

    sentence: str


@dataclass(frozen=True)
class TideQuery(Query[Tide]):
    """What a target has to do with a band."""

    target: str
    band: str

    group = "tide"
    says = "tide table"

    def answer(self, engine: Engine, cancelled: Cancelled) -> Tide:
        assert threading.current_thread() is not threading.main_thread()
        gate = GATES.get(self.band)
        if gate is not None:
            assert gate.wait(PATIENCE_S)
            HEARD.append(cancelled())
        if self.target == "nowhere [/b]":
            raise ZeroDivisionError
        return Tide(f"High water for {self.target} on {self.band}.")


class TidePage(Page):
    """Draws one sentence."""

    place = "tide"
    about = "What the moon does."
    BINDINGS: ClassVar[list[BindingType]] = [*BAND_KEYS, Binding("x", "nothing", "nothing at all")]

    def queries(self, state: State) -> Iterable[Query[Any]]:
        if state.choice is not None and state.cursor is not None:
            yield TideQuery(state.choice.target, state.cursor.band)

    def body(self) -> Iterable[Widget]:
        yield Notes(id="tide")

    def fill(self, state: State) -> None:
        self.query_one("#tide", Notes).show(self.sentences(state))

    def sentences(self, state: State) -> list[str]:
        tide = state.answers.get(TideQuery)
        return [tide.sentence] if tide is not None else ["Not yet."]

    def action_nothing(self) -> None:
        """A key of its own."""


GATES: dict[str, threading.Event] = {}
HEARD: list[bool] = []  # whether each gated answer was called off when it was allowed to go on
WITH_TIDE = (*PAGES, PageEntry("T", "tide", "tide", f"{__name__}:TidePage"))


def test_it_is_opened_by_its_letter_asked_answered_and_drawn() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        assert "tide" not in engine.asked, "a page that is not shown asks nothing"
        await pilot.press("T")
        await settle(app, pilot)
        assert app.current_mode == "tide"
        assert "High water for Uruguay on " in text_of(app)
        assert engine.asked.count("tide") == 1
        assert "T tide" in text_of(app), "its key stands on the key line"
        assert app.page is not None
        told = app.help_sentences(app.page)
        assert "T: tide" in told
        assert "x: nothing at all" in told
        assert "What the moon does." in told
        app.set_target("Europe")
        await settle(app, pilot)
        assert "High water for Europe" in text_of(app), "it follows the choice"
        await pilot.press("1", "T")
        await settle(app, pilot)
        assert engine.asked.count("tide") == 2, "what is answered is not asked again"

    run(scenario, engine=engine, pages=WITH_TIDE, size=(120, 30))


def test_a_stale_answer_of_it_is_dropped_and_its_work_called_off() -> None:
    GATES.clear()
    HEARD.clear()
    GATES.update({"40m": threading.Event(), "30m": threading.Event()})

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("T")
        app.choose_band("40m")
        while "40m" not in [query.band for query in engine.put if isinstance(query, TideQuery)]:
            await pilot.pause(0.01)
        assert "working: tide table" in text_of(app)
        app.choose_band("30m")
        while "30m" not in [query.band for query in engine.put if isinstance(query, TideQuery)]:
            await pilot.pause(0.01)
        GATES["30m"].set()
        await settle(app, pilot)
        assert "on 30m." in text_of(app)
        GATES["40m"].set()
        while under_way():
            await pilot.pause(0.01)
        await settle(app, pilot)
        assert "on 30m." in text_of(app)
        assert HEARD == [False, True]

    engine = FakeEngine()
    try:
        run(scenario, engine=engine, pages=WITH_TIDE)
    finally:
        GATES.clear()


def test_its_failure_is_one_sentence_that_goes_when_it_works_again() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("T")
        await settle(app, pilot)
        before = app.page.sentences(app.state) if app.page is not None else []
        app.set_target("nowhere [/b]")
        await settle(app, pilot)
        assert "The tide table could not be worked out (ZeroDivisionError)" in text_of(app)
        assert app.page is not None
        assert app.page.sentences(app.state) == before, "the older answer stays"
        app.set_target("Europe")
        await settle(app, pilot)
        assert "could not be worked out" not in text_of(app)
        assert "High water for Europe" in text_of(app)

    run(scenario, pages=WITH_TIDE)
