"""Two clocks on one day: when each end is awake, how good the best band is, and the proposed hours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from propagation.base.units import BoolArray, FloatArray, TimeArray
from propagation.wording import quantities as say
from tui.features.sked.view import sked_sentences
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas
from tui.kit.entry_rows import EntryRows
from tui.kit.marks import column_at, columns_of, put_hours, put_lane
from tui.kit.theme import CHOSEN, KEY, QUIET, SKYLIGHT, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from tui.features.sked.view import SkedView

LABEL = 16
CLOCK_ROWS = 10  # above the slots, with a lane of three rows
DAY = np.timedelta64(86400, "s")


class Clocks(EntryRows):
    """Home clock, their clock, the best band's lane, and the slots."""

    about = (
        "Two clocks over one day in UTC: each row carries its own local hours, and a line where that end "
        "is awake and free. The lane between them is the chance on the best band both have; the numbers "
        "mark the proposed appointments, best first."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: SkedView | None = None
        self.slot = 0
        self.waiting = words.WORKING

    def show(self, view: SkedView | None, slot: int = 0, waiting: str = words.WORKING) -> None:
        """Take the appointment's day and the chosen slot."""
        self.view, self.slot, self.waiting = view, slot, waiting
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Clocks, lane, slots."""
        view = self.view
        self.begin_spots(self.slot, len(view.slots) if view is not None else 0)
        if view is None:
            canvas.put(2, 1, self.waiting, SOFT)
            return
        if not view.far_zone:  # a region is nobody to meet
            for row, line in enumerate(text_flow.wrap(view.note, max(canvas.width - 3, 1))):
                canvas.put(2, 1 + row, line, TEXT)
            return
        width = canvas.width - LABEL - 2
        if width < 24 or canvas.height < 9:
            for row, line in enumerate(text_flow.wrap_all(sked_sentences(view), canvas.width)):
                canvas.put(0, row, line, TEXT)
            return
        if width >= 48:
            width -= width % 24
        times, first = self._day(view)
        pick = first + np.rint(columns_of(times, width)).astype(np.int64)
        canvas.put(1, 0, f"UTC {say.day_title(self._shown_day(view, times))[:-5]}", SOFT, room=LABEL - 1)
        put_hours(canvas, LABEL, 0, width, times)
        tall = 3 if canvas.height >= 22 else 2
        _clock(canvas, 1, view.home, view.home_hour[pick], view.home_free[pick])
        canvas.put(1, 3 + tall // 2, "best band", SOFT)
        put_lane(canvas, LABEL, 3, tall, view.best_chance[pick])
        _clock(canvas, 3 + tall, view.far, view.far_hour[pick], view.far_free[pick])
        marks = 5 + tall
        for number, slot in enumerate(view.slots):
            column = column_at(times, slot.start, width)
            if column is not None:
                self.stands(range(LABEL + column, LABEL + column + 2), range(marks, marks + 1), number)
                canvas.put(LABEL + column, marks, str(number + 1), TITLE if number == self.slot else TEXT)
        self._slots(canvas, view, marks + 2)

    def _shown_day(self, view: SkedView, times: TimeArray) -> np.datetime64:
        """The moment whose day stands over the axis: the slot chosen, else the middle of the axis."""
        if view.slots:
            return view.slots[min(self.slot, len(view.slots) - 1)].start
        middle: np.datetime64 = times[times.size // 2]
        return middle

    def _day(self, view: SkedView) -> tuple[TimeArray, int]:
        """The times of the day of the chosen slot, and the index at which it begins."""
        if view.times.size < 2:
            return view.times, 0
        count = min(round(DAY / (view.times[1] - view.times[0])), view.times.size)
        first = 0
        if view.slots:
            day = view.slots[min(self.slot, len(view.slots) - 1)].start.astype("datetime64[D]")
            first = int(np.searchsorted(view.times, day.astype("datetime64[s]")))
        first = min(first, view.times.size - count)
        return view.times[first : first + count], first

    def _slots(self, canvas: Canvas, view: SkedView, y: int) -> None:
        if not view.slots:
            for row, line in enumerate(text_flow.wrap(view.note, canvas.width - 3)):
                canvas.put(2, y + row, line, TEXT)
            return
        each = 2
        shown = max((canvas.height - y) // each, 1)
        first = min(max(self.slot - shown + 1, 0), max(len(view.slots) - shown, 0))
        for place, number in enumerate(range(first, min(first + shown, len(view.slots)))):
            slot, row = view.slots[number], y + place * each
            here = number == self.slot
            self.stands(range(canvas.width), range(row, row + each), number)
            if here:
                canvas.paint_ground(0, row, canvas.width, row + 2, CHOSEN)
                canvas.put(0, row, "▸", KEY)
            canvas.put(2, row, f"{number + 1}", TITLE)
            x = (
                canvas.put(
                    5,
                    row,
                    f"{say.day_title(slot.start)[:-5]} {say.clock(slot.start)}-{say.clock(slot.end)} UTC",
                    STRONG if here else TEXT,
                )
                + 2
            )
            x = canvas.put(x, row, say.band_title(slot.band), TITLE) + 1
            canvas.put(x, row, f"{slot.frequency}  {say.days(slot.chance)}", TEXT)
            tail = f"{slot.home_clock} here, {slot.far_clock} there" + (
                f"; fallback {slot.fallback}" if slot.fallback else ""
            )
            canvas.put(5, row + 1, tail, SOFT)
        if view.note and canvas.height > y + shown * each:
            canvas.put(2, canvas.height - 1, view.note, SOFT)


def _clock(canvas: Canvas, y: int, name: str, hours: FloatArray, free: BoolArray) -> None:
    """A row of local hours over a row that shows when that end is free."""
    canvas.put(1, y, name, STRONG, room=LABEL - 2)
    width = hours.shape[0]
    whole = np.floor(hours).astype(np.int64) % 24
    starts = np.flatnonzero(np.diff(whole, prepend=whole[0] - 1))
    step = next((h for h in (1, 2, 3, 6) if h * width / 24 >= 4), 6)
    last = -4
    for column in starts:
        hour = int(whole[column])
        if hour % step == 0 and column - last >= 4 and column + 2 <= width:
            canvas.put(LABEL + int(column), y, f"{hour:02d}", TEXT)
            last = int(column)
    canvas.put(1, y + 1, "awake and free", QUIET)
    canvas.signs[y + 1, LABEL : LABEL + width] = np.where(free, "━", "·")
    canvas.inks[y + 1, LABEL : LABEL + width] = np.where(free, SKYLIGHT + 3, QUIET)
