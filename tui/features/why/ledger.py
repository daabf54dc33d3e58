"""The ledger as a staircase: every gain and loss begins where the one before ended, down to the margin."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.wording import quantities as say
from tui.kit import words
from tui.kit.canvas import Canvas
from tui.kit.drawn import Drawn
from tui.kit.theme import GAIN, LOSS, RULE, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from tui.features.why.view import LedgerView, Term

NAME = 17
FIGURE = 8


class LedgerBars(Drawn):
    """Signed terms that sum."""

    about = (
        "Every gain and loss between the rig and the far receiver in decibels. Each bar begins where the "
        "one before ended: solid to the right is gain, shaded to the left is loss. It begins with what "
        "empty space alone would give at this power, distance and noise; the last line is what is left "
        "over what the mode needs."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: LedgerView | None = None

    def show(self, view: LedgerView | None) -> None:
        """Take a ledger."""
        self.view = view
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """What empty space alone would give, then one row a term, then the sum."""
        x = canvas.put(1, 0, "Ledger, dB", TITLE) + 2
        view = self.view
        if view is None:
            canvas.put(1, 1, words.WORKING, SOFT)
            return
        canvas.put(x, 0, view.mode, SOFT)
        base = [term for term in view.terms if term.base]
        steps = [term for term in view.terms if not term.base]
        y = 1
        if canvas.height >= len(view.terms) + (3 if base else 2):
            for term in base:
                canvas.put(2, y, term.name, SOFT, room=NAME - 1)
                canvas.put_right(NAME + FIGURE, y, say.level_figure(term.db), SOFT)
                canvas.put(NAME + FIGURE + 2, y, term.note, SOFT)
                y += 1
        if base:
            from tui.features.why.view import Term

            steps.insert(0, Term("in empty space", sum(term.db for term in base), "nothing lost yet"))
        self._stairs(canvas, steps, y)
        row = min(y + len(steps), canvas.height - 1)
        canvas.put(1, row, view.total_name, TITLE, room=NAME - 1)
        canvas.put_right(NAME + FIGURE, row, say.level_figure(view.total_db), TITLE)

    @staticmethod
    def _stairs(canvas: Canvas, steps: list[Term], y: int) -> None:
        left = NAME + FIGURE + 2
        note_room = max((len(term.note) for term in steps), default=0) + 2
        bars = canvas.width - left - 1
        notes = bars - note_room >= 24
        if notes:
            bars -= note_room
        levels = [0.0]
        for term in steps:
            levels.append(levels[-1] + term.db)
        low, high = min(levels), max(levels)
        scale = (bars - 1) / max(high - low, 1e-9)

        def column(level: float) -> int:
            return left + round((level - low) * scale)

        for number, term in enumerate(steps):
            row = y + number
            if row >= canvas.height - 1:
                break
            canvas.put(1, row, term.name, TEXT, room=NAME)
            canvas.put_right(NAME + FIGURE, row, say.level_figure(term.db), STRONG)
            if notes:
                canvas.put(left + bars + 1, row, term.note, SOFT)
            if bars < 8:
                continue
            canvas.mark(column(0.0), row, "│", RULE)
            a, b = column(levels[number]), column(levels[number + 1])
            gain = term.db >= 0
            for x in range(min(a, b), max(a, b, min(a, b) + 1)):
                canvas.mark(x, row, "█" if gain else "▒", GAIN if gain else LOSS)
        last = min(y + len(steps), canvas.height - 1)
        if bars >= 8:
            canvas.mark(column(0.0), last, "╵", RULE)
            canvas.mark(column(levels[-1]), last, "▲", TITLE)
