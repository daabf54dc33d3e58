"""Rows of the list of an outing (contacts, marks, dead bands), and the lanes of its hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from propagation.logbook import journal
from propagation.logbook.journal import Made
from propagation.wording import outing as say_on_air
from propagation.wording import quantities as say
from tui.app.choice import HoursOnAir, Mark
from tui.features.outing.view import HoursLane, HoursView
from tui.kit.glyphs import FAINTEST
from tui.kit.lanes import full_lane
from tui.kit.lists import Card
from tui.kit.plan_view import PlanView

DUPLICATE = "DUPLICATE"


@dataclass(frozen=True)
class Row:
    """One event. what: the contact, the mark, or the (band, time) of a dead band."""

    time: np.datetime64
    what: Made | Mark | tuple[str, np.datetime64]
    card: Card


def rows(hours: HoursOnAir, made: Sequence[Made], now: np.datetime64) -> list[Row]:
    """All events, the latest first; those of another day than now have the day of the week."""
    found: list[tuple[np.datetime64, Made | Mark | tuple[str, np.datetime64], str, str, str, str]] = []
    for one, again in zip(made, journal.duplicates(made), strict=True):
        found.append((one.time, one, f"contact {one.offset}", one.band, one.call, _detail(one, again)))
    for mark in hours.marks:
        words = say_on_air.MARK_WORDS[mark.kind].removesuffix(" on")
        found.append((mark.when, mark, mark.kind, mark.band, words, ""))
    for entry in hours.dead:
        found.append((entry[1], entry, "dead", entry[0], "taken as dead", ""))
    width = max((len(_clocks(row[0], now)) for row in found), default=0)
    out = []
    for time, what, kind, band, name, detail in sorted(found, key=lambda row: row[0])[::-1]:
        told = f"{_clocks(time, now):>{width}} {say.band_title(band):>5}  {name}"
        key = f"{kind} {band} {time.astype('datetime64[s]').astype(np.int64)}"
        out.append(Row(time, what, Card(key, told, detail)))
    return out


def _clocks(time: np.datetime64, now: np.datetime64) -> str:
    """A time on both clocks where there is little room: `07:35 09:35`, of another day `Thu 07:35 09:35`.

    Two days of the week would leave the call sign no room: the second stands for itself at midnight.
    """
    day = "" if say.date(time) == say.date(now) else f"{say.day_title(time)[:3]} "
    other = say.other_short(time)
    return f"{day}{say.clock(time)} {other.rpartition(' ')[2] if day else other}".rstrip()


def hours_view(plan: PlanView, now: np.datetime64, dead: Sequence[str], both: bool) -> HoursView | None:
    """Lanes of the hours of a plan: its bands in their order, then the best ones; None where there are none.

    dead: bands taken as dead, which come last. both: with both clocks.
    """
    times = np.array(plan.times)
    if times.size < 2 or not plan.lanes:
        return None
    at = int(np.abs(times - now).argmin())
    found = []
    for place, lane in enumerate(sorted(plan.lanes, key=lambda one: one.frequency_mhz)):
        fill, here = plan.fill(lane), lane.promised[at]
        figure = say.tenths(here.chance) if here.rate is None else f"{say.rate_short(here.rate.middle)}/h"
        figure = "dead" if lane.band in dead else figure
        best = float(np.max(fill[at:]))
        if best >= FAINTEST or any(step.band == lane.band for step in plan.steps):
            found.append((best, HoursLane(lane.band, place, tuple(fill.tolist()), figure)))
    planned = list(dict.fromkeys(step.band for step in plan.steps if step.end > now))
    order = {band: number for number, band in enumerate(planned)}  # the band in use, the next one, ...
    found.sort(key=lambda pair: (pair[1].band in dead, order.get(pair[1].band, len(order)), -pair[0]))
    stays = tuple((step.band, step.start, step.end) for step in plan.steps)
    scale = full_lane(plan.full_per_h)
    return HoursView(plan.times, now, tuple(lane for _, lane in found), stays, scale, both)


def _detail(one: Made, again: bool) -> str:
    """Reports of a contact, whether it is a duplicate, and what else was typed."""
    known = one.fields
    reference = next((known[name] for name in journal.REFERENCES if known.get(name)), "")
    parts = (known.get("NAME", ""), known.get("GRIDSQUARE", ""), reference, known.get("COMMENT", ""))
    told = ", ".join(part for part in parts if part)
    return "  ".join(text for text in (f"{one.sent} {one.received}", DUPLICATE * again, told) if text)
