"""Screen of causes: ledger, causes and changes of one cell, from the advice package."""

from __future__ import annotations

from typing import Final

from propagation.advice.why import Explanation, why
from propagation.station.terminals import Terminals
from propagation.wording.experience import error_words, experience_short
from propagation.wording.hops import hop_sentences
from propagation.wording.quantities import sentence
from propagation.wording.why import (
    change_words,
    direction,
    leans_on,
    ledger_lines,
    near_far_words,
    note,
    term_short,
    why_sentences,
)
from tui.app.choice import Cursor
from tui.app.day_forecast import DayForecast
from tui.features.why.view import LedgerLine, LedgerView, WhyView
from tui.kit.hop import HopView
from tui.kit.words import on_screen

BASE: Final = ("power", "free space", "noise", "need")  # terms of free space alone


def why_view(kept: DayForecast, cursor: Cursor, hop: HopView | None) -> WhyView:
    """Return all data on the cell under the cursor."""
    result = kept.result
    band = result.band_index(cursor.band)
    time = result.time_index(cursor.time)
    found = why(result, Terminals(kept.near, kept.far), band, time, other_way=cursor.long)
    return WhyView(
        band=found.band,
        time=found.time,
        hop=hop,
        ledger=_ledger(found),
        promise=found.promise,
        causes=tuple(cause for cause in found.causes if cause.cause != "open"),
        changes=tuple((change_words(change), change.promise) for change in found.helpful),
        based=_based(found),
        crossings=found.crossings,
        ray_path=found.ledger.mode,
        near_and_far=_near_and_far(found),
        experience=experience_short(found.ledger.experience),
        says=tuple(
            on_screen(line)
            for line in (
                *why_sentences(found),
                *ledger_lines(found.ledger),
                *hop_sentences(found.crossings, found.ledger.mode),
            )
        ),
    )


def _based(found: Explanation) -> str:
    people = found.people
    if people is None:
        return ""
    return on_screen(
        sentence(f"based on {leans_on(people.on_air, people.in_reach, found.band, found.target)}")
    )


def _near_and_far(found: Explanation) -> str:
    """Comparison of near and far stations, without the band and the hour, which the heading already shows."""
    return on_screen(sentence(near_far_words(found.near_far))) if found.near_far is not None else ""


def _ledger(found: Explanation) -> LedgerView:
    account = found.ledger
    terms = tuple(
        LedgerLine(
            term_short(term.name, term.end), term.db, on_screen(note(account, term)), term.name in BASE
        )
        for term in account.terms
    )
    total = f"margin ({error_words(account.experience)})"
    return LedgerView(terms, total, f"{account.mode}, {direction(account)}")
