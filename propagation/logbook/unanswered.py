"""Bands called on without an answer: what a log of contacts cannot say by itself.

A record may carry the field APP_BANDWHEN_TRIED, "40m 0930-0955; 10m 1000-1025": the stretches, in UTC, that
were spent calling on a band without an answer before that contact. A stretch whose start is later than the
contact's time of day belongs to the day before. Other programs pass such a field by, as the format asks
(ADIF specification, from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.logbook.adif import Log, Problem
from propagation.logbook.contacts import moment, visible
from propagation.spectrum.bands import by_name

FIELD: Final = "APP_BANDWHEN_TRIED"
_STRETCH = re.compile(r"(\w+)\s+([01]\d|2[0-3]):?([0-5]\d)\s*-\s*([01]\d|2[0-3]):?([0-5]\d)", re.ASCII)
MOST_STRETCHES: Final = 100  # in one record; nobody calls in vain more often between two contacts
_DAY: Final = np.timedelta64(1, "D")


@dataclass(frozen=True)
class UnansweredCalls:
    """One stretch of calls without an answer: the band, and its start and end, UTC."""

    band: str
    start: np.datetime64
    end: np.datetime64


def of_log(log: Log) -> tuple[tuple[UnansweredCalls, ...], tuple[Problem, ...]]:
    """The stretches told in a log, in order of time, and what in those fields was not understood."""
    stretches: list[UnansweredCalls] = []
    problems: list[Problem] = []
    for record in log.records:
        parts = record.fields.get(FIELD, "").split(";", MOST_STRETCHES)
        if len(parts) > MOST_STRETCHES:
            parts.pop()
            reason = f"{FIELD}: more than {MOST_STRETCHES} stretches in one record; the rest is left out"
            problems.append(Problem(record.offset, reason))
        for part in parts:
            if not part.strip():
                continue
            found = _one(part.strip(), moment(record.fields))
            if found is None:
                reason = f"{FIELD}: {visible(part.strip())[:40]!r} is not understood; write 40m 0930-0955"
                problems.append(Problem(record.offset, reason))
            else:
                stretches.append(found)
    stretches.sort(key=lambda stretch: (stretch.start, stretch.band))
    return tuple(stretches), tuple(problems)


def _one(text: str, contact: np.datetime64 | None) -> UnansweredCalls | None:
    found = _STRETCH.fullmatch(text)
    if found is None or contact is None:
        return None
    try:
        band = by_name(found[1]).name
    except InputError:
        return None
    midnight = contact.astype("datetime64[D]").astype("datetime64[s]")
    start = midnight + np.timedelta64(int(found[2]) * 60 + int(found[3]), "m")
    end = midnight + np.timedelta64(int(found[4]) * 60 + int(found[5]), "m")
    if start > contact:
        start, end = start - _DAY, end - _DAY
    if end <= start:
        end = end + _DAY
    return UnansweredCalls(band, start, end)
