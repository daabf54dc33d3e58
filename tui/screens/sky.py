"""The sky: the sun and the field, their age and source, what they do; fetching, typing in, what was heard."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui import telling, words
from tui.screens.page import Page
from tui.state import Shared
from tui.theme import SOFT
from tui.widgets.histories import Histories
from tui.widgets.notes import Notes


class SkyPage(Page):
    """Conditions."""

    place = "sky"
    CSS_PATH = "pages.tcss"
    about = (
        "The sun and the field as the program knows them, how old that is, and what it does to your "
        "bands today."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f", "app.fetch", "fetch", tooltip="get the space weather now"),
        Binding("k", "app.type_in", "type in", tooltip="type in flux and K as heard or remembered"),
        Binding("h", "app.heard", "heard on the air", tooltip="say what you hear, or do not hear"),
        Binding("b", "app.beacon", "beacons", tooltip="say which beacon on the air now you hear, or do not"),
        Binding("up", "scroll_words(-1)", "scroll", show=False),
        Binding("down", "scroll_words(1)", "scroll", show=False),
    ]

    def body(self) -> Iterable[Widget]:
        """Source, histories, effects."""
        yield Notes(id="source", margin=1, ink=SOFT, single=True)
        yield Histories(id="histories")
        yield Notes("What it does to your bands", id="effects")

    def action_scroll_words(self, rows: int) -> None:
        """Scroll the sentences."""
        self.query_one("#effects", Notes).move(rows)

    def fill(self, shared: Shared) -> None:
        """The conditions in use."""
        sky = shared.sky
        if sky is None:
            self.query_one(Histories).show((), words.WORKING)
            return
        self.query_one("#source", Notes).show([telling.source_line(sky)])
        self.query_one(Histories).show(sky.histories)
        self.query_one("#effects", Notes).show(
            [
                line
                for line in (
                    sky.index_line,
                    *sky.effects,
                    *telling.outlook_sentences(sky),
                    *sky.heard,
                    sky.beacon,
                )
                if line
            ]
        )

    def sentences(self, shared: Shared) -> list[str]:
        """The sky in words."""
        return telling.sky_sentences(shared.sky) if shared.sky is not None else [words.WORKING]
