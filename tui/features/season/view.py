"""The months ahead, as they are drawn."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import BoolArray, FloatArray, IntArray

if TYPE_CHECKING:
    from tui.kit.export import Paper


@dataclass(frozen=True)
class SeasonSlotView:
    """One of the best slots of a season."""

    month: int  # its place among the months
    start: int  # hour UTC
    band: str
    says: str


@dataclass(frozen=True, eq=False)
class SeasonView:
    """The months ahead, hour by hour."""

    target: str
    months: tuple[str, ...]  # (M,) short titles
    titles: tuple[str, ...]  # (M,) in full
    bands: tuple[str, ...]
    chance: FloatArray  # (3, M, 24, B) under the low, the middle and the high prediction
    best_band: IntArray  # (M, 24)
    suits: BoolArray  # (M, 24) both ends awake
    slots: tuple[SeasonSlotView, ...]
    says: tuple[str, ...]  # how much contact, what the cycle leaves open, the other side
    calendar: str
    paper: str
    wanted: int = 0
    contact_hours: FloatArray = field(default_factory=lambda: np.zeros(0))  # (M,) by the middle prediction
    beside: FloatArray = field(default_factory=lambda: np.zeros(0))  # (M,) the other side's, or none
    beside_name: str = ""

    def exported(self, now: np.datetime64) -> Paper:
        """The slots as a calendar and to print; InputError where there is none."""
        from tui.kit.export import Paper, in_a_name, stamp

        if not self.slots:
            raise InputError(f"There is no slot to write. {self.says[0]}")
        return Paper(f"bandwhen-season-{in_a_name(self.target)}-{stamp(now)}", self.paper, self.calendar)
