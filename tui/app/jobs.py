"""The runner of background work; it never blocks the keys or the exit.

Queries of a group are numbered; only the answer to the latest is shown, and later answers to older ones are
dropped. Each query runs in its own daemon thread. On exit, a thread that is still computing or waiting for
the network is abandoned. The interpreter would wait for threads that the work itself has started, so
`tui.__main__` ends the process if work is under way.
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
from tui.app.queries import A, Abandoned, Command, Engine, GradualQuery, Query
from tui.kit.worker_threads import in_thread


class Answered(Message, Generic[A]):
    """The answer to a query, a frozen result."""

    def __init__(
        self, query: Query[A], number: int, answer: A, then: Callable[[A], None] | None = None
    ) -> None:
        super().__init__()
        self.query, self.number, self.answer, self.then = query, number, answer, then


class PartAnswered(Message, Generic[A]):
    """A part of the answer to a query that is still being computed, a frozen result."""

    def __init__(self, query: Query[A], number: int, part: A) -> None:
        super().__init__()
        self.query, self.number, self.part = query, number, part


class Failed(Message):
    """The failure of a query, with one sentence of explanation."""

    def __init__(
        self,
        query: Query[object],
        number: int,
        sentence: str,
        failed: Callable[[str], None] | None = None,
    ) -> None:
        super().__init__()
        self.query, self.number, self.sentence, self.failed = query, number, sentence, failed


class Answers:
    """The latest answer to each kind of query, with its query; and the parts of answers not finished yet."""

    def __init__(self) -> None:
        self._latest: dict[type[Query[object]], tuple[Query[Any], Any]] = {}
        self._parts: dict[type[Query[object]], tuple[Query[Any], Any]] = {}

    def get(self, kind: type[Query[A]]) -> A | None:
        """The latest answer of a kind, if any."""
        found = self._latest.get(kind)
        return found[1] if found is not None else None

    def query(self, kind: type[Query[A]]) -> Query[A] | None:
        """The query of the latest answer of a kind; if it differs from the present query, the answer is
        stale.
        """
        found = self._latest.get(kind)
        return found[0] if found is not None else None

    def put(self, query: Query[A], answer: A) -> None:
        """Store an answer."""
        self._latest[type(query)] = (query, answer)
        self._parts.pop(type(query), None)

    def part(self, query: Query[A]) -> A | None:
        """The largest part of the answer to exactly this query, if it is not finished."""
        asked, part = self._parts.get(type(query), (None, None))
        return part if asked == query else None

    def put_part(self, query: Query[A], part: A) -> None:
        """Store a part of an answer."""
        self._parts[type(query)] = (query, part)

    def drop(self, kind: type[Query[object]]) -> None:
        """Remove the answer of a kind."""
        self._latest.pop(kind, None)
        self._parts.pop(kind, None)

    def drop_worthless(self, query: Query[object]) -> None:
        """Remove the older answer if its basis differs from that of the present query."""
        older = self.query(type(query))
        if older is not None and older.basis != query.basis:
            self.drop(type(query))


class Jobs:
    """The runner of queries in the background; posts `Answered` or `Failed` to the app.

    engine: creates the engine, in the background, for the first query.
    changed: callback after the set of running queries has changed.
    mended: callback with a group whose query succeeded.
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
        self._failed: dict[str, Query[object]] = {}  # by group; put again only after another query
        self.busy: frozenset[str] = frozenset()  # groups with running queries

    @property
    def engine(self) -> Engine | None:
        """The engine, once a query has been put to it."""
        return self._engine

    @property
    def working(self) -> str:
        """The names of the running queries, in words."""
        return next((says for group in sorted(self.busy) if (says := self._says[group])), "")

    def is_open(self, query: Query[object]) -> bool:
        """Return whether exactly this query is still unanswered."""
        return self._open.get(query.group) == query

    def open_query(self, group: str) -> Query[object] | None:
        """The unanswered query of a group, if any."""
        return self._open.get(group)

    # -- queries --------------------------------------------------------------------------------

    def want(
        self, query: Query[A], then: Callable[[A], None] | None = None, *, settle_s: float = 0.0
    ) -> None:
        """Put a query, unless it is already answered or running, or has failed before."""
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

    def ask(
        self,
        query: Query[A],
        then: Callable[[A], None] | None = None,
        failed: Callable[[str], None] | None = None,
        *,
        settle_s: float = 0.0,
    ) -> None:
        """Put a query in the background, even if it was answered before.

        then: callback with the answer, in the app's event loop, unless a later query of the group has
        replaced this one.
        failed: callback with the error sentence, which is then not shown on the page.
        settle_s: delay before the start, in which a later query can replace this one.
        """
        group = query.group
        number = self._next(group)
        told = self._telling(query, number)
        self._open[group] = query
        self._failed.pop(group, None)

        async def carry_out() -> None:
            if settle_s:
                await asyncio.sleep(settle_s)
            self._says[group] = query.says
            self._count(group, 1)
            try:
                answer = await in_thread(
                    lambda: self._put(told, lambda: self._numbers[group] != number),
                    saves=isinstance(query, Command),
                )
            except Abandoned:
                return
            except asyncio.CancelledError:
                raise
            except BaseException as error:
                self._app.post_message(Failed(query, number, sentence_of(error, query.says or group), failed))
                return
            finally:
                self._count(group, -1)
            self._app.post_message(Answered(query, number, answer, then))

        work: WorkType[None] = (
            carry_out  # the function: if cancelled before its start, no coroutine is left unawaited
        )
        self._app.run_worker(work, group=group, exclusive=True, exit_on_error=False)

    def _put(self, query: Query[A], cancelled: Callable[[], bool]) -> A:
        """Compute the answer, in the thread."""
        with self._making:
            if self._engine is None:
                self._engine = self._make_engine()
        return self._engine.answer(query, cancelled)

    def _telling(self, query: Query[A], number: int) -> Query[A]:
        """The query as it is computed: one whose answer grows posts its parts to the app."""
        if not isinstance(query, GradualQuery):
            return query
        return query.telling(lambda part: self._app.post_message(PartAnswered(query, number, part)))

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
        """Take an answer or a failure, unless a later query has replaced its query."""
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

    def accept_part(self, message: PartAnswered[object]) -> bool:
        """Take a part of an answer, unless a later query has replaced its query."""
        if message.number != self._numbers[message.query.group]:
            return False
        self.answers.put_part(message.query, message.part)
        return True

    def stop(self, group: str) -> None:
        """Cancel the running query of a group; its earlier answer stays."""
        self._next(group)
        self._open.pop(group, None)
        self._app.workers.cancel_group(self._app, group)

    def stop_all(self) -> bool:
        """Cancel all running queries; return whether there were any."""
        stopped = self.busy
        for group in stopped:
            self.stop(group)
        return bool(stopped)


def sentence_of(error: BaseException, what: str) -> str:
    """One sentence for an error; the details of an unexpected one go to the fault log."""
    if isinstance(error, BandwhenError):
        return error.message
    where = fault_log.record(f"screens: {what}", error)
    return f"The {what} could not be worked out ({type(error).__name__}); {where}."
