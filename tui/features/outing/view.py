"""Drawing of the present state of an outing: present step, next steps, learnt estimates, lanes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.units import as_float
from propagation.wording import quantities as say
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas, Drawn
from tui.kit.glyphs import NOW
from tui.kit.lanes import put_stay, put_upright
from tui.kit.marks import (
    BIG_ROWS,
    big_width,
    column_at,
    column_within,
    columns_of,
    put_bar,
    put_big,
    put_hours,
    put_lane,
)
from tui.kit.plan_view import PlanView
from tui.kit.theme import CHOSEN, KEY, QUIET, SOFT, STRONG, TEXT, TITLE

BIG_ROOM = 14  # columns of the large word at least
LABEL: Final = 8  # columns left of the lanes
RIGHT: Final = 9  # columns right of them, for the figure of the present time
LEAST_LANES: Final = 2  # lanes below which none is drawn (ours)
TALLEST: Final = 3  # rows of a lane at most (ours)


@dataclass(frozen=True)
class LearntView:
    """Estimates learnt in an outing, and the plan to follow."""

    plan: PlanView | None = None  # the present plan, or a better one from now on; None: nothing was learnt
    better: bool = False  # whether the plan is new
    sentence: str = ""  # what changed, and why; empty if nothing was learnt
    estimate: str = ""  # layer, station and noise with their uncertainty


@dataclass(frozen=True)
class HoursLane:
    """A band over the hours on the air. place: among the bands. fill: 0 to 1. figure: now, or at first."""

    band: str
    place: int
    fill: tuple[float, ...]
    figure: str


@dataclass(frozen=True)
class HoursView:
    """Lanes of the hours on the air, the first ones shown first. stays: (band, start, end) of the plan.

    both: the axis always has both clocks; else the lanes of the day below it have.
    """

    times: tuple[np.datetime64, ...]
    now: np.datetime64
    lanes: tuple[HoursLane, ...]
    stays: tuple[tuple[str, np.datetime64, np.datetime64], ...]
    scale: str  # `full lane: every day`
    both: bool = True

    def axis_rows(self, rows: int) -> int:
        """Rows of the axis out of `rows`: both clocks where they differ."""
        return 2 if say.two_clocks(self.now) and (self.both or rows >= 2 + LEAST_LANES) else 1

    def height(self, rows: int) -> tuple[int, int]:
        """Number of lanes in `rows`, and the rows of each; the scale has a row where one is left."""
        room = rows - self.axis_rows(rows)
        count = max(min(len(self.lanes), room), 0)
        return count, min(max(room // max(count, 1), 1), TALLEST)

    def rows_used(self, rows: int) -> int:
        """Rows out of `rows` that axis, lanes and scale fill."""
        count, each = self.height(rows)
        return min(self.axis_rows(rows) + count * each + 1, rows)


@dataclass(frozen=True)
class OnAirView:
    """Content of the page."""

    band: str  # band in use; empty: none
    lines: tuple[str, ...]  # next to the large word
    left: float  # remaining share of the stay
    change: str  # next change, in words; empty: none
    then: tuple[str, ...]  # changes after it
    tally: str
    sky: str
    alert: str = ""
    learnt: tuple[str, ...] = ()  # what changed and why; the estimate
    settings: tuple[str, ...] = ()  # of the antenna for the band in use and for the next one
    hours: HoursView | None = None


class OnAir(Drawn):
    """Present state of the outing."""

    about = (
        "The large word is the band to be on. Under it a bar runs down to the next change, with what to do "
        "at the antenna; then the changes after it, what was learnt on the air, what has been written down, "
        "and the sky in one line. Where rows are free, the antenna's settings for this band and the next "
        "one, and the best bands over the hours on the air: the fuller a lane, the more contacts an hour, or "
        "with a friend the more days."
    )

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.view: OnAirView | None = None

    def show(self, view: OnAirView | None) -> None:
        """Set the state; draw only if it changed."""
        if view != self.view or view is None:
            self.view = view
            self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw, from the top, the present step, the next and the later ones."""
        view = self.view
        if view is None:
            canvas.put(2, min(1, canvas.height - 1), words.WORKING, SOFT)
            return
        airy = 1 if canvas.height >= self.rows_in(canvas.width, airy=True) else 0
        spare = canvas.height - self.rows_in(canvas.width, airy=bool(airy))
        settings, lane_rows = self._spread_over(spare, canvas.width)
        y, x = airy, 2
        big = view.band or "--"
        if canvas.height >= 9 and set(big) <= set("0123456789m-"):
            put_big(canvas, x, y, big, TITLE if view.band else QUIET)
            x += max(big_width(big), BIG_ROOM) + 3
        else:
            x = canvas.put(x, y, big, TITLE) + 2
        beside = text_flow.wrap_all(view.lines, max(canvas.width - x - 1, 10))
        for row, line in enumerate(beside):
            canvas.put(x, y + row, line, STRONG if row == 0 else TEXT)
        y += max(BIG_ROWS, len(beside)) + airy
        if view.change:
            put_bar(canvas, 2, y, canvas.width - 4, view.left, KEY)
            y = self._lines(canvas, y + 1, view.change, STRONG)
        for line in (*view.then, *settings):
            y = self._lines(canvas, y, line, TEXT)
        y += airy
        for row, line in enumerate(view.learnt[: 2 if airy else 1]):
            y = self._lines(canvas, y, line, STRONG if row == 0 else SOFT)
        y = self._lines(canvas, y, view.tally, TEXT)
        y = self._lines(canvas, y, view.sky, SOFT)
        if lane_rows and view.hours is not None:
            _put_hours_view(canvas, y + airy, lane_rows, view.hours)

    def rows_in(self, width: int, airy: bool) -> int:
        """Rows of the picture in a width without what only fills free rows. airy: with blank rows between its
        parts and below it.
        """
        view = self.view
        if view is None:
            return 2
        room = max(width - 4, 10)
        beside = max(width - 2 - max(big_width(view.band or "--"), BIG_ROOM) - 4, 10)
        learnt = view.learnt[: 2 if airy else 1]
        below = [line for line in (*view.then, *learnt, view.tally, view.sky) if line]
        change = 1 + len(text_flow.wrap(view.change, room)) if view.change else 0
        head = max(BIG_ROWS, len(text_flow.wrap_all(view.lines, beside)))
        return 4 * airy + head + change + sum(len(text_flow.wrap(line, room)) for line in below)

    def rows_for_more(self, width: int, room: int) -> int:
        """Rows out of `room` that settings and lanes can fill."""
        settings, lane_rows = self._spread_over(room, width)
        hours = self.view.hours if self.view is not None else None
        lanes = hours.rows_used(lane_rows) if hours is not None and lane_rows else 0
        return sum(self._rows_of(line, width) for line in settings) + lanes

    def _spread_over(self, spare: int, width: int) -> tuple[tuple[str, ...], int]:
        """Settings shown in the free rows, and the rows left for the lanes, two lanes at least."""
        view = self.view
        if view is None:
            return (), 0
        least = 0 if view.hours is None else view.hours.axis_rows(0) + min(LEAST_LANES, len(view.hours.lanes))
        taken: list[str] = []
        left = spare
        for line in view.settings:
            needs = self._rows_of(line, width)
            if left - needs < (least if spare >= least else 0):
                break
            taken.append(line)
            left -= needs
        return tuple(taken), (left if view.hours is not None and left >= least else 0)

    @staticmethod
    def _rows_of(text: str, width: int) -> int:
        return len(text_flow.wrap(text, max(width - 4, 10)))

    @staticmethod
    def _lines(canvas: Canvas, y: int, text: str, ink: int) -> int:
        for line in text_flow.wrap(text, max(canvas.width - 4, 10)):
            canvas.put(2, y, line, ink)
            y += 1
        return y


def _put_hours_view(canvas: Canvas, y: int, rows: int, view: HoursView) -> None:
    """Draw the axis on both clocks, the best lanes that fit in the order of the bands, and the scale."""
    width = canvas.width - LABEL - RIGHT - 1
    times = np.array(view.times)
    if width < 12 or times.size < 2:
        return
    axis = view.axis_rows(rows)
    if axis > 1:
        put_hours(canvas, LABEL, y, width, times, QUIET, other=True)
        canvas.put(2, y, say.zone_word(True), QUIET)
    put_hours(canvas, LABEL, y + axis - 1, width, times)
    canvas.put(2, y + axis - 1, say.zone_word(), SOFT)
    begun = view.times[0] <= view.now
    canvas.put(LABEL + width + 1, y + axis - 1, "now" if begun else "at first", SOFT)
    count, each = view.height(rows)
    chosen = sorted(view.lanes[:count], key=lambda lane: lane.place)
    at, top = columns_of(times, width), y + axis
    present = column_at(times, view.now, width)
    for slot, lane in enumerate(chosen):
        row, middle = top + slot * each, top + slot * each + each // 2
        fill = as_float(np.interp(at, np.arange(times.size, dtype=np.float64), lane.fill))
        put_lane(canvas, LABEL, row, each, fill)
        if present is not None:
            put_upright(canvas, LABEL + present, range(row, row + each), NOW)
        canvas.put_right(LABEL - 1, middle, say.band_title(lane.band), TEXT)
        canvas.put(LABEL + width + 1, middle, lane.figure, TEXT)
        for band, start, end in view.stays:
            if band == lane.band:
                begin, last = (column_within(times, when, width) for when in (start, end))
                canvas.paint_ground(LABEL + begin, row, LABEL + last + 1, row + each, CHOSEN)
                put_stay(canvas, LABEL, row, begin, last)
    bottom = top + len(chosen) * each
    if bottom < y + rows:
        canvas.put(LABEL, bottom, f"{view.scale}   ├ ┤ the plan", SOFT, room=canvas.width - LABEL)
