"""On the air: the page that stays open during the outing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from textual.binding import Binding, BindingType
from textual.widget import Widget

from propagation.base.errors import InputError
from propagation.logbook.journal import Made
from propagation.logbook.prefixes import place_text
from propagation.wording import outing as say_on_air
from propagation.wording import quantities as say
from tui.app import outing_log, undo
from tui.app.choice import HoursOnAir, Mark
from tui.app.page import CHOICE_KEYS, LEAF_KEYS, LEAF_ROWS, PAGES_STYLE, Page
from tui.app.prompts import ask_hours, dead_bands_line, hours_proposed, on_band, plan_without
from tui.app.queries import Heard, PlanQuery, Query
from tui.app.side_panels import Spread
from tui.app.state import State
from tui.features.outing.entry import WRITE_ONE, ContactLine, take_out, without
from tui.features.outing.queries import LearnQuery, MarkAnswered, basis_of
from tui.features.outing.rows import Row, hours_view, rows
from tui.features.outing.view import LearntView, OnAir, OnAirView
from tui.kit import words
from tui.kit.day_view import DayView
from tui.kit.glyphs import one_cell
from tui.kit.input_parsing import grid
from tui.kit.lists import Cards
from tui.kit.plan_view import PlanStep, PlanView

if TYPE_CHECKING:
    from propagation.advice.rates import Prospect

EARLY_MIN = 5  # minutes before a change at which it is announced (ours)
HALF = 0.5  # share of what the best band promises below which the band in use is reported
FAINT = 0.1  # lowest best share of days that rings the bell for it (ours)
FAINT_PER_H = 1.0  # contacts an hour, likewise (ours)
LEAST_LISTED = 4  # events that the list shows on a screen with ample rows at least (ours)
SHORT_LISTED = 2  # on one with fewer rows (ours)
AMPLE = 18  # rows between heading and keys (ours)
MOST_LISTED = 12  # beside the lanes of a large one (ours)


class OnAirPage(Page):
    """Present step, next step, and the steps after it."""

    place = "onair"
    CSS_PATH = PAGES_STYLE
    of_choice = False
    spreads = (Spread(112, 36, right=("with-settings",), share=0.36, below="with-lanes"),)
    about = (
        "For the hours on the air: which band, until when, what to do at the antenna then. c writes a "
        "contact down on one line, its parts in any order. b says which band is in use, whatever the plan "
        "says. v notes a call that nobody answered, g that you hear them and they do not hear you. All of it "
        "is saved at once, in an ADIF log and a journal, and is listed; Enter corrects, Delete takes out, u "
        "takes back the last thing done. Each event moves the estimate of today's layer, the station and the "
        "noise, and a better plan is offered."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("c", "contact", "contact", tooltip="write a contact down: all that is known, on one line"),
        Binding("b", "band", "band", tooltip="say which band is in use now, whatever the plan says"),
        Binding("v", "mark('in vain')", "no answer", tooltip="called on this band, nobody answered"),
        Binding("g", "mark('one way')", "one way", tooltip="I hear them, they do not hear me"),
        Binding("u", "undo", "undo", tooltip="take back the last thing done, whatever it was"),
        Binding("enter", "change", "edit", tooltip="correct the chosen contact"),
        Binding(
            "delete,backspace",
            "take_out",
            "take out",
            key_display="Del",
            tooltip="take the chosen contact or mark out",
        ),
        Binding("x", "dead", "dead", tooltip="plan again from now without the band in use"),
        Binding("h", "plan_hours", "hours on air", tooltip="from when, for how long, for whom"),
        Binding("i", "note_mark", "coil mark", show=False, tooltip="note the mark as the band is tuned now"),
        Binding("up", "pick(-1)", "choose", show=False, tooltip="the event above"),
        Binding("down", "pick(1)", "choose", show=False, tooltip="the event below"),
        *CHOICE_KEYS[:1],
        *CHOICE_KEYS[2:],
        *LEAF_KEYS,
    ]

    def __init__(self) -> None:
        super().__init__()
        self._announced: set[str] = set()

    # -- asking ---------------------------------------------------------------------------------

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Yield the plan of the hours on air, then the learning query."""
        if state.choice is not None:
            state.hours = state.hours or hours_proposed(state)
            yield PlanQuery(state.choice, state.hours)
            plan = self.followed(state)
            if plan is not None:
                made, marks = outing_log.made(state.hours), state.hours.marks
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
        """Write a contact down."""
        band = self.band_in_use(self.state)
        if self.state.choice is not None and band:
            self._ask_line(ContactLine(self.own_app, self.state.choice, self.hours, band), "")

    def action_change(self) -> None:
        """Correct the chosen contact."""
        row, choice = self.chosen_row, self.state.choice
        if row is None or choice is None:
            self.own_app.say("There is no contact to correct yet; c writes one down.")
        elif isinstance(row.what, Made):
            line = ContactLine(self.own_app, choice, self.hours, row.what.band, row.what)
            self._ask_line(line, row.what.line)
        else:
            self.own_app.say("A mark has nothing to correct; Delete takes it out.")

    def _ask_line(self, line: ContactLine, value: str) -> None:
        from tui.kit.overlays import Ask

        band, mode = say.band_title(line.band), line.choice.mode
        question = f"{WRITE_ONE} ({band}, {mode}, now)" if line.old is None else "Correct the contact"

        def commit(text: str, reply: Callable[[str], None]) -> None:
            try:
                worked = line.write(text)
            except InputError as error:
                reply(error.message)
                return
            reply("")
            if line.old is None:
                self.query_one("#events", Cards).at = 0
            self.own_app.refresh_page()
            if line.old is None:
                place = place_text(worked.call, worked.far_locator)
                if place:
                    self._learn(self.state, worked.band, worked.time, place)

        self.own_app.push_screen(Ask(question, value, line.check, commit=commit, preview=line.preview))

    def action_take_out(self) -> None:
        """Take the chosen contact or mark out."""
        row = self.chosen_row
        if row is None:
            self.own_app.say("There is nothing in the list yet.")
        elif isinstance(row.what, Made):
            try:
                take_out(self.own_app, self.hours, row.what)
            except InputError as error:
                self.own_app.say(error.message)
            self.own_app.want()
        else:
            self.own_app.plan_for(without(self.hours, row.what))
            self.own_app.say(f"{row.card.name.strip()}: taken out. u puts it back.")

    @property
    def chosen_row(self) -> Row | None:
        """The event chosen in the list."""
        found, cards = self._rows(self.state), self.query_one("#events", Cards)
        key = cards.chosen.key if cards.chosen is not None else ""
        return next((row for row in found if row.card.key == key), None)

    def action_pick(self, by: int) -> None:
        """Choose another event of the list."""
        self.query_one("#events", Cards).move(by)

    def leaf_on(self, by: int) -> None:
        """Move by a page of events."""
        cards = self.query_one("#events", Cards)
        cards.move(min(max(cards.at + by * LEAF_ROWS, 0), max(len(cards.cards) - 1, 0)) - cards.at)

    def action_band(self) -> None:
        """Ask for the band in use, and plan from now on around it."""
        from tui.kit.overlays import Pick

        opening, now, hours = self.state.opening, self.own_app.clock(), self.hours
        if opening is None:
            return
        if not hours.start <= now < hours.end:
            ahead = f"begin later, {say_on_air.from_words(hours.start, now).rstrip(',')}"
            when = "are over" if now >= hours.end else ahead
            self.own_app.say(f"The hours on the air {when}; h asks for others.")
            return
        before, day = self.band_in_use(self.state), self.state.day
        bands = opening.bands if day is None else day.bands
        options = [(say.band_title(band), self._offers(band, now)) for band in bands]
        of_title = {say.band_title(band): band for band in bands}

        def take(title: str | None) -> None:
            if title is not None:
                self.own_app.plan_for(on_band(self.hours, of_title[title], before, grid(now)))
                self.own_app.say(
                    f"{title} from {say.both_clocks(now)} by your choice; planned again around it."
                )

        self.own_app.push_screen(Pick("The band in use now", options, say.band_title(before)), take)

    def _offers(self, band: str, now: np.datetime64) -> str:
        """What a band promises now, in words; empty where the day shown has another target."""
        day = self.state.day
        if day is None or band not in day.bands or day.target != self.whom(self.state):
            return ""
        return say.promised(day.prospect(day.bands.index(band), day.index_of(now)))

    def action_mark(self, kind: str) -> None:
        """Note a call without an answer, or one-way hearing."""
        band = self.band_in_use(self.state)
        if not band:
            return
        now = self.own_app.clock()
        self.own_app.plan_for(replace(self.hours, marks=(*self.hours.marks, Mark(kind, band, now))))
        told = "called, nobody answered" if kind == "in vain" else "heard them, they did not hear me"
        count = sum(mark.kind == kind and mark.band == band for mark in self.hours.marks)
        # a band on which somebody has answered is not dead because of two unanswered calls
        silent = kind == "in vain" and not any(one.band == band for one in outing_log.made(self.hours))
        from propagation.advice.outing_replan import calls_until_dead

        enough = silent and count == calls_until_dead(self._promised(self.state, now))
        more = f" {say_on_air.offer_words(count)}" if enough else ""
        self.own_app.say(f"{say.band_title(band)} at {say.both_clocks(now)}: {told}; noted.{more}")
        if kind == "one way":
            self._learn(self.state, band, now, self.whom(self.state))

    def _promised(self, state: State, now: np.datetime64) -> Prospect | None:
        """Return what the band in use promises now; None where no plan knows."""
        plan = self.followed(state)
        at = self.step_at(plan, now)
        return plan.promised_at(plan.steps[at], now) if plan is not None and at is not None else None

    def action_note_mark(self) -> None:
        """Note the operator's own mark of the band in use."""
        from tui.app.prompts import note_mark

        note_mark(self.own_app, self.band_in_use(self.state))

    def _learn(self, state: State, band: str, when: np.datetime64, place: str) -> None:
        """Raise the index if a signal from a place was heard that the forecast did not expect."""
        if state.choice is not None:
            heard = Heard(state.choice, band, place, True, when)
            self.own_app.ask(MarkAnswered(heard), self._learnt)

    def _learnt(self, sentence: str) -> None:
        if sentence:
            self.own_app.conditions_changed(sentence)

    def action_undo(self) -> None:
        """Take back the last thing done."""
        undo.take_back(self.own_app)

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
        """Yield the picture, and the list of events."""
        yield OnAir(id="onair")
        yield Cards(id="events")

    def main_rows(self, state: State) -> int | None:
        """Return the rows that the picture needs now."""
        events = len(self._rows(state))
        picture = self.query_one(OnAir).rows_in(self.main_width, airy=True)
        return picture + min(max(events, LEAST_LISTED), MOST_LISTED)

    def lay_out(self, width: int | None = None, height: int | None = None) -> None:
        """Share the rows between picture and list."""
        super().lay_out(width, height)
        self._fit(self.size.height if height is None else height)

    def _fit(self, height: int) -> None:
        """Give the picture its rows; the list has the rest."""
        picture, cards = self.query_one(OnAir), self.query_one("#events", Cards)
        below = self._shared(self._room) if self.spread is not None and self.spread.below else 0
        room = height - below - 1 - self.foot_rows
        events = len(cards.cards)
        least = min(events, LEAST_LISTED if room >= AMPLE else SHORT_LISTED)
        rows_wanted = picture.rows_in(self.main_width, airy=True)
        if rows_wanted > room - least:
            rows_wanted = picture.rows_in(self.main_width, airy=False)
        cards.display = bool(events)
        more = picture.rows_for_more(self.main_width, max(room - events - rows_wanted, 0))
        rows_given = min(rows_wanted + more, room - least) if events else room
        picture.styles.height = max(rows_given, 1)  # the list follows at once and has the rest

    def whom(self, state: State) -> str:
        """Return the target of the plan, which can differ from that of the choice."""
        chosen = super().whom(state)
        return (state.hours.target or chosen) if state.hours is not None else chosen

    def fill(self, state: State) -> None:
        """Show the present state; ring the bell for a new alert."""
        view = self._view(state)
        picture, cards = self.query_one(OnAir), self.query_one("#events", Cards)
        picture.show(view)
        cards.show([row.card for row in self._rows(state)])
        self._fit(self.size.height)
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
        marks = self.hours.marks
        tally = say_on_air.tally(
            outing_log.made(state.hours),
            [(mark.band, mark.when) for mark in marks if mark.kind == "in vain"],
            [(mark.band, mark.when) for mark in marks if mark.kind == "one way"],
        )
        dead = dead_bands_line(state.hours)
        tally = f"{say.sentence(tally)} {dead}".rstrip()
        if at is None:
            ended = "The hours on the air are over; h asks for new ones." if plan.steps else plan.gain
            return OnAirView("", (ended,), 0.0, "", (), tally, plan.conditions)
        learnt = self.learnt(state)
        told = [learnt.sentence, learnt.estimate] if learnt is not None else []
        step = plan.steps[at]
        following = plan.steps[at + 1] if at + 1 < len(plan.steps) else None
        return OnAirView(
            band=step.band,
            lines=self._now_lines(step, plan, now, state),
            left=_left(step, now),
            change=self._change(step, following, now),
            then=tuple(
                f"{say.both_clocks(one.start)}  {say.band_title(one.band)}"
                for one in plan.steps[at + 2 : at + 4]
            ),
            tally=tally,
            sky=plan.conditions,
            alert=learnt.sentence if learnt and learnt.better else self._alert(step, following, state),
            learnt=tuple(line for line in told if line),
            settings=() if self.spread is not None else self._settings(plan, step, following),
            hours=hours_view(plan, now, self.hours.dead_bands, self.spread is None),
        )

    @staticmethod
    def _settings(plan: PlanView, step: PlanStep, following: PlanStep | None) -> tuple[str, ...]:
        """Antenna settings of the band in use and of the next one, as on the plan's cards."""
        bands = [step.band] if following is None else [step.band, following.band]
        heads = [f"{say.band_title(band)}: " for band in dict.fromkeys(bands)]
        return tuple(f"Set for {card}" for head in heads for card in plan.cards if card.startswith(head))

    def _now_lines(self, step: PlanStep, plan: PlanView, now: np.datetime64, state: State) -> tuple[str, ...]:
        begins = f"{say_on_air.from_words(step.start, now)} " if now < step.start else ""
        prospect = plan.promised_at(step, now)
        what = say.promised(prospect) if prospect is not None else step.promises
        chosen = self.hours.band == step.band and step is plan.steps[0]
        whose = "your choice" if chosen else "the plan"
        until = f"{begins}until {say.both_clocks(step.end, end=True)} by {whose}"
        told = plan.gain if chosen else step.details[0] if step.details else step.setup
        return until, what, told

    @staticmethod
    def _change(step: PlanStep, following: PlanStep | None, now: np.datetime64) -> str:
        if following is None:
            return f"The hours end {say_on_air.in_words(step.end, now)}."
        return say.sentence(say_on_air.change_words(following.band, following.start, now, following.setup))

    def _alert(self, step: PlanStep, following: PlanStep | None, state: State) -> str:
        """Sentence on what is due; announced once."""
        now = state.now
        if following is not None and say_on_air.minutes_left(following.start, now) <= EARLY_MIN:
            when = say.both_clocks(following.start)
            return f"{say.band_title(following.band)} from {when} on: {following.setup}"
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
            say.sentence(f"{head}: {'; '.join(view.lines)}"),
            view.change,
            *view.then,
            *view.learnt,
            view.tally,
            view.sky,
            *(" ".join(f"{row.card.name}  {row.card.detail}".split()) for row in self._rows(state)),
        ]
        return [line for line in told if line]

    @staticmethod
    def _rows(state: State) -> list[Row]:
        hours = state.hours or hours_proposed(state)
        return rows(hours, outing_log.made(hours), state.now)


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
