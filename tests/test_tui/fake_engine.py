"""An engine that answers with made-up results at once, or when told to, or with a fault: for tests of the
screens alone. Questions without a made-up answer are answered from the invented demo.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import synthetic

from tui.app.choice import FriendCard, Opening, StationCard
from tui.app.export_prompts import Export, Written
from tui.app.queries import A, Cancelled, Engine, Question
from tui.app.shared_queries import Day, DayQuestion, HopQuestion, OpeningQuestion
from tui.features.antenna.analyser_form import KeepReading
from tui.features.antenna.page import BenchQuestion, HelpsQuestion
from tui.features.outing.learning_query import LearnQuestion
from tui.features.plan.page import PlanQuestion
from tui.features.reach.page import FootprintQuestion, RulersQuestion
from tui.features.season.page import SeasonQuestion
from tui.features.sked.page import SkedQuestion
from tui.features.sky.conditions_form import Fetch, Heard, HeardBeacon, TypeIn
from tui.features.sky.page import SkyQuestion
from tui.features.stations.form import SaveFriend
from tui.features.why.page import WhyQuestion
from tui.kit.views import BenchView, LearntView

PATIENCE_S = 30.0  # s, after which a test that forgot to open the gate fails rather than hangs


def helped(view: BenchView) -> BenchView:
    """The bench with nothing left to be worked out."""
    return replace(view, helped=tuple(row.band for row in view.bands))


class FakeEngine(Engine):
    """Answers made up by kind of question.

    fail: groups whose questions end in a fault. gate: held by the forecast until it is set.
    made_up: further answers by kind of question.
    """

    def __init__(
        self,
        *,
        fail: tuple[str, ...] = (),
        gate: threading.Event | None = None,
        site: str = "demo ridge",
        demo: bool = True,
        made_up: dict[type[Question[Any]], Callable[[Any], Any]] | None = None,
    ) -> None:
        super().__init__(lambda: synthetic.NOW)
        self.fail, self.gate, self.site, self.demo = fail, gate, site, demo
        self.asked: list[str] = []
        self.put: list[Question[Any]] = []
        self.made_up: dict[type[Question[Any]], Callable[[Any], Any]] = {
            OpeningQuestion: self._opening,
            DayQuestion: self._day,
            HopQuestion: lambda q: synthetic.hop_view(q.cursor.band, q.cursor.time),
            WhyQuestion: lambda q: synthetic.why_view(q.cursor.band, q.cursor.time),
            RulersQuestion: self._rulers,
            FootprintQuestion: lambda q: synthetic.reach_view(q.rulers.time, q.band).map,
            BenchQuestion: lambda q: helped(synthetic.bench_view()),
            HelpsQuestion: lambda q: replace(q.view, helped=(*q.view.helped, q.band)),
            SkyQuestion: lambda q: synthetic.sky_view(),
            PlanQuestion: lambda q: synthetic.plan_view(),
            LearnQuestion: lambda q: LearntView(),
            SkedQuestion: lambda q: synthetic.sked_view(),
            SeasonQuestion: lambda q: synthetic.season_view(),
            Fetch: lambda q: "Fetched 5 of 6 products.",
            TypeIn: lambda q: "Typed in.",
            Heard: lambda q: "Taken.",
            HeardBeacon: lambda q: "Taken.",
            KeepReading: lambda q: "Kept.",
            SaveFriend: lambda q: f"{q.friend.name} is on the list.",
            Export: lambda q: Written("Written."),
            **(made_up or {}),
        }

    def answer(self, question: Question[A], cancelled: Cancelled) -> A:
        self.asked.append(question.group)
        self.put.append(question)
        if question.group in self.fail:
            raise RuntimeError(f"made to fail: {question.group} [/red]")
        made_up = self.made_up.get(type(question))
        return made_up(question) if made_up is not None else super().answer(question, cancelled)

    def last(self, kind: type[Any]) -> Any:
        """The last question of a kind that was put."""
        return next(question for question in reversed(self.put) if isinstance(question, kind))

    def check_target(self, text: str) -> str:
        return "" if text != "nowhere" else "There is no place called 'nowhere'."

    def _opening(self, question: OpeningQuestion) -> Opening:
        card = StationCard(question.station, self.site, "KG40rs", self.demo)
        return Opening(
            card,
            (card, StationCard("/tmp/other.toml", "garden [/b]", "GF25")),
            (FriendCard("Uruguay", "GF25", "America/Montevideo", "100 W and a wire"),),
            question.target or "Uruguay",
            ("Europe", "anyone"),
            ("SSB", "CW", "FM", "DIGITAL"),
            synthetic.BANDS,
            "SSB",
            20.0,
        )

    def _day(self, question: DayQuestion) -> Day:
        if self.gate is not None:
            assert self.gate.wait(PATIENCE_S), "the gate was never opened"
        view = synthetic.day_view(question.choice.target)
        shift = question.choice.start - synthetic.DAY
        view = replace(view, site=self.site, demo=self.demo, times=view.times + shift, plan=())
        no_forecast: Any = None
        return Day(question.choice, view, no_forecast)

    @staticmethod
    def _rulers(question: RulersQuestion) -> Any:
        view = synthetic.reach_view(question.time, question.cursor.band)
        return replace(view, map=replace(view.map, share=None))
