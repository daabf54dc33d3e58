"""What an outing has taught, as it is drawn."""

from __future__ import annotations

from dataclasses import dataclass

from tui.kit.plan_view import PlanView


@dataclass(frozen=True)
class LearntView:
    """What an outing has taught so far, and the plan to follow."""

    plan: PlanView | None = None  # the one at hand, or a better one from now on; None: nothing was learnt
    better: bool = False  # whether it is a new one
    sentence: str = ""  # what moved, and why; empty while nothing was learnt
    estimate: str = ""  # layer, station and noise with their uncertainty
