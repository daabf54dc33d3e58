"""Estimates learnt during an outing, and a new plan if it is better."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from threading import Lock
from typing import Final, cast

import numpy as np

from propagation.advice.outing_estimate import FIRST_MIN, Kind, OutingEvent, ReachByState, learnt
from propagation.advice.outing_replan import (
    STEP,
    Again,
    busy_of,
    ground_of,
    learnt_promise,
    plan_again,
    today,
)
from propagation.advice.plan_day import CHANGE_WORTH, TimeOnAir, day_plan, least_gain_min, times_on_air
from propagation.advice.plan_promise import Promise
from propagation.advice.setup_notes import BandSetup, cost_matrix, setup_notes
from propagation.advice.switching import BandStay, Plan
from propagation.base.units import FloatArray
from propagation.logbook.evidence import events_of, moments
from propagation.logbook.journal import Made
from propagation.signal.chances import forecast
from propagation.signal.chances.forecast import Forecast
from propagation.space_weather.state.conditions import Conditions
from propagation.spectrum.modes import by_name as mode_by_name
from propagation.station.terminals import Terminal, Terminals
from propagation.wording import quantities as say
from propagation.wording.outing import better_words, estimate_words, stands_words, why_words
from tui.app.choice import Choice, HoursOnAir, Mark
from tui.app.day_forecast import conditions_for
from tui.app.plan_answer import view_of
from tui.app.sites import Sites
from tui.features.outing.view import LearntView
from tui.kit.plan_view import PlanStep, PlanView

CHANGED: Final = np.timedelta64(600, "s")  # step of the hours: changed hours begin this long before, at most


@dataclass(frozen=True, eq=False)
class Outing:
    """Forecast and terminals with which every event of an outing is compared; computed once."""

    key: tuple[object, ...]
    result: Forecast
    ground: ReachByState
    near: Terminal
    far: Terminal
    setups: dict[str, BandSetup]

    def costs(self, bands: Sequence[str]) -> FloatArray:
        """Minutes for each change between bands."""
        return cost_matrix(self.setups, bands, self.result.station.band_change)


class _Latest:
    """Cache of the last computed outing; only one is in progress at a time."""

    def __init__(self) -> None:
        self.lock = Lock()
        self.outing: Outing | None = None


_LATEST: Final = _Latest()


def learnt_view(
    sites: Sites,
    choice: Choice,
    hours: HoursOnAir,
    contacts: Sequence[Made],
    marks: Sequence[Mark],
    at_hand: PlanView,
    now: np.datetime64,
) -> LearntView:
    """Estimate from contacts and marks, and the plan to follow from now on. Empty if the target is a place.

    Reports heard at the times of the events are left out of the conditions, because they count here.
    """
    aimed = replace(choice, target=hours.target or choice.target)
    if not sites.target(aimed).is_region:
        return LearntView()
    need_db = mode_by_name(choice.mode).required_snr_2500_db
    events = events_of(contacts, [(cast(Kind, mark.kind), mark.band, mark.when) for mark in marks], need_db)
    outing = _outing(sites, choice, aimed, hours, events, now)
    if not events:
        return LearntView()
    first = events[0].time
    begun = hours.start if hours.start <= first else first - np.timedelta64(round(60 * FIRST_MIN), "s")
    learning = learnt(outing.ground, events, begun)
    found = today(learning, outing.result, events[-1].time)
    if not learning.events:
        return LearntView(at_hand)
    band = _band_at(at_hand.steps, now) or events[-1].band
    site = outing.result.station.site.position
    why = why_words(found, learning.events, site, band, busy_of(learning, band))
    result = outing.result
    promise = learnt_promise(
        learning, result.target.name, result.wanted, hours.start, hours.end, outing.setups
    )
    again = _again(outing, promise, hours, at_hand, now)
    if not again.better or again.plan is None:
        changed = bool(hours.band or hours.dead) and events[-1].time < hours.start + CHANGED
        sentence = say.sentence(why) if changed else stands_words(why)
        return LearntView(at_hand, False, sentence, estimate_words(found))
    sentence = better_words(again.plan.stays[0].band, band, why, again.best - again.kept)
    if hours.band and band == hours.band:  # in use by choice: the better plan is told, and not followed
        return LearntView(at_hand, True, sentence, estimate_words(found))
    plan = _plan_view(outing, promise, hours, again.plan, sentence, now)
    return LearntView(plan, True, sentence, estimate_words(found))


def _outing(
    sites: Sites,
    choice: Choice,
    aimed: Choice,
    hours: HoursOnAir,
    events: Sequence[OutingEvent],
    now: np.datetime64,
) -> Outing:
    """Outing of these hours, cached while nothing that it depends on changes."""
    first = min([hours.start, *(event.time for event in events[:1])])
    start = first.astype("datetime64[s]")
    start = start - np.timedelta64(int(start.astype(np.int64)) % int(STEP / np.timedelta64(1, "s")), "s")
    times = times_on_air(start, hours.end)
    conditions = conditions_for(times, now, moments(events))
    near, far = sites.near(choice), sites.far(aimed)
    key = (
        aimed.station,
        aimed.target,
        aimed.mode,
        aimed.power_w,
        start,
        hours.end,
        hours.bands,
        _mark(conditions),
    )
    with _LATEST.lock:
        kept = _LATEST.outing
        if kept is not None and kept.key == key and kept.near is near and kept.far is far:
            return kept
        result = forecast.forecast(sites.request(aimed, times, conditions))  # fmt: skip
        ground = ground_of(result, near, far, start, hours.end)
        _LATEST.outing = Outing(key, result, ground, near, far, setup_notes(result, near, hours.bands))
        return _LATEST.outing


def _mark(conditions: Conditions) -> tuple[object, ...]:
    """Key that distinguishes conditions."""
    sky = conditions.measured
    measured = () if sky is None else sky.times
    records = (
        conditions.index,
        conditions.heard,
        conditions.kp,
        conditions.hp30,
        conditions.xray_w_m2,
        conditions.protons_pfu,
    )
    return (*measured, *(part.tobytes() for record in records for part in (record.times, record.values)))


def _again(
    outing: Outing, promise: Promise, hours: HoursOnAir, at_hand: PlanView, now: np.datetime64
) -> Again:
    return plan_again(
        promise.rewards,
        outing.costs(promise.rewards.bands),
        _stays(at_hand, outing),
        max(now, hours.start),
        most_per_hour=promise.ceiling,
        current=_band_at(at_hand.steps, now),
        dead=_dead(hours),
        change_worth=CHANGE_WORTH,
        least_gain=least_gain_min(promise),
    )


def _dead(hours: HoursOnAir) -> dict[str, np.datetime64]:
    until = hours.end + np.timedelta64(3600, "s")
    return dict.fromkeys(hours.dead_bands, until)


def _stays(plan: PlanView, outing: Outing) -> list[BandStay]:
    """Steps of a plan on the screen, with the minutes that each change costs."""
    found, before = [], ""
    for step in plan.steps:
        if step.band in outing.setups:
            lost = 0.0 if not before else float(outing.costs((before, step.band))[0, 1])
            found.append(BandStay(step.band, step.start, step.end, lost, 0.0))
            before = step.band
    return found


def _band_at(steps: Sequence[PlanStep], now: np.datetime64) -> str | None:
    begun = [step.band for step in steps if step.start <= now]
    return begun[-1] if begun else None


def _plan_view(
    outing: Outing, promise: Promise, hours: HoursOnAir, plan: Plan, sentence: str, now: np.datetime64
) -> PlanView:
    """View of a plan, with what the bands promise after learning."""
    result = outing.result
    wish = TimeOnAir(hours.start, hours.end, dead=hours.dead, current=None)
    made = day_plan(
        [result],
        Terminals(outing.near, outing.far),
        wish,
        outing.setups,
        promise,
        outing.costs(promise.rewards.bands),
        plan,
    )
    return view_of(made, result, outing.near, outing.setups, now, sentence)
