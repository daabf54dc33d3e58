"""Work behind the screens: failed, stopped, overtaken, left; each told in a sentence, none waited for."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable

import pytest
from fake_engine import PATIENCE_S, FakeEngine
from screen_text import go, make_app, run, settle, text_of
from textual.pilot import Pilot

from tui.app.app import BandwhenApp
from tui.app.jobs import Jobs
from tui.app.queries import Cancelled, Command, DayQuery, Engine
from tui.features.sky.page import Fetch
from tui.kit.worker_threads import finish_saving, under_way


def test_a_failed_worker_is_one_sentence() -> None:
    for what, place in (
        ("day", "day"),
        ("opening", "day"),
        ("why", "why"),
        ("bench", "bench"),
        ("hop", "why"),
    ):

        async def scenario(app: BandwhenApp, pilot: Pilot[None], place: str = place) -> None:
            await go(app, pilot, place)
            shown = text_of(app)
            assert "could not be worked out (RuntimeError)" in shown
            assert "Traceback" not in shown

        run(scenario, engine=FakeEngine(fail=(what,)))


@pytest.mark.promise
def test_the_space_weather_is_fetched_on_the_users_word_alone() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "sky")

    quiet, wished = FakeEngine(), FakeEngine()
    run(scenario, engine=quiet)
    run(scenario, engine=wished, fetch_on_start=True)
    assert not any(isinstance(query, Fetch) for query in quiet.put)
    assert sum(isinstance(query, Fetch) for query in wished.put) == 1


async def until(pilot: Pilot[None], true: Callable[[], bool]) -> None:
    """Wait for something that is bound to come."""
    for _ in range(1000):
        if true():
            return
        await pilot.pause(0.01)
    raise AssertionError("it did not come")


def test_work_can_be_stopped() -> None:
    """Esc gives up a forecast; the keys and the old picture stay, and what comes late is not shown."""
    gate = threading.Event()
    app = make_app(FakeEngine(gate=gate))

    async def body() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await until(pilot, lambda: "working: forecast" in text_of(app))
            await pilot.press("escape")
            await pilot.pause()
            assert "Stopped" in text_of(app)
            assert not app.jobs.busy
            gate.set()
            await until(pilot, lambda: not under_way())
            await settle(app, pilot)
            assert app.state.day is None

    asyncio.run(body())


def test_a_stale_result_is_dropped() -> None:
    """Three targets in quick succession, answered last to first: the last one stands."""
    gates = {target: threading.Event() for target in ("one", "two", "three")}
    engine = FakeEngine()
    at_once = engine.made_up[DayQuery]

    def day(query: DayQuery) -> object:
        if query.choice.target in gates:
            assert gates[query.choice.target].wait(PATIENCE_S)
        return at_once(query)

    engine.made_up[DayQuery] = day

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for target in gates:
            app.set_target(target)
            await until(pilot, lambda target=target: engine.put[-1].choice.target == target)  # type: ignore[misc]
        for gate in reversed(gates.values()):
            gate.set()
            await settle(app, pilot)
            assert app.state.day is not None
            assert app.state.day.target == "three"
        await until(pilot, lambda: not under_way())
        await settle(app, pilot)
        assert app.state.day.target == "three"

    run(scenario, engine=engine)


def test_keys_answer_and_the_way_out_does_not_wait_for_a_forecast() -> None:
    """The forecast does not end while the app runs: a key answers, and leaving does not wait for it."""
    gate = threading.Event()
    app = make_app(FakeEngine(gate=gate))

    async def body() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await until(pilot, lambda: "working: forecast" in text_of(app))
            await pilot.press("5")
            assert app.current_mode == "sky"
            await pilot.press("q")

    try:
        asyncio.run(body())
        assert app.return_code == 0
        assert under_way(), "the forecast still waits at its gate"
    finally:
        gate.set()


class Save(Command[str]):
    """Writes something, once its gate opens."""

    group, says = "save", "saving"

    def __init__(self, gate: threading.Event, written: list[str]) -> None:
        self.gate, self.written = gate, written

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write."""
        assert self.gate.wait(PATIENCE_S)
        self.written.append("a friend")
        return "saved"


def test_the_way_out_waits_for_what_is_being_saved_but_not_for_ever() -> None:
    gate, written = threading.Event(), list[str]()
    app = make_app(FakeEngine())

    async def body() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            Jobs(app, Engine, lambda: None, lambda group: None).ask(Save(gate, written))
            await pilot.press("q")

    try:
        asyncio.run(body())
        finish_saving(0.05)
        assert written == [], "it is not waited for for ever"
        threading.Timer(0.1, gate.set).start()
        finish_saving(PATIENCE_S)
        assert written == ["a friend"]
    finally:
        gate.set()
