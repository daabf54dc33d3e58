"""The day on every band: one lane a band along one time axis, the sun at both ends above.

The fill of a lane shows the share of days on which the contact is possible; with a region the contacts an
hour, a full lane as many as the best hour of the day. It fills eighths of the lane's height, in the matching
lightness of one hue. An empty lane shows the pattern of the limiting factor.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from textual import events
from textual.message import Message

from propagation.base.units import FloatArray, IntArray
from propagation.signal.rays.causes import CAUSES
from propagation.wording import quantities as say
from propagation.wording.causes import short
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas, Drawn
from tui.kit.glyphs import EIGHTHS, FILLS, NOW, SIGN_OF, texture
from tui.kit.input_parsing import grid
from tui.kit.marks import column_at, columns_of, put_hours, put_lane
from tui.kit.theme import (
    CHOSEN,
    CURSOR,
    KEY,
    NOWLINE,
    QUIET,
    SKY_STEPS,
    SKYLIGHT,
    SOFT,
    STRONG,
    TEXT,
    TITLE,
    WARN,
)

if TYPE_CHECKING:
    from tui.kit.day_view import DayView, SunDay

LABEL = 7  # columns left of the lanes
RIGHT = 22  # columns right of the lanes, for the chance in figures and the cause in words
NARROW_RIGHT = 7  # the same on a narrow screen, for the figure alone
AXIS_ROWS = 3
MEASURED, BRACKET = "╎", "├─┤"  # end of a layer measurement's effect, and its span
LEAST_SUN = 12  # columns from which sunrise and sunset are written
DEAD = "x"  # mark of a band the operator found dead


class Lanes(Drawn):
    """All lanes of the day, with axis, sun and legend."""

    about = (
        "Each lane is a band's day. The fuller and lighter it is, the more days out of ten the contact can"
        " be made; with a region, the more contacts an hour, and the figure of a full lane is beneath. Where "
        "it is empty, the quiet pattern says what limits the signal, and the line below "
        "names the patterns. Above the lanes the sun of both ends is drawn as it climbs and falls; dotted "
        "is twilight. Where the layer was measured a while ago, a dashed line marks how far ahead that helps."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: DayView | None = None
        self.time_index = 0
        self.band_index = 0
        self.now: np.datetime64 | None = None
        self._places: tuple[int, int, int, int, int] | None = None  # columns, top, rows a lane, first, shown

    def show(self, view: DayView | None, time_index: int, band_index: int, now: np.datetime64 | None) -> None:
        """Take a day and the positions of both cursors."""
        self.view, self.time_index, self.band_index, self.now = view, time_index, band_index, now
        self.redraw()

    class Pointed(Message):
        """Message: an hour or a lane was clicked."""

        def __init__(self, when: np.datetime64, band: str) -> None:
            super().__init__()
            self.when, self.band = when, band

    def on_click(self, event: events.Click) -> None:
        """Move the cursors to the clicked hour and band; next to the lanes, only one of them."""
        view = self.view
        if view is None or self._places is None:
            return
        width, top, each, first, shown = self._places
        column, row = event.x - LABEL, (event.y - top) // each
        time = view.times[self.time_index]
        if 0 <= column < width:
            time = view.times[int(np.rint(columns_of(view.times, width)[column]))]
        band = view.bands[first + row] if 0 <= row < shown else view.bands[self.band_index]
        self.post_message(self.Pointed(time, band))

    def _turn(self, by: int) -> None:
        view = self.view
        if view is not None and view.bands:
            at = min(max(self.band_index + by, 0), len(view.bands) - 1)
            self.post_message(self.Pointed(view.times[self.time_index], view.bands[at]))

    def on_mouse_scroll_down(self) -> None:
        """Select the next band."""
        self._turn(1)

    def on_mouse_scroll_up(self) -> None:
        """Select the band before."""
        self._turn(-1)

    def paint(self, canvas: Canvas) -> None:
        """Draw axis, suns, lanes, legend."""
        view = self.view
        if view is None:
            canvas.put(2, canvas.height // 2, words.WORKING, SOFT)
            return
        right = RIGHT if canvas.width >= 64 else NARROW_RIGHT
        width = canvas.width - LABEL - right
        if width < 8 or canvas.height < 3:
            told = words.band_state(view, self.band_index, self.time_index)
            for row, line in enumerate(text_flow.wrap(told, canvas.width)):
                canvas.put(0, row, line, TEXT)
            return
        if width >= 48:
            width -= width % 12
        at = columns_of(view.times, width)
        pick = np.rint(at).astype(np.int64)
        cursor = column_at(view.times, view.times[self.time_index], width) or 0
        count = max(len(view.bands), 1)
        each = max(1, min(4, (canvas.height - AXIS_ROWS - 1) // count))
        spare = 1 if canvas.height > count * each + AXIS_ROWS + 1 else 0  # a blank row above the axis
        top = self._axis(canvas, view, width, pick, cursor, spare)
        rows_left = canvas.height - top - 1
        shown = max(1, rows_left // each)
        first = min(max(self.band_index - shown + 1, 0), max(len(view.bands) - shown, 0))
        for slot, band in enumerate(range(first, min(first + shown, len(view.bands)))):
            self._lane(canvas, view, band, top + slot * each, each, width, at, pick)
        self._places = (width, top, each, first, min(shown, len(view.bands) - first))
        bottom = top + min(shown, len(view.bands)) * each
        if first > 0:
            canvas.mark(1, top, "↑", KEY)
        if first + shown < len(view.bands):
            canvas.mark(1, bottom - 1, "↓", KEY)
        self._uprights(canvas, view, width, cursor, top, bottom)
        self._plan(canvas, view)
        self._legend(canvas, view, bottom)
        if view.left_out and bottom + 1 < canvas.height:
            canvas.put(LABEL, bottom + 1, words.left_out_line(view), SOFT, room=canvas.width - LABEL - 1)

    # -- parts ----------------------------------------------------------------------------------

    def _axis(self, canvas: Canvas, view: DayView, width: int, pick: IntArray, cursor: int, y: int) -> int:
        time = view.times[self.time_index]
        other = say.other_clock(time)
        if other and y > 0 and view.measured is None:  # the blank row above the axis has the other clock
            put_hours(canvas, LABEL, y - 1, width, view.times, QUIET, other=True)
            canvas.put(1, y - 1, say.zone_word(True), QUIET)
            other = ""
        when = f" {say.clock(time)}{f' {say.other_short(time)}' if other else ''} "
        x = min(max(LABEL + cursor - 3, LABEL), LABEL + width - len(when))
        put_hours(canvas, LABEL, y, width, view.times, clear=[(x - LABEL, x - LABEL + len(when))])
        canvas.put(1, y, say.zone_word(), SOFT)
        unit = "% of days" if view.rates is None else "contacts an hour"
        if len(unit) <= canvas.width - LABEL - width - 1:
            canvas.put(LABEL + width + 1, y, unit, SOFT)
        canvas.put(x, y, when, STRONG, CURSOR)
        if canvas.height < 3 + AXIS_ROWS:
            return 1
        for row, sun in enumerate((view.home, view.far), start=y + 1):
            self._sun(canvas, sun, row, width, pick)
        return y + AXIS_ROWS

    def _sun(self, canvas: Canvas, sun: SunDay, row: int, width: int, pick: IntArray) -> None:
        canvas.put(1, row, sun.place, SOFT, room=LABEL - 2)
        height = sun.elevation_deg[pick]
        up = np.clip(height / 75.0, 0.0, 1.0)
        signs = FILLS[np.clip(np.ceil(up * 8).astype(np.int64), 0, 8)]
        signs = np.where((height <= 0) & (height > -12.0), "·", signs)
        x = slice(LABEL, LABEL + width)
        canvas.signs[row, x] = signs
        inks = SKYLIGHT + np.clip((up * SKY_STEPS).astype(np.int64), 0, SKY_STEPS - 1)
        canvas.inks[row, x] = np.where(height > 0, np.maximum(inks, SKYLIGHT + 1), SKYLIGHT)
        if canvas.width - LABEL - width > LEAST_SUN:
            canvas.put(LABEL + width + 1, row, words.sun_short(sun, canvas.width - LABEL - width - 2), SOFT)

    def _lane(
        self,
        canvas: Canvas,
        view: DayView,
        band: int,
        y: int,
        each: int,
        width: int,
        at: FloatArray,
        pick: IntArray,
    ) -> None:
        chosen = band == self.band_index
        index = np.arange(view.times.shape[0], dtype=np.float64)
        fill = np.interp(at, index, view.fill[band])
        middle = y + each // 2
        if chosen:
            canvas.paint_ground(0, y, canvas.width, y + each, CHOSEN)
        put_band(canvas, y, each, view.bands[band], fill, view.cause[band, pick], chosen)
        if canvas.width - LABEL - width > 12:
            self._figures(canvas, view, band, middle, LABEL + width + 1, chosen)
        elif canvas.width - LABEL - width >= 5:
            prospect = view.prospect(band, self.time_index)
            rate = "" if prospect.rate is None else f"{say.rate_short(prospect.rate.middle)}/h"
            canvas.put(LABEL + width + 1, middle, rate or say.tenths(prospect.chance), TEXT)

    def _figures(self, canvas: Canvas, view: DayView, band: int, y: int, x: int, chosen: bool) -> None:
        prospect = view.prospect(band, self.time_index)
        cause = CAUSES[int(view.cause[band, self.time_index])]
        figure = say.percent_figure(prospect.chance)
        if prospect.rate is not None:
            figure = say.rate_short(prospect.rate.middle)
        canvas.put(x + max(3 - len(figure), 0), y, figure, STRONG if chosen else TEXT)
        if view.bands[band] in view.dead:
            canvas.put(x + 4, y, f"{DEAD} found dead", WARN, room=canvas.width - x - 4)
        elif cause != "open":
            canvas.put(x + 4, y, SIGN_OF[cause], SOFT)
            canvas.put(x + 6, y, short(cause), TEXT if chosen else SOFT, room=canvas.width - x - 6)
        else:
            canvas.put(
                x + 6,
                y,
                words.angle_short(
                    float(view.elevation_deg[band, self.time_index]), view.by_ground(band, self.time_index)
                ),
                TEXT if chosen else SOFT,
            )

    def _uprights(
        self, canvas: Canvas, view: DayView, width: int, cursor: int, top: int, bottom: int
    ) -> None:
        if self.now is not None:
            column = column_at(view.times, grid(self.now), width)  # same column as the clock cursor
            if column is not None and column != cursor:
                put_upright(canvas, LABEL + column, range(top - 2, bottom), NOW)
        if view.measured is not None:
            self._measured(canvas, view, width, top, bottom)
        canvas.paint_ground(LABEL + cursor, max(top - 2, 1), LABEL + cursor + 1, bottom, CURSOR)

    @staticmethod
    def _measured(canvas: Canvas, view: DayView, width: int, top: int, bottom: int) -> None:
        """Draw the span in which the lanes use a layer measurement: from its time to the end of its
        effect.
        """
        assert view.measured is not None
        begin, end = (column_at(view.times, grid(when), width) for when in view.measured)
        if end is None:
            return
        put_upright(canvas, LABEL + end, range(top, bottom), MEASURED)
        row = top - AXIS_ROWS - 1  # the blank row above the axis, if any
        if row >= 0:
            start = min(begin or 0, end)
            canvas.put(LABEL + start, row, BRACKET[0] + BRACKET[1] * (end - start - 1) + BRACKET[2], NOWLINE)
            canvas.put(
                LABEL + end + 2, row, "the measured layer helps until here", SOFT, room=width - end - 2
            )

    def _plan(self, canvas: Canvas, view: DayView) -> None:
        """Draw the plan's stays on the visible lanes."""
        assert self._places is not None
        width, top, each, first, shown = self._places
        for stay in view.plan:
            row = view.bands.index(stay.band) - first if stay.band in view.bands else -1
            begin, end = column_at(view.times, stay.start, width), column_at(view.times, stay.end, width)
            if 0 <= row < shown and begin is not None:
                put_stay(canvas, LABEL, top + row * each, begin, end)

    def _legend(self, canvas: Canvas, view: DayView, y: int) -> None:
        if y >= canvas.height:
            return
        x = LABEL
        if view.rates is not None:
            x = canvas.put(x, y, full_lane(view.full_per_h), TEXT) + 3
        put_causes(canvas, x, y, view.cause[view.chance < 0.5], canvas.width - 1)


def full_lane(per_hour: float | None) -> str:
    """Words for a full lane: contacts an hour with a region; None: days."""
    return (
        "full lane: every day"
        if per_hour is None
        else f"full lane: {say.rate_figure(per_hour)} contacts an hour"
    )


def put_band(
    canvas: Canvas, y: int, each: int, band: str, fill: FloatArray, cause: IntArray, chosen: bool
) -> None:
    """Draw the lane of a band from column `LABEL` on: fill and code of the limiting factor of each column."""
    middle = y + each // 2
    canvas.put_right(LABEL - 1, middle, say.band_title(band), STRONG if chosen else TEXT)
    if chosen:
        canvas.point_at(middle)
    put_lane(canvas, LABEL, y, each, fill, np.stack([texture(cause, y + row, LABEL) for row in range(each)]))


def put_stay(canvas: Canvas, x: int, y: int, begin: int, end: int | None) -> None:
    """Draw the begin and the end of a stay of the plan on a lane from column `x` on (columns of the lane)."""
    canvas.mark(x + begin, y, "├", TITLE)
    if end is not None and end > begin:
        canvas.mark(x + end, y, "┤", TITLE)


def put_upright(canvas: Canvas, x: int, rows: range, sign: str) -> None:
    """Draw a sign in a column of the lanes, except where a lane is filled."""
    for y in rows:
        if canvas.signs[y, x] not in EIGHTHS[1:]:
            canvas.mark(x, y, sign, NOWLINE)


def signs_of_causes(codes: IntArray) -> list[tuple[str, str]]:
    """Sign and words of each limiting factor that has a sign, the most frequent first."""
    present = np.bincount(codes.ravel(), minlength=len(CAUSES))
    order = np.argsort(-present, kind="stable")[: np.count_nonzero(present)]
    causes = [CAUSES[code] for code in order.tolist()]
    return [(SIGN_OF[cause], short(cause)) for cause in causes if SIGN_OF.get(cause, " ") != " "]


def put_causes(canvas: Canvas, x: int, y: int, codes: IntArray, right: int) -> None:
    """Name the patterns of the limiting factors, the most frequent first, as many as fit before `right`."""
    for sign, says in signs_of_causes(codes):
        if x + len(says) + 2 > right:
            break
        canvas.put(x, y, sign, TEXT)
        x = canvas.put(x + 2, y, says, SOFT) + 3
