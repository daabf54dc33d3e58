"""Review of an outing: what every band promised along the time axis, and the bands actually used.

Under each lane that was in use is its track. It is a line while the operator was on the band, dotted where
there was no contact, with a sign for every contact. The last line is the best plan, known only afterwards.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, TimeArray
from propagation.wording import quantities as say
from tui.kit import text_flow
from tui.kit.canvas import Canvas, Drawn, EntryRows
from tui.kit.day_view import Stay
from tui.kit.marks import column_at, columns_of, put_hours, put_lane
from tui.kit.theme import CHOSEN, GAIN, KEY, LOSS, MARK, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from propagation.logbook.kept_offset import Learnt


LABEL: Final = 7  # columns left of the lanes
AROUND: Final = 4  # rows of title, hours, plan and legend
SIGN_OF: Final[dict[str, tuple[str, int]]] = {
    "expected": ("●", GAIN), "fair": ("○", TEXT), "against the odds": ("*", LOSS), "no place": ("?", SOFT),
}  # fmt: skip
RANK: Final = ("no place", "expected", "fair", "against the odds")  # in one column the last of these is shown


class OutingLanes(Drawn):
    """Lanes of the forecast, tracks of the bands used, and the best plan in hindsight."""

    about = (
        "Each lane is a band: the fuller, the more the forecast of that day promised, "
        "against the best band of the outing. Under it the line shows when you were on the band, dotted "
        "where no contact came. Contacts: a filled disc was to be expected, a ring was fair luck, a star "
        "came against the odds. The last line is the best plan, as one knows it afterwards."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: ReviewView | None = None
        self.chosen = 0
        self.waiting: tuple[str, ...] = ()

    def show(self, view: ReviewView | None, chosen: int = 0, waiting: tuple[str, ...] = ()) -> None:
        """Set a review, the chosen contact, and the sentences shown while there is no review."""
        self.view, self.chosen, self.waiting = view, chosen, waiting
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the title, the axis, the lanes with their tracks, the plan and the legend."""
        view = self.view
        if view is None:
            self._wait(canvas)
            return
        width = canvas.width - LABEL - 2
        if width < 8 or canvas.height < 4:
            canvas.put(0, 0, view.title, TEXT)
            return
        canvas.put(1, 0, view.title, TITLE, room=canvas.width - 2)
        put_hours(canvas, LABEL, 1, width, view.times)
        canvas.put(1, 1, say.zone_word(), SOFT)
        used = {one.band for one in view.on}
        bands = self._bands(view, used, canvas.height - AROUND)
        rows = len(bands) + sum(band in used for band in bands)
        each = 2 if canvas.height - AROUND >= rows + len(bands) else 1
        y = 2
        for band in bands:
            y = self._lane(canvas, view, band, y, each, width, band in used)
        self._plan(canvas, view, y, width)
        self._legend(canvas, view, y + 1)

    def _wait(self, canvas: Canvas) -> None:
        """Draw the sentences shown without a review, with blank rows between them if there is room."""
        blocks = [text_flow.wrap(text, max(min(canvas.width, 100) - 4, 1)) for text in self.waiting]
        gap = 1 if sum(len(block) + 1 for block in blocks) < canvas.height else 0
        y = gap
        for number, block in enumerate(blocks):
            for line in block[: max(canvas.height - y, 0)]:
                canvas.put(2, y, line, TEXT if number == 0 else SOFT)
                y += 1
            y += gap

    def _bands(self, view: ReviewView, used: set[str], room: int) -> list[str]:
        """Bands for which there is room: bands used come first, then those that promise most."""
        planned = {stay.band for stay in view.plan}
        peak = {band: float(np.max(view.figure[i])) for i, band in enumerate(view.bands)}
        made = Counter(row.band for row in view.contacts)
        order = sorted(
            view.bands, key=lambda band: (band not in used, -made[band], band not in planned, -peak[band])
        )
        chosen: list[str] = []
        for band in order:
            worth = band in used or band in planned or peak[band] >= 0.1 * view.top
            room -= (2 if band in used else 1) if worth else 0
            if worth and room >= 0:
                chosen.append(band)
        return [band for band in view.bands if band in chosen]

    def rows_wanted(self) -> int:
        """Rows in which every band that was in use has its lane and its track."""
        used = {one.band for one in self.view.on} if self.view is not None else set()
        return AROUND + 2 * len(used) + 2

    def _lane(
        self, canvas: Canvas, view: ReviewView, band: str, y: int, each: int, width: int, used: bool
    ) -> int:
        number = view.bands.index(band)
        at = columns_of(view.times, width)
        index = np.arange(view.times.size, dtype=np.float64)
        share = np.interp(at, index, view.figure[number]) / max(view.top, 1e-12)
        if not view.usable[number]:
            share = np.zeros_like(share)
        canvas.put_right(LABEL - 1, y + each - 1, say.band_title(band), STRONG if used else TEXT)
        put_lane(canvas, LABEL, y, each, share)
        y += each
        if not used:
            return y
        for one in view.on:
            if one.band == band:
                self._line(canvas, view, one, y, width, "─")
        for one in view.silent:
            if one.band == band:
                self._line(canvas, view, one, y, width, "┈")
        rows = [
            (RANK.index(row.verdict), number, row)
            for number, row in enumerate(view.contacts)
            if row.band == band
        ]
        for _, order, row in sorted(rows, key=lambda item: (item[0], item[1])):
            self._contact(canvas, view, row, y, width, order == self.chosen)
        return y + 1

    def _line(self, canvas: Canvas, view: ReviewView, stay: Stay, y: int, width: int, sign: str) -> None:
        first, last = column_at(view.times, stay.start, width), column_at(view.times, stay.end, width)
        if first is not None and last is not None:
            for x in range(first, last + 1):
                canvas.mark(LABEL + x, y, sign, SOFT)

    def _contact(
        self, canvas: Canvas, view: ReviewView, row: ContactRow, y: int, width: int, chosen: bool
    ) -> None:
        column = column_at(view.times, row.time, width)
        if column is not None:
            sign, ink = SIGN_OF[row.verdict]
            canvas.mark(LABEL + column, y, sign, ink)
            if chosen:
                canvas.paint_ground(LABEL + column, max(y - 1, 0), LABEL + column + 1, y + 1, CHOSEN)

    def _plan(self, canvas: Canvas, view: ReviewView, y: int, width: int) -> None:
        if not view.plan:
            return
        canvas.put_right(LABEL - 1, y, "best", MARK)
        for stay in view.plan:
            first, last = column_at(view.times, stay.start, width), column_at(view.times, stay.end, width)
            if first is None or last is None:
                continue
            for x in range(first, last):
                canvas.mark(LABEL + x, y, "─", MARK)
            canvas.mark(LABEL + first, y, "├", MARK)
            canvas.put(LABEL + first + 1, y, say.band_title(stay.band), MARK, room=max(last - first - 1, 0))

    def _legend(self, canvas: Canvas, view: ReviewView, y: int) -> None:
        if y >= canvas.height:
            return
        full = f"full: {view.full}"
        x = canvas.put(LABEL, y, full, SOFT, room=canvas.width - LABEL)
        for verdict, (sign, ink) in SIGN_OF.items():
            fits = x + 4 + len(verdict) < canvas.width
            if fits and any(row.verdict == verdict for row in view.contacts):
                canvas.put(x + 2, y, sign, ink)
                x = canvas.put(x + 4, y, verdict, SOFT)


class ContactList(EntryRows):
    """Contacts of the outing, one line each, and the comment of the chosen one."""

    about = (
        "The contacts of the outing: when, with whom, how far, the days out of a hundred on which the "
        "forecast had it possible, the margin on the median day, and the way the signal most likely took."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: ReviewView | None = None
        self.chosen = 0

    def show(self, view: ReviewView | None, chosen: int = 0) -> None:
        """Set a review and the chosen contact."""
        self.view, self.chosen = view, chosen
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the heading, the rows and the comment."""
        view = self.view
        self.begin_spots(self.chosen, len(view.contacts) if view is not None else 0)
        if view is None or not view.contacts or canvas.height < 2:
            return
        wide = canvas.width >= 76
        heads = (say.zone_word(), "call", "band", "distance", "chance", "margin", "way")
        places = (2, 9, 26, 37, 45, 53, 55) if wide else (2, 9, 22, 22, 30, 39, 39)
        shown = range(7) if wide else (0, 1, 4, 5)
        for column in shown:
            self._cell(canvas, places[column], 0, heads[column], column, SOFT)
        room = canvas.height - 2
        first = min(max(self.chosen - room + 1, 0), max(len(view.contacts) - room, 0))
        for slot, number in enumerate(range(first, min(first + room, len(view.contacts)))):
            row, y = view.contacts[number], 1 + slot
            here = number == self.chosen
            self.stands(range(canvas.width), range(y, y + 1), number)
            if here:
                canvas.paint_ground(0, y, canvas.width, y + 1, CHOSEN)
                canvas.put(0, y, "▸", KEY)
            cells = _cells(row)
            for column in shown:
                self._cell(canvas, places[column], y, cells[column], column, STRONG if here else TEXT)
            sign, ink = SIGN_OF[row.verdict]
            x = places[6] + 7 if wide else places[6] + 2
            canvas.put(x, y, sign, ink)
            canvas.put(x + 2, y, row.verdict, SOFT, room=canvas.width - x - 2)
        chosen = view.contacts[min(self.chosen, len(view.contacts) - 1)]
        if chosen.comment:
            canvas.put(2, canvas.height - 1, chosen.comment, SOFT, room=canvas.width - 4)

    @staticmethod
    def _cell(canvas: Canvas, x: int, y: int, text: str, column: int, ink: int) -> None:
        """Draw a cell: words left-aligned, figures right-aligned."""
        if column in (0, 1, 6):
            canvas.put(x, y, text, ink, room={0: 6, 1: 11, 6: 7}[column])
        else:
            canvas.put_right(x, y, text, ink)


def _cells(row: ContactRow) -> tuple[str, ...]:
    """Return the cells of a line."""
    band = say.band_title(row.band)
    return (
        say.clock(row.time),
        row.call,
        band,
        row.distance,
        row.chance,
        row.margin.replace("-", "−"),
        row.mode,
    )


@dataclass(frozen=True, slots=True)
class ContactRow:
    """Contact or report of the outing."""

    time: np.datetime64
    call: str
    band: str
    distance: str
    chance: str
    margin: str
    mode: str  # of the path, such as 2F2; with lp for the long route
    verdict: str  # "expected", "fair", "against the odds", "no place"
    comment: str = ""


@dataclass(frozen=True, slots=True)
class ReviewView:
    """Outing compared with its forecast, and what the log teaches."""

    title: str  # log's name and the day, in a few words
    times: TimeArray  # (T,)
    bands: tuple[str, ...]
    figure: FloatArray  # (B, T) contacts an hour with a region, share of days for a place
    full: str  # what a full lane promises
    usable: BoolArray  # (B,)
    target: str
    on: Sequence[Stay]  # stretches in which each band was in use
    silent: Sequence[Stay]  # those of them without a contact
    plan: Sequence[Stay]  # the best plan in hindsight
    contacts: tuple[ContactRow, ...]
    sentences: tuple[str, ...]
    taught: tuple[str, ...]  # what the log teaches about the station, in words
    learnt_words: str  # learnt offsets of the station, and whether they are in use
    problems: tuple[str, ...] = ()  # errors in the file, by line
    learnt: Learnt | None = None  # engine's own record, needed for saving

    @property
    def top(self) -> float:
        """Greatest figure of any usable band."""
        return float(np.max(self.figure[self.usable], initial=0.0))
