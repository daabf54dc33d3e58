"""The plan: the forecast of the hours on air, the switching plan made from it, and the run sheet to print."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from propagation.advice.plan_day import DayPlan, Step, TimeOnAir, plan_day, times_on_air
from propagation.advice.plan_promise import Promise
from propagation.advice.setup_notes import BandSetup, setup_notes
from propagation.signal.chances import forecast
from propagation.signal.chances.forecast import Forecast
from propagation.station.terminals import Terminal
from propagation.wording import quantities as say
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
from tui.kit.plan_view import PlanStep, PlanView
from tui.kit.words import on_screen


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
    current = wish.dead[-1][0] if wish.dead else None
    plan = plan_day(
        [result], request.terminals, TimeOnAir(start, end, dead=wish.dead, current=current), setups
    )
    return view_of(plan, result, near, setups, now)


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
    )


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
