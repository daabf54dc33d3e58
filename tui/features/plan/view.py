"""Band plan along the time axis: one line of stays, and the steps as a run sheet below it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from propagation.wording import quantities as say
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas, EntryRows
from tui.kit.marks import ramp_ink
from tui.kit.plan_view import plan_sentences
from tui.kit.theme import BRIGHT as BRIGHT_GROUND
from tui.kit.theme import CHOSEN, INVERSE, KEY, NOWLINE, QUIET, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from tui.kit.plan_view import PlanView

TOP = 5  # rows of the line of stays
DETAIL = 21  # column at which a step's words begin


class RunSheetRows(EntryRows):
    """Run sheet: bands along the time on air, then each step in words."""

    about = (
        "The line at the top is your time on air, each stay with its band; gaps are the minutes a change "
        "takes. Below, each step: when, which band, how to set up, whom to expect, and why to leave."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: PlanView | None = None
        self.step = 0
        self.now: np.datetime64 | None = None
        self.waiting = ""

    def show(
        self,
        view: PlanView | None,
        step: int = 0,
        now: np.datetime64 | None = None,
        waiting: str = words.WORKING,
    ) -> None:
        """Set the plan and the chosen step."""
        self.view, self.step, self.now, self.waiting = view, step, now, waiting
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the axis with the stays, then the steps."""
        view = self.view
        self.begin_spots(self.step, len(view.steps) if view is not None else 0)
        if view is None:
            canvas.put(2, 1, self.waiting, SOFT)
            return
        if not view.steps:
            for row, line in enumerate(text_flow.wrap_all(plan_sentences(view), canvas.width - 4)):
                canvas.put(2, 1 + row, line, TEXT)
            return
        left, width = 2, canvas.width - 4
        span = max(float((view.end - view.start).astype("timedelta64[s]").astype(np.int64)), 1.0)

        def column(when: np.datetime64) -> int:
            offset = float((when - view.start).astype("timedelta64[s]").astype(np.int64))
            return left + int(min(max(offset / span, 0.0), 1.0) * width)

        canvas.put(left, 0, say.clock(view.start), SOFT)
        canvas.put_right(left + width, 0, say.clock(view.end), SOFT)
        for number, step in enumerate(view.steps):
            a, b = column(step.start), max(column(step.end), column(step.start) + 1)
            if a - left > 6 and a + 6 < left + width - 6:
                canvas.put(a, 0, say.clock(step.start), SOFT)
            self.stands(range(a, b), range(1, 3), number)
            for x in range(a, b):
                canvas.mark(x, 1, "█", ramp_ink(step.chance))
                canvas.mark(x, 2, "▀", ramp_ink(step.chance))
            label = f" {say.band_title(step.band)} "
            if b - a > len(label):
                canvas.put(
                    (a + b - len(label)) // 2,
                    1,
                    label,
                    INVERSE if number == self.step else STRONG,
                    BRIGHT_GROUND if number == self.step else CHOSEN,
                )
        if self.now is not None and view.start <= self.now <= view.end:
            canvas.put(canvas.put(column(self.now), 3, "▴", NOWLINE) + 1, 3, "now", SOFT)
        self._steps(canvas, view, TOP)

    @staticmethod
    def _blocks(view: PlanView, width: int) -> list[list[str]]:
        """Lines of each step in a given width."""
        room = max(width - DETAIL - 1, 10)
        return [
            [*text_flow.wrap(step.setup, room), *text_flow.wrap("; ".join(step.details), room)]
            for step in view.steps
        ]

    def rows_in(self, width: int) -> int:
        """Rows that show every step whole, with a blank row after each."""
        blocks = self._blocks(self.view, width) if self.view is not None else []
        return TOP + sum(len(block) + 1 for block in blocks)

    def _steps(self, canvas: Canvas, view: PlanView, top: int) -> None:
        room = max(canvas.width - DETAIL - 1, 10)
        blocks = self._blocks(view, canvas.width)
        space = canvas.height - top
        gap = 1 if sum(len(block) + 1 for block in blocks) <= space + 1 else 0
        first = 0
        while first < self.step and sum(len(b) + gap for b in blocks[first : self.step + 1]) > space:
            first += 1
        y = top
        for number in range(first, len(blocks)):
            block = blocks[number][: max(canvas.height - y, 0)]
            if not block:
                break
            step, here = view.steps[number], number == self.step
            self.stands(range(canvas.width), range(y, y + len(block)), number)
            if here:
                canvas.paint_ground(0, y, canvas.width, y + len(block), CHOSEN)
                canvas.put(0, y, "▸", KEY)
            canvas.put(2, y, f"{say.clock(step.start)}-{say.clock(step.end)}", STRONG if here else TEXT)
            canvas.put(14, y, say.band_title(step.band), TITLE)
            setup_rows = len(text_flow.wrap(step.setup, room))
            for row, line in enumerate(block):
                canvas.put(DETAIL, y + row, line, TEXT if row < setup_rows else SOFT)
            y += len(block) + gap
        if first + 1 < len(blocks) and y > canvas.height:
            canvas.put_right(canvas.width, canvas.height - 1, "↓", QUIET)
