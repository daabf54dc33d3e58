"""What a plan is made for, and how to set the antenna for it, beside the run sheet."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual.widget import Widget

from propagation.wording.quantities import clock, date, end_clock, watts
from tui.app.shared_queries import PlanQuery
from tui.app.side_panels import SidePanel
from tui.app.state import State
from tui.kit.notes import Notes
from tui.kit.theme import SOFT

if TYPE_CHECKING:
    from tui.app.choice import Choice, HoursOnAir


class PlanSettings(SidePanel):
    """Hours, people, mode and power; the antenna band by band."""

    def compose(self) -> Iterable[Widget]:
        """Two lists."""
        yield Notes("Made for", id="made-for")
        yield Notes("The antenna, band by band", id="plan-cards", ink=SOFT)

    def fill(self, state: State) -> None:
        """The settings, and the cards of the plan's bands."""
        made = self.query_one("#made-for", Notes)
        if state.choice is not None and state.hours is not None:
            made.show(settings_sentences(state.choice, state.hours))
        made.styles.height = len(made.sentences) + 2
        plan = state.answers.get(PlanQuery)
        self.query_one("#plan-cards", Notes).show(plan.cards if plan is not None else ())

    def sentences(self, state: State) -> list[str]:
        """The antenna, band by band."""
        plan = state.answers.get(PlanQuery)
        return list(plan.cards) if plan is not None else []


def settings_sentences(choice: Choice, hours: HoursOnAir) -> list[str]:
    """What a plan is made for, a line each, with the key that changes it."""
    whom = hours.target or choice.target
    return [
        f"h  On air: {date(hours.start)} {clock(hours.start)} to {end_clock(hours.end)} UTC.",
        f"t  To reach: {whom}.",
        f"m  Mode: {choice.mode}.",
        f"p  Power at the rig: {watts(choice.power_w)}.",
    ]
