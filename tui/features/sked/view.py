"""Sked of two stations: drawings and sentences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import BoolArray, FloatArray, TimeArray
from propagation.wording import quantities as say
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas, Drawn, EntryRows
from tui.kit.day_view import SunDay
from tui.kit.glyphs import FILLS
from tui.kit.marks import column_at, columns_of, put_hours, put_lane
from tui.kit.theme import CHOSEN, QUIET, SKY_STEPS, SKYLIGHT, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from propagation.base.units import IntArray
    from tui.kit.day_view import Stay
    from tui.kit.export import Paper


@dataclass(frozen=True)
class Slot:
    """Proposed sked."""

    start: np.datetime64
    end: np.datetime64
    band: str
    frequency: str
    chance: float
    home_clock: str
    far_clock: str
    fallback: str = ""
    says: str = ""  # slot as a sentence
    calendar: str = ""  # this slot as a calendar file
    days: str = ""  # days on which it repeats, in words; empty: the day of its start
    starts: tuple[np.datetime64, ...] = ()  # its start on every one of them
    changes: str = ""  # a change of clocks within these days


@dataclass(frozen=True)
class SkedView:
    """Two stations, two clocks, and the hours that suit both."""

    home: str
    far: str
    home_zone: str
    far_zone: str  # empty if the target is a region
    day: np.datetime64
    times: TimeArray  # (T,) evenly over one or more days, in UTC
    home_hour: FloatArray  # (T,) local clock [h]
    far_hour: FloatArray  # (T,)
    home_free: BoolArray  # (T,) awake and free
    far_free: BoolArray  # (T,)
    best_chance: FloatArray  # (T,) chance of the best band
    slots: tuple[Slot, ...]
    note: str = ""
    calendar: str = ""  # slots as a calendar file
    paper: str = ""  # slots as sentences
    days: str = ""  # days that were searched
    gets_up: str = ""  # a better hour that suits one end alone
    friends: tuple[tuple[str, str], ...] = ()  # (name, place) to choose from, if the target is a region

    def exported(self, now: np.datetime64) -> Paper:
        """Return the slots as a calendar and for printing; InputError if there are none.

        The file name contains the friend and the time of the slot, so that two friends do not share a file.
        """
        from tui.kit.export import Paper, in_a_name, stamp

        if not self.slots:
            raise InputError(f"There is no slot to write. {self.note}".rstrip())
        count = f"-{len(self.slots)}-slots" if len(self.slots) > 1 else ""
        name = f"bandwhen-sked-{in_a_name(self.far)}-{stamp(self.slots[0].start)}{count}"
        return Paper(name, self.paper, self.calendar)


@dataclass(frozen=True)
class SunsView:
    """Sun at both ends of a sked, on the day of one slot."""

    times: TimeArray  # (T,) evenly over one day, in UTC
    home: SunDay
    far: SunDay


def sked_sentences(view: SkedView) -> list[str]:
    """Describe the sked, one slot per line."""
    if not view.far_zone:
        return [view.note]
    days = f", {view.days}" if view.days else ""
    out = [f"{view.home} ({view.home_zone}) and {view.far} ({view.far_zone}){days}."]
    out += [f"{number}. {slot.says}" for number, slot in enumerate(view.slots, start=1)]
    return out + [line for line in (view.note, view.gets_up) if line]


def in_order(slots: Sequence[Slot], sort: str, band: str) -> tuple[Slot, ...]:
    """The slots on a band (empty: on all), by chance, by time of day ("time") or by date ("day")."""
    kept = [slot for slot in slots if band in ("", slot.band)]
    if sort == "time":
        kept.sort(key=lambda slot: str(slot.start)[11:])
    elif sort == "day":
        kept.sort(key=lambda slot: slot.start)
    return tuple(kept)


def suns_sentences(view: SunsView) -> list[str]:
    """Describe day and night at both ends."""
    here, there = view.home.elevation_deg > 0, view.far.elevation_deg > 0
    out = []
    for both, says in ((here & there, "Daylight at both ends"), (~here & ~there, "Night at both ends")):
        edges = np.flatnonzero(np.diff(np.concatenate(([False], both, [False])).astype(np.int8)))
        step = view.times[1] - view.times[0]
        spans = [
            say.both_spans(view.times[a], view.times[b - 1] + step)
            for a, b in zip(edges[::2], edges[1::2], strict=True)
        ]
        out.append(f"{says}: {' and '.join(spans)}." if spans else f"{says}: never.")
    return out


LABEL = 16
CLOCK_ROWS = 10  # rows above the slots, with a lane of three rows
DAY = np.timedelta64(86400, "s")


class Clocks(EntryRows):
    """Both clocks, the best band's lane, and the slots."""

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
        """Set the sked's day and the chosen slot."""
        self.view, self.slot, self.waiting = view, slot, waiting
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the clocks, the lane and the slots."""
        view = self.view
        self.begin_spots(self.slot, len(view.slots or view.friends) if view is not None else 0)
        if view is None:
            canvas.put(2, 1, self.waiting, SOFT)
            return
        if not view.far_zone:  # a sked with a region is not possible
            self._friends(canvas, view)
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
        shown_day = self._shown_day(view, times)
        axis = f"{say.zone_word()} {say.day_title(shown_day)[: -5 if say.zone_word() == 'UTC' else -9]}"
        canvas.put(1, 0, axis, SOFT, room=LABEL - 1)
        put_hours(canvas, LABEL, 0, width, times)
        tall = 3 if canvas.height >= 22 else 2
        _clock(canvas, 1, view.home, view.home_hour[pick], view.home_free[pick])
        canvas.put(1, 3 + tall // 2, "best band", SOFT)
        put_lane(canvas, LABEL, 3, tall, view.best_chance[pick])
        _clock(canvas, 3 + tall, view.far, view.far_hour[pick], view.far_free[pick])
        marks = 5 + tall
        for number, slot in enumerate(view.slots):
            inside = (column_at(times, start, width) for start in slot.starts or (slot.start,))
            column = next((one for one in inside if one is not None), None)
            if column is not None:
                self.stands(range(LABEL + column, LABEL + column + 2), range(marks, marks + 1), number)
                canvas.put(LABEL + column, marks, str(number + 1), TITLE if number == self.slot else TEXT)
        if view.gets_up:
            canvas.put(2, marks + 1, view.gets_up, STRONG, room=canvas.width - 3)
        self._slots(canvas, view, marks + 2)

    def _friends(self, canvas: Canvas, view: SkedView) -> None:
        """Draw the friends to choose from where the target is a region."""
        lines = text_flow.wrap(view.note, max(canvas.width - 3, 1))
        for row, line in enumerate(lines):
            canvas.put(2, 1 + row, line, TEXT)
        top = len(lines) + 2
        shown = max(canvas.height - top, 1)
        first = min(max(self.slot - shown + 1, 0), max(len(view.friends) - shown, 0))
        for row, number in enumerate(range(first, min(first + shown, len(view.friends))), start=top):
            name, place = view.friends[number]
            here = number == min(self.slot, len(view.friends) - 1)
            self.stands(range(canvas.width), range(row, row + 1), number)
            if here:
                canvas.paint_ground(0, row, canvas.width, row + 1, CHOSEN)
                canvas.point_at(row)
            canvas.put(max(canvas.put(2, row, name, STRONG if here else TEXT) + 2, 24), row, place, SOFT)

    def _shown_day(self, view: SkedView, times: TimeArray) -> np.datetime64:
        """Time whose day is written above the axis: the chosen slot, else the middle of the axis."""
        if view.slots:
            return view.slots[min(self.slot, len(view.slots) - 1)].start
        middle: np.datetime64 = times[times.size // 2]
        return middle

    def _day(self, view: SkedView) -> tuple[TimeArray, int]:
        """Times of the day of the chosen slot, and the index at which the day begins."""
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
                canvas.point_at(row)
            canvas.put(2, row, f"{number + 1}", TITLE)
            ink = STRONG if here else TEXT
            span = f"{say.utc_clock(slot.start)}-{say.utc_clock(slot.end, True)} UTC"
            x = canvas.put(5, row, span, ink) + 2
            x = canvas.put(x, row, f"{say.band_title(slot.band):<5}", TITLE) + 1
            x = canvas.put(x, row, say.days(slot.chance), TEXT) + 2
            canvas.put(x, row, slot.days or say.day_title(slot.start)[:-5], ink)
            tail = f"{slot.home_clock} here, {slot.far_clock} there; {slot.frequency} MHz"
            for more in (slot.changes, f"fallback {slot.fallback}" if slot.fallback else ""):
                tail += f"; {more}" if more else ""
            canvas.put(5, row + 1, text_flow.in_room(tail, canvas.width - 6), SOFT)
        if view.note and canvas.height > y + shown * each:
            canvas.put(2, canvas.height - 1, view.note, SOFT)


def _clock(canvas: Canvas, y: int, name: str, hours: FloatArray, free: BoolArray) -> None:
    """Draw a row of local hours above a row that shows when that operator is free."""
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


SUN_LABEL = 8
HIGHEST_DEG, TWILIGHT_DEG = 90.0, -12.0  # top of the scale; elevation of the sun below which it is night


class Suns(Drawn):
    """Elevation of the sun at both ends, one above the other, with the slot between them."""

    about = (
        "The sun over both ends on the day of the chosen slot: how high it stands, from the horizon to "
        "overhead; dotted is twilight. The slot chosen is the lit upright stripe."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: SunsView | None = None
        self.slot: Stay | None = None

    def show(self, view: SunsView | None, slot: Stay | None = None) -> None:
        """Set the sun at both ends, and the slot to be marked."""
        self.view, self.slot = view, slot
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the axis, the sun at both ends, and the slot."""
        view = self.view
        canvas.put(1, 0, "The sun at both ends", TITLE)
        if view is None:
            canvas.put(1, 1, words.WORKING, SOFT)
            return
        said = text_flow.wrap_all(suns_sentences(view), max(canvas.width - 2, 1))
        width = canvas.width - SUN_LABEL - 1
        each = min((canvas.height - 3 - len(said)) // 2, 12)
        if width < 24 or each < 3:
            for row, line in enumerate(said[: canvas.height - 1], start=1):
                canvas.put(1, row, line, TEXT)
            return
        if width >= 48:
            width -= width % 24
        put_hours(canvas, SUN_LABEL, 1, width, view.times)
        canvas.put(1, 1, say.zone_word(), SOFT)
        pick = np.rint(columns_of(view.times, width)).astype(np.int64)
        for number, sun in enumerate((view.home, view.far)):
            _height(canvas, sun, 2 + number * each, each, width, pick)
        self._stripe(canvas, view, 2, 2 + 2 * each, width)
        for row, line in enumerate(said):
            canvas.put(1, 3 + 2 * each + row, line, TEXT if row == 0 else SOFT)

    def _stripe(self, canvas: Canvas, view: SunsView, top: int, bottom: int, width: int) -> None:
        if self.slot is None:
            return
        first = column_at(view.times, self.slot.start, width)
        last = column_at(view.times, self.slot.end, width)
        if first is not None:
            end = last if last is not None else width
            canvas.paint_ground(SUN_LABEL + first, top, SUN_LABEL + max(end, first + 1), bottom, CHOSEN)


def _height(canvas: Canvas, sun: SunDay, y: int, rows: int, width: int, pick: IntArray) -> None:
    """Draw sunrise and sunset in a line, and below it the elevation of the sun."""
    canvas.put(1, y, sun.place, STRONG)
    canvas.put(SUN_LABEL, y, words.sun_short(sun), SOFT)
    height = sun.elevation_deg[pick]
    level = np.clip(height / HIGHEST_DEG, 0.0, 1.0) * (rows - 1) * 8.0
    inks = SKYLIGHT + np.clip((height / HIGHEST_DEG * SKY_STEPS).astype(np.int64) + 1, 1, SKY_STEPS - 1)
    for row in range(rows - 1):
        steps = np.clip(np.ceil(level - (rows - 2 - row) * 8.0), 0, 8).astype(np.int64)
        at = slice(SUN_LABEL, SUN_LABEL + width)
        signs = FILLS[steps]
        if row == rows - 2:
            signs = np.where((height <= 0) & (height > TWILIGHT_DEG), "·", signs)
        canvas.signs[y + 1 + row, at] = signs
        canvas.inks[y + 1 + row, at] = np.where(height > 0, inks, QUIET)
    for deg in (90, 0):
        canvas.put_right(SUN_LABEL - 1, y + 1 + (0 if deg else rows - 2), f"{deg} deg", QUIET)
