"""Sentences on what a plan promises: the sum of its contacts, the gain of switching, and the alternatives."""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.advice.plan_contacts import Contacts
from propagation.advice.plan_day import DayPlan
from propagation.wording.quantities import band_title, clock, days, end_clock, nearest, percent, sentence

NO_BAND: Final = "No band is likely enough in these hours."
AS_MANY: Final = 0.95  # share of the plan's contacts from which another band brings about as many (ours)
MOST_ALTERNATIVES: Final = 3  # bands named as an alternative to the plan


def whole_numbers(plan: DayPlan) -> list[int]:
    """Contacts of each step in whole numbers that add up to the rounded sum; empty without a region."""
    middles = [step.contacts.middle for step in plan.steps if step.contacts is not None]
    upto = [nearest(float(number)) for number in np.cumsum(middles)]
    return [int(late - early) for early, late in zip([0.0, *upto], upto, strict=False)]


def about(number: float) -> str:
    """A number of contacts, rounded: `about 38`, `under 1`."""
    whole = int(nearest(number))
    return f"about {whole}" if whole else "under 1"


def about_contacts(number: float) -> str:
    """`about 38 contacts`, `about 1 contact`, `under 1 contact`."""
    return f"{about(number)} {'contact' if nearest(number) <= 1.0 else 'contacts'}"


def range_words(contacts: Contacts) -> str:
    """Range of a number of contacts, `35 to 80`: to one below 20, to five below 100, then to ten."""
    low, high = (
        nearest(n, 1.0 if n < 20.0 else 5.0 if n < 100.0 else 10.0) for n in (contacts.low, contacts.high)
    )
    return f"{low:.0f} to {high:.0f}"


def step_figures(plan: DayPlan) -> list[str]:
    """What each step promises: contacts with their range, or days."""
    numbers = whole_numbers(plan)
    return [
        days(step.prospect.chance)
        if step.contacts is None
        else f"{about_contacts(number)} ({range_words(step.contacts)})"
        for step, number in zip(plan.steps, numbers or [0] * len(plan.steps), strict=True)
    ]


def total_sentence(plan: DayPlan) -> str:
    """The plan as a sum: `About 60 contacts (35 to 80) in 4 h: 20 m 09:00 to 11:30 about 38, then ...`.

    With one place: its days step by step. Empty for several places.
    """
    if not plan.steps or (plan.contacts is None and len(plan.promise.aims) > 1):
        return ""
    whom, only = plan.promise.main.name, band_title(plan.steps[0].stay.band)
    if plan.contacts is None:
        figures = [days(step.prospect.chance) for step in plan.steps]
        told = f"{figures[0]}, all on {only}" if len(figures) == 1 else _step_by_step(plan, figures)
        return sentence(f"{whom}: {told}")
    numbers = whole_numbers(plan)
    hours = float((plan.wish.end - plan.steps[0].stay.start) / np.timedelta64(3600, "s"))
    with_whom = "" if plan.promise.in_contacts else f" with {whom}"
    head = f"{about_contacts(sum(numbers))}{with_whom} ({range_words(plan.contacts)}) in {hours:.2g} h"
    if len(numbers) == 1:
        return sentence(f"{head}, all on {only}")
    return sentence(f"{head}: {_step_by_step(plan, [about(number) for number in numbers])}")


def _step_by_step(plan: DayPlan, figures: list[str]) -> str:
    """Bands with their times and figures: `20 m 09:00 to 11:30 about 38, then 40 m about 22`."""
    told: list[str] = []
    for step, figure in zip(plan.steps, figures, strict=True):
        start = "" if told else f" {clock(step.stay.start)}"
        end = f" to {end_clock(step.stay.end)}" if step is not plan.steps[-1] else ""
        told.append(f"{'then ' if told else ''}{band_title(step.stay.band)}{start}{end} {figure}")
    return ", ".join(told)


def gain_sentence(plan: DayPlan) -> str:
    """Gain of switching over staying on the best single band."""
    found = plan.plan
    if found.single_band is None or found.reward <= 0.0:
        return NO_BAND
    single = band_title(found.single_band)
    if len(plan.steps) < 2:
        return f"Staying on {single} throughout is best: no change of band is worth the minutes it costs."
    minutes = f"{plan.lost_min:.1g}" if plan.lost_min < 1.0 else f"{plan.lost_min:.0f}"
    lost = f"{minutes} minute{'s' if float(minutes) > 1.0 else ''}"
    cost = f"the {lost} of the changes"
    if found.single_reward <= 0.0:
        return f"No single band covers the whole period; switching costs {lost} in all."
    alone = plan.promise.contacts(found.single_reward)
    if alone is not None and plan.contacts is not None:
        more = about_contacts(max(nearest(plan.contacts.middle) - nearest(alone), 0.0))
        return f"Switching brings {more} more than staying on {single} throughout, {cost} counted."
    if len(plan.promise.aims) == 1:
        whole = float((plan.steps[-1].stay.end - plan.steps[0].stay.start) / np.timedelta64(60, "s"))
        mine, other = (days(reward / whole) for reward in (found.reward, found.single_reward))
        staying = f"staying on {single} throughout"
        against = f"little more than {staying}" if mine == other else f"{staying} {other}"
        return f"Switching gives {mine} on average, {against}, {cost} counted."
    more = percent(found.gain / found.single_reward)
    return (
        f"By the weights of the targets switching gives {more} more than staying on {single} throughout, "
        f"{cost} counted."
    )


def alternatives_sentence(plan: DayPlan) -> str:
    """Contacts of the best bands alone; empty where contacts are not all that counts."""
    if plan.contacts is None or not plan.promise.in_contacts:
        return ""
    total, mine = plan.contacts.middle, {step.stay.band for step in plan.steps}
    others = [(band, n) for band, n in plan.singles() if n >= 1.0 and (len(mine) > 1 or band not in mine)]
    told = [
        f"{band_title(band)} {'about as many' if n >= AS_MANY * total else about_contacts(n)}"
        for band, n in others[:MOST_ALTERNATIVES]
    ]
    return f"On one band alone: {', '.join(told)}." if told else ""
