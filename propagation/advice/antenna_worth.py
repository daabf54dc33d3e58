"""What a change at the antenna is worth: the hours of contact of the same day, forecast again with it.

`antennas.improvements` says what a change brings in decibels; a decibel is worth much on a band that just
fails and nothing on one that is dead or easy. This is the judge it can be given.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from propagation.advice.region_chance import chance
from propagation.advice.windows import Window, find_windows
from propagation.antennas.improvements import DayWorth, Evaluate
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.base.units import FloatArray
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.chances.request import Request
from propagation.station.terminals import Terminals, own_terminal

MOST_TIMES: Final = 25  # times that will do for the sum of a day: hourly


def contact_hours(result: Forecast) -> float:
    """Hours of contact to be expected: the best usable band's chance, summed over the times [h]."""
    best: FloatArray = chance(result).max(axis=1)
    hours = (result.times - result.times[0]) / np.timedelta64(3600, "s")
    return float(np.sum((best[1:] + best[:-1]) / 2.0 * np.diff(hours)))


def worth_of(result: Forecast, terminals: Terminals, say: Callable[[Window | None], str]) -> Evaluate:
    """A judge of antennas for the day, target and conditions of a forecast.

    result: the forecast of the station as it is, two times or more; terminals: those it was made with. The
    judge takes a description and a feed line and gives the hours of contact and the best window in the words
    of `say`.
    """
    times = result.times[:: max(1, len(result.times) // (MOST_TIMES - 1))]

    def evaluate(spec: AntennaSpec, line: FeedlineSpec) -> DayWorth:
        station = replace(result.station, antenna=spec, feedline=line)
        own = replace(
            own_terminal(station), power_w=terminals.near.power_w, offset_db=terminals.near.offset_db
        )
        again = forecast(
            Request(
                station,
                result.target,
                times,
                result.conditions,
                mode=result.mode.name,
                bands=result.bands,
                effects=result.effects,
                near=own,
                far=terminals.far,
            )
        )
        windows = find_windows(again, Terminals(own, terminals.far), explained=False).windows
        return DayWorth(contact_hours(again), say(windows[0] if windows else None))

    return evaluate
