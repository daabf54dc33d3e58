"""Worth of a day with an antenna or at a place: hours of contact, and which of two is better.

`antennas.improvements` gives a change in decibels. A decibel is worth much on a band that just fails. It is
worth nothing on a dead or an easy band. So the day is forecast again with the change.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from propagation.advice.recompute import request_of
from propagation.advice.region_chance import chance, outlook
from propagation.advice.windows import Window, find_windows
from propagation.antennas.improvements import DayWorth, Evaluate
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.base.units import FloatArray
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.station.terminals import Terminals, own_terminal

MOST_TIMES: Final = 25  # times that are enough for the sum of a day: hourly


def contact_hours(result: Forecast) -> float:
    """Expected hours of contact: the best usable band's chance, summed over the times [h]."""
    best: FloatArray = chance(result).max(axis=1)
    hours = (result.times - result.times[0]) / np.timedelta64(3600, "s")
    return float(np.sum((best[1:] + best[:-1]) / 2.0 * np.diff(hours)))


def worth_of(result: Forecast, terminals: Terminals, say: Callable[[Window | None], str]) -> Evaluate:
    """Return a function that rates antennas for the day, target and conditions of a forecast.

    result: the forecast of the station as it is, two times or more; terminals: those it was made with. The
    function takes a description and a feed line. It returns the hours of contact and the best window in the
    words of `say`.
    """
    times = result.times[:: max(1, len(result.times) // (MOST_TIMES - 1))]

    def evaluate(spec: AntennaSpec, line: FeedlineSpec) -> DayWorth:
        station = replace(result.station, antenna=spec, feedline=line)
        own = replace(
            own_terminal(station), power_w=terminals.near.power_w, offset_db=terminals.near.offset_db
        )
        again = forecast(
            replace(request_of(result, Terminals(own, terminals.far)), station=station, times=times)
        )
        windows = find_windows(again, Terminals(own, terminals.far), explained=False).windows
        return DayWorth(contact_hours(again), say(windows[0] if windows else None))

    return evaluate


ALIKE_HOURS: Final = 0.25  # h of contact; two antennas that differ by less count as equal (ours)
ALIKE_PART: Final = 0.05  # part of the better one's hours; a smaller difference counts as equal (ours)


@dataclass(frozen=True, eq=False)
class Worth:
    """Worth of a day with an antenna; B bands.

    hours: expected hours of contact, on the best band of each moment. contacts: expected contacts with a
    region, by the rate of the best band; None for a place. best (B,): highest chance of the day. band_hours
    (B,): the hours of contact with that band alone.
    """

    hours: float
    contacts: float | None
    best: FloatArray
    band_hours: FloatArray


def worth(result: Forecast) -> Worth:
    """Compute the worth of the day of a forecast."""
    odds = chance(result)
    step_hours = np.diff((result.times - result.times[0]) / np.timedelta64(3600, "s"))
    people = outlook(result).people
    contacts = None
    if people is not None:
        rate = np.where(result.usable[None, :], people.rate.middle, 0.0).max(axis=1)
        contacts = float(np.sum((rate[1:] + rate[:-1]) / 2.0 * step_hours))
    band_hours = np.sum((odds[1:] + odds[:-1]) / 2.0 * step_hours[:, None], axis=0)
    return Worth(contact_hours(result), contacts, odds.max(axis=0), band_hours)


def better(one: Worth, other: Worth) -> Literal[0, 1] | None:
    """Return which of two is better, 0 or 1; None where the difference is too small.

    With a region the contacts decide, with a place the hours.
    """
    if one.contacts is not None and other.contacts is not None:
        a, b = one.contacts, other.contacts
        alike = ALIKE_PART * max(a, b)
    else:
        a, b = one.hours, other.hours
        alike = max(ALIKE_HOURS, ALIKE_PART * max(a, b))
    if abs(a - b) <= alike:
        return None
    return 0 if a > b else 1
