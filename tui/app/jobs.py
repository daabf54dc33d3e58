"""The one runner of background work: it never holds up the keys, nor the way out.

Queries of a group are numbered; only the latest is ever shown, and an answer that comes late is dropped.
Each query runs in a daemon thread of its own: when the program is left, a thread in the middle of a long
computation or waiting for the network is abandoned rather than waited for. Threads that the work itself has
started would be waited for by the interpreter, so `tui.__main__` ends the process where work is under way.
"""

from __future__ import annotations

import asyncio
import threading
from collections import Counter
from collections.abc import Callable
from typing import Any, Generic

from textual.app import App
from textual.message import Message
from textual.worker import WorkType

from propagation.base.errors import BandwhenError
from tui.app import fault_log
from tui.app.queries import A, Abandoned, Command, Engine, Query
from tui.kit.worker_threads import in_thread


class Answered(Message, Generic[A]):
    """A query has its answer, a frozen result."""

    def __init__(
        self, query: Query[A], number: int, answer: A, then: Callable[[A], None] | None = None
    ) -> None:
        super().__init__()
        self.query, self.number, self.answer, self.then = query, number, answer, then


class Failed(Message):
    """A query has no answer: one sentence says why."""

    def __init__(self, query: Query[object], number: int, sentence: str) -> None:
        super().__init__()
        self.query, self.number, self.sentence = query, number, sentence


class Answers:
    """The latest answer to each kind of query, with the query it answers."""

    def __init__(self) -> None:
        self._latest: dict[type[Query[object]], tuple[Query[Any], Any]] = {}

    def get(self, kind: type[Query[A]]) -> A | None:
        """The latest answer of a kind, if there is one."""
        found = self._latest.get(kind)
        return found[1] if found is not None else None

    def query(self, kind: type[Query[A]]) -> Query[A] | None:
        """What the latest answer of a kind answers; another query than the present one: it is stale."""
        found = self._latest.get(kind)
        return found[0] if found is not None else None

    def put(self, query: Query[A], answer: A) -> None:
        """Take an answer."""
        self._latest[type(query)] = (query, answer)

    def drop(self, kind: type[Query[object]]) -> None:
        """Forget the answer of a kind."""
        self._latest.pop(kind, None)

    def drop_worthless(self, query: Query[object]) -> None:
        """Forget the older answer where it is worth nothing beside the query as it is now."""
        older = self.query(type(query))
        if older is not None and older.basis != query.basis:
            self.drop(type(query))


class Jobs:
    """Has queries answered in the background, and posts `Answered` or `Failed` to the app.

    engine: makes the engine, in the background, for the first query.
    changed: called when what is being worked out has changed.
    mended: called with a group whose work came to its end.
    """

    def __init__(
        self,
        app: App[None],
        engine: Callable[[], Engine],
        changed: Callable[[], None],
        mended: Callable[[str], None],
    ) -> None:
        self._app, self._make_engine, self._changed, self._mended = app, engine, changed, mended
        self._engine: Engine | None = None
        self._making = threading.Lock()
        self.answers = Answers()
        self._numbers: Counter[str] = Counter()
        self._running: Counter[str] = Counter()
        self._says: dict[str, str] = {}
        self._open: dict[str, Query[object]] = {}  # by group, not answered yet
        self._failed: dict[str, Query[object]] = {}  # by group; not asked again until another was
        self.busy: frozenset[str] = frozenset()  # groups under way

    @property
    def engine(self) -> Engine | None:
        """The engine, once a query has been put to it."""
        return self._engine

    @property
    def working(self) -> str:
        """What is being worked out, in words."""
        return next((says for group in sorted(self.busy) if (says := self._says[group])), "")

    def is_open(self, query: Query[object]) -> bool:
        """Whether exactly this query waits for its answer."""
        return self._open.get(query.group) == query

    def open_query(self, group: str) -> Query[object] | None:
        """The query of a group that waits for its answer, if one does."""
        return self._open.get(group)

    # -- asking ---------------------------------------------------------------------------------

    def want(
        self, query: Query[A], then: Callable[[A], None] | None = None, *, settle_s: float = 0.0
    ) -> None:
        """Have a query answered, unless it is already, or is being worked out, or has failed before."""
        self.answers.drop_worthless(query)
        group = query.group
        if self.answers.query(type(query)) == query:
            if group in self._open:
                self.stop(group)
        elif query not in (self._open.get(group), self._failed.get(group)):
            if query.at_once:
                self._answer_at_once(query)
            else:
                self.ask(query, then, settle_s=settle_s)

    def ask(self, query: Query[A], then: Callable[[A], None] | None = None, *, settle_s: float = 0.0) -> None:
        """Have a query answered in the background, whatever was answered before.

        then: called with the answer, on the app's side, if no later query of the group has overtaken it.
        settle_s: wait this long for a later query before beginning.
        """
        group = query.group
        number = self._next(group)
        self._open[group] = query
        self._failed.pop(group, None)

        async def carry_out() -> None:
            if settle_s:
                await asyncio.sleep(settle_s)
            self._says[group] = query.says
            self._count(group, 1)
            try:
                answer = await in_thread(lambda: self._put(query, lambda: self._numbers[group] != number))
            except Abandoned:
                return
            except asyncio.CancelledError:
                raise
            except BaseException as error:
                self._app.post_message(Failed(query, number, sentence_of(error, query.says or group)))
                return
            finally:
                self._count(group, -1)
            self._app.post_message(Answered(query, number, answer, then))

        work: WorkType[None] = (
            carry_out  # the function: one called off before it begins leaves nothing behind
        )
        self._app.run_worker(work, group=group, exclusive=True, exit_on_error=False)

    def _put(self, query: Query[A], cancelled: Callable[[], bool]) -> A:
        """In the thread: the answer."""
        with self._making:
            if self._engine is None:
                self._engine = self._make_engine()
        return self._engine.answer(query, cancelled)

    def _answer_at_once(self, query: Query[A]) -> None:
        if self._engine is None:
            return
        number = self._next(query.group)
        try:
            self.answers.put(query, self._engine.answer(query, lambda: False))
        except Exception as error:
            self.answers.drop(type(query))
            self._failed[query.group] = query
            self._app.post_message(Failed(query, number, sentence_of(error, query.says)))
        else:
            self._mended(query.group)

    def _next(self, group: str) -> int:
        self._numbers[group] += 1
        return self._numbers[group]

    def _count(self, group: str, by: int) -> None:
        self._running[group] += by
        busy = frozenset(what for what, count in self._running.items() if count > 0)
        if busy != self.busy:
            self.busy = busy
            self._changed()

    # -- answers --------------------------------------------------------------------------------

    def accept(self, message: Answered[object] | Failed) -> bool:
        """Take an answer or a failure, unless a later query has overtaken it."""
        query = message.query
        if message.number != self._numbers[query.group]:
            return False
        self._open.pop(query.group, None)
        if isinstance(message, Failed):
            self._failed[query.group] = query
        else:
            if not isinstance(query, Command):
                self.answers.put(query, message.answer)
            self._mended(query.group)
        return True

    def stop(self, group: str) -> None:
        """Give up what a group is working out; what was answered before stays."""
        self._next(group)
        self._open.pop(group, None)
        self._app.workers.cancel_group(self._app, group)

    def stop_all(self) -> bool:
        """Give up everything under way; whether there was anything."""
        stopped = self.busy
        for group in stopped:
            self.stop(group)
        return bool(stopped)


def sentence_of(error: BaseException, what: str) -> str:
    """One sentence for an error; the details of an unexpected one go to the record of faults."""
    if isinstance(error, BandwhenError):
        return error.message
    where = fault_log.record(f"screens: {what}", error)
    return f"The {what} could not be worked out ({type(error).__name__}); {where}."
