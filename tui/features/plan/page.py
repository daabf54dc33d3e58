"""Plan page: run sheet along the time on air, new plans without dead bands, and export."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar, cast

from textual.binding import Binding, BindingType
from textual.widget import Widget

from propagation.wording.quantities import band_title, both_spans, date, listed, watts
from tui.app import prompts, undo
from tui.app.page import CHOICE_KEYS, LEAF_ROWS, LEAP_KEYS, PAGES_STYLE, Page
from tui.app.prompts import (
    ask_date_of_plan,
    ask_hours,
    dead_bands_line,
    export,
    hours_proposed,
    not_there_yet,
    plan_for_chosen_target,
    plan_without,
)
from tui.app.queries import PlanQuery, Query
from tui.app.side_panels import SidePanel, Spread
from tui.app.state import State
from tui.features.plan.view import RunSheetRows
from tui.kit import words
from tui.kit.canvas import EntryPointed
from tui.kit.lists import Notes
from tui.kit.plan_view import plan_sentences
from tui.kit.theme import SOFT

if TYPE_CHECKING:
    from tui.app.choice import Choice, HoursOnAir
    from tui.kit.plan_view import PlanView


LEAST_CAUTIONS = 4  # rows of the cautions beside the plan; where there are fewer, the antenna has them (ours)
FOOT_ROWS = 6  # rows of the closing lines on a tall screen


class PlanPage(Page):
    """Times of the band changes."""

    place = "plan"
    of_choice = False  # a plan of another choice is never shown
    CSS_PATH = PAGES_STYLE
    spreads = (Spread(112, 36, right=("with-settings",), share=0.36),)
    about = (
        "The sequence of bands for your time on air that brings most contacts, or most days with a friend, "
        "counting the minutes each change costs."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", "step", tooltip="the step before"),
        Binding("down", "step(1)", "step", tooltip="the step after"),
        Binding("h", "plan_hours", "hours", tooltip="hours on air: from when, for how long, for whom"),
        Binding("x", "dead", "band is dead", tooltip="replan from now without the band of this step"),
        Binding("u", "undo", "undo", show=False, tooltip="take back the last thing done, whatever it was"),
        Binding(
            "e",
            "export",
            "export",
            tooltip="write the run sheet (.txt) and a pocket page (.html) for a telephone or an A5 sheet",
        ),
        Binding("k", "keep", "keep", tooltip="keep the plan under a name, to open or to give away"),
        Binding("o", "open_kept", "open", tooltip="start from a plan kept under a name"),
        Binding("t", "plan_target", "target", tooltip="whom to reach, here and on the other screens"),
        Binding("d", "plan_date", "date", tooltip="the same hours on another date"),
        *CHOICE_KEYS[2:],
        *LEAP_KEYS,
    ]

    def __init__(self) -> None:
        super().__init__()
        self.step = 0

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Yield the plan of the hours on air; proposed hours stay until others are typed in."""
        if state.choice is not None:
            state.hours = state.hours or hours_proposed(state)
            yield PlanQuery(state.choice, state.hours)

    @property
    def plan(self) -> PlanView | None:
        """Return the plan, or None until it is computed."""
        return self.state.answers.get(PlanQuery)

    def action_plan_hours(self) -> None:
        """Ask for the hours on air."""
        ask_hours(self.own_app)

    def action_dead(self) -> None:
        """Mark the band of the chosen step as dead, and plan again from now without it."""
        plan = self.plan
        if plan is None:
            not_there_yet(self.own_app, "the plan", "x")
        elif not plan.steps:
            self.own_app.say("The plan has no band that could be taken as dead; h asks for other hours.")
        else:
            plan_without(self.own_app, self.chosen_band)
            self.step = 0

    def action_undo(self) -> None:
        """Take back the last thing done."""
        undo.take_back(self.own_app)

    def action_plan_target(self) -> None:
        """Ask for the target; the plan then applies to it too."""
        prompts.target(self.own_app, lambda: plan_for_chosen_target(self.own_app))

    def action_plan_date(self) -> None:
        """Ask for a date, and plan the same hours on it."""
        ask_date_of_plan(self.own_app)

    def action_leap(self, to: int) -> None:
        """Choose the first or the last step."""
        self.action_step(to * len(self.plan.steps) if self.plan is not None else 0)

    def leaf_on(self, by: int) -> None:
        """Move by a page of steps."""
        self.action_step(by * LEAF_ROWS)

    def action_export(self) -> None:
        """Write the run sheet and the pocket page to files."""
        export(self.own_app, self.plan, "the plan")

    def action_keep(self) -> None:
        """Ask for a name, and keep the plan under it."""
        from tui.features.plan import kept

        kept.ask_name(self.own_app)

    def action_open_kept(self) -> None:
        """List the plans kept, and start from the one picked."""
        from tui.features.plan import kept

        kept.ask_which(self.own_app)

    def body(self) -> Iterable[Widget]:
        """Yield the run sheet and the closing lines."""
        yield RunSheetRows(id="sheet")
        yield Notes(id="plan-foot", ink=SOFT, margin=2)

    def action_step(self, by: int) -> None:
        """Choose a step."""
        plan = self.plan
        if plan is not None and plan.steps:
            self.step = min(max(self.step + by, 0), len(plan.steps) - 1)
            self.fill(self.state)

    def on_entry_pointed(self, message: EntryPointed) -> None:
        """Choose a step that was clicked or reached with the wheel."""
        self.action_step(message.number - self.step)

    @property
    def chosen_band(self) -> str:
        """Return the band of the chosen step."""
        plan = self.plan
        return plan.steps[min(self.step, len(plan.steps) - 1)].band if plan is not None and plan.steps else ""

    def whom(self, state: State) -> str:
        """Return the target of the plan, which can differ from that of the choice."""
        chosen = super().whom(state)
        return (state.hours.target or chosen) if state.hours is not None else chosen

    def fill(self, state: State) -> None:
        """Show the plan."""
        plan = self.plan
        self.query_one(RunSheetRows).show(plan, self.step, state.now)
        foot = [*plan_lines(state.hours), *([plan.gain] if plan is not None and plan.gain else [])]
        if self.spread is None:  # else they are in the side panel
            foot += cautions_of(plan)
        notes = self.query_one("#plan-foot", Notes)
        notes.show(foot)
        notes.fit(self.main_width, FOOT_ROWS if self.size.height >= 36 else 3)

    def sentences(self, state: State) -> list[str]:
        """Return the run sheet in sentences."""
        plan = self.plan
        told = plan_sentences(plan) if plan is not None else [words.WORKING]
        return [*told, *plan_lines(state.hours)]


class PlanSettings(SidePanel):
    """Settings: hours, target, mode and power; the antenna band by band; conditions and cautions."""

    def compose(self) -> Iterable[Widget]:
        """Yield the three lists."""
        yield Notes("Made for", id="made-for")
        yield Notes("The antenna, band by band", id="plan-cards", ink=SOFT)
        yield Notes("Conditions and cautions", id="plan-cautions", ink=SOFT)

    def on_resize(self) -> None:
        """Give the lists the rows they need in this width."""
        self.fill(cast(Page, self.screen).state)

    def fill(self, state: State) -> None:
        """Show the settings, and the setup cards of the plan's bands."""
        made = self.query_one("#made-for", Notes)
        if state.choice is not None and state.hours is not None:
            made.show(settings_sentences(state.choice, state.hours))
        plan = state.answers.get(PlanQuery)
        cards = self.query_one("#plan-cards", Notes)
        cards.show(plan.cards if plan is not None else ())
        cautions = self.query_one("#plan-cautions", Notes)
        cautions.show(cautions_of(plan))
        left = self.size.height
        for notes in (made, cards):
            rows = min(notes.rows_in(self.size.width) + 2, max(left, 1))  # with heading and a blank row
            notes.styles.height = rows
            left -= rows
        cautions.display = left >= LEAST_CAUTIONS

    def sentences(self, state: State) -> list[str]:
        """Return the antenna setup, band by band."""
        plan = state.answers.get(PlanQuery)
        return list(plan.cards) if plan is not None else []


def cautions_of(plan: PlanView | None) -> list[str]:
    """The conditions a plan was made with, and its cautions."""
    return [line for line in (plan.conditions, *plan.cautions) if line] if plan is not None else []


def plan_lines(hours: HoursOnAir | None) -> list[str]:
    """The name of the plan with its bands, and the bands found dead; nothing where there are none."""
    name, only = ("", "") if hours is None else (hours.plan, listed([band_title(one) for one in hours.bands]))
    kept = f"Plan {name!r}" if name else "Plan"
    found = (
        [f"{kept} on {only} alone; h asks for hours on all bands."] if only else [f"{kept}."] if name else []
    )
    dead = dead_bands_line(hours)
    return [*found, dead] if dead else found


def settings_sentences(choice: Choice, hours: HoursOnAir) -> list[str]:
    """Settings of a plan, one per line, with the key that changes each."""
    whom = hours.target or choice.target
    return [
        f"h  On air: {date(hours.start)} {both_spans(hours.start, hours.end)}.",
        f"t  To reach: {whom}.",
        f"m  Mode: {choice.mode}.",
        f"p  Power at the rig: {watts(choice.power_w)}.",
    ]
