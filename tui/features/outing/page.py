"""On the air: the page that stays open during the outing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from textual.binding import Binding, BindingType
from textual.widget import Widget

from propagation.base.errors import BandwhenError, InputError
from propagation.logbook import journal
from propagation.logbook.journal import Made, Worked
from propagation.spectrum import bands as band_plan
from propagation.spectrum.modes import by_name
from propagation.wording import outing as say_on_air
from propagation.wording import quantities as say
from tui.app.choice import Choice, HoursOnAir, Mark
from tui.app.page import CHOICE_KEYS, LEAF_KEYS, PAGES_STYLE, Page
from tui.app.prompts import ask_hours, dead_bands_line, hours_proposed, plan_without
from tui.app.queries import Cancelled, Command, Engine, Heard, PlanQuery, Query
from tui.app.side_panels import Spread
from tui.app.state import State
from tui.features.outing import log as on_air
from tui.features.outing.view import LearntView, OnAir, OnAirView
from tui.kit import words
from tui.kit.day_view import DayView
from tui.kit.glyphs import one_cell
from tui.kit.plan_view import PlanStep, PlanView

if TYPE_CHECKING:
    from propagation.advice.rates import Prospect

EARLY_MIN = 5  # minutes before a change at which it is announced (ours)
HALF = 0.5  # share of what the best band promises below which the band in use is reported
FAINT = 0.1  # lowest best share of days that rings the bell for it (ours)
FAINT_PER_H = 1.0  # contacts an hour, likewise (ours)
PICTURE_ROWS = 16  # rows of the full picture without blank rows
LEARNT_ROWS = 4  # additional rows if something was learnt
WRITE_ONE = "The call sign, the report sent, the report received"


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


class OnAirPage(Page):
    """Present step, next step, and the steps after it."""

    place = "onair"
    CSS_PATH = PAGES_STYLE
    of_choice = False
    spreads = (Spread(112, 36, right=("with-settings",), share=0.36, below="with-lanes"),)
    about = (
        "For the hours on the air: which band, until when, what to do at the antenna then. c writes a "
        "contact down, v a call that nobody answered, g that you hear them and they do not hear you. It is "
        "all on disk before the key is up, and the log is an ADIF file. Each of these moves the estimate of "
        "today's layer, the station and the noise, and where it matters the plan is made again."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("c", "contact", "contact", tooltip="write a contact down: call sign and reports on one line"),
        Binding("v", "mark('in vain')", "no answer", tooltip="called on this band, nobody answered"),
        Binding("g", "mark('one way')", "one way", tooltip="I hear them, they do not hear me"),
        Binding("i", "note_mark", "coil mark", show=False, tooltip="note the mark as the band is tuned now"),
        Binding("u", "undo", "undo", tooltip="take the last mark back"),
        Binding("x", "dead", "band is dead", tooltip="plan again from now without the band in use"),
        Binding("h", "plan_hours", "hours on air", tooltip="from when, for how long, for whom"),
        *CHOICE_KEYS[:1],
        *CHOICE_KEYS[2:],
        *LEAF_KEYS,
    ]

    def __init__(self) -> None:
        super().__init__()
        self._announced: set[str] = set()
        self._worked: list[tuple[str, str, str]] | None = None
        self._made: tuple[Made, ...] | None = None

    # -- asking ---------------------------------------------------------------------------------

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Yield the plan of the hours on air, then the learning query."""
        if state.choice is not None:
            state.hours = state.hours or hours_proposed(state)
            yield PlanQuery(state.choice, state.hours)
            plan = self.followed(state)
            if plan is not None:
                made, marks = self._made_until_now(state), state.hours.marks
                yield LearnQuery(state.choice, state.hours, made, marks, plan, state.now)

    def learnt(self, state: State) -> LearntView | None:
        """Return the results learnt so far, or None."""
        asked, found = state.answers.query(LearnQuery), state.answers.get(LearnQuery)
        if found is None or asked is None or found.plan is None or state.choice is None:
            return None
        return found if asked.basis == basis_of(state.choice, self.hours) else None

    def followed(self, state: State) -> PlanView | None:
        """Return the plan to follow: the revised plan if there is one, else the original plan."""
        found = self.learnt(state)
        return found.plan if found is not None else state.answers.get(PlanQuery)

    def _made_until_now(self, state: State) -> tuple[Made, ...]:
        if self._made is None:
            self._made = on_air.made(state.hours)
        return self._made

    @property
    def hours(self) -> HoursOnAir:
        """Hours of the current outing."""
        state = self.state
        return state.hours or hours_proposed(state)

    @staticmethod
    def step_at(plan: PlanView | None, now: np.datetime64) -> int | None:
        """Index of the step at a time; the first before the plan begins; None after its end."""
        if plan is None or not plan.steps or now >= plan.end:
            return None
        return max(sum(bool(step.start <= now) for step in plan.steps) - 1, 0)

    def band_in_use(self, state: State) -> str:
        """Return the band of the present step, else the cursor's band."""
        plan = self.followed(state)
        at = self.step_at(plan, state.now)
        if plan is not None and at is not None:
            return plan.steps[at].band
        return state.cursor.band if state.cursor is not None else ""

    # -- keys -----------------------------------------------------------------------------------

    def action_contact(self) -> None:
        """Log a contact."""
        from tui.kit.overlays import Ask

        choice, band = self.state.choice, self.band_in_use(self.state)
        if choice is None or not band:
            return
        question = f"{WRITE_ONE} ({say.band_title(band)}, {choice.mode})"

        def check(text: str) -> str:
            try:
                journal.typed(text, choice.mode)
            except BandwhenError as error:
                return error.message
            return ""

        self.own_app.push_screen(
            Ask(question, "", check, commit=lambda text, reply: reply(self._write(text, band)))
        )

    def _write(self, text: str, band: str) -> str:
        """Write a contact; return an error sentence, or an empty text."""
        state, choice = self.state, self.state.choice
        if choice is None:
            return ""
        call, sent, received = journal.typed(text, choice.mode)
        station = self.own_app.engine.sites.chosen(choice)
        frequency = station.centre_mhz(band_plan.by_name(band), choice.mode)
        mode = by_name(choice.mode).name
        now = self.own_app.clock()
        worked = Worked(call, sent, received, now, band, frequency, mode, choice.power_w)
        try:
            hours, told = on_air.write_contact(self.hours, worked)
        except InputError as error:
            return error.message
        self._worked = self._made = None
        self.own_app.plan_for(hours)
        self.own_app.say(told)
        self._learn(state, band)
        return ""

    def action_mark(self, kind: str) -> None:
        """Note a call without an answer, or one-way hearing."""
        band = self.band_in_use(self.state)
        if not band:
            return
        now = self.own_app.clock()
        self.own_app.plan_for(on_air.marked(self.hours, kind, band, now))
        told = "called, nobody answered" if kind == "in vain" else "heard them, they did not hear me"
        count = sum(mark.kind == kind and mark.band == band for mark in self.hours.marks)
        # a band on which somebody has answered is not dead because of two unanswered calls
        silent = kind == "in vain" and not any(on == band for _, on, _ in on_air.contacts(self.hours))
        from propagation.advice.outing_replan import calls_until_dead

        enough = silent and count == calls_until_dead(self._promised(self.state, now))
        more = f" {say_on_air.offer_words(count)}" if enough else ""
        self.own_app.say(f"{say.band_title(band)} at {say.clock(now)}: {told}; noted.{more}")
        if kind == "one way":
            self._learn(self.state, band)

    def _promised(self, state: State, now: np.datetime64) -> Prospect | None:
        """Return what the band in use promises now; None where no plan knows."""
        plan = self.followed(state)
        at = self.step_at(plan, now)
        return plan.promised_at(plan.steps[at], now) if plan is not None and at is not None else None

    def action_note_mark(self) -> None:
        """Note the operator's own mark of the band in use."""
        from tui.app.prompts import note_mark

        note_mark(self.own_app, self.band_in_use(self.state))

    def _learn(self, state: State, band: str) -> None:
        """Raise the index if a signal was heard that the forecast did not expect."""
        if state.choice is not None:
            heard = Heard(state.choice, band, self.whom(state), True, self.own_app.clock())
            self.own_app.ask(MarkAnswered(heard), self._learnt)

    def _learnt(self, sentence: str) -> None:
        if sentence:
            self.own_app.conditions_changed(sentence)

    def action_undo(self) -> None:
        """Remove the last mark; a contact stays in its log."""
        if not self.hours.marks:
            self.own_app.say("There is no mark to take back; a contact stays in its log.")
            return
        last = self.hours.marks[-1]
        self.own_app.plan_for(on_air.without_last(self.hours))
        self.own_app.say(f"{say.band_title(last.band)} at {say.clock(last.when)}: taken back.")

    def action_dead(self) -> None:
        """Mark the band in use as dead, and plan again from now without it."""
        band = self.band_in_use(self.state)
        if band:
            plan_without(self.own_app, band)

    def action_plan_hours(self) -> None:
        """Ask for the hours on air."""
        ask_hours(self.own_app)

    # -- what is shown --------------------------------------------------------------------------

    def body(self) -> Iterable[Widget]:
        """Yield the picture."""
        yield OnAir(id="onair")

    def main_rows(self, state: State) -> int | None:
        """Return the rows that the picture needs now."""
        return PICTURE_ROWS + (LEARNT_ROWS if self.learnt(state) is not None else 0)

    def whom(self, state: State) -> str:
        """Return the target of the plan, which can differ from that of the choice."""
        chosen = super().whom(state)
        return (state.hours.target or chosen) if state.hours is not None else chosen

    def fill(self, state: State) -> None:
        """Show the present state; ring the bell for a new alert."""
        view = self._view(state)
        self.query_one(OnAir).show(view)
        if view is not None and view.alert and view.alert not in self._announced:
            self._announced.add(view.alert)
            if self.own_app.chosen.alerts and self.is_current:
                self.own_app.bell()
                self.own_app.message(view.alert)

    def _view(self, state: State) -> OnAirView | None:
        plan, now = self.followed(state), state.now
        if plan is None:
            return None
        at = self.step_at(plan, now)
        if self._worked is None:
            self._worked = on_air.contacts(state.hours)
        marks = self.hours.marks
        tally = say_on_air.tally(
            self._worked,
            [(mark.band, mark.when) for mark in marks if mark.kind == "in vain"],
            [(mark.band, mark.when) for mark in marks if mark.kind == "one way"],
        )
        dead = dead_bands_line(state.hours)
        tally = f"{tally}. {dead}" if dead else f"{tally}."
        if at is None:
            ended = "The hours on the air are over; h asks for new ones." if plan.steps else plan.gain
            return OnAirView("", (ended,), 0.0, "", (), tally, plan.conditions)
        learnt = self.learnt(state)
        step = plan.steps[at]
        following = plan.steps[at + 1] if at + 1 < len(plan.steps) else None
        return OnAirView(
            band=step.band,
            lines=self._now_lines(step, plan, now, state),
            left=_left(step, now),
            change=self._change(step, following, now),
            then=tuple(
                f"{say.clock(one.start)}  {say.band_title(one.band)}" for one in plan.steps[at + 2 : at + 4]
            ),
            tally=tally,
            sky=plan.conditions,
            alert=learnt.sentence if learnt and learnt.better else self._alert(step, following, state),
            learnt=(learnt.sentence, learnt.estimate) if learnt else (),
        )

    def _now_lines(self, step: PlanStep, plan: PlanView, now: np.datetime64, state: State) -> tuple[str, ...]:
        begins = f"from {say.clock(step.start)} " if now < step.start else ""
        prospect = plan.promised_at(step, now)
        what = say.promised(prospect) if prospect is not None else step.promises
        until = f"{begins}until {say.end_clock(step.end)} by the plan"
        return until, what, step.details[0] if step.details else step.setup

    @staticmethod
    def _change(step: PlanStep, following: PlanStep | None, now: np.datetime64) -> str:
        if following is None:
            left = say_on_air.minutes_left(step.end, now)
            return f"The hours end in {left} min."
        return say_on_air.change_words(following.band, following.start, now, following.setup)

    def _alert(self, step: PlanStep, following: PlanStep | None, state: State) -> str:
        """Sentence on what is due; announced once."""
        now = state.now
        if following is not None and say_on_air.minutes_left(following.start, now) <= EARLY_MIN:
            return f"{say.band_title(following.band)} from {say.clock(following.start)} on: {following.setup}"
        day = state.day
        if day is None or step.band not in day.bands or now < step.start:
            return ""
        return _half(day, step.band, now)

    def sentences(self, state: State) -> list[str]:
        """Return the present state in sentences."""
        view = self._view(state)
        if view is None:
            return [words.WORKING]
        head = f"Now {say.band_title(view.band)}" if view.band else "Now no band"
        told = [
            f"{head}: {'; '.join(view.lines)}.",
            view.change,
            *view.then,
            *view.learnt,
            view.tally,
            view.sky,
        ]
        return [line for line in told if line]


def _left(step: PlanStep, now: np.datetime64) -> float:
    whole = float((step.end - step.start).astype("timedelta64[s]").astype(np.int64))
    left = float((step.end - max(now, step.start)).astype("timedelta64[s]").astype(np.int64))
    return min(max(left / whole, 0.0), 1.0) if whole > 0.0 else 0.0


def _half(day: DayView, band: str, now: np.datetime64) -> str:
    """Sentence if the band in use promises less than half of what the best does; else empty."""
    at = day.index_of(now)
    figures, faint = (day.chance, FAINT) if day.rates is None else (day.rates.middle, FAINT_PER_H)
    row, best = day.bands.index(band), int(np.nan_to_num(day.ranked[:, at]).argmax())
    mine, most = (float(np.nan_to_num(figures[one, at])) for one in (row, best))
    if most < faint or mine >= HALF * most or day.bands[best] in day.dead:
        return ""
    words_ = say_on_air.half_words(band, day.prospect(row, at), day.bands[best], day.prospect(best, at))
    return one_cell(words_)


def basis_of(choice: Choice, hours: HoursOnAir) -> tuple[object, ...]:
    """Values that must stay the same for a plan to be followed further."""
    return (choice.station, choice.target, choice.mode, choice.power_w, choice.tried, hours)


@dataclass(frozen=True)
class LearnQuery(Query["LearntView"]):
    """Estimates from contacts and marks. The forecast is computed before the first event, which is then fast.

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
        """Key of the plan: one of other hours, another target or another station is not followed."""
        return basis_of(self.choice, self.hours)

    def answer(self, engine: Engine, cancelled: Cancelled) -> LearntView:
        """Process the events in order, and evaluate the plan again."""
        from tui.features.outing import answer as learning

        return learning.learnt_view(
            engine.sites, self.choice, self.hours, self.contacts, self.marks, self.at_hand, self.now
        )
