"""Why the band at the cursor is as it is, beside the day: the way the signal takes, ledger and causes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from textual.widget import Widget

from tui.app.queries import Query
from tui.app.side_panels import SidePanel
from tui.app.state import State
from tui.features.why.ledger import LedgerBars
from tui.features.why.page import WhyQuery, why_queries
from tui.features.why.view import why_sentences
from tui.features.why.weights import Weights
from tui.kit.hop import HopPicture

PICTURE_ROWS = 12  # fewest of the picture; before it gives way, the ledger leaves out what empty space gives


class Why(SidePanel):
    """Picture, ledger and causes, one over the other."""

    def compose(self) -> Iterable[Widget]:
        """From the picture down."""
        yield HopPicture()
        yield LedgerBars()
        yield Weights()

    def queries(self, state: State) -> Iterable[Query[Any]]:
        """The picture at once, the explanation when the cursor rests."""
        return why_queries(state)

    def fill(self, state: State) -> None:
        """The band at the cursor."""
        why = state.answers.get(WhyQuery)
        ledger, weights = self.query_one(LedgerBars), self.query_one(Weights)
        self.query_one(HopPicture).show(state.hop, titled=True)
        ledger.show(why.ledger if why is not None else None)
        weights.show(why.causes if why is not None else None)
        if why is None:
            return
        terms = why.ledger.terms
        causes = len(why.causes.causes) + max(len(why.causes.changes), 1) + 4
        whole, short = len(terms) + 3, sum(not term.base for term in terms) + 3
        ledger.styles.height = whole if self.size.height - causes - whole >= PICTURE_ROWS else short
        weights.styles.height = causes

    def sentences(self, state: State) -> list[str]:
        """The band at the cursor in words."""
        why = state.answers.get(WhyQuery)
        return why_sentences(why) if why is not None else []
