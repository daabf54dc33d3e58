"""Rows of the list of an outing: contacts, calls without an answer, stations heard one way, dead bands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from propagation.logbook import journal
from propagation.logbook.journal import Made
from propagation.wording import outing as say_on_air
from propagation.wording import quantities as say
from tui.app.choice import HoursOnAir, Mark
from tui.kit.lists import Card

DUPLICATE = "DUPLICATE"


@dataclass(frozen=True)
class Row:
    """One event. what: the contact, the mark, or the (band, time) of a dead band."""

    time: np.datetime64
    what: Made | Mark | tuple[str, np.datetime64]
    card: Card


def rows(hours: HoursOnAir, made: Sequence[Made]) -> list[Row]:
    """All events, the latest first."""
    found = [
        Row(one.time, one, _contact(one, again))
        for one, again in zip(made, journal.duplicates(made), strict=True)
    ]
    for mark in hours.marks:
        words = say_on_air.MARK_WORDS[mark.kind].removesuffix(" on")
        found.append(Row(mark.when, mark, _card(mark.kind, mark.band, mark.when, words)))
    for entry in hours.dead:
        found.append(Row(entry[1], entry, _card("dead", *entry, "taken as dead")))
    return sorted(found, key=lambda row: row.time, reverse=True)


def _contact(one: Made, again: bool) -> Card:
    known = one.fields
    reference = next((known[name] for name in journal.REFERENCES if known.get(name)), "")
    parts = (known.get("NAME", ""), known.get("GRIDSQUARE", ""), reference, known.get("COMMENT", ""))
    told = ", ".join(part for part in parts if part)
    detail = "  ".join(text for text in (f"{one.sent} {one.received}", DUPLICATE * again, told) if text)
    return _card(f"contact {one.offset}", one.band, one.time, one.call, detail)


def _card(kind: str, band: str, time: np.datetime64, name: str, detail: str = "") -> Card:
    key = f"{kind} {band} {time.astype('datetime64[s]').astype(np.int64)}"
    return Card(key, f"{say.clock(time)} {say.band_title(band):>5}  {name}", detail)
