"""The one door to the engine: a query knows how it is answered, and the engine keeps what answers share.

A page or a form declares its query as a frozen dataclass whose compared fields are all that the answer
depends on: equal queries have equal answers. Nothing here draws, and nothing heavy is imported before
the first query is put.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar, Generic, TypeVar

import numpy as np

from tui.app import clock

if TYPE_CHECKING:
    from tui.app.sites import Sites

A = TypeVar("A")
Cancelled = Callable[[], bool]


class Abandoned(Exception):  # noqa: N818 - it is a wish, not an error
    """Raised inside a piece of work that finds its result is no longer wanted."""


class Query(ABC, Generic[A]):
    """Something to be worked out in the background.

    Fields that the answer does not depend on, or that follow from the others, are left out of the comparison
    (`field(compare=False)`).
    """

    group: ClassVar[str]  # of the queries of a group only the latest is answered
    says: ClassVar[str] = ""  # what is being worked out, in words; empty: the heading does not mention it
    at_once: ClassVar[bool] = False  # takes milliseconds: answered in place, without a thread

    @property
    def basis(self) -> object:
        """The part of the query whose change makes an older answer worthless. While it is the same, the
        older answer stays on the screen until the new one comes.
        """
        return None

    @abstractmethod
    def answer(self, engine: Engine, cancelled: Cancelled) -> A:
        """Work it out; `cancelled()` is true once nobody waits any more."""


class Command(Query[A]):
    """A query that changes something on file or fetches it: carried out once, its answer is not kept."""


class Engine:
    """What all answers share: the stations on file with their terminals, and the clock."""

    def __init__(self, now: Callable[[], np.datetime64] = clock.now) -> None:
        from tui.app.sites import Sites

        self.now = now
        self.sites: Sites = Sites()

    def answer(self, query: Query[A], cancelled: Cancelled) -> A:
        """Every query is answered through here."""
        return query.answer(self, cancelled)

    def suggest(self, prefix: str) -> list[str]:
        """Names a target could become."""
        return self.sites.suggest(prefix)

    def meanings(self, text: str) -> tuple[str, ...]:
        """The full names of the places that bear a name, where several do."""
        return self.sites.meanings(text)

    def check_target(self, text: str) -> str:
        """A sentence where a target is not understood; empty where it is."""
        return self.sites.check_target(text)
