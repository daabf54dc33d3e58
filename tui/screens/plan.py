"""The plan: the run sheet along the time on air, replanning when a band is dead, export."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui import telling, words
from tui.screens.page import Page
from tui.state import Shared
from tui.theme import SOFT
from tui.widgets.notes import Notes
from tui.widgets.run_sheet import RunSheet


class PlanPage(Page):
    """When to change bands."""

    place = "plan"
    CSS_PATH = "pages.tcss"
    about = (
        "The sequence of bands for your time on air that promises most, counting the minutes each "
        "change costs."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", "step", tooltip="the step before"),
        Binding("down", "step(1)", "step", tooltip="the step after"),
        Binding("h", "app.plan_hours", "hours on air", tooltip="from when, for how long, for whom"),
        Binding("x", "app.dead", "band is dead", tooltip="replan from now without the band of this step"),
        Binding("e", "app.export('plan')", "export", tooltip="write the run sheet to a file"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.step = 0

    def body(self) -> Iterable[Widget]:
        """Sheet and closing lines."""
        yield RunSheet(id="sheet")
        yield Notes(id="plan-foot", ink=SOFT, margin=2)

    def action_step(self, by: int) -> None:
        """Choose a step."""
        plan = self.desk_app.shared.plan
        if plan is not None and plan.steps:
            self.step = min(max(self.step + by, 0), len(plan.steps) - 1)
            self.fill(self.desk_app.shared)

    @property
    def chosen_band(self) -> str:
        """The band of the chosen step."""
        plan = self.desk_app.shared.plan
        return plan.steps[min(self.step, len(plan.steps) - 1)].band if plan is not None and plan.steps else ""

    def whom(self, shared: Shared) -> str:
        """The plan has people of its own."""
        return shared.plan_wish.target if shared.plan_wish is not None else super().whom(shared)

    def fill(self, shared: Shared) -> None:
        """The plan."""
        plan = shared.plan
        self.query_one(RunSheet).show(plan, self.step, shared.now)
        foot = (
            [line for line in (plan.gain, plan.conditions, *plan.cautions) if line]
            if plan is not None
            else []
        )
        notes = self.query_one("#plan-foot", Notes)
        notes.show(foot)
        notes.fit(self.size.width, 6 if self.size.height >= 36 else 3)

    def sentences(self, shared: Shared) -> list[str]:
        """The run sheet in words."""
        return telling.plan_sentences(shared.plan) if shared.plan is not None else [words.WORKING]
