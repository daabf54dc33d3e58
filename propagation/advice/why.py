"""The whole answer to "why was that band dead?": chance, ledger, causes, changes, near and far, in words.

Every sentence is made from the numbers beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.advice.cells import Ends
from propagation.advice.changes import Change, changes
from propagation.advice.ledger import Ledger, ledger
from propagation.advice.near_far import NearFar, near_and_far
from propagation.advice.phrases import band_title, clock, decibels, listed, reached, share
from propagation.advice.reasons import HARMLESS, Reasons, Weighted, reasons
from propagation.signal.causes import Cause
from propagation.signal.forecast import ROUTES, Forecast
from propagation.signal.limiting import OPEN

WORTH_SAYING: Final = 0.05  # weight from which a cause is named (ours)
HELPS: Final = 0.03  # of chance, from which a change is said to help (ours)

CAUSE_WORDS: Final[dict[str, str]] = {
    "open": "nothing in particular",
    "above the MUF": "the frequency lies above what the layers return",
    "skip zone": "the target lies in the skip zone: the layer returns the signal farther away",
    "absorption": "the D and E layers absorb the signal",
    "E screening": "the E layer hides the F2 layer",
    "noise": "the signal arrives under the noise",
    "antenna": "your antenna loses too much",
    "antenna range": "your antenna does not tune there",
    "power": "the power is small",
    "auroral zone": "the auroral zone takes its share",
    "storm": "the storm has thinned the layer",
    "flare": "the flare deepens the absorption",
    "horizon": "your skyline is in the way",
    "mode": "the mode needs a strong signal",
    "licence": "the licence, the region or your own list leaves no place there",
    "distance": "it is beyond the ground wave",
}


@dataclass(frozen=True)
class Why:
    """The answer for one band, time and target; `chance` is the target's, 0 where the licence forbids."""

    band: str
    time: np.datetime64
    target: str
    region: bool
    chance: float
    limit: Cause
    route: str
    place: str
    ledger: Ledger
    reasons: Reasons
    changes: tuple[Change, ...]
    near_far: NearFar | None

    @property
    def causes(self) -> tuple[Weighted, ...]:
        """The causes by weight."""
        return self.reasons.causes


def chance_of(result: Forecast, band: int, time: int) -> float:
    """The target's chance in one cell; 0 where licence or antenna leave no place."""
    return float(result.region_chance[time, band]) if result.usable[band] else 0.0


def why(
    result: Forecast, ends: Ends, band: int, time: int, *, near_far: bool = True, what_if: bool = True
) -> Why:
    """Everything about one cell of a forecast (indices); the forecast's later times serve the next
    opening."""
    point = int(result.best_point[time, band])
    route = int(np.argmax(result.chance[point, :, time, band]))
    found = reasons(result, ends, band, time)
    chance = chance_of(result, band, time)
    limit: Cause = "open" if chance >= OPEN else found.limit
    if limit == "open" and chance < OPEN:
        limit = "power"
    return Why(
        band=result.bands[band].name,
        time=result.times[time],
        target=result.target.name,
        region=result.target.size > 1,
        chance=chance,
        limit=limit,
        route=ROUTES[route],
        place=result.target.labels[point],
        ledger=ledger(result, ends, point, route, band, result.times[time]),
        reasons=found,
        changes=changes(result, ends, band, time) if what_if else (),
        near_far=near_and_far(result, ends, band, time) if near_far else None,
    )


def why_sentences(found: Why) -> list[str]:
    """The answer in plain sentences, without the ledger's lines."""
    head = f"{band_title(found.band)} to {found.target} at {clock(found.time)} UTC"
    lines = [f"{head}: {reached(found.chance, found.region)}."]
    lines.append(_causes_sentence(found))
    worst = sorted((t for t in found.ledger.terms if t.name in _LOSSES), key=lambda t: t.db)[:2]
    losses = listed([f"{term.name} {decibels(term.db)}" for term in worst if term.db <= -1.0])
    margin = found.ledger.margin_db
    spoken = f" to {found.place}" if found.region else ""
    over = "over" if margin >= 0.0 else "short of"
    account = found.ledger
    lines.append(
        f"The strongest way{spoken}, {account.way}, ends {decibels(margin)} {over} what the mode needs on "
        f"the median day, {account.direction}"
        + (f"; the largest losses that could be less: {losses}." if losses else ".")
    )
    lines += _change_sentences(found)
    if found.near_far is not None:
        lines.append(found.near_far.text)
    return lines


_LOSSES: Final = (
    "absorption in the D and E layers",
    "absorption along the path",
    "flare and polar cap",
    "E layer before the F2 layer",
    "auroral zone",
    "above the MUF",
    "above the E layer's MUF",
    "towards the highest frequency",
    "losses of the antenna here",
    "feed line here",
    "skyline here",
)


def _causes_sentence(found: Why) -> str:
    named = [cause for cause in found.causes if cause.weight >= WORTH_SAYING]
    if not named or named[0].cause == "open":
        return "Nothing is missing."
    parts = [f"{share(cause.weight)}, {CAUSE_WORDS[cause.cause]}" for cause in named[:4]]
    text = "What is missing, by weight: " + "; ".join(parts)
    first = named[0]
    alone = f"With only the first taken away ({HARMLESS[first.cause]})"
    if found.region:
        alone += ", where most is missing,"
    return f"{text}. {alone} it would be {share(first.alone)}."


def _change_sentences(found: Why) -> list[str]:
    if not found.changes:
        return []
    helpful = [one for one in found.changes if one.chance >= found.chance + HELPS]
    useless = [one for one in found.changes if one.chance < found.chance + HELPS]
    lines = []
    if helpful:
        parts = [f"{one.change}: {reached(one.chance, found.region)}" for one in helpful]
        lines.append(f"What would change it: {'; '.join(parts)}.")
    if useless:
        lines.append(f"What would hardly change it: {listed([one.change for one in useless])}.")
    return lines
