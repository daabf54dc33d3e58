"""Queries of the page: what was learnt from the events of the outing."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from propagation.base.errors import InputError
from propagation.logbook.journal import Made
from propagation.wording import quantities as say
from tui.app.choice import Choice, HoursOnAir, Mark
from tui.app.queries import Cancelled, Command, Engine, Heard, Query
from tui.features.outing.view import LearntView
from tui.kit.plan_view import PlanView


@dataclass(frozen=True)
class MarkAnswered(Command[str]):
    """Report that a station in the target area was heard on a band, so the MUF is at least that high."""

    heard: Heard

    group = "conditions"
    says = "state of the sky"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Correct the index with it; a report without information changes nothing."""
        try:
            return self.heard.answer(engine, cancelled)
        except InputError:
            return ""


def basis_of(choice: Choice, hours: HoursOnAir) -> tuple[object, ...]:
    """Values that must stay the same for a plan to be followed further."""
    return (choice.station, choice.target, choice.mode, choice.power_w, choice.tried, hours)


@dataclass(frozen=True)
class LearnQuery(Query[LearntView]):
    """Estimates from contacts and marks. The forecast is computed before the first event, which is then fast.

    at_hand: the plan followed until now; it follows from the events before.
    """

    choice: Choice
    hours: HoursOnAir
    contacts: tuple[Made, ...]
    marks: tuple[Mark, ...]
    at_hand: PlanView = field(compare=False, repr=False)
    now: np.datetime64 = field(compare=False)
    local: bool = field(default_factory=say.local_first, kw_only=True)  # the clock of its sentences

    group = "learning"

    @property
    def basis(self) -> object:
        """Key of the plan: one of other hours, another target or another station is not followed."""
        return basis_of(self.choice, self.hours)

    def answer(self, engine: Engine, cancelled: Cancelled) -> LearntView:
        """Process the events in order, and evaluate the plan again."""
        from tui.features.outing import answer as learning

        return learning.learnt_view(
            engine.sites, self.choice, self.hours, self.contacts, self.marks, self.at_hand, self.now
        )
