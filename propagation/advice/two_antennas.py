"""Two antennas, or two places, for one day and one target: which one is worth carrying, or going to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from propagation.advice.antenna_worth import contact_hours
from propagation.advice.region_chance import chance, outlook
from propagation.base.units import FloatArray
from propagation.signal.chances.forecast import Forecast

ALIKE_HOURS: Final = 0.25  # h of contact under which two antennas are told to be alike (ours)
ALIKE_PART: Final = 0.05  # part of the better one's under which they are (ours)


@dataclass(frozen=True, eq=False)
class Worth:
    """What a day is worth with an antenna; B bands.

    hours: hours of contact to be expected, on the best band of each moment. contacts: with a region, how
    many, by the rate of the best band; None for a place. best (B,): highest chance of the day. band_hours
    (B,): the hours of contact with that band alone.
    """

    hours: float
    contacts: float | None
    best: FloatArray
    band_hours: FloatArray


def worth(result: Forecast) -> Worth:
    """What the day of a forecast is worth."""
    odds = chance(result)
    step_hours = np.diff((result.times - result.times[0]) / np.timedelta64(3600, "s"))
    people = outlook(result).people
    contacts = None
    if people is not None:
        rate = np.where(result.usable[None, :], people.rate, 0.0).max(axis=1)
        contacts = float(np.sum((rate[1:] + rate[:-1]) / 2.0 * step_hours))
    band_hours = np.sum((odds[1:] + odds[:-1]) / 2.0 * step_hours[:, None], axis=0)
    return Worth(contact_hours(result), contacts, odds.max(axis=0), band_hours)


def better(one: Worth, other: Worth) -> Literal[0, 1] | None:
    """Which of two is the better, 0 or 1; None where the day hardly tells them apart.

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
