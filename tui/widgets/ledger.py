"""The ledger as a staircase: every gain and loss begins where the one before ended, down to the margin."""

from __future__ import annotations

from tui import words
from tui.canvas import Canvas
from tui.theme import GAIN, LOSS, RULE, SOFT, STRONG, TEXT, TITLE
from tui.views import LedgerView
from tui.widgets.drawn import Drawn

NAME = 17
FIGURE = 8


class LedgerBars(Drawn):
    """Signed terms that sum."""

    about = (
        "Every gain and loss between the rig and the far receiver in decibels. Each bar begins where the one before "
        "ended: solid to the right is gain, shaded to the left is loss. The last line is what is left over what the "
        "mode needs."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: LedgerView | None = None

    def show(self, view: LedgerView | None) -> None:
        """Take a ledger."""
        self.view = view
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """One row a term, then the sum."""
        canvas.put(1, 0, "Ledger, dB", TITLE)
        view = self.view
        if view is None:
            canvas.put(1, 1, words.WORKING, SOFT)
            return
        room = canvas.height - 2
        terms = view.terms[: max(room, 0)]
        left = NAME + FIGURE + 2
        note_room = max((len(term.note) for term in terms), default=0) + 2
        bars = canvas.width - left - 1
        notes = bars - note_room >= 24
        if notes:
            bars -= note_room
        levels = [0.0]
        for term in terms:
            levels.append(levels[-1] + term.db)
        low, high = min(levels), max(levels)
        scale = (bars - 1) / max(high - low, 1e-9)

        def column(level: float) -> int:
            return left + round((level - low) * scale)

        for row, term in enumerate(terms, start=1):
            canvas.put(1, row, term.name, TEXT, room=NAME - 1)
            canvas.put_right(NAME + FIGURE, row, words.signed_db(term.db), STRONG)
            if bars >= 8:
                canvas.mark(column(0.0), row, "│", RULE)
                a, b = column(levels[row - 1]), column(levels[row])
                first, last = min(a, b), max(a, b)
                gain = term.db >= 0
                for x in range(first, max(last, first + 1)):
                    canvas.mark(x, row, "█" if gain else "▒", GAIN if gain else LOSS)
            if notes:
                canvas.put(left + bars + 1, row, term.note, SOFT)
        row = min(len(terms) + 1, canvas.height - 1)
        canvas.put(1, row, view.total_name, TITLE, room=NAME - 1)
        canvas.put_right(NAME + FIGURE, row, words.signed_db(view.total_db), TITLE)
        if bars >= 8:
            canvas.mark(column(0.0), row, "┴", RULE)
            canvas.mark(column(levels[-1]), row, "▲", TITLE)
