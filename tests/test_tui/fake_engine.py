"""An engine that answers with made-up results at once, or when told to, or with a fault: for tests of the
screens alone. Queries without a made-up answer are answered from the invented demo.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import synthetic

from tui.app.choice import FriendCard, Opening, StationCard
from tui.app.prompts import Export, Written
from tui.app.queries import (
    A,
    Cancelled,
    Day,
    DayQuery,
    Engine,
    Heard,
    HopQuery,
    OpeningQuery,
    PlanQuery,
    Query,
)
from tui.features.antenna.form import KeepReading
from tui.features.antenna.page import AntennaQuery, HelpsQuery
from tui.features.antenna.view import AntennaView
from tui.features.outing.queries import LearnQuery
from tui.features.outing.view import LearntView
from tui.features.reach.page import FootprintQuery, RulersQuery
from tui.features.season.page import SeasonQuery
from tui.features.sked.page import SkedQuery
from tui.features.sky.page import Fetch, HeardBeacon, SkyQuery, TypeIn
from tui.features.stations.form import SaveFriend
from tui.features.why.page import WhyQuery

PATIENCE_S = 30.0  # s, after which a test that forgot to open the gate fails rather than hangs


def helped(view: AntennaView) -> AntennaView:
    """The bench with nothing left to be worked out."""
    return replace(view, helped=tuple(row.band for row in view.bands))


class FakeEngine(Engine):
    """Answers made up by kind of query.

    fail: groups whose queries end in a fault. gate: held by the forecast until it is set.
    made_up: further answers by kind of query.
    """

    def __init__(
        self,
        *,
        fail: tuple[str, ...] = (),
        gate: threading.Event | None = None,
        site: str = "demo ridge",
        demo: bool = True,
        made_up: dict[type[Query[Any]], Callable[[Any], Any]] | None = None,
    ) -> None:
        super().__init__(lambda: synthetic.NOW)
        self.fail, self.gate, self.site, self.demo = fail, gate, site, demo
        self.asked: list[str] = []
        self.put: list[Query[Any]] = []
        self.made_up: dict[type[Query[Any]], Callable[[Any], Any]] = {
            OpeningQuery: self._opening,
            DayQuery: self._day,
            HopQuery: lambda q: synthetic.hop_view(q.cursor.band, q.cursor.time),
            WhyQuery: lambda q: synthetic.why_view(q.cursor.band, q.cursor.time),
            RulersQuery: self._rulers,
            FootprintQuery: lambda q: synthetic.reach_view(q.rulers.time, q.band).map,
            AntennaQuery: lambda q: helped(synthetic.bench_view()),
            HelpsQuery: lambda q: replace(q.view, helped=(*q.view.helped, q.band)),
            SkyQuery: lambda q: synthetic.sky_view(),
            PlanQuery: lambda q: synthetic.plan_view(),
            LearnQuery: lambda q: LearntView(),
            SkedQuery: lambda q: synthetic.sked_view(),
            SeasonQuery: lambda q: synthetic.season_view(),
            Fetch: lambda q: "Fetched 5 of 6 products.",
            TypeIn: lambda q: "Typed in.",
            Heard: lambda q: "Taken.",
            HeardBeacon: lambda q: "Taken.",
            KeepReading: lambda q: "Kept.",
            SaveFriend: lambda q: f"{q.friend.name} is on the list.",
            Export: lambda q: Written("Written."),
            **(made_up or {}),
        }

    def answer(self, query: Query[A], cancelled: Cancelled) -> A:
        self.asked.append(query.group)
        self.put.append(query)
        if query.group in self.fail:
            raise RuntimeError(f"made to fail: {query.group} [/red]")
        made_up = self.made_up.get(type(query))
        return made_up(query) if made_up is not None else super().answer(query, cancelled)

    def last(self, kind: type[Any]) -> Any:
        """The last query of a kind that was put."""
        return next(query for query in reversed(self.put) if isinstance(query, kind))

    def check_target(self, text: str) -> str:
        return "" if text != "nowhere" else "There is no place called 'nowhere'."

    def _opening(self, query: OpeningQuery) -> Opening:
        card = StationCard(query.station, self.site, "KG40rs", self.demo)
        return Opening(
            card,
            (card, StationCard("/tmp/other.toml", "garden [/b]", "GF25")),
            (FriendCard("Uruguay", "GF25", "America/Montevideo", "100 W and a wire"),),
            query.target or "Uruguay",
            ("Europe", "anyone"),
            ("SSB", "CW", "FM", "DIGITAL"),
            synthetic.BANDS,
            "SSB",
            20.0,
        )

    def _day(self, query: DayQuery) -> Day:
        if self.gate is not None:
            assert self.gate.wait(PATIENCE_S), "the gate was never opened"
        view = synthetic.day_view(query.choice.target)
        shift = query.choice.start - synthetic.DAY
        view = replace(view, site=self.site, demo=self.demo, times=view.times + shift, plan=())
        no_forecast: Any = None
        return Day(query.choice, view, no_forecast)

    @staticmethod
    def _rulers(query: RulersQuery) -> Any:
        view = synthetic.reach_view(query.time, query.cursor.band)
        return replace(view, map=replace(view.map, share=None))
