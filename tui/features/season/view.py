"""Drawing of the coming months."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np
from textual import events
from textual.message import Message

from propagation.base.errors import InputError
from propagation.base.units import BoolArray, FloatArray, IntArray
from propagation.wording import quantities as say
from tui.kit import words
from tui.kit.canvas import Canvas, Drawn
from tui.kit.glyphs import FILLS
from tui.kit.marks import FAINTEST, put_lane, ramp_ink
from tui.kit.theme import CHOSEN, CURSOR, KEY, QUIET, SOFT, STRONG, TEXT

if TYPE_CHECKING:
    from tui.kit.export import Paper


@dataclass(frozen=True, eq=False)
class SeasonView:
    """Forecast of the coming months, hour by hour."""

    target: str
    months: tuple[str, ...]  # (M,) short titles
    titles: tuple[str, ...]  # (M,) in full
    bands: tuple[str, ...]
    worth: FloatArray  # (M, 24, B) share of days, or contacts an hour with a region
    full: float  # worth of a full cell
    best_band: IntArray  # (M, 24)
    suits: BoolArray  # (M, 24) both operators awake
    cells: tuple[tuple[str, ...], ...]  # (M, 24) a sentence on every hour
    best: tuple[str, ...]  # (M,) a sentence on the best hour of every month
    slots: tuple[str, ...]  # best slots, a sentence each
    says: tuple[str, ...]  # amount of contact, uncertainty of the solar cycle, the other side
    calendar: str
    paper: str
    region: bool = False
    amount: FloatArray = field(default_factory=lambda: np.zeros(0))  # (M,) hours, or mean contacts an hour
    beside: FloatArray = field(default_factory=lambda: np.zeros(0))  # (M,) of the other side, or empty
    beside_name: str = ""

    @property
    def fill(self) -> FloatArray:
        """Fill of the cells (M, 24, B), 0 to 1."""
        return np.minimum(self.worth / self.full, 1.0)

    def exported(self, now: np.datetime64) -> Paper:
        """Return the slots as a calendar and for printing; InputError if there are none."""
        from tui.kit.export import Paper, in_a_name, stamp

        if not self.slots:
            raise InputError(f"There is no slot to write. {self.says[0]}")
        return Paper(f"bandwhen-season-{in_a_name(self.target)}-{stamp(now)}", self.paper, self.calendar)


LABEL: Final = 8  # columns left of the hours
HOURS: Final = 24
ASLEEP: Final = "·"
RIGHT: Final = 16  # columns right of the hours, if there is room: hours of contact
TOP_BAND: Final = "TB"  # 160 m in two characters


class Months(Drawn):
    """Table with one cell for each hour of a month: best band, and a fill and lightness for its worth."""

    about = (
        "Months down, hours UTC across. Each cell names the best band in metres (TB: 160 m); the fuller and "
        "lighter its bar, the more contacts an hour with a region, or days in ten with a place. A dot: one "
        "of the two is asleep at that hour. Enter opens a month: then every band has a row."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: SeasonView | None = None
        self.month = self.hour = 0
        self.opened = False
        self.working = ""
        self._places = (1, 1, 0)  # columns per hour, rows per month, first row

    class Pointed(Message):
        """Message that a cell was clicked."""

        def __init__(self, row: int, hour: int) -> None:
            super().__init__()
            self.row, self.hour = row, hour

    def show(self, view: SeasonView | None, month: int, hour: int, opened: bool, working: str = "") -> None:
        """Set the season, the chosen cell, and whether its month is open."""
        self.view, self.month, self.hour, self.opened, self.working = view, month, hour, opened, working
        self.redraw()

    def on_click(self, event: events.Click) -> None:
        """Choose the cell under the pointer."""
        across, each, first = self._places
        column, row = (event.x - LABEL) // across, (event.y - 1) // each + first
        if self.view is not None and 0 <= column < HOURS and event.y >= 1:
            self.post_message(self.Pointed(row, column))

    def paint(self, canvas: Canvas) -> None:
        """Draw the axis and the rows."""
        view = self.view
        if view is None:
            canvas.put(2, canvas.height // 2, self.working or words.WORKING, SOFT)
            return
        right = RIGHT if canvas.width >= LABEL + 3 * HOURS + RIGHT else 0
        across = max(1, (canvas.width - LABEL - right) // HOURS)
        rows = len(view.bands) if self.opened else len(view.months)
        each = max(1, min(4, (canvas.height - 1) // max(rows, 1)))
        fit = max(1, (canvas.height - 1) // each)
        chosen = 0 if self.opened else self.month
        first = min(max(chosen - fit + 1, 0), max(rows - fit, 0))
        self._places = (across, each, first)
        self._axis(canvas, across)
        for slot, row in enumerate(range(first, min(first + fit, rows))):
            y = 1 + slot * each
            if self.opened:
                self._band(canvas, view, row, y, each, across)
            else:
                self._month(canvas, view, row, y, each, across)
        bottom = 1 + min(fit, rows - first) * each
        x = LABEL + self.hour * across
        canvas.paint_ground(x, 0, x + across, bottom, CURSOR)
        if first > 0:
            canvas.mark(0, 1, "↑", KEY)
        if first + fit < rows:
            canvas.mark(0, bottom - 1, "↓", KEY)

    def _axis(self, canvas: Canvas, across: int) -> None:
        view = self.view
        assert view is not None
        head = view.months[self.month] if self.opened else "UTC"
        canvas.put(1, 0, head, STRONG if self.opened else SOFT)
        step = 1 if across >= 3 else 2 if across == 2 else 4
        for hour in range(0, HOURS, step):
            ink = STRONG if hour == self.hour else SOFT
            canvas.put(LABEL + hour * across, 0, f"{hour:02d}", ink)
        if not self.opened and canvas.width >= LABEL + HOURS * across + RIGHT - 1:
            other = f"  {view.beside_name}" if view.beside.size else ""
            name = "mean/h" if view.region else "h/month"
            canvas.put(LABEL + HOURS * across + 1, 0, f"{name}{other}", SOFT, room=RIGHT - 1)

    def _month(self, canvas: Canvas, view: SeasonView, row: int, y: int, each: int, across: int) -> None:
        middle = y + (each - 1) // 2
        here = row == self.month
        if here:
            canvas.paint_ground(0, y, canvas.width, y + each, CHOSEN)
            canvas.put(0, middle, "▸", KEY)
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
        if fill < FAINTEST:
            canvas.mark(x, y + each - 1, " ", QUIET)
            return
        awake = bool(view.suits[row, hour])
        ink = ramp_ink(fill) if awake else QUIET
        name = view.bands[band].removesuffix("m")
        name = TOP_BAND if len(name) > 2 else name
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

    def _band(self, canvas: Canvas, view: SeasonView, row: int, y: int, each: int, across: int) -> None:
        canvas.put_right(LABEL - 1, y + each // 2, say.band_title(view.bands[row]), TEXT)
        put_lane(canvas, LABEL, y, each, np.repeat(view.fill[self.month, :, row], across))
        x = LABEL + HOURS * across + 1
        if canvas.width >= x + 4:
            at = float(view.worth[self.month, self.hour, row])
            figure = say.rate_short(at) if view.region else say.percent_figure(at)
            canvas.put(x, y + each // 2, f"{figure:>3}", TEXT)


def _amount(view: SeasonView, value: float) -> str:
    return say.rate_short(value) if view.region else f"{value:.0f}"
