"""Band plan along the time axis: a lane for each band that matters, and the run sheet below it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from propagation.wording import quantities as say
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas, EntryRows
from tui.kit.glyphs import FAINTEST, FILLS, NOW
from tui.kit.lanes import DEAD, LABEL, NARROW_RIGHT, full_lane, put_band, put_causes, put_stay
from tui.kit.marks import column_at, column_within, columns_of, put_hours
from tui.kit.plan_view import plan_sentences
from tui.kit.theme import CHOSEN, KEY, NOWLINE, QUIET, SOFT, STRONG, TEXT, TITLE, WARN

if TYPE_CHECKING:
    from tui.kit.plan_view import PlanLane, PlanView

FEWEST_LANES = 2  # where there are lanes at all (ours)
NARROWEST = 24  # columns of the lanes, at least (ours)
LEAST_ROWS = 3  # of the lanes, where the steps do not leave more (ours)
TALL, TALLEST = 4, 6  # rows of a lane, where every open band has as many, and at most (ours)
STEP_ROWS = 3  # of the steps, before there are lanes (ours)
TOTAL_ROWS = 2  # rows of the sum, at most (ours)
DETAIL = 21  # column at which a step's words begin
PROMISE = DETAIL - 3  # columns of what a step promises, below its time
ASIDE = 8  # columns that the word now may be away from its mark (ours)
CHANGE = "│"
EIGHTHS_DRAWN = FILLS[1:]
UNUSED = "▒"  # a full cell of a lane while its band is not in use


class RunSheetRows(EntryRows):
    """Run sheet: the bands as lanes along the time on air, then each step in words."""

    about = (
        "The lanes at the top are your time on air on the bands of the plan, those to fall back on, and the "
        "best others: the fuller, the more contacts an hour, or with a friend the more days. Bright between "
        "├ and ┤ is the band in use, dim and hatched the rest; the line across is a change. At the right is "
        "the mean of each band over these hours. Below, each step: when, which band, how many contacts, how "
        "to set up, what the change costs and wins, whom to expect, and why to leave."
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
        around, rows = self._lane_rows(view, canvas.width, canvas.height - top)
        self._lanes(canvas, view, top, rows)
        self._steps(canvas, view, top + rows + around)

    def _lane_rows(self, view: PlanView, width: int, height: int) -> tuple[int, int]:
        """Rows around the lanes, for the hours and the legend, and rows of the lanes; none without lanes."""
        if not view.lanes or width < LABEL + NARROW_RIGHT + NARROWEST:
            return 0, 0
        around = 2 + say.two_clocks(view.start)
        if height < around + LEAST_ROWS + STEP_ROWS:
            return 0, 0
        steps = sum(len(block) + 1 for block in self._blocks(view, width))
        return around, min(max(height - around - steps, LEAST_ROWS), TALLEST * len(view.lanes))

    def _lanes(self, canvas: Canvas, view: PlanView, top: int, rows: int) -> None:
        """Draw the hours, the lanes in so many rows, and the legend."""
        if not rows:
            return
        width = canvas.width - LABEL - NARROW_RIGHT
        shown, each = _shown(view, rows)
        top = self._axis(canvas, view, top, width)
        band_here = view.steps[self.step].band if self.step < len(view.steps) else ""
        for slot, lane in enumerate(shown):
            self._lane(canvas, view, lane, top + slot * each, each, width, lane.band == band_here)
        bottom = top + len(shown) * each
        self._uprights(canvas, view, width, range(top, bottom))
        x = canvas.put(LABEL, bottom, full_lane(view.full_per_h), SOFT) + 3
        least = FAINTEST if each == 1 else 0.5  # a tall lane shows its cause above a low fill too
        closed = [lane.cause[view.fill(lane) < least] for lane in shown]
        put_causes(canvas, x, bottom, np.concatenate(closed), canvas.width - 1)

    def _axis(self, canvas: Canvas, view: PlanView, top: int, width: int) -> int:
        """Write the hours of both clocks, with now, begin, changes and end; return the row below."""
        times = np.array(view.times)
        marks = [(step.start, "", KEY) for step in view.steps[1:]]
        if self.now is not None and view.start <= self.now < view.end:
            marks.append((self.now, "now ", STRONG))
        told: list[tuple[int, np.datetime64, str, int]] = []  # columns, times, words before them, inks
        for when, before, ink in [*marks, (view.start, "", SOFT), (view.end, "", SOFT)]:
            x = _free(column_within(times, when, width), len(before) + 5, told, width, ASIDE if before else 0)
            if x is not None:
                told.append((x, when, before, ink))
        clear = [(x, x + len(before) + 5) for x, _, before, _ in told]
        for row, other in enumerate((False, True)[: 1 + say.two_clocks(view.start)]):
            canvas.put(1, top + row, say.zone_word(other), QUIET if other else SOFT)
            put_hours(canvas, LABEL, top + row, width, times, QUIET if other else SOFT, clear, other=other)
            for x, when, before, ink in told:
                clock = say.clock_on(when, other)
                canvas.put(LABEL + x, top + row, clock if other else before + clock, QUIET if other else ink)
        canvas.put(LABEL + width + 1, top, "mean", SOFT)
        return top + 1 + say.two_clocks(view.start)

    def _lane(
        self, canvas: Canvas, view: PlanView, lane: PlanLane, y: int, each: int, width: int, here: bool
    ) -> None:
        """Draw a lane, bright with brackets where the plan uses its band, and its mean at the right."""
        times = np.array(view.times)
        at = columns_of(times, width)
        fill = np.interp(at, np.arange(times.size), view.fill(lane))
        put_band(canvas, y, each, lane.band, fill, lane.cause[np.rint(at).astype(np.int64)], here)
        signs, inks = (cells[y : y + each, LABEL : LABEL + width] for cells in (canvas.signs, canvas.inks))
        unused = np.isin(signs, EIGHTHS_DRAWN)
        stays = []
        for number, step in enumerate(view.steps):
            if step.band == lane.band:
                begin, end = (column_within(times, when, width) for when in (step.start, step.end))
                stays.append((begin, end))
                unused[:, begin : end + 1] = False
                self.stands(range(LABEL + begin, LABEL + end + 1), range(y, y + each), number)
                if number == self.step:
                    canvas.paint_ground(LABEL + begin, y, LABEL + end + 1, y + each, CHOSEN)
        full = unused & (signs == EIGHTHS_DRAWN[-1])
        inks[unused] = QUIET
        inks[full], signs[full] = TEXT, UNUSED
        for begin, end in stays:
            put_stay(canvas, LABEL, y + (each >= 3), begin, end)
        rate, middle = lane.mean.rate, y + each // 2
        figure = say.percent(lane.mean.chance) if rate is None else f"{say.rate_short(rate.middle)}/h"
        told, ink = (f"{DEAD} dead", WARN) if lane.dead else (figure, STRONG if here else TEXT)
        canvas.put(LABEL + width + 1, middle, told, ink)

    def _uprights(self, canvas: Canvas, view: PlanView, width: int, rows: range) -> None:
        """Draw the changes across all lanes, and now where the lanes are empty."""
        times = np.array(view.times)
        for step in view.steps[1:]:
            column = column_at(times, step.start, width)
            for y in rows:
                if column is not None and canvas.inks[y, LABEL + column] != TITLE:
                    canvas.mark(LABEL + column, y, CHANGE, KEY)
        now = column_at(times, self.now, width) if self.now is not None else None
        if now is None:
            return
        for y in rows:
            if canvas.signs[y, LABEL + now] in (" ", UNUSED) or canvas.inks[y, LABEL + now] == QUIET:
                canvas.mark(LABEL + now, y, NOW, NOWLINE)

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
                canvas.point_at(y)
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


def _free(
    at: int, long: int, told: list[tuple[int, np.datetime64, str, int]], width: int, aside: int
) -> int | None:
    """The column nearest to `at`, at most `aside` from it, where a label is clear of others, or None."""
    first = min(at, width - long)
    near = range(max(first - aside, 0), min(first + aside, width - long) + 1)
    for x in sorted(near, key=lambda x: abs(x - first)):
        if all(x > to + len(word) + 5 or x + long < to for to, _, word, _ in told):
            return x
    return None


def _shown(view: PlanView, rows: int) -> tuple[list[PlanLane], int]:
    """The lanes for which there is room in so many rows, from low to high frequency, and rows of each."""
    needed = sum(lane.needed for lane in view.lanes)
    is_open = sum(bool((view.fill(lane) >= FAINTEST).any()) for lane in view.lanes)
    fitting = next(rows // each for each, least in ((TALL, max(needed, is_open)), (2, needed), (1, 0))
                   if rows // each >= least)  # fmt: skip
    shown = view.lanes[: max(fitting, FEWEST_LANES)]
    return sorted(shown, key=lambda lane: lane.frequency_mhz), max(min(rows // len(shown), TALLEST), 1)
