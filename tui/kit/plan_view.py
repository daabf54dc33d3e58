"""The view of the switching plan of the hours on air, and its sentences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from propagation.advice.ranking import told_rate
from propagation.base.errors import InputError
from propagation.base.units import FloatArray, as_float
from propagation.wording.quantities import (
    both_spans,
    date,
    rate_figure,
)
from tui.kit.day_view import LEAST_FULL_PER_H

if TYPE_CHECKING:
    from propagation.advice.rates import Prospect
    from tui.kit.export import Paper


@dataclass(frozen=True)
class PlanStep:
    """One step of the run sheet."""

    start: np.datetime64
    end: np.datetime64
    band: str
    promises: str  # contacts of the step with their range, or days, in words
    setup: str  # antenna setting
    details: tuple[str, ...] = ()  # stations to expect, reason to leave, alternative if it is dead
    says: str = ""  # the step as a sentence
    ready: np.datetime64 | None = None  # end of the work at the antenna; None: the start
    promised: tuple[Prospect, ...] = ()  # what its band promises at each of the plan's times


@dataclass(frozen=True)
class PlanLane:
    """A band over the whole of a plan. figures: contacts an hour or shares of days, at the plan's times."""

    band: str
    figures: tuple[float, ...]


@dataclass(frozen=True)
class PlanView:
    """The switching plan of the hours on air."""

    start: np.datetime64
    end: np.datetime64
    steps: tuple[PlanStep, ...]
    gain: str  # gain from switching compared with staying, and single bands
    target: str = ""
    conditions: str = ""
    cautions: tuple[str, ...] = ()
    cards: tuple[str, ...] = ()
    paper: str = ""  # the run sheet to print
    page: str = ""  # the pocket page, as HTML
    total: str = ""  # the plan as a sum of contacts
    times: tuple[np.datetime64, ...] = ()  # of what the bands promise
    lanes: tuple[PlanLane, ...] = ()  # every band that the plan may use

    def promised_at(self, step: PlanStep, when: np.datetime64) -> Prospect | None:
        """What the band of a step promises at the nearest time of the step; None where it is not known."""
        if not step.promised:
            return None
        inside = min(max(when, step.start), step.end)
        return step.promised[int(np.abs(np.array(self.times) - inside).argmin())]

    @property
    def full_per_h(self) -> float:
        """Contacts an hour at the full height of the curves: their highest, and at least that of a lane."""
        rates = [one.rate.middle for step in self.steps for one in step.promised if one.rate is not None]
        return max(float(told_rate(max(rates, default=0.0))), LEAST_FULL_PER_H)

    @property
    def in_contacts(self) -> bool:
        """Return whether the bands promise contacts an hour; else days."""
        return any(one.rate is not None for step in self.steps for one in step.promised)

    @property
    def full_words(self) -> str:
        """What the full height of the curves is, in words."""
        if self.in_contacts:
            return f"{rate_figure(self.full_per_h)} contacts an hour"
        return "every day"

    def curve(self, step: PlanStep) -> FloatArray:
        """Height of the curve of a step's band at the plan's times, 0 to 1: days, or contacts an hour."""
        full = self.full_per_h
        return as_float(
            [one.chance if one.rate is None else min(one.rate.middle / full, 1.0) for one in step.promised]
        )

    def fill(self, lane: PlanLane) -> FloatArray:
        """Fill of a lane at the plan's times, 0 to 1, on the scale of the curves."""
        full = self.full_per_h if self.in_contacts else 1.0
        return as_float(np.minimum(np.nan_to_num(lane.figures) / full, 1.0))

    def exported(self, now: np.datetime64) -> Paper:
        """The run sheet and the pocket page, named by the plan's time; InputError if there is no step."""
        from tui.kit.export import Paper, in_a_name, stamp

        if not self.steps:
            raise InputError(f"There is no plan to write. {self.gain}".rstrip())
        name = f"bandwhen-plan-{stamp(self.start)}-{in_a_name(self.target)}"
        return Paper(name, self.paper, page=self.page)


def plan_sentences(view: PlanView) -> list[str]:
    """The run sheet, a step a line."""
    out = [
        f"Plan for {date(view.start)} {both_spans(view.start, view.end)}"
        f"{f', {view.target}' if view.target else ''}."
    ]
    out += [view.total] if view.total else []
    out += [f"{number}. {step.says}" for number, step in enumerate(view.steps, start=1)]
    out += [line for line in (view.gain, view.conditions, *view.cautions) if line]
    return out
