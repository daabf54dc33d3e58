"""The plan for the time on air in sentences: whom to expect, why to leave a band, what switching gains."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.wording.people import whom_words
from propagation.wording.quantities import band_title, days, in_ten, percent, reached
from propagation.wording.setup import setup_words, work_words
from propagation.wording.windows import edge_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from propagation.advice.plan_day import DayPlan, Expected, Leave, Step

NO_BAND = "No band is worth the try in these hours."
LITTLE = 0.1  # share of gain under which switching is said to be worth little (ours)


def expect_words(expect: Sequence[Expected]) -> str:
    """Whom to expect, of every target."""
    return "; ".join(
        (whom_words(one.parts) or f"hardly anybody of {one.target}")
        if one.wanted
        else f"{one.target}, {reached(one.chance, 0)}"
        for one in expect
    )


def leave_words(leave: Leave | None) -> str:
    """Why a stay ends, as part of a sentence; empty for the last."""
    if leave is None:
        return ""
    told = in_ten if leave.wanted else days
    before, after = (told(chance) for chance in (leave.before, leave.after))
    name = band_title(leave.band)
    if before == after:
        still = f"about {after}" if after[:1].isdigit() else after
        if leave.reason is None:
            return f"{name} is the better one from then on, by little: both {still}"
        turn = "rises" if leave.after > leave.before else "falls"
        return f"{name} {turn} a little, still {still}: {edge_words(leave.reason)}"
    if leave.reason is None:
        return f"{name} is the better one from then on, {after} against {before}"
    turn = "rises" if leave.after > leave.before else "falls"
    return f"{name} {turn} from {before} to {after}: {edge_words(leave.reason)}"


def at_the_antenna(step: Step) -> str:
    """What to do at the antenna on arriving: the work, or the setting where the station begins."""
    return work_words(step.work) if step.work is not None else setup_words(step.setup)


def gain_sentence(plan: DayPlan) -> str:
    """What switching is worth against staying on the best single band."""
    found = plan.plan
    if found.single_band is None or found.reward <= 0.0:
        return NO_BAND
    single = band_title(found.single_band)
    if len(plan.steps) < 2:
        return f"Staying on {single} throughout is best: no change of band pays for the minutes it costs."
    if found.single_reward <= 0.0:
        return f"No single band carries the time; switching costs {plan.lost_min:.0f} minutes in all."
    more = found.gain / found.single_reward
    return (
        f"Switching is worth {percent(more)} more than staying on {single} throughout, the "
        f"{plan.lost_min:.0f} minutes it costs counted"
        f"{'' if more >= LITTLE else ': little, staying is nearly as good'}."
    )
