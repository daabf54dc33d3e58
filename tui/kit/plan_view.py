"""The view of the switching plan of the hours on air, and its sentences."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import FloatArray, IntArray, as_float
from propagation.wording.quantities import both_spans, date
from tui.kit.day_view import full_lane_per_h

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


@dataclass(frozen=True, eq=False)
class PlanLane:
    """Promise of one band over the hours on air."""

    band: str
    frequency_mhz: float
    needed: bool  # a band of the plan, or one to fall back on
    promised: tuple[Prospect, ...]  # at each of the plan's times
    mean: Prospect  # over the hours
    cause: IntArray  # (T,) codes of the limiting factor, of causes.CAUSES
    dead: bool = False  # found dead on this outing


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
    lanes: tuple[PlanLane, ...] = ()  # bands, those that matter most first

    def promised_at(self, step: PlanStep, when: np.datetime64) -> Prospect | None:
        """What the band of a step promises at the nearest time of the step; None where it is not known."""
        if not step.promised:
            return None
        inside = min(max(when, step.start), step.end)
        return step.promised[int(np.abs(np.array(self.times) - inside).argmin())]

    @cached_property
    def full_per_h(self) -> float | None:
        """Contacts an hour of a full lane, with a region; None where lanes show the share of days."""
        rates = [one.rate.middle for lane in self.lanes for one in lane.promised if one.rate is not None]
        return full_lane_per_h(as_float(rates)) if rates else None

    @cached_property
    def _fills(self) -> dict[str, FloatArray]:
        """Fill of the lane of each band."""
        full = self.full_per_h or 1.0
        return {
            lane.band: as_float(
                [
                    one.chance if one.rate is None else min(one.rate.middle / full, 1.0)
                    for one in lane.promised
                ]
            )
            for lane in self.lanes
        }

    def fill(self, lane: PlanLane) -> FloatArray:
        """Fill of a lane at the plan's times, 0 to 1: days, or contacts an hour over those of a full lane."""
        return self._fills[lane.band]

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
