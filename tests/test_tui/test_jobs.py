"""The runner of background work: what is asked, what is not asked again, what is shown of late answers."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

import pytest
from textual.app import App

from propagation.base.errors import InputError
from tui.app.jobs import Answered, Failed, Jobs, PartAnswered, sentence_of
from tui.app.queries import Abandoned, Cancelled, Command, Engine, GradualQuery, Query

PATIENCE_S = 30.0  # s, after which a test that waits in vain fails rather than hangs


@dataclass(frozen=True)
class Sum(Query[int]):
    """Two numbers added."""

    left: int
    right: int
    gate: threading.Event | None = field(default=None, compare=False)

    group = "sum"
    says = "sum"

    @property
    def basis(self) -> object:
        return self.left

    def answer(self, engine: Engine, cancelled: Cancelled) -> int:
        if self.gate is not None:
            assert self.gate.wait(PATIENCE_S)
        if cancelled():
            raise Abandoned
        if self.left < 0:
            raise InputError("Numbers [/] below zero are not added here.")
        return self.left + self.right


@dataclass(frozen=True)
class QuickSum(Sum):
    """The same, answered in place."""

    group = "quick"
    at_once = True


@dataclass(frozen=True)
class Growing(GradualQuery[int]):
    """A number that is counted up to in steps."""

    upto: int
    gate: threading.Event = field(compare=False)

    group = "growing"

    def answer(self, engine: Engine, cancelled: Cancelled) -> int:
        for part in range(1, self.upto):
            self.part(part)
        assert self.gate.wait(PATIENCE_S)
        self.part(self.upto)
        return self.upto


@dataclass(frozen=True)
class Write(Command[str]):
    """A change that says what it did."""

    group = "write"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        return "Written."


class Asking(App[None]):
    """An app that asks, and remembers what it was told."""

    def __init__(self) -> None:
        super().__init__()
        self.put: list[Query[object]] = []
        self.jobs = Jobs(self, self.make_engine, lambda: None, lambda group: None)
        self.failures: list[str] = []
        self.late: list[object] = []

    def make_engine(self) -> Engine:
        """An engine that remembers what was put to it."""
        put = self.put

        class Remembering(Engine):
            def answer(self, query, cancelled):  # type: ignore[no-untyped-def]
                put.append(query)
                return super().answer(query, cancelled)

        return Remembering()

    def on_answered(self, message: Answered[object]) -> None:
        if not self.jobs.accept(message):
            self.late.append(message.answer)
        elif message.then is not None:
            message.then(message.answer)

    def on_part_answered(self, message: PartAnswered[object]) -> None:
        if not self.jobs.accept_part(message):
            self.late.append(message.part)

    def on_failed(self, message: Failed) -> None:
        if self.jobs.accept(message):
            self.failures.append(message.sentence)

    async def until(self, true: Callable[[], bool]) -> None:
        """Wait for something that is bound to come."""
        for _ in range(3000):
            if true():
                return
            await asyncio.sleep(0.01)
        raise AssertionError("it did not come")


def run(scenario: Callable[[Asking], Awaitable[None]]) -> None:
    app = Asking()

    async def body() -> None:
        async with app.run_test():
            await scenario(app)

    asyncio.run(body())


def test_equal_questions_are_put_once() -> None:
    async def scenario(app: Asking) -> None:
        app.jobs.want(Sum(1, 2))
        app.jobs.want(Sum(1, 2))
        assert app.jobs.is_open(Sum(1, 2))
        await app.until(lambda: app.jobs.answers.get(Sum) == 3)
        app.jobs.want(Sum(1, 2))
        assert app.put == [Sum(1, 2)]
        assert not app.jobs.is_open(Sum(1, 2))
        assert app.jobs.answers.query(Sum) == Sum(1, 2)

    run(scenario)


def test_an_older_answer_stays_only_while_its_basis_holds() -> None:
    async def scenario(app: Asking) -> None:
        app.jobs.want(Sum(1, 2))
        await app.until(lambda: app.jobs.answers.get(Sum) == 3)
        gate = threading.Event()
        app.jobs.want(Sum(1, 7, gate))
        assert app.jobs.answers.get(Sum) == 3, "the same basis: it stays until the new one comes"
        app.jobs.want(Sum(2, 7, gate))
        assert app.jobs.answers.get(Sum) is None, "another basis: it is worth nothing"
        gate.set()
        await app.until(lambda: app.jobs.answers.get(Sum) == 9)

    run(scenario)


def test_going_back_to_what_is_answered_calls_the_other_off() -> None:
    async def scenario(app: Asking) -> None:
        app.jobs.want(Sum(1, 2))
        await app.until(lambda: app.jobs.answers.get(Sum) == 3)
        gate = threading.Event()
        app.jobs.want(Sum(1, 7, gate))
        await app.until(lambda: "sum" in app.jobs.busy)
        assert app.jobs.working == "sum"
        app.jobs.want(Sum(1, 2))
        await app.until(lambda: not app.jobs.busy)
        gate.set()
        assert app.jobs.answers.get(Sum) == 3
        assert app.jobs.working == ""
        app.jobs.want(Sum(1, 7))
        await app.until(lambda: app.jobs.answers.get(Sum) == 8)

    run(scenario)


def test_what_failed_is_not_asked_again_until_something_else_was() -> None:
    async def scenario(app: Asking) -> None:
        app.jobs.want(Sum(-1, 2))
        await app.until(lambda: len(app.failures) == 1)
        assert app.failures == ["Numbers [/] below zero are not added here."]
        app.jobs.want(Sum(-1, 2))
        assert not app.jobs.is_open(Sum(-1, 2))
        app.jobs.want(Sum(1, 2))
        await app.until(lambda: app.jobs.answers.get(Sum) == 3)
        app.jobs.want(Sum(-1, 2))
        await app.until(lambda: len(app.failures) == 2)

    run(scenario)


def test_what_was_stopped_is_asked_again() -> None:
    async def scenario(app: Asking) -> None:
        gate = threading.Event()
        app.jobs.want(Sum(1, 2, gate))
        await app.until(lambda: bool(app.put))
        assert app.jobs.stop_all()
        await app.until(lambda: not app.jobs.busy)
        assert not app.jobs.stop_all()
        gate.set()
        app.jobs.want(Sum(1, 2))
        await app.until(lambda: app.jobs.answers.get(Sum) == 3)

    run(scenario)


def test_quick_questions_are_answered_in_place() -> None:
    async def scenario(app: Asking) -> None:
        app.jobs.want(QuickSum(1, 2))
        assert app.jobs.answers.get(QuickSum) is None, (
            "nothing is answered in place before there is an engine"
        )
        app.jobs.want(Sum(0, 0))
        await app.until(lambda: app.jobs.answers.get(Sum) == 0)
        app.jobs.want(QuickSum(1, 2))
        assert app.jobs.answers.get(QuickSum) == 3
        app.jobs.want(QuickSum(-1, 2))
        app.jobs.want(QuickSum(-1, 2))
        assert app.jobs.answers.get(QuickSum) is None
        await app.until(lambda: len(app.failures) == 1)
        assert [type(query) for query in app.put] == [Sum, QuickSum, QuickSum]

    run(scenario)


def test_a_deed_is_done_and_its_answer_handed_on() -> None:
    async def scenario(app: Asking) -> None:
        said: list[str] = []
        app.jobs.ask(Write(), said.append)
        await app.until(lambda: said == ["Written."])
        assert app.jobs.answers.get(Write) is None
        app.jobs.ask(Write(), said.append)
        await app.until(lambda: len(said) == 2)

    run(scenario)


@pytest.mark.parametrize("error", [InputError("One sentence."), ZeroDivisionError("a [/] b")])
def test_every_error_is_one_sentence(error: Exception) -> None:
    said = sentence_of(error, "sum")
    assert said.endswith(".")
    assert "\n" not in said
    assert said == "One sentence." or said.startswith("The sum could not be worked out (ZeroDivisionError)")


def test_parts_of_an_answer_are_there_until_it_is_whole_and_late_ones_are_dropped() -> None:
    first, second = threading.Event(), threading.Event()

    async def scenario(app: Asking) -> None:
        app.jobs.want(Growing(5, first))
        await app.until(lambda: app.jobs.answers.part(Growing(5, first)) == 4)
        assert app.jobs.answers.get(Growing) is None
        assert app.jobs.answers.part(Growing(9, first)) is None, "of another question"
        app.jobs.want(Growing(5, first))  # a part is no answer, and the question is open
        assert app.put == [Growing(5, first)]
        app.jobs.want(Growing(3, second))
        await app.until(lambda: app.jobs.answers.part(Growing(3, second)) == 2)
        first.set()
        await app.until(lambda: app.late == [5])
        assert app.jobs.answers.part(Growing(3, second)) == 2
        second.set()
        await app.until(lambda: app.jobs.answers.get(Growing) == 3)
        assert app.jobs.answers.part(Growing(3, second)) is None

    run(scenario)
