"""Queries to the engine: their base class, and those that several pages share.

A page or a form declares its query as a frozen dataclass. Its compared fields are everything that the answer
depends on: equal queries have equal answers. One whose answer holds sentences with times has a field for the
clock told first (`DayQuery.local`). Nothing here draws. Slow imports are deferred until the first
query is put.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, ClassVar, Generic, NamedTuple, Self, TypeVar

import numpy as np

from propagation.wording import quantities as say
from tui.app import clock, paths
from tui.app.choice import Choice, Cursor, HoursOnAir, Opening

if TYPE_CHECKING:
    from tui.app.day_forecast import DayForecast
    from tui.app.sites import Sites
    from tui.kit.day_view import DayView
    from tui.kit.hop import HopView
    from tui.kit.plan_view import PlanView

A = TypeVar("A")
A_co = TypeVar("A_co", covariant=True)
Cancelled = Callable[[], bool]


class Abandoned(Exception):  # noqa: N818 - a cancellation request, not an error
    """Raised inside work whose result is no longer needed."""


class Query(ABC, Generic[A_co]):
    """A computation in the background.

    Fields that the answer does not depend on, or that follow from the others, are excluded from the
    comparison (`field(compare=False)`).
    """

    group: ClassVar[str]  # of the queries of a group only the latest is answered
    says: ClassVar[str] = ""  # the computation in words; empty: the heading does not mention it
    at_once: ClassVar[bool] = False  # takes milliseconds: answered directly, without a thread

    @property
    def basis(self) -> object:
        """The part of the query whose change invalidates an older answer. While it is unchanged, the older
        answer stays on the screen until the new one is ready.
        """
        return None

    @abstractmethod
    def answer(self, engine: Engine, cancelled: Cancelled) -> A_co:
        """Compute the answer; `cancelled()` is true once it is no longer needed."""


def _unheard(part: object) -> None:
    """Ignore a part of an answer."""


@dataclass(frozen=True)
class GradualQuery(Query[A_co]):
    """A query whose answer can be shown in part while the rest is computed.

    part: called from the worker with each larger part of the answer, an immutable object.
    """

    part: Callable[[Any], object] = field(default=_unheard, compare=False, repr=False, kw_only=True)

    def telling(self, part: Callable[[Any], object]) -> Self:
        """The same query, which reports its parts."""
        return replace(self, part=part)


class Command(Query[A_co]):
    """A query that changes something on file or downloads it: run once, its answer is not kept."""


class Engine:
    """Objects shared by all answers: the stations on file with their terminals, and the clock."""

    def __init__(self, now: Callable[[], np.datetime64] = clock.now) -> None:
        from tui.app.sites import Sites

        self.now = now
        self.sites: Sites = Sites()
        self._forecast: DayForecast | None = None  # the latest; told again when the clock is turned over
        self._latest: dict[str, tuple[object, Any]] = {}

    def forecast_of(self, choice: Choice) -> DayForecast:
        """The forecast of a choice; the latest one is kept."""
        from tui.app import day_forecast

        if self._forecast is None or self._forecast.choice != choice:
            self._forecast = day_forecast.work_out(self.sites, choice, self.now())
        return self._forecast

    def latest(self, kind: str, key: object, make: Callable[[], A]) -> A:
        """The result of a kind for a key; the latest one of each kind is kept."""
        kept = self._latest.get(kind)
        if kept is None or kept[0] != key:
            kept = self._latest[kind] = (key, make())
        result: A = kept[1]
        return result

    def answer(self, query: Query[A], cancelled: Cancelled) -> A:
        """Answer a query; every query goes through here."""
        return query.answer(self, cancelled)

    def suggest(self, prefix: str) -> list[str]:
        """Names of targets that begin with the prefix."""
        return self.sites.suggest(prefix)

    def meanings(self, text: str) -> tuple[str, ...]:
        """The full names of the places with a name, if there are several."""
        return self.sites.meanings(text)

    def target_meanings(self, text: str) -> tuple[str, ...]:
        """The meanings of a target: as for a place, with the friends whose names begin with the text."""
        return self.sites.target_meanings(text)

    def about_target(self, name: str) -> str:
        """Return what a target is, in a few words."""
        return self.sites.about(name)

    def check_target(self, text: str) -> str:
        """An error sentence if a target is not understood; else empty."""
        return self.sites.check_target(text)


class Day(NamedTuple):
    """The day of a choice: its view, and the forecast that later queries use."""

    choice: Choice
    view: DayView
    forecast: DayForecast


@dataclass(frozen=True)
class OpeningQuery(Query[Opening]):
    """The query of station, site and the lists to choose from; fast, no forecast."""

    station: str  # path, "" for the saved one or the demo
    target: str  # as in the settings

    group = "opening"
    says = "station"

    def answer(self, engine: Engine, cancelled: Cancelled) -> Opening:
        """Read the station and the lists."""
        return engine.sites.open(self.station, self.target)


@dataclass(frozen=True)
class DayQuery(Query[Day]):
    """The query of the day on every band."""

    choice: Choice
    local: bool = field(default_factory=say.local_first, kw_only=True)  # the clock of its sentences

    group = "day"
    says = "forecast"

    def answer(self, engine: Engine, cancelled: Cancelled) -> Day:
        """Compute the forecast."""
        from tui.app import day_forecast

        found = engine.forecast_of(self.choice)
        demo = self.choice.station in ("", str(paths.demo_station_file()))
        return Day(self.choice, day_forecast.view_of(found, engine.now(), demo), found)


@dataclass(frozen=True)
class HopQuery(Query["HopView | None"]):
    """The query of the path's cross-section at the cursor, from the forecast of the day."""

    choice: Choice
    cursor: Cursor
    day: Day = field(compare=False, repr=False)

    group = "hop"
    says = "hop picture"
    at_once = True

    @property
    def basis(self) -> object:
        """The hour and band of the picture."""
        return self

    def answer(self, engine: Engine, cancelled: Cancelled) -> HopView | None:
        """Build it from the modes of the forecast."""
        from tui.app import hop_section

        return hop_section.hop_view(self.day.forecast, self.cursor)


@dataclass(frozen=True)
class PlanQuery(Query["PlanView"]):
    """The query of the switching plan of the hours on air."""

    choice: Choice
    hours: HoursOnAir
    local: bool = field(default_factory=say.local_first, kw_only=True)

    group = "plan"
    says = "plan"

    @property
    def basis(self) -> object:
        """The hours and the choice; a plan of others is not shown."""
        return self

    def answer(self, engine: Engine, cancelled: Cancelled) -> PlanView:
        """Compute the sequence of bands."""
        from tui.app import plan_answer as plan

        return plan.plan_view(engine.sites, self.choice, self.hours, engine.now())


class ChangeOfConditions(Command[str]):
    """A command that changes the conditions; the answer is a sentence."""

    group = "conditions"
    says = "state of the sky"


@dataclass(frozen=True)
class Heard(ChangeOfConditions):
    """A reception report: a band was heard from a place, or was not."""

    choice: Choice
    band: str
    place: str
    was_heard: bool
    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Correct the index with the report."""
        from tui.app.ear_reports import keep_station_report

        own = engine.sites.chosen(self.choice)
        aimed = engine.sites.target(replace(self.choice, target=self.place))
        return keep_station_report(own, aimed, self.band, self.was_heard, self.now)
