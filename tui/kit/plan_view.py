"""The view of the switching plan of the hours on air, and its sentences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import InputError
from propagation.wording.quantities import both_spans, date

if TYPE_CHECKING:
    from tui.kit.export import Paper


@dataclass(frozen=True)
class PlanStep:
    """One step of the run sheet."""

    start: np.datetime64
    end: np.datetime64
    band: str
    chance: float
    setup: str  # antenna setting
    details: tuple[str, ...] = ()  # stations to expect, reason to leave, alternative if it is dead
    says: str = ""  # the step as a sentence


@dataclass(frozen=True)
class PlanView:
    """The switching plan of the hours on air."""

    start: np.datetime64
    end: np.datetime64
    steps: tuple[PlanStep, ...]
    gain: str  # gain from switching compared with staying
    target: str = ""
    conditions: str = ""
    cautions: tuple[str, ...] = ()
    cards: tuple[str, ...] = ()
    paper: str = ""  # the run sheet to print
    wanted: int = 0

    def exported(self, now: np.datetime64) -> Paper:
        """The run sheet to print; InputError if there is no step."""
        from tui.kit.export import Paper, stamp

        if not self.steps:
            raise InputError(f"There is no plan to write. {self.gain}".rstrip())
        return Paper(f"bandwhen-plan-{stamp(now)}", self.paper)


def plan_sentences(view: PlanView) -> list[str]:
    """The run sheet, a step a line."""
    out = [
        f"Plan for {date(view.start)} {both_spans(view.start, view.end)}"
        f"{f', {view.target}' if view.target else ''}."
    ]
    out += [f"{number}. {step.says}" for number, step in enumerate(view.steps, start=1)]
    out += [line for line in (view.gain, view.conditions, *view.cautions) if line]
    return out
