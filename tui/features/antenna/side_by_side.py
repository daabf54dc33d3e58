"""The sheet of two antennas side by side: which to carry today."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical

from propagation.wording import quantities as say
from tui.features.antenna.view import share_figure
from tui.kit import text_flow
from tui.kit.canvas import Canvas
from tui.kit.drawn import Drawn
from tui.kit.glyphs import SHARE_SIGN
from tui.kit.key_line import KeyLine, in_order
from tui.kit.overlays import Overlay
from tui.kit.theme import LAYER, PANEL, RAMP, SOFT, STRONG, TEXT, TITLE

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


LABEL, FIGURES = 7, 13  # columns before a bar, and behind it
INKS = (RAMP + 7, LAYER)
SIGNS = (SHARE_SIGN["radiated"], SHARE_SIGN["earth"])


class Beside(Drawn):
    """A bar for each antenna, band by band, and the words below."""

    ground = PANEL
    fades = False
    about = (
        "Two antennas on every band: the bars show how much of a hundred watts leaves each, the figures "
        "behind them the watts and the best chance of the day with the target."
    )

    def __init__(self, view: BesideView, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.view = view

    def paint(self, canvas: Canvas) -> None:
        """Which to carry, the signs, the bars."""
        view = self.view
        row = 0
        for number, line in enumerate(view.says):
            for piece in text_flow.wrap(line, canvas.width - 2):
                canvas.put(1, row, piece, STRONG if number == 0 else TEXT)
                row += 1
        row += 1
        half = (canvas.width - LABEL) // 2
        width = min(half - FIGURES, 100)
        each = 1
        if width < 8:  # no room for two beside each other: one above the other
            half, width, each = 0, max(canvas.width - LABEL - FIGURES, 1), 2
        for side, name in enumerate(view.names):
            x = LABEL + (side * half if each == 1 else 0)
            y = row + (side if each == 2 else 0)
            canvas.put(x, y, SIGNS[side] * 2, INKS[side])
            canvas.put(x + 3, y, name, TITLE, room=max(width + FIGURES - 4, 4))
        row += each
        for band in view.bands:
            canvas.put_right(LABEL - 1, row, say.band_title(band.band), TEXT)
            for side in (0, 1):
                x = LABEL + (side * half if each == 1 else 0)
                y = row + (side if each == 2 else 0)
                for column in range(round(min(band.share[side], 1.0) * width)):
                    canvas.mark(x + column, y, SIGNS[side], INKS[side])
                canvas.put_right(x + width + 6, y, f"{share_figure(band.share[side])} W", TEXT)
                canvas.put(x + width + 7, y, say.percent(band.best[side]), SOFT)
            row += each
