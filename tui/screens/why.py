"""Why: the hop picture, the ledger, the causes by weight, and what would change it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widget import Widget

from tui import telling, words
from tui.screens.page import BAND_KEYS, HOUR_KEYS, Page
from tui.state import Shared
from tui.theme import SOFT
from tui.widgets.hop import HopPicture
from tui.widgets.ledger import LedgerBars
from tui.widgets.notes import Notes
from tui.widgets.weights import Weights


class WhyPage(Page):
    """Why a band is as it is at an hour."""

    place = "why"
    CSS_PATH = "pages.tcss"
    panes = ("why-hop", "ledger", "weights")
    pane_names = ("picture", "ledger", "causes")
    about = (
        "The chosen band at the chosen hour: how the signal gets there, what it loses, what stands in "
        "the way."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        *HOUR_KEYS,
        *BAND_KEYS,
        Binding("r", "app.way", "way", tooltip="the short or the long way round"),
        Binding("tab", "next_pane", "next view", priority=True),
        Binding("t", "app.target", "target"),
    ]

    def body(self) -> Iterable[Widget]:
        """State in a line, picture, ledger and causes."""
        yield Notes(id="why-line", margin=1, single=True)
        yield HopPicture(id="why-hop")
        with_ledger = Horizontal(LedgerBars(id="ledger"), Weights(id="weights"), id="why-below")
        yield with_ledger
        yield Notes(id="other-way", ink=SOFT, margin=1)

    def lay_out(self, width: int | None = None, height: int | None = None) -> None:
        """The lower row goes when neither of its panes is shown."""
        super().lay_out(width, height)
        self.query_one("#why-below").display = not self.has_class("-one") or self.pane > 0

    def fill(self, shared: Shared) -> None:
        """The band at the cursor."""
        if shared.day is not None:
            self.query_one("#why-line", Notes).show(
                [words.band_state(shared.day, shared.band_index, shared.time_index)]
            )
        self.query_one(HopPicture).show(shared.hop, titled=self.has_class("-tiny"))
        why = shared.why
        self.query_one(LedgerBars).show(why.ledger if why is not None else None)
        self.query_one(Weights).show(why.causes if why is not None else None)
        other = self.query_one("#other-way", Notes)
        other.show([why.other_way] if why is not None and why.other_way else [])
        other.display = bool(other.sentences) and not self.has_class("-tiny")
        other.fit(self.size.width, 4)

    def sentences(self, shared: Shared) -> list[str]:
        """Everything in words."""
        if shared.day is None:
            return [words.WORKING]
        first = [words.band_state(shared.day, shared.band_index, shared.time_index)]
        if shared.why is not None:
            return first + telling.why_sentences(shared.why)
        return first + (telling.hop_sentences(shared.hop) if shared.hop is not None else [])
