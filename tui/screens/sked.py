"""The sked: two stations, two clocks, and the hours that suit both."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui import telling, words
from tui.screens.page import Page
from tui.state import Shared
from tui.widgets.clocks import Clocks


class SkedPage(Page):
    """An appointment with the target."""

    place = "sked"
    CSS_PATH = "pages.tcss"
    about = (
        "Hours in the coming days at which both ends are awake and a band is open between them, best first."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "slot(-1)", "slot", tooltip="the slot before"),
        Binding("down", "slot(1)", "slot", tooltip="the slot after"),
        Binding("t", "app.target", "with whom", tooltip="the other station"),
        Binding("d", "app.date", "from which day"),
        Binding("e", "app.export('sked')", "export", tooltip="write a calendar file"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.slot = 0

    def body(self) -> Iterable[Widget]:
        """The clocks."""
        yield Clocks(id="clocks")

    def action_slot(self, by: int) -> None:
        """Choose a slot."""
        sked = self.desk_app.shared.sked
        if sked is not None and sked.slots:
            self.slot = min(max(self.slot + by, 0), len(sked.slots) - 1)
            self.fill(self.desk_app.shared)

    def fill(self, shared: Shared) -> None:
        """The appointment."""
        self.query_one(Clocks).show(shared.sked, self.slot)

    def sentences(self, shared: Shared) -> list[str]:
        """The slots in words."""
        return telling.sked_sentences(shared.sked) if shared.sked is not None else [words.WORKING]
