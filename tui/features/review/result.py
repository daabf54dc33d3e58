"""What the review screen draws: a finished review of a log, frozen, with no computing left in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from propagation.base.units import BoolArray, FloatArray, TimeArray
from tui.kit.day_view import Stay


@dataclass(frozen=True, slots=True)
class ContactRow:
    """One contact or report of the outing."""

    time: np.datetime64
    call: str
    band: str
    distance: str
    chance: str
    margin: str
    mode: str  # of the path, as 2F2; with lp by the long route
    verdict: str  # "expected", "fair", "against the odds", "no place"
    comment: str = ""


@dataclass(frozen=True, slots=True)
class ReviewView:
    """An outing against its forecast, and what the log teaches."""

    title: str  # the log's name and the day, in a few words
    times: TimeArray  # (T,)
    bands: tuple[str, ...]
    chance: FloatArray  # (B, T) as the forecast of the day had it, 0..1
    usable: BoolArray  # (B,)
    target: str
    on: tuple[Stay, ...]  # bands as they were in use
    silent: tuple[Stay, ...]  # stretches without a contact among them
    plan: tuple[Stay, ...]  # the best plan in hindsight
    contacts: tuple[ContactRow, ...]
    sentences: tuple[str, ...]
    taught: tuple[str, ...]  # what the log says of the station, in words
    learnt_words: str  # what is kept about the station, and whether it is in use
    problems: tuple[str, ...] = ()  # what was wrong in the file, by line
    learnt: Any = None  # the engine's own record, handed back to be kept

    @property
    def top(self) -> float:
        """The greatest chance of any band that can be used."""
        return float(np.max(self.chance[self.usable], initial=0.0))
