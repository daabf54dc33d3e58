"""What is asked about an outing under way: what its events teach, and whether another plan is better."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from propagation.logbook.journal import Made
from tui.app.choice import Choice, HoursOnAir, Mark
from tui.app.queries import Cancelled, Engine, Query

if TYPE_CHECKING:
    from tui.features.outing.view import LearntView
    from tui.kit.plan_view import PlanView


def basis_of(choice: Choice, hours: HoursOnAir) -> tuple[object, ...]:
    """What must stay as it is for a plan to be followed further."""
    return (choice.station, choice.target, choice.mode, choice.power_w, choice.tried, hours)


@dataclass(frozen=True)
class LearnQuery(Query["LearntView"]):
    """What contacts and marks teach. Before any of them the forecast is made ready, so that the first is
    answered at once.

    at_hand: the plan followed until now; it follows from the events before.
    """

    choice: Choice
    hours: HoursOnAir
    contacts: tuple[Made, ...]
    marks: tuple[Mark, ...]
    at_hand: PlanView = field(compare=False, repr=False)
    now: np.datetime64 = field(compare=False)

    group = "learning"

    @property
    def basis(self) -> object:
        """A plan of other hours, other people or another station is not followed."""
        return basis_of(self.choice, self.hours)

    def answer(self, engine: Engine, cancelled: Cancelled) -> LearntView:
        """Take the events in their order, and weigh the plan again."""
        from tui.features.outing import answer

        return answer.learnt_view(
            engine.sites, self.choice, self.hours, self.contacts, self.marks, self.at_hand, self.now
        )
