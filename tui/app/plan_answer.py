"""The plan: the forecast of the hours on air, the switching plan made from it, and the run sheet to print."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from propagation.advice.plan_day import (
    CHANGE_WORTH,
    DayPlan,
    Step,
    TimeOnAir,
    day_plan,
    least_gain_min,
    plan_day,
    times_on_air,
)
from propagation.advice.plan_promise import Promise
from propagation.advice.region_chance import outlook
from propagation.advice.setup_notes import BandSetup, setup_notes
from propagation.advice.switching import SHORTEST_STAY_MIN, Plan, replan, worth_of
from propagation.base.units import BoolArray, FloatArray, as_float
from propagation.signal.chances import forecast
from propagation.signal.chances.forecast import Forecast
from propagation.station.terminals import Terminal
from propagation.wording import quantities as say
from propagation.wording.outing import choice_days_words, choice_words
from propagation.wording.plan import (
    RunSheet,
    closing_sentences,
    make_run_sheet,
    sheet_text,
    step_lines,
    step_sentence,
)
from propagation.wording.plan_contacts import step_figures, total_sentence
from propagation.wording.plan_page import plan_page
from propagation.wording.setup import card_words
from tui.app.choice import Choice, HoursOnAir
from tui.app.day_forecast import conditions_for
from tui.app.sites import Sites
from tui.kit.plan_view import PlanLane, PlanStep, PlanView
from tui.kit.words import on_screen

HELD_MIN = SHORTEST_STAY_MIN  # min, for which a band in use by choice is planned at least
HELD_WORTH = 0.05  # of the best reward, as which a band in use by choice counts at least meanwhile (ours)


def plan_view(sites: Sites, choice: Choice, wish: HoursOnAir, now: np.datetime64) -> PlanView:
    """The plan of the requested hours on air."""
    aimed = replace(choice, target=wish.target or choice.target)
    start = wish.start.astype("datetime64[s]")
    end = start + np.timedelta64(round(wish.hours * 3600), "s")
    times = times_on_air(start, end)
    request = sites.request(aimed, times, conditions_for(times, now))
    near = request.own_end
    result = forecast.forecast(request)
    setups = setup_notes(result, near, wish.bands)
    current = wish.band_before or (wish.dead[-1][0] if wish.dead else None)
    hours = TimeOnAir(start, end, dead=wish.dead, current=current if current in setups else None)
    plan = plan_day([result], request.terminals, hours, setups)
    if wish.band not in setups:
        none = f"There is no antenna setting for {say.band_title(wish.band)}: planned without it."
        return view_of(plan, result, near, setups, now, none if wish.band else "")
    held, more = held_on(plan, wish.band)
    hours = replace(hours, current=wish.band)
    made = day_plan([result], request.terminals, hours, setups, plan.promise, plan.cost_min, held)
    return view_of(made, result, near, setups, now, _choice_words(made, wish, more))


def _choice_words(made: DayPlan, wish: HoursOnAir, more: float | None) -> str:
    """Cost or gain of the band in use by choice: contacts, or with a place days over its stay."""
    band, before, main = wish.band, wish.band_before, made.promise.main
    if main.rates is None and before != band and {band, before} <= set(made.rewards.bands) and made.steps:
        stay = made.steps[0].stay
        mine, its = (made.promise.over(main, one, stay).chance for one in (band, before))
        return choice_days_words(band, before, mine, its)
    return choice_words(band, before, more)


def held_on(plan: DayPlan, band: str) -> tuple[Plan, float | None]:
    """The best plan that begins with a band, and its contacts beyond those of a plan; None without a region.

    The band is held for the shortest stay: no other earns anything before. The change to it has been made.
    """
    rewards, wish = plan.promise.rewards, plan.wish
    early = rewards.times < wish.start + np.timedelta64(round(60 * HELD_MIN), "s")
    mine = np.array(rewards.bands) == band
    held = replace(rewards, reward=_held(rewards.reward, early, mine), ranked=None)
    if rewards.ranked is not None:
        held = replace(held, ranked=_held(rewards.ranked, early, mine))
    until = {name: wish.end + np.timedelta64(3600, "s") for name, _ in wish.dead}
    best = replan(
        held,
        plan.cost_min,
        wish.start,
        dead=until,
        current=band,
        shortest_min=wish.shortest_min,
        change_worth=CHANGE_WORTH,
        least_gain=least_gain_min(plan.promise),
    )
    worth = [worth_of(rewards, stays, wish.start) for stays in (best.stays, plan.plan.stays)]
    return best, plan.promise.contacts(worth[0] - worth[1])


def _held(reward: FloatArray, early: BoolArray, mine: BoolArray) -> FloatArray:
    """Rewards (T, B) with which a band is in use while it is early: its own counts a little, others cost."""
    own = np.where(early[:, None] & mine, np.maximum(reward, HELD_WORTH), reward)
    return as_float(np.where(early[:, None] & ~mine, -1.0, own))


def view_of(
    plan: DayPlan,
    result: Forecast,
    near: Terminal,
    setups: dict[str, BandSetup],
    now: np.datetime64,
    gain: str = "",
) -> PlanView:
    """A plan as shown. gain: text shown in place of the gain from switching."""
    sheet = make_run_sheet(plan, [result], near.antenna, setups, now)
    figures = step_figures(plan)
    return PlanView(
        start=plan.wish.start,
        end=plan.wish.end,
        steps=tuple(_step(*pair, plan.promise) for pair in zip(plan.steps, figures, strict=True)),
        gain=gain or " ".join(closing_sentences(plan)),
        target=result.target.name,
        conditions=sheet.conditions,
        cautions=sheet.cautions,
        cards=tuple(f"{say.band_title(card.band)}: {card_words(card)}" for card in sheet.cards),
        paper=_paper(sheet),
        page=plan_page(sheet, now),
        total=total_sentence(plan),
        times=tuple(plan.rewards.times),
        lanes=_lanes(plan, result),
    )


def _lanes(plan: DayPlan, result: Forecast) -> tuple[PlanLane, ...]:
    """The bands of a plan, those to fall back on, then the others by what each brings alone.

    Of two that bring the same, the one nearer to the plan's first band is first.
    """
    promise, seen = plan.promise, outlook(result)
    backups = [step.backup.band for step in plan.steps if step.backup is not None]
    needed = dict.fromkeys([*(step.stay.band for step in plan.steps), *backups])
    alone = dict(plan.plan.singles)
    near = promise.rewards.index(next(iter(needed), promise.rewards.bands[0]))
    others = sorted(
        promise.rewards.bands,
        key=lambda band: (-round(alone.get(band, 0.0)), abs(promise.rewards.index(band) - near)),
    )
    bands = dict.fromkeys([*needed, *others])
    rows = [result.time_index(when) for when in promise.rewards.times]
    dead = {band for band, _ in plan.wish.dead}
    lanes = []
    for band in sorted(bands, key=lambda name: name in dead):
        column, of_forecast = promise.rewards.index(band), result.band_index(band)
        lanes.append(
            PlanLane(
                band,
                float(result.frequency_mhz[of_forecast]),
                band in needed,
                promise.main.at_each(column),
                promise.main.over(slice(None), column),
                seen.limit[rows, of_forecast],
                band in dead,
            )
        )
    return tuple(lanes)


def _paper(sheet: RunSheet) -> str:
    text = sheet_text(sheet)
    return text if text.endswith("\n") else text + "\n"


def _step(step: Step, figure: str, promise: Promise) -> PlanStep:
    setup, *details = (on_screen(line) for line in step_lines(step))
    stay, column = step.stay, promise.rewards.index(step.stay.band)
    return PlanStep(
        start=stay.start,
        end=stay.end,
        band=stay.band,
        promises=figure,
        setup=setup,
        details=tuple(details),
        says=on_screen(step_sentence(step, figure)),
        ready=stay.ready,
        promised=promise.main.at_each(column),
    )
