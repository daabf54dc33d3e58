"""Times in English: UTC and the local clock of the operator's place side by side, one of them first.

The clock told first and the zone are chosen once (`set_clock_face`) for all sentences, tables and axes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Final

import numpy as np

NOTHING: Final = "-"  # shown where a number has no meaning
_MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
_WEEKDAYS: Final = ("Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed")  # 1970-01-01 was a Thursday


@dataclass(frozen=True, slots=True)
class ClockFace:
    """The clock of all sentences: the zone of the operator's place, and whether its time is told first."""

    zone: tzinfo = UTC
    local: bool = False


_face = ClockFace()


def set_clock_face(face: ClockFace) -> None:
    """Choose the clock by which every time is told from now on; the program does so once per station."""
    global _face
    _face = face


def clock_face() -> ClockFace:
    """The clock by which times are told."""
    return _face


def local_first() -> bool:
    """Return whether local time is told first; part of every query whose answer holds sentences."""
    return _face.local


def wall_time(when: np.datetime64, local: bool | None = None) -> np.datetime64:
    """A time UTC as a clock on the wall shows it: local or UTC, None for the one told first [s].

    A whole day (`datetime64[D]`) is of no zone and is returned unchanged.
    """
    if not (_face.local if local is None else local) or when.dtype == np.dtype("datetime64[D]"):
        return when
    seconds = int(when.astype("datetime64[s]").astype(np.int64))
    offset = datetime.fromtimestamp(seconds, UTC).astimezone(_face.zone).utcoffset()
    return np.datetime64(seconds + (round(offset.total_seconds()) if offset else 0), "s")


def two_clocks(when: np.datetime64) -> bool:
    """Return whether local time differs from UTC at a time."""
    return bool(wall_time(when, True) != wall_time(when, False))


def zone_word(other: bool = False) -> str:
    """The clock told first, "UTC" or "local"; other: the one not told first."""
    return "local" if _face.local != other else "UTC"


def offset_words(when: np.datetime64) -> str:
    """Local time at a time as its difference from UTC: `UTC+2`, `UTC-3:30`."""
    return difference_words(int((wall_time(when, True) - wall_time(when, False)) / np.timedelta64(60, "s")))


def difference_words(minutes: int) -> str:
    """Difference of a clock from UTC: `UTC+2`, `UTC-3:30`."""
    hours, rest = divmod(abs(minutes), 60)
    return f"UTC{'-' if minutes < 0 else '+'}{hours}{f':{rest:02d}' if rest else ''}"


def zone_sentence(when: np.datetime64) -> str:
    """The clock of a text with many times; empty where local time is UTC and told as such."""
    if not two_clocks(when) and not _face.local:
        return ""
    local = f"local time here is {offset_words(when)} ({_face.zone})"
    return f"Times are local: {local}." if _face.local else f"Times are UTC; {local}."


def clock(when: np.datetime64 | None) -> str:
    """Time of day on the clock told first, `07:35`."""
    if when is None or np.isnat(when):
        return NOTHING
    return _hour_minute(wall_time(when))


def clock_on(when: np.datetime64, other: bool) -> str:
    """Time of day, `07:35`, on the clock told first or on the other, for a row that names its clock."""
    return _hour_minute(wall_time(when, _face.local != other))


def _hour_minute(when: np.datetime64) -> str:
    return str(when.astype("datetime64[m]"))[11:16]


def end_clock(when: np.datetime64) -> str:
    """Time of day of an end: midnight is `24:00`."""
    text = clock(when)
    return "24:00" if text == "00:00" else text


def utc_clock(when: np.datetime64, end: bool = False) -> str:
    """Time of day UTC, whichever clock is told first, for a text that names other clocks; end: as `24:00`."""
    text = _hour_minute(when)
    return "24:00" if end and text == "00:00" else text


def other_clock(when: np.datetime64 | None, start: np.datetime64 | None = None) -> str:
    """The clock not told first, `09:35 local`; with a start `08:35 to 09:35 local`. Empty if it is the same.

    A time of another date has its day of the week: `Sat 01:35 local`.
    """
    if when is None or np.isnat(when) or not two_clocks(when):
        return ""
    begin = f"{_on_other_clock(start)} to " if start is not None else ""
    return f"{begin}{_on_other_clock(when)} {zone_word(True)}"


def other_short(when: np.datetime64 | None) -> str:
    """The clock not told first beside the other, where there is little room: `09:35`, or `07:35Z` for UTC."""
    return other_clock(when).removesuffix(" local").replace(" UTC", "Z")


_OTHER_CLOCK: Final = re.compile(r" \((?:[A-Z][a-z]{2} )?\d\d:\d\d(?: to [A-Za-z\d: ]{5,9})? (?:local|UTC)\)")


def on_one_clock(text: str) -> str:
    """A sentence without the clock not told first, where there is little room."""
    return _OTHER_CLOCK.sub("", text)


def _on_other_clock(when: np.datetime64) -> str:
    other, own = wall_time(when, not _face.local), wall_time(when)
    same = other.astype("datetime64[D]") == own.astype("datetime64[D]")
    return ("" if same else f"{_weekday(other)} ") + _hour_minute(other)


def both_clocks(when: np.datetime64 | None, end: bool = False) -> str:
    """A time on both clocks, `07:35 UTC (09:35 local)`; `07:35 UTC` where they agree.

    end: the end of a span, whose midnight is `24:00`.
    """
    other = other_clock(when)
    told = end_clock(when) if end and when is not None else clock(when)
    return f"{told} {zone_word()}{f' ({other})' if other else ''}"


def other_span(start: np.datetime64, end: np.datetime64) -> str:
    """A span on the clock not told first, `22:30-Sat 00:30`, for a column of it; empty if the same."""
    if not two_clocks(end):
        return ""
    first, last = _on_other_clock(start), _on_other_clock(end)
    day = first.rpartition(" ")[0]
    return f"{first}-{last.removeprefix(f'{day} ') if day else last}"


def both_spans(start: np.datetime64, end: np.datetime64) -> str:
    """A span on both clocks, `06:00 to 07:30 UTC (08:00 to 09:30 local)`."""
    other = other_clock(end, start)
    return f"{clock(start)} to {end_clock(end)} {zone_word()}{f' ({other})' if other else ''}"


def date(when: np.datetime64) -> str:
    """Date, `2026-03-20`."""
    return str(wall_time(when).astype("datetime64[D]"))


def day_month(when: np.datetime64) -> str:
    """Date for a heading, `20 March 2026`."""
    year, month, day = date(when).split("-")
    return f"{int(day)} {_MONTHS[int(month) - 1]} {year}"


def day_title(when: np.datetime64) -> str:
    """Date for a narrow heading, with the day of the week, `Sat 14 Mar 2026`."""
    year, month, number = date(when).split("-")
    return f"{_weekday(wall_time(when))} {int(number)} {_MONTHS[int(month) - 1][:3]} {year}"


def _weekday(when: np.datetime64) -> str:
    return _WEEKDAYS[int(when.astype("datetime64[D]").astype(np.int64)) % 7]
