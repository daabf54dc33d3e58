"""The sheet of two antennas side by side: which to carry today."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical

from tui.features.antenna.side_by_side_picture import Beside
from tui.kit.key_line import KeyLine, in_order
from tui.kit.overlays import Overlay

if TYPE_CHECKING:
    from tui.features.antenna.view import BesideView

TRY = "try"


class BesideSheet(Overlay):
    """Two antennas; t tries the other one on all pages."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("t", "try_other", "try the other on all pages"),
        Binding("escape", "close", "close"),
    ]

    def __init__(self, view: BesideView) -> None:
        super().__init__()
        self.view = view

    def compose(self) -> ComposeResult:
        """The picture and the keys."""
        with Vertical(classes="sheet -full"):
            yield Beside(self.view, id="beside")
            yield KeyLine(id="sheet-keys")

    def on_mount(self) -> None:
        """The keys that work here."""
        shown = [binding for binding in self.BINDINGS if isinstance(binding, Binding)]
        self.query_one("#sheet-keys", KeyLine).show(in_order(shown))

    def action_try_other(self) -> None:
        """Try the other antenna."""
        self.dismiss(TRY)
