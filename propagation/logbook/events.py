"""What was written down on an outing, as events that `advice.learning_now` can learn from."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np

from propagation.advice.outing_estimate import Event, Kind
from propagation.logbook.evidence import REPORT_SD_DB, STRENGTH_SD_DB, over_need_db, strength
from propagation.logbook.journal import Made
from propagation.logbook.prefixes import origin

NINE: Final = 9  # a strength that may be habit, whatever the signal
_DECIBELS: Final = re.compile(r"[+-]\d{1,2}")


def events_of(
    contacts: Iterable[Made], marks: Iterable[tuple[Kind, str, np.datetime64]], need_db: float
) -> tuple[Event, ...]:
    """The events in their order. marks: (kind, band, time). need_db: what the mode needs [dB in 2500 Hz]."""
    found = [_contact(one, need_db) for one in contacts]
    found += [Event(kind, band, time.astype("datetime64[s]")) for kind, band, time in marks]
    return tuple(sorted(found, key=lambda event: event.time))


def _contact(made: Made, need_db: float) -> Event:
    place = origin(made.call)
    in_db = any(_DECIBELS.fullmatch(text) for text in (made.received, made.sent))
    received, sent = (_told_db(text, need_db) for text in (made.received, made.sent))
    return Event(
        "contact",
        made.band,
        made.time,
        made.call,
        place.countries,
        place.lat_deg,
        place.lon_deg,
        place.uncertainty_km,
        received,
        sent,
        REPORT_SD_DB if in_db else STRENGTH_SD_DB,
        np.inf if in_db else over_need_db(NINE - 0.5),
    )


def _told_db(report: str, need_db: float) -> float:
    """What a report says of the SNR over the need [dB]; NaN where it says nothing."""
    if _DECIBELS.fullmatch(report):
        return float(report) - need_db
    digit = strength(report)
    return over_need_db(digit) if 0 < digit < NINE else float("nan")


def moments(events: Sequence[Event]) -> tuple[np.datetime64, ...]:
    """When somebody was heard: what a report of the ears made then would count once more."""
    return tuple(event.time for event in events if event.kind != "in vain")
