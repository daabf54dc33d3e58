"""The why screen: ledger, causes and changes of one cell, as the advice gives them."""

from __future__ import annotations

from typing import Final

from propagation.advice.cells import Ends
from propagation.advice.why import Why, why
from tui.choice import Cursor
from tui.presenting.day import DayForecast
from tui.views import CausesView, HopView, LedgerView, Term, WhyView

SHORT: Final[dict[str, str]] = {
    "absorption in the D and E layers": "D and E layers",
    "absorption along the path": "absorption",
    "flare and polar cap": "flare, polar cap",
    "E layer before the F2 layer": "E before F2",
    "reflections at the ground": "ground bounces",
    "ray close to the horizon": "low ray",
    "hops stretched to their limit": "stretched hops",
    "focusing by the curved layers": "focusing",
    "polarisation and all else": "all else",
    "other losses of long paths": "all else",
    "other ways, and the method for long paths": "long-path method",
    "other ways beside it": "other ways",
    "days unlike the median day": "other days",
    "what the mode needs": "the mode needs",
    "antenna here, without losses": "my antenna",
    "losses of the antenna here": "its losses",
    "feed line here": "my coax",
    "skyline here": "my skyline",
    "antenna at the far end, without losses": "their antenna",
    "losses of the antenna at the far end": "its losses",
    "feed line at the far end": "their coax",
    "skyline at the far end": "their skyline",
    "towards the highest frequency": "near the MUF",
    "above the E layer's MUF": "above E's MUF",
    "sporadic E, on the median day": "sporadic E",
    "scatter back into the skip zone": "scatter",
}
BASE: Final = ("power", "free space", "noise", "what the mode needs")  # what empty space alone would give


def why_view(kept: DayForecast, cursor: Cursor, hop: HopView | None) -> WhyView:
    """Everything about the cell under the cursor."""
    result = kept.result
    band = result.band_index(cursor.band)
    time = result.time_index(cursor.time)
    found = why(result, Ends(kept.near, kept.far), band, time)
    return WhyView(
        band=found.band,
        time=found.time,
        hop=hop,
        ledger=_ledger(found),
        causes=CausesView(
            found.chance,
            tuple((cause.cause, cause.weight) for cause in found.causes if cause.cause != "open"),
            tuple((change.change, change.chance) for change in found.changes),
        ),
        near_and_far=_near_and_far(found),
    )


def _near_and_far(found: Why) -> str:
    """Near and far beside each other, without the band and hour that stand above it."""
    text = found.near_far.text.replace("°", " deg") if found.near_far is not None else ""
    parts = text.split(", ", 2)
    above = len(parts) == 3 and parts[0].startswith("On ") and parts[1].startswith("on a bearing")
    return parts[2][:1].upper() + parts[2][1:] if above else text


def _ledger(found: Why) -> LedgerView:
    terms = tuple(
        Term(SHORT.get(term.name, term.name), term.db, term.note.replace("°", " deg"), term.name in BASE)
        for term in found.ledger.terms
    )
    mode = f"{found.ledger.way}, {found.ledger.direction}"
    return LedgerView(terms, "margin", mode)
