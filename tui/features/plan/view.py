"""Band plan along the time axis: what each step promises as a curve, and the run sheet below it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from propagation.base.units import BoolArray, FloatArray, as_float
from propagation.wording import quantities as say
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas, EntryRows
from tui.kit.marks import put_lane
from tui.kit.plan_view import plan_sentences
from tui.kit.theme import BRIGHT as BRIGHT_GROUND
from tui.kit.theme import CHOSEN, INVERSE, KEY, NOWLINE, QUIET, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from tui.kit.plan_view import PlanStep, PlanView

AROUND = 3  # rows around the curves: clock times, bands, now
LEAST_ROWS, MOST_ROWS = 3, 12  # rows of the curves
TOTAL_ROWS = 2  # rows of the sum, at most
DETAIL = 21  # column at which a step's words begin
PROMISE = DETAIL - 3  # columns of what a step promises, below its time


class RunSheetRows(EntryRows):
    """Run sheet: the steps as curves along the time on air, then each step in words."""

    about = (
        "The curve at the top is your time on air: what the band of each step promises, contacts an hour or "
        "days in ten. The lines across it are the changes, gaps the minutes they take. Below, each step: "
        "when, which band, how many contacts, how to set up, what the change costs and wins, whom to "
        "expect, and why to leave."
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
        top = 0
        for line in text_flow.wrap(view.total, canvas.width - 4)[:TOTAL_ROWS]:
            canvas.put(2, top, line, STRONG)
            top += 1
        steps = sum(len(block) + 1 for block in self._blocks(view, canvas.width))
        rows = min(max(canvas.height - top - AROUND - 1 - steps, LEAST_ROWS), MOST_ROWS)
        self._curves(canvas, view, top, rows)
        self._steps(canvas, view, top + rows + AROUND)

    def _curves(self, canvas: Canvas, view: PlanView, top: int, rows: int) -> None:
        """Draw the clock times of the changes, the curves in so many rows, the bands, and now."""
        left, width = 2, canvas.width - 4
        span = max(float((view.end - view.start).astype("timedelta64[s]").astype(np.int64)), 1.0)

        def column(when: np.datetime64) -> int:
            offset = float((when - view.start).astype("timedelta64[s]").astype(np.int64))
            return left + int(min(max(offset / span, 0.0), 1.0) * width)

        moments = (np.arange(width) + 0.5) * span / width  # seconds from the start, of each column
        fill = np.zeros(width)
        for step in view.steps:
            fill = np.where(_inside(view, step, moments), _height(view, step, moments), fill)
        put_lane(canvas, left, top + 1, rows, fill)
        edges = [_clocks(when) for when in (view.start, view.end)]
        canvas.put(left, top, edges[0], SOFT)
        canvas.put_right(left + width, top, edges[1], SOFT)
        free = left + len(edges[0])
        for number, step in enumerate(view.steps):
            a, b = column(step.start), max(column(step.end), column(step.start) + 1)
            told = _clocks(step.start)
            if free < a and a + len(told) < left + width - len(edges[1]):
                free = canvas.put(a, top, told, SOFT)
            if number:
                for row in range(top + 1, top + 1 + rows):
                    canvas.mark(a, row, "┊", KEY)
            self.stands(range(a, b), range(top + 1, top + 2 + rows), number)
            label = f" {say.band_title(step.band)} "
            if b - a >= len(label):
                here = number == self.step
                at = (a + b - len(label)) // 2
                ink, ground = (INVERSE, BRIGHT_GROUND) if here else (STRONG, CHOSEN)
                canvas.put(at, top + 1 + rows, label, ink, ground)
        below = top + 2 + rows
        told, clear = f"full height: {view.full_words}", True
        if self.now is not None and view.start <= self.now <= view.end:
            clear = column(self.now) + 5 < left + width - len(told)
            canvas.put(canvas.put(column(self.now), below, "▴", NOWLINE) + 1, below, "now", SOFT)
        canvas.put(left + width - len(told) if clear else left, below, told, QUIET)

    @staticmethod
    def _blocks(view: PlanView, width: int) -> list[list[str]]:
        """Lines of each step in a given width; at least as many as its time, band and promise take."""
        room = max(width - DETAIL - 1, 10)
        found = []
        for step in view.steps:
            lines = [*text_flow.wrap(step.setup, room), *text_flow.wrap("; ".join(step.details), room)]
            beside = 1 + len(text_flow.wrap(step.promises, PROMISE))
            found.append(lines + [""] * (beside - len(lines)))
        return found

    def rows_in(self, width: int) -> int:
        """Rows that show every step whole, with a blank row after each, and low curves."""
        if self.view is None:
            return LEAST_ROWS + AROUND
        total = len(text_flow.wrap(self.view.total, width - 4)[:TOTAL_ROWS])
        steps = sum(len(block) + 1 for block in self._blocks(self.view, width))
        return total + LEAST_ROWS + AROUND + steps

    def _steps(self, canvas: Canvas, view: PlanView, top: int) -> None:
        room = max(canvas.width - DETAIL - 1, 10)
        blocks = self._blocks(view, canvas.width)
        space = canvas.height - top
        gap = 1 if sum(len(block) + 1 for block in blocks) <= space + 1 else 0
        first = 0
        while first < self.step and sum(len(b) + gap for b in blocks[first : self.step + 1]) > space:
            first += 1
        y, cut = top, False
        for number in range(first, len(blocks)):
            block = blocks[number][: max(canvas.height - y, 0)]
            cut = len(block) < len(blocks[number])
            if not block:
                break
            step, here = view.steps[number], number == self.step
            self.stands(range(canvas.width), range(y, y + len(block)), number)
            if here:
                canvas.paint_ground(0, y, canvas.width, y + len(block), CHOSEN)
                canvas.put(0, y, "▸", KEY)
            canvas.put(2, y, f"{say.clock(step.start)}-{say.clock(step.end)}", STRONG if here else TEXT)
            canvas.put(14, y, say.band_title(step.band), TITLE)
            told = text_flow.wrap(step.promises, PROMISE)
            local = say.other_clock(step.end, step.start).replace(" to ", "-")
            if local and len(told) + 1 < len(block) and len(local) <= PROMISE:
                canvas.put(2, y + len(told) + 1, local, SOFT)
            for row, line in enumerate(told[: len(block) - 1], start=1):
                canvas.put(2, y + row, line, STRONG)
            setup_rows = len(text_flow.wrap(step.setup, room))
            for row, line in enumerate(block):
                canvas.put(DETAIL, y + row, line, TEXT if row < setup_rows else SOFT)
            y += len(block) + gap
        if cut:
            canvas.put_right(canvas.width, canvas.height - 1, "↓", QUIET)


def _clocks(when: np.datetime64) -> str:
    """A time on the clock told first, with the other one beside it where it differs: `06:00 UTC 08:00`."""
    other = say.other_short(when)
    return f"{say.clock(when)} {say.zone_word()} {other}" if other else say.clock(when)


def _height(view: PlanView, step: PlanStep, moments: FloatArray) -> FloatArray:
    """Height of the curve of a step's band at moments [s from the start], 0 to 1."""
    if not step.promised:
        return np.zeros(moments.size)
    known = as_float((np.array(view.times) - view.start) / np.timedelta64(1, "s"))
    return as_float(np.interp(moments, known, view.curve(step)))


def _inside(view: PlanView, step: PlanStep, moments: FloatArray) -> BoolArray:
    """Whether moments [s from the start] are in the stay, after the work at the antenna."""
    begin, end = (
        (when - view.start) / np.timedelta64(1, "s") for when in (step.ready or step.start, step.end)
    )
    inside: BoolArray = (moments >= float(begin)) & (moments < float(end))
    return inside
