"""An appointment of two stations, as it is drawn and in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import BoolArray, FloatArray, TimeArray
from propagation.wording.quantities import clock, end_clock
from tui.kit.day_view import SunDay

if TYPE_CHECKING:
    from tui.kit.export import Paper


@dataclass(frozen=True)
class Slot:
    """One proposed appointment."""

    start: np.datetime64
    end: np.datetime64
    band: str
    frequency: str
    chance: float
    home_clock: str
    far_clock: str
    fallback: str = ""
    says: str = ""  # the slot as a sentence
    calendar: str = ""  # the slot alone as a calendar file


@dataclass(frozen=True)
class SkedView:
    """Two stations, two clocks, and the hours that suit both."""

    home: str
    far: str
    home_zone: str
    far_zone: str  # empty where a region stands in place of somebody to meet
    day: np.datetime64
    times: TimeArray  # (T,) evenly over one or more days, in UTC
    home_hour: FloatArray  # (T,) local clock [h]
    far_hour: FloatArray  # (T,)
    home_free: BoolArray  # (T,) awake and free
    far_free: BoolArray  # (T,)
    best_chance: FloatArray  # (T,) of the best band of both
    slots: tuple[Slot, ...]
    note: str = ""
    calendar: str = ""  # the slots as a calendar file
    paper: str = ""  # the slots as sentences
    days: str = ""  # that were looked at

    def exported(self, now: np.datetime64) -> Paper:
        """The slots as a calendar and to print; InputError where there is none.

        Named after the friend and the time of the slot: two friends do not overwrite each other.
        """
        from tui.kit.export import Paper, in_a_name, stamp

        if not self.slots:
            raise InputError(f"There is no slot to write. {self.note}".rstrip())
        count = f"-{len(self.slots)}-slots" if len(self.slots) > 1 else ""
        name = f"bandwhen-sked-{in_a_name(self.far)}-{stamp(self.slots[0].start)}{count}"
        return Paper(name, self.paper, self.calendar)


@dataclass(frozen=True)
class SunsView:
    """The sun over both ends of an appointment, on the day of one slot."""

    times: TimeArray  # (T,) evenly over one day, in UTC
    home: SunDay
    far: SunDay


def sked_sentences(view: SkedView) -> list[str]:
    """The appointment, a slot a line."""
    if not view.far_zone:
        return [view.note]
    days = f", {view.days}" if view.days else ""
    out = [f"{view.home} ({view.home_zone}) and {view.far} ({view.far_zone}){days}."]
    out += [f"{number}. {slot.says}" for number, slot in enumerate(view.slots, start=1)]
    if view.note:
        out.append(view.note)
    return out


def suns_sentences(view: SunsView) -> list[str]:
    """When it is day and when it is night at both ends."""
    here, there = view.home.elevation_deg > 0, view.far.elevation_deg > 0
    out = []
    for both, says in ((here & there, "Daylight at both ends"), (~here & ~there, "Night at both ends")):
        edges = np.flatnonzero(np.diff(np.concatenate(([False], both, [False])).astype(np.int8)))
        step = view.times[1] - view.times[0]
        spans = [
            f"{clock(view.times[a])}-{end_clock(view.times[b - 1] + step)}"
            for a, b in zip(edges[::2], edges[1::2], strict=True)
        ]
        out.append(f"{says}: {' and '.join(spans)} UTC." if spans else f"{says}: never.")
    return out
