"""Page of causes: hop picture, ledger, causes by weight, and helpful changes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widget import Widget

from tui.app.choice import Choice, Cursor
from tui.app.page import BAND_KEYS, CHOICE_KEYS, HOUR_KEYS, LEAP_KEYS, PAGES_STYLE, Page
from tui.app.queries import Cancelled, Day, Engine, Query
from tui.app.side_panels import SidePanel, Spread
from tui.app.state import State
from tui.features.why.view import HopTable, LedgerBars, Weights, why_sentences
from tui.kit import words
from tui.kit.hop import HopPicture, hop_sentences
from tui.kit.lists import Notes
from tui.kit.theme import SOFT

if TYPE_CHECKING:
    from tui.features.why.view import WhyView


@dataclass(frozen=True)
class WhyQuery(Query["WhyView"]):
    """Ledger, causes and helpful changes of a band at an hour."""

    choice: Choice
    cursor: Cursor
    day: Day = field(compare=False, repr=False)

    group = "why"
    says = "explanation"

    @property
    def basis(self) -> object:
        """Whole query: the ledger applies to this hour and band only."""
        return self

    def answer(self, engine: Engine, cancelled: Cancelled) -> WhyView:
        """Evaluate the stored forecast."""
        from tui.app import hop_section
        from tui.features.why import answer as why

        return why.why_view(
            self.day.forecast, self.cursor, hop_section.hop_view(self.day.forecast, self.cursor)
        )


def why_queries(state: State) -> Iterable[Query[object]]:
    """Yield the query for the picture at once, then for the explanation once the cursor stops moving."""
    if state.hop_query is not None:
        yield state.hop_query
    if state.forecast is not None and state.cursor is not None:
        yield WhyQuery(state.forecast.choice, state.cursor, state.forecast)


class WhyPage(Page):
    """Causes of a band's state at an hour."""

    place = "why"
    CSS_PATH = PAGES_STYLE
    panes = ("why-hop", "ledger", "weights", "hops")
    pane_names = ("picture", "ledger", "causes", "hops")
    spreads = (Spread(112, 40, below="with-lanes"),)
    about = (
        "The chosen band at the chosen hour: how the signal gets there, what it loses, what stands in "
        "the way."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        *HOUR_KEYS,
        *BAND_KEYS,
        Binding("r", "app.route", "way", tooltip="the short or the long way round"),
        Binding("tab", "next_pane", "next view", priority=True),
        *CHOICE_KEYS,
        *LEAP_KEYS,
    ]

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Return the queries for the picture and the explanation."""
        return why_queries(state)

    def body(self) -> Iterable[Widget]:
        """Yield the state in a line, the picture, the ledger and the causes."""
        yield Notes(id="why-line", margin=1)
        yield HopPicture(id="why-hop")
        yield HopTable(id="hops")
        with_ledger = Horizontal(LedgerBars(id="ledger"), Weights(id="weights"), id="why-below")
        yield with_ledger
        yield Notes(id="near-and-far", ink=SOFT, margin=1)

    def lay_out(self, width: int | None = None, height: int | None = None) -> None:
        """Hide the lower row if neither of its panes is shown; the table of hops replaces the picture."""
        super().lay_out(width, height)
        one, hops = self.has_class("-one"), self.pane == self.panes.index("hops")
        self.query_one("#why-below").display = not one or self.panes[self.pane] in ("ledger", "weights")
        self.query_one("#hops").display = hops
        self.query_one("#why-hop").display = not hops if not one else self.pane == 0

    def panes_by_tab(self) -> tuple[int, ...]:
        """Panes for Tab. Where all fit, these are the picture and the table of hops."""
        return super().panes_by_tab() or (0, self.panes.index("hops"))

    def fill(self, state: State) -> None:
        """Show the band at the cursor."""
        if state.day is not None:
            line = self.query_one("#why-line", Notes)
            line.show([words.band_state(state.day, state.band_index, state.time_index)])
            line.fit(self.size.width, 4)  # never cut: half of the sentence can say the opposite
        self.query_one(HopPicture).show(state.hop, titled=self.has_class("-tiny"))
        why = state.answers.get(WhyQuery)
        self.query_one(LedgerBars).show(why.ledger if why is not None else None)
        self.query_one(Weights).show(why)
        self.query_one(HopTable).show(why)
        aside = self.query_one("#near-and-far", Notes)
        notes = () if why is None else (why.near_and_far, why.based, why.experience)
        aside.show([text for text in notes if text])
        aside.display = bool(aside.sentences) and not self.has_class("-tiny")
        aside.fit(self.size.width, 5)

    def sentences(self, state: State) -> list[str]:
        """Return everything in sentences."""
        if state.day is None:
            return [words.WORKING]
        first = [words.band_state(state.day, state.band_index, state.time_index)]
        why = state.answers.get(WhyQuery)
        if why is not None:
            return why_sentences(why)
        return first + (hop_sentences(state.hop) if state.hop is not None else [])


PICTURE_ROWS = 12  # fewest of the picture; before it shrinks, the ledger leaves out the terms of free space


class Why(SidePanel):
    """Picture, ledger and causes, one above the other."""

    def compose(self) -> Iterable[Widget]:
        """Yield the picture, the ledger and the causes."""
        yield HopPicture()
        yield LedgerBars()
        yield Weights()

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Return the queries for the picture and the explanation."""
        return why_queries(state)

    def fill(self, state: State) -> None:
        """Show the band at the cursor."""
        why = state.answers.get(WhyQuery)
        ledger, weights = self.query_one(LedgerBars), self.query_one(Weights)
        self.query_one(HopPicture).show(state.hop, titled=True)
        ledger.show(why.ledger if why is not None else None)
        weights.show(why)
        if why is None:
            return
        terms = why.ledger.terms
        causes = len(why.causes) + max(len(why.changes), 1) + 4
        whole, short = len(terms) + 3, sum(not term.base for term in terms) + 3
        ledger.styles.height = whole if self.size.height - causes - whole >= PICTURE_ROWS else short
        weights.styles.height = causes

    def sentences(self, state: State) -> list[str]:
        """Return the sentences on the band at the cursor."""
        why = state.answers.get(WhyQuery)
        return why_sentences(why) if why is not None else []
