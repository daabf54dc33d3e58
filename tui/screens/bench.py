"""The antenna bench: where the power goes, the setup card, the analyser, what would help."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widget import Widget

from tui import telling, words
from tui.screens.page import BAND_KEYS, Page
from tui.state import Shared
from tui.theme import SOFT
from tui.widgets.notes import Notes
from tui.widgets.power_shares import PowerShares


class BenchPage(Page):
    """The antenna, band by band."""

    place = "bench"
    CSS_PATH = "pages.tcss"
    panes = ("shares", "bench-below")
    pane_names = ("shares", "card")
    roomy = (100, 28)
    about = (
        "What your antenna does with a hundred watts on each band, how to set it up, and what would "
        "help most."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        *BAND_KEYS,
        Binding("a", "app.analyser", "analyser", tooltip="type in what the analyser showed"),
        Binding("f", "app.touchstone", "Touchstone file", tooltip="open a one-port Touchstone file"),
        Binding("tab", "next_pane", "next view", priority=True),
        Binding("p", "app.power", "power"),
        Binding("m", "app.mode", "mode"),
    ]

    def body(self) -> Iterable[Widget]:
        """Description, bars, the card of the band and what would help."""
        yield Notes(id="bench-line", margin=1, ink=SOFT)
        yield PowerShares(id="shares")
        yield Horizontal(
            Notes("Setup card", id="card"), Notes("What would help", id="helps"), id="bench-below"
        )

    def fill(self, shared: Shared) -> None:
        """The bench and the chosen band."""
        bench, band = shared.bench, shared.cursor.band if shared.cursor is not None else ""
        self.query_one(PowerShares).show(bench, band)
        if bench is None:
            return
        self.query_one("#bench-line", Notes).show([f"{bench.antenna}. {bench.ground}."])
        found = next((row for row in bench.bands if row.band == band), None)
        card = telling.card_sentences(found) if found is not None else [telling.no_card(band)]
        self.query_one("#card", Notes).show(card, f"Setup card, {words.band_name(band)}")
        helps = telling.help_sentences(bench, band)
        self.query_one("#helps", Notes).show(helps)

    def sentences(self, shared: Shared) -> list[str]:
        """The bench in words."""
        return telling.bench_sentences(shared.bench) if shared.bench is not None else [words.WORKING]
