"""Answer at a glance: the band in letters three rows high, and the main facts next to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.wording import quantities as say
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas, Drawn
from tui.kit.marks import BIG_ROWS, big_width, put_big
from tui.kit.theme import KEY, QUIET, RULE, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    import numpy as np

    from tui.kit.day_view import DayView

SIDE_BY_SIDE = 112  # columns from which the next changes are drawn next to the answer


class AnswerBoard(Drawn):
    """Board with the band, its end, the next band and the antenna setup."""

    about = (
        "The big word is the band to use at the time of the cursor: the one reached on most days. Beside "
        "it: until when it stays the best and what follows, how many days in ten, and how to set the "
        "antenna."
    )

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.view: DayView | None = None
        self.time_index = 0

    def show(self, view: DayView | None, time_index: int) -> None:
        """Set the day and the cursor."""
        self.view, self.time_index = view, time_index
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the large word, three lines and the next changes."""
        view = self.view
        top = 1 if canvas.height >= 5 else 0
        if view is None:
            canvas.put(2, top, words.WORKING, SOFT)
            return
        found = words.answer(view, self.time_index)
        big = found.band if found.band else "--"
        x = 2
        if canvas.height >= BIG_ROWS and canvas.width >= 60 and set(big) <= set("0123456789m-"):
            put_big(canvas, x, top, big, TITLE if found.band else QUIET)
            x += max(big_width(big), 14) + 3
        elif found.band:
            x = canvas.put(x, top, say.band_title(found.band), TITLE) + 2
        right = canvas.width
        changes = words.next_changes(view, self.time_index)
        if canvas.width >= SIDE_BY_SIDE:
            right = canvas.width - min(max(canvas.width * 3 // 8, 46), 60)
            for y in range(top, min(top + 3, canvas.height)):
                canvas.mark(right - 2, y, "│", RULE)
            self._changes(canvas, right, top, changes)
        inks = (STRONG, TEXT, SOFT)
        room = right - x - (3 if right < canvas.width else 0)
        for row, line in enumerate(found.lines[:BIG_ROWS]):  # the antenna has its own line
            shown = line if len(line) <= room else text_flow.in_room(say.on_one_clock(line), room)
            canvas.put(x, top + row, shown, inks[min(row, 2)], room=room)
        below = top + BIG_ROWS
        if right == canvas.width and below < canvas.height:
            if canvas.height - below >= 4:
                self._changes(canvas, 2, below + 1, changes)
            else:
                text = words.changes_in_a_line(view, self.time_index, canvas.width - 3)
                canvas.put(2, canvas.height - 1, text, TEXT)

    @staticmethod
    def _changes(canvas: Canvas, x: int, y: int, changes: list[tuple[np.datetime64, str]]) -> None:
        if not changes:
            canvas.put(x, y, "no further change in this day", SOFT)
        longest = max((len(words.both_short(when)) + len(what) for when, what in changes), default=0)
        told = words.both_short if x + longest + 3 <= canvas.width else say.clock
        for row, (when, what) in enumerate(changes):
            x_what = canvas.put(x, y + row, told(when), KEY) + 2
            canvas.put(x_what, y + row, text_flow.in_room(what, canvas.width - x_what - 1), TEXT)
