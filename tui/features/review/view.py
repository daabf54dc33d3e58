"""Review of an outing: what every band promised along the time axis, and the bands actually used.

Under each lane that was in use is its track. It is a line while the operator was on the band, dotted where
there was no contact, with a sign for every contact. The last line is the best plan, known only afterwards.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, TimeArray
from propagation.wording import quantities as say
from tui.kit import text_flow
from tui.kit.canvas import Canvas, Drawn, EntryRows
from tui.kit.day_view import Stay
from tui.kit.marks import column_at, columns_of, put_hours, put_lane
from tui.kit.theme import CHOSEN, GAIN, LOSS, MARK, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from propagation.logbook.kept_offset import Learnt
    from propagation.logbook.review import Review


SHORTEST_NAME: Final = 8  # columns of a log's name in the title; with less it is left out
LABEL: Final = 7  # columns left of the lanes
AROUND: Final = 4  # rows of title, hours, plan and legend; one more where local time is not UTC
SIGN_OF: Final[dict[str, tuple[str, int]]] = {
    "expected": ("●", GAIN), "fair": ("○", TEXT), "against the odds": ("*", LOSS), "no place": ("?", SOFT),
}  # fmt: skip
LONGEST_VERDICT: Final = max(len(verdict) for verdict in SIGN_OF)
# Columns: the clock told first, the other, call, band, distance, chance, margin, way; then the sign
SIGN: Final = 8
HEADS: Final[tuple[Callable[[], str], ...]] = (
    say.zone_word,
    lambda: say.zone_word(other=True),
    *(partial(str, head) for head in ("call", "band", "distance", "chance", "margin", "way")),
)
ROOMS: Final = {0: 6, 1: 6, 2: 10, 7: 7}  # cells of the columns of words, which are left-aligned
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
        canvas.put(1, 0, view.title_in(canvas.width - 2), TITLE, room=canvas.width - 2)
        y = 1
        for other in (False, True)[: _clocks(view)]:
            put_hours(canvas, LABEL, y, width, view.times, other=other)
            canvas.put(1, y, say.zone_word(other), SOFT)
            y += 1
        legend = self._legend(view, canvas.width)
        used = {one.band for one in view.on}
        room = canvas.height - y - len(legend) - (1 if view.plan else 0)
        bands = self._bands(view, used, room)
        rows = len(bands) + sum(band in used for band in bands)
        each = 2 if room >= rows + len(bands) else 1
        for band in bands:
            y = self._lane(canvas, view, band, y, each, width, band in used)
        if view.plan:
            self._plan(canvas, view, y, width)
            y += 1
        for row, line in enumerate(legend):
            for x, text, ink in line:
                canvas.put(x, y + row, text, ink)

    def _wait(self, canvas: Canvas) -> None:
        """Draw the sentences shown without a review, with blank rows between them if there is room."""
        blocks = self._blocks(canvas.width)
        gap = 1 if sum(len(block) + 1 for block in blocks) - 1 <= canvas.height else 0
        y = gap if len(blocks) == 1 else 0
        for number, block in enumerate(blocks):
            for line in block[: max(canvas.height - y, 0)]:
                canvas.put(2, y, line, TEXT if number == 0 else SOFT)
                y += 1
            y += gap

    def _blocks(self, width: int) -> list[list[str]]:
        """Lines of the sentences shown without a review."""
        return [text_flow.wrap(text, max(min(width, 100) - 4, 1)) for text in self.waiting]

    def rows_waiting(self, width: int) -> int:
        """Rows of the sentences shown without a review, with blank rows between them."""
        return max(sum(len(block) + 1 for block in self._blocks(width)) - 1, 1)

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
        if self.view is None:
            return AROUND + 2
        used = {one.band for one in self.view.on}
        around = AROUND + _clocks(self.view) - 1 + len(self._legend(self.view, self.size.width)) - 1
        return around + 2 * len(used) + 2

    def rows_at_most(self) -> int:
        """Rows in which every band has a lane of two rows, and every band that was in use its track."""
        return self.rows_wanted() + 2 * len(self.view.bands) if self.view is not None else 0

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

    @staticmethod
    def _legend(view: ReviewView, width: int) -> list[list[tuple[int, str, int]]]:
        """Rows of the legend: column, text and ink of each part; as many rows as keep every part whole."""
        parts = [[("full: " + view.full, SOFT)]]
        for verdict, (sign, ink) in SIGN_OF.items():
            if any(row.verdict == verdict for row in view.contacts):
                parts.append([(sign, ink), (verdict, SOFT)])
        rows: list[list[tuple[int, str, int]]] = [[]]
        start = LABEL if LABEL + len(parts[0][0][0]) < width else 1
        x = start
        for part in parts:
            wide = sum(len(text) for text, _ in part) + len(part) - 1
            if x > start and x + wide > width - 1:
                rows.append([])
                x = start
            for text, ink in part:
                rows[-1].append((x, text, ink))
                x += len(text) + 1
            x += 1
        return rows


def _clocks(view: ReviewView) -> int:
    """Number of hour axes: two where local time is not UTC."""
    return 2 if say.two_clocks(view.times[0]) else 1


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
        two = any(say.two_clocks(row.time) for row in view.contacts)
        places, shown = _columns(canvas.width, two)
        for column in shown:
            self._cell(canvas, places[column], 0, HEADS[column](), column, SOFT)
        room = canvas.height - 2
        first = min(max(self.chosen - room + 1, 0), max(len(view.contacts) - room, 0))
        for slot, number in enumerate(range(first, min(first + room, len(view.contacts)))):
            row, y = view.contacts[number], 1 + slot
            here = number == self.chosen
            self.stands(range(canvas.width), range(y, y + 1), number)
            if here:
                canvas.paint_ground(0, y, canvas.width, y + 1, CHOSEN)
                canvas.point_at(y)
            cells = _cells(row)
            for column in shown:
                self._cell(canvas, places[column], y, cells[column], column, STRONG if here else TEXT)
            sign, ink = SIGN_OF[row.verdict]
            x = places[SIGN]
            canvas.put(x, y, sign, ink)
            if x + 2 + LONGEST_VERDICT <= canvas.width:
                canvas.put(x + 2, y, row.verdict, SOFT)
        chosen = view.contacts[min(self.chosen, len(view.contacts) - 1)]
        if chosen.comment:
            canvas.put(2, canvas.height - 1, chosen.comment, SOFT, room=canvas.width - 4)

    @staticmethod
    def _cell(canvas: Canvas, x: int, y: int, text: str, column: int, ink: int) -> None:
        """Draw a cell: words left-aligned, figures right-aligned."""
        if column in ROOMS:
            canvas.put(x, y, text, ink, room=ROOMS[column])
        else:
            canvas.put_right(x, y, text, ink)


def _columns(width: int, two: bool) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Places of the columns and of the sign, and the columns shown. two: with the clock not told first."""
    if width >= 80 - 6 * (not two):
        places = (2, 8, 14, 29, 39, 46, 53, 54, 62)
        return (places if two else (2, 2, *(x - 6 for x in places[2:]))), tuple(
            column for column in range(SIGN) if two or column != 1
        )
    places = (2, 8, 14, 14, 14, 32, 40, 40, 42)
    if not two or width < places[SIGN] + 2 + LONGEST_VERDICT:
        return (2, 2, *(x - 6 for x in places[2:])), (0, 2, 5, 6)
    return places, (0, 1, 2, 5, 6)


def _cells(row: ContactRow) -> tuple[str, ...]:
    """Return the cells of a line."""
    band = say.band_title(row.band)
    return (
        say.clock(row.time),
        say.clock_on(row.time, other=True),
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
    name: str = ""  # the log's, at the beginning of the title
    setting: str = ""  # day, mode and power of the outing, for the top line
    found: Review | None = field(default=None, repr=False)  # engine's own record, for other words of it

    def title_in(self, room: int) -> str:
        """Title in so many columns: the log's name is shortened first, then left out."""
        rest = self.title[len(self.name) :]
        left = room - len(rest)
        if not self.name or left >= len(self.name):
            return self.title
        short = f"{text_flow.without_middle(self.name, left)}{rest}" if left >= SHORTEST_NAME else ""
        return short or rest.removeprefix(", ")

    @property
    def top(self) -> float:
        """Greatest figure of any usable band."""
        return float(np.max(self.figure[self.usable], initial=0.0))
