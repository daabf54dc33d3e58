"""Ledger and causes of one band at one hour, as they are drawn and in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from propagation.signal.rays.causes import Cause
from tui.kit.hop_view import HopView, hop_sentences


@dataclass(frozen=True)
class Term:
    """One line of the ledger."""

    name: str
    db: float
    note: str = ""
    base: bool = (
        False  # belongs to what empty space alone would give: power, spreading, noise, the mode's need
    )


@dataclass(frozen=True)
class LedgerView:
    """Every gain and loss; the terms sum to the margin."""

    terms: tuple[Term, ...]
    total_name: str = "margin"
    mode: str = ""  # the mode and direction it speaks of

    @property
    def total_db(self) -> float:
        """The sum of all terms [dB]."""
        return float(sum(term.db for term in self.terms))


@dataclass(frozen=True)
class CausesView:
    """Why the chance is not higher, by weight, and what would change it."""

    chance: float
    causes: tuple[tuple[Cause, float], ...]  # (cause, weight 0..1), largest first
    changes: tuple[tuple[str, float], ...] = ()  # (what would be different, chance then)


@dataclass(frozen=True)
class WhyView:
    """All the why screen needs besides the day."""

    band: str
    time: np.datetime64
    hop: HopView | None
    ledger: LedgerView
    causes: CausesView
    near_and_far: str = ""  # why far ones are heard and near ones are not
    says: tuple[str, ...] = ()  # the answer and the ledger in sentences


def why_sentences(view: WhyView) -> list[str]:
    """The whole why screen."""
    out = hop_sentences(view.hop) if view.hop is not None else []
    return [*out, *view.says]
