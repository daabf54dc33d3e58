"""The queries of every page: the station on file, the day of a choice, the path's picture at the
cursor.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tui.app import paths
from tui.app.choice import Choice, Cursor, HoursOnAir, Opening
from tui.app.queries import Cancelled, Command, Engine, Query

if TYPE_CHECKING:
    from tui.app.day_forecast import DayForecast
    from tui.kit.day_view import DayView
    from tui.kit.hop_view import HopView
    from tui.kit.plan_view import PlanView


class Day(NamedTuple):
    """The day of a choice: what is drawn of it, and the forecast that later queries go on from."""

    choice: Choice
    view: DayView
    forecast: DayForecast


@dataclass(frozen=True)
class OpeningQuery(Query[Opening]):
    """Who, where, and what can be chosen; quick, no forecast."""

    station: str  # path, "" for the saved one or the demo
    target: str  # as in the settings

    group = "opening"
    says = "station"

    def answer(self, engine: Engine, cancelled: Cancelled) -> Opening:
        """Read the station and the lists."""
        return engine.sites.open(self.station, self.target)


@dataclass(frozen=True)
class DayQuery(Query[Day]):
    """The day on every band."""

    choice: Choice

    group = "day"
    says = "forecast"

    def answer(self, engine: Engine, cancelled: Cancelled) -> Day:
        """Run the forecast."""
        from tui.app import day_forecast

        found = day_forecast.work_out(engine.sites, self.choice, engine.now())
        demo = self.choice.station in ("", str(paths.demo_station_file()))
        return Day(self.choice, day_forecast.view_of(found, engine.now(), demo), found)


@dataclass(frozen=True)
class HopQuery(Query["HopView | None"]):
    """The path's cross-section at the cursor, from the forecast of the day."""

    choice: Choice
    cursor: Cursor
    day: Day = field(compare=False, repr=False)

    group = "hop"
    says = "hop picture"
    at_once = True

    @property
    def basis(self) -> object:
        """The picture is of this hour and band alone."""
        return self

    def answer(self, engine: Engine, cancelled: Cancelled) -> HopView | None:
        """Draw it from the modes of the forecast."""
        from tui.app import hop_section

        return hop_section.hop_view(self.day.forecast, self.cursor)


@dataclass(frozen=True)
class PlanQuery(Query["PlanView"]):
    """The switching plan of the hours on air."""

    choice: Choice
    hours: HoursOnAir

    group = "plan"
    says = "plan"

    @property
    def basis(self) -> object:
        """A plan of other hours or another choice is not shown."""
        return self

    def answer(self, engine: Engine, cancelled: Cancelled) -> PlanView:
        """Find the sequence of bands."""
        from tui.app import plan_answer as plan

        return plan.plan_view(engine.sites, self.choice, self.hours, engine.now())


class ChangeOfConditions(Command[str]):
    """Changes the conditions; the answer is a sentence."""

    group = "conditions"
    says = "state of the sky"


@dataclass(frozen=True)
class Heard(ChangeOfConditions):
    """A band was heard from somewhere, or was not."""

    choice: Choice
    band: str
    place: str
    was_heard: bool
    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Correct the index by it."""
        from tui.app.ear_reports import keep_station_report

        own = engine.sites.chosen(self.choice)
        aimed = engine.sites.target(replace(self.choice, target=self.place))
        return keep_station_report(own, aimed, self.band, self.was_heard, self.now)
