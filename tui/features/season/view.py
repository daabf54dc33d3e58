"""Drawing of the coming months."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np
from textual import events
from textual.message import Message

from propagation.base.errors import InputError
from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray
from propagation.signal.rays.causes import CAUSES
from propagation.wording import quantities as say
from propagation.wording.clocks import two_clocks, zone_word
from tui.kit.canvas import Canvas, Drawn
from tui.kit.day_view import NAMED_FROM
from tui.kit.glyphs import FAINTEST, FILLS, SIGN_OF, texture
from tui.kit.lanes import signs_of_causes
from tui.kit.marks import put_hours, put_lane, ramp_ink
from tui.kit.theme import CHOSEN, CURSOR, KEY, QUIET, SOFT, STRONG, TEXT

if TYPE_CHECKING:
    from tui.kit.export import Paper


@dataclass(frozen=True, eq=False)
class SeasonView:
    """Forecast of the coming months, hour by hour: of all of them, or of those finished so far."""

    target: str
    months: tuple[str, ...]  # (M,) short titles
    titles: tuple[str, ...]  # (M,) in full
    bands: tuple[str, ...]
    worth: FloatArray  # (M, 24, B) share of days, or contacts an hour with a region
    full: float  # worth of a full cell
    best_band: IntArray  # (M, 24)
    limit: IntArray  # (M, 24, B) code of the cause that limits a band
    suits: BoolArray  # (M, 24) both operators awake
    times: TimeArray  # (M, 24) hours of the day that represents each month
    zones: tuple[str, ...]  # (M,) local time of each month, as its difference from UTC
    cells: tuple[tuple[str, ...], ...]  # (M, 24) a sentence on every hour
    best: tuple[str, ...]  # (M,) a sentence on the best hour of every month
    slots: tuple[str, ...]  # best slots, a sentence each
    says: tuple[str, ...]  # amount of contact, uncertainty of the solar cycle, the other side
    calendar: str
    paper: str
    news: tuple[str, ...] = ()  # how far it is; why no slot is likely, and what would change that
    awaited: tuple[str, ...] = ()  # short titles of the months that are still being worked out
    region: bool = False
    amount: FloatArray = field(default_factory=lambda: np.zeros(0))  # (M,) hours, or mean contacts an hour
    beside: FloatArray = field(default_factory=lambda: np.zeros(0))  # (M,) of the other side, NaN: not yet
    beside_name: str = ""

    @cached_property
    def fill(self) -> FloatArray:
        """Fill of the cells (M, 24, B), 0 to 1."""
        return np.minimum(self.worth / self.full, 1.0)

    def exported(self, now: np.datetime64) -> Paper:
        """Return the slots as a calendar and for printing; InputError if there are none."""
        from tui.kit.export import Paper, in_a_name, stamp

        if not self.slots:
            raise InputError(f"There is no slot to write. {self.news[0] if self.news else ''}")
        return Paper(f"bandwhen-season-{in_a_name(self.target)}-{stamp(now)}", self.paper, self.calendar)


LABEL: Final = 8  # columns left of the hours
HOURS: Final = 24
ASLEEP: Final = "·"
AWAITED: Final = "?"
TALLEST: Final = 3  # rows of a month
FEWEST: Final = (4, 8)  # rows of the sentences on a low and on a high screen (ours)
LOW_SCREEN: Final = 24  # rows of months and sentences up to which a screen is low (ours)
RIGHT: Final = 16  # columns right of the hours, if there is room: hours of contact
TOP_BAND: Final = "TB"  # 160 m in two characters
HALF_AN_HOUR: Final = np.timedelta64(1800, "s")


def beginning(working: bool) -> str:
    """Text of the page before the first month is there."""
    if working:
        return "The coming months are being worked out, one after the other; Esc stops it."
    return "The coming months were not worked out; the next key that needs them asks for them again."


class Months(Drawn):
    """Table with one cell for each hour of a month: best band, and a fill and lightness for its worth."""

    about = (
        "Months down, hours across, UTC and local; local hours are those of the chosen month, as its "
        "difference from UTC says. Each cell names the best band in metres (TB: 160 m); the fuller and "
        "lighter its bar, the more contacts an hour with a region, or days in ten with a place. A dot: one "
        "of the two is asleep at that hour. Where even the best band is poor, the cell is dim, and the sign "
        "of what limits that band takes the place of the bar; the last line names the signs. A row of ? is "
        "a month that is not worked out yet. Enter opens a month: then every band has a row, and the pattern "
        "in its empty part is the sign of what limits it."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: SeasonView | None = None
        self.month = self.hour = 0
        self.opened = self.working = False
        self._places = (1, 1, 0)  # columns per hour, rows per month, first row

    class Pointed(Message):
        """Message that a cell was clicked."""

        def __init__(self, row: int, hour: int) -> None:
            super().__init__()
            self.row, self.hour = row, hour

    def show(
        self, view: SeasonView | None, month: int, hour: int, opened: bool, working: bool = False
    ) -> None:
        """Set the season, the chosen cell, whether its month is open, and whether more is worked out."""
        self.view, self.month, self.hour, self.opened, self.working = view, month, hour, opened, working
        self.redraw()

    def on_click(self, event: events.Click) -> None:
        """Choose the cell under the pointer."""
        across, each, first = self._places
        column, row = (event.x - LABEL) // across, (event.y - self._top) // each + first
        if self.view is not None and 0 <= column < HOURS and event.y >= self._top:
            self.post_message(self.Pointed(row, column))

    def rows_of_sentences(self, room: int, wanted: int) -> int:
        """Rows of `room` that the sentences get: those they want, as far as every month keeps its rows."""
        view = self.view
        if view is None:
            return min(wanted, FEWEST[0])
        rows = len(view.bands) if self.opened else len(view.months) + len(view.awaited)
        fewest = min(FEWEST[room > LOW_SCREEN], wanted)
        around = self._top + 1  # axis and legend
        each = next((n for n in range(TALLEST, 1, -1) if around + n * rows + fewest <= room), 1)
        return max(min(wanted, room - around - each * rows), min(FEWEST[0], wanted))

    @property
    def _top(self) -> int:
        """Rows of the axis: one, or two where local time differs from UTC."""
        view = self.view
        return 2 if view is not None and two_clocks(view.times[self.month, 0]) else 1

    def paint(self, canvas: Canvas) -> None:
        """Draw the axis, the rows and the legend."""
        view = self.view
        if view is None:
            canvas.put(2, canvas.height // 2, beginning(self.working), SOFT)
            return
        right = RIGHT if canvas.width >= LABEL + 3 * HOURS + RIGHT else 0
        across = max(1, (canvas.width - LABEL - right) // HOURS)
        titles = (*view.months, *view.awaited)
        rows, top = len(view.bands) if self.opened else len(titles), self._top
        each = max(1, min(TALLEST, (canvas.height - top) // max(rows, 1)))
        fit = max(1, (canvas.height - top) // each)
        chosen = 0 if self.opened else self.month
        first = min(max(chosen - fit + 1, 0), max(rows - fit, 0))
        self._places = (across, each, first)
        self._axis(canvas, view, across)
        for slot, row in enumerate(range(first, min(first + fit, rows))):
            y = top + slot * each
            if self.opened:
                self._band(canvas, view, row, y, each, across)
            elif row < len(view.months):
                self._month(canvas, view, row, y, each, across)
            else:
                self._awaited(canvas, view, row, y, each, across)
        bottom = top + min(fit, rows - first) * each
        x = LABEL + self.hour * across
        canvas.paint_ground(x, 0, x + across, bottom, CURSOR)
        if first > 0:
            canvas.mark(0, top, "↑", KEY)
        if first + fit < rows:
            canvas.mark(0, bottom - 1, "↓", KEY)
        if bottom < canvas.height and view.bands:
            self._legend(canvas, view, bottom)

    def _axis(self, canvas: Canvas, view: SeasonView, across: int) -> None:
        """Hours of both clocks over the cells; the local ones with the chosen month's difference from UTC."""
        middles = view.times[self.month] + HALF_AN_HOUR
        for y in range(self._top):
            other = y == 1
            label = "UTC" if zone_word(other) == "UTC" else view.zones[self.month]
            ink = QUIET if other else SOFT
            if self.opened and label == "UTC":
                label = f"{view.months[self.month].split()[0]} UTC"
            canvas.put(1 if len(label) < LABEL - 1 else 0, y, label, ink)
            put_hours(canvas, LABEL, y, across * HOURS, middles, ink, other=other, least=3.0)
            x = LABEL + self.hour * across
            canvas.inks[y, x : x + across] = STRONG
        if not self.opened and canvas.width >= LABEL + HOURS * across + RIGHT - 1:
            other_name = f"  {view.beside_name}" if view.beside.size else ""
            name = "mean/h" if view.region else "h/month"
            canvas.put(LABEL + HOURS * across + 1, 0, f"{name}{other_name}", SOFT, room=RIGHT - 1)

    def _awaited(self, canvas: Canvas, view: SeasonView, row: int, y: int, each: int, across: int) -> None:
        """A month that is not finished: a pattern, and in the first such row words."""
        middle, at = y + (each - 1) // 2, row - len(view.months)
        canvas.put(1, middle, view.awaited[at], SOFT)
        for hour in range(HOURS):
            canvas.mark(LABEL + hour * across + across // 2, middle, AWAITED, QUIET)
        if at == 0:
            told = "being worked out" if self.working else "not worked out"
            canvas.put(LABEL + across, middle, f" {told} ", SOFT)

    def _legend(self, canvas: Canvas, view: SeasonView, y: int) -> None:
        """Signs of the cells and what they mean, the most frequent causes first."""
        if self.opened:
            limits, entries = view.limit[self.month][view.fill[self.month] < FAINTEST], []
        else:
            fill, limit = (
                np.take_along_axis(values, view.best_band[..., None], axis=-1)[..., 0]
                for values in (view.fill, view.limit)
            )
            poor = fill < FAINTEST
            limits, entries = limit[poor], [] if np.all(view.suits | poor) else [(ASLEEP, "asleep")]
        entries += signs_of_causes(limits)
        if view.awaited and not self.opened:
            entries.append((AWAITED, "not worked out yet"))
        x = LABEL
        for sign, meaning in entries:
            if x + len(meaning) + 4 > canvas.width:
                break
            canvas.mark(x, y, sign, SOFT)
            x = canvas.put(x + 2, y, meaning, QUIET) + 2

    def _month(self, canvas: Canvas, view: SeasonView, row: int, y: int, each: int, across: int) -> None:
        middle = y + (each - 1) // 2
        here = row == self.month
        if here:
            canvas.paint_ground(0, y, canvas.width, y + each, CHOSEN)
            canvas.point_at(middle)
        canvas.put(1, middle, view.months[row], STRONG if here else TEXT)
        for hour in range(HOURS):
            self._cell(canvas, view, row, hour, LABEL + hour * across, y, each, across)
        x = LABEL + HOURS * across + 1
        if canvas.width >= x + RIGHT - 2:
            canvas.put_right(x + 4, middle, _amount(view, view.amount[row]), TEXT)
            if view.beside.size:
                canvas.put_right(x + 11, middle, _amount(view, view.beside[row]), SOFT)

    def _cell(
        self, canvas: Canvas, view: SeasonView, row: int, hour: int, x: int, y: int, each: int, across: int
    ) -> None:
        band = int(view.best_band[row, hour])
        fill = float(view.fill[row, hour, band]) if view.bands else 0.0
        awake = bool(view.suits[row, hour])
        ink = ramp_ink(fill) if awake else QUIET
        name = view.bands[band].removesuffix("m") if view.bands else ""
        name = TOP_BAND if len(name) > 2 else name
        if fill < FAINTEST:
            name = name if view.bands and float(view.worth[row, hour, band]) >= NAMED_FROM else ""
            self._poor_cell(canvas, int(view.limit[row, hour, band]), name, x, y, each, across)
            return
        if across < 3:
            canvas.mark(x, y, FILLS[max(1, round(fill * 8.0))] if awake else ASLEEP, ink)
            return
        canvas.put(x, y, f"{name:>2}", ink if awake else SOFT)
        if each == 1:
            canvas.mark(x + 2, y, FILLS[max(1, round(fill * 8.0))] if awake else ASLEEP, ink)
            return
        if awake:
            put_lane(canvas, x, y + 1, each - 1, np.full(across - 1, fill))
        else:
            canvas.put(x, y + 1, ASLEEP * (across - 1), QUIET)

    @staticmethod
    def _poor_cell(canvas: Canvas, limit: int, name: str, x: int, y: int, each: int, across: int) -> None:
        """A cell whose best band is poor, dim: that band, and the sign of what limits it."""
        sign = SIGN_OF.get(CAUSES[limit], " ")
        if across < 3:
            canvas.mark(x, y, sign, QUIET)
            return
        canvas.put(x, y, f"{name:>2}", QUIET)
        if each == 1:
            canvas.mark(x + 2, y, sign, QUIET)
            return
        for row in range(1, each):
            canvas.mark(x + (2 * (row - 1)) % (across - 1), y + row, sign, QUIET)

    def _band(self, canvas: Canvas, view: SeasonView, row: int, y: int, each: int, across: int) -> None:
        canvas.put_right(LABEL - 1, y + each // 2, say.band_title(view.bands[row]), TEXT)
        codes = np.repeat(view.limit[self.month, :, row], across)
        quiet = np.array([texture(codes, y + line) for line in range(each)])
        put_lane(canvas, LABEL, y, each, np.repeat(view.fill[self.month, :, row], across), quiet)
        x = LABEL + HOURS * across + 1
        if canvas.width >= x + 4:
            at = float(view.worth[self.month, self.hour, row])
            figure = say.rate_short(at) if view.region else say.percent_figure(at)
            canvas.put(x, y + each // 2, f"{figure:>3}", TEXT)


def _amount(view: SeasonView, value: float) -> str:
    if np.isnan(value):
        return AWAITED
    return say.rate_short(value) if view.region else f"{value:,.0f}"
