"""Worth of a day with an antenna or at a place: hours of contact, or contacts, and which of two is better.

`antennas.improvements` gives a change in decibels. A decibel is worth much on a band that just fails. It is
worth nothing on a dead or an easy band. So the day is forecast again with the change.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from propagation.advice.rates import Prospect
from propagation.advice.recompute import request_of
from propagation.advice.region_chance import outlook
from propagation.advice.why import promise_of
from propagation.advice.windows import Window, find_windows
from propagation.antennas.improvements import Candidate, DayWorth, Evaluate
from propagation.base.units import FloatArray, as_float
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.station.terminals import Terminal, Terminals, own_terminal

MOST_TIMES: Final = 25  # times that are enough for the sum of a day: hourly


def worth_of(
    result: Forecast,
    terminals: Terminals,
    say: Callable[[Window | None], str] | None = None,
    band: str | None = None,
) -> Evaluate:
    """Return a function that rates changes for the day, target and conditions of a forecast.

    result: the forecast of the station as it is, two times or more; terminals: those it was made with. band:
    the only one counted, if not all. The function returns the worth of the day, and with `say` the best
    window in its words.
    """
    bands = result.bands if band is None else (result.bands[result.band_index(band)],)
    times = result.times[:: max(1, len(result.times) // (MOST_TIMES - 1))]

    def evaluate(one: Candidate) -> DayWorth:
        site = result.station.site
        if one.ground is not None:
            site = replace(site, ground=one.ground, permittivity=None, conductivity_s_per_m=None)
        station = replace(result.station, site=site, antenna=one.spec, feedline=one.feedline)
        own = replace(
            own_terminal(station), power_w=terminals.near.power_w, offset_db=terminals.near.offset_db
        )
        both = Terminals(own, terminals.far)
        again = forecast(replace(request_of(result, both), station=station, times=times, bands=bands))
        found = worth(again)
        if say is None:
            return DayWorth(found.total, region=found.region)
        windows = find_windows(again, both, explained=False).windows
        return DayWorth(found.total, say(windows[0] if windows else None), found.region)

    return evaluate


ALIKE_HOURS: Final = 0.25  # h of contact; two antennas that differ by less count as equal (ours)
ALIKE_PART: Final = 0.05  # part of the better one's hours; a smaller difference counts as equal (ours)


@dataclass(frozen=True, eq=False)
class Worth:
    """Worth of a day with an antenna; B bands.

    total: on the best band of each moment, expected hours of contact with a place, contacts with a region.
    best (B,): what each band promises at its best. by_band (B,): the total with that band alone.
    """

    total: float
    region: bool
    best: tuple[Prospect, ...]
    by_band: FloatArray


def worth(result: Forecast) -> Worth:
    """Compute the worth of the day of a forecast."""
    seen = outlook(result)
    figure = np.where(result.usable[None, :], seen.ceiling * seen.worth, 0.0)
    hours = np.diff((result.times - result.times[0]) / np.timedelta64(3600, "s"))
    by_band = np.sum((figure[1:] + figure[:-1]) / 2.0 * hours[:, None], axis=0)
    best = figure.max(axis=1)
    return Worth(
        float(np.sum((best[1:] + best[:-1]) / 2.0 * hours)),
        result.target.is_region,
        tuple(promise_of(result, band, time) for band, time in enumerate(np.argmax(figure, axis=0).tolist())),
        as_float(by_band),
    )


def takeoff_deg(result: Forecast) -> FloatArray:
    """Take-off angle (B,) [deg] of the strongest ray path when each band promises most; NaN without one."""
    time = np.argmax(outlook(result).worth, axis=0)
    return as_float(result.at(result.elevation_deg)[time, np.arange(len(result.bands))])


def delivered_dbi(result: Forecast, near: Terminal, angle_deg: FloatArray) -> FloatArray:
    """Gain (B,) [dBi] towards the target at a take-off angle (B,) of an operator's end, less its line's loss.

    With the lesson of the log, where the end has one; NaN where the angle is.
    """
    time = np.argmax(outlook(result).worth, axis=0), np.arange(len(result.bands))
    bearing = result.bearing_deg[result.best_point[time], result.route[time]]
    gain = near.gain_dbi(result.frequency_mhz, np.nan_to_num(angle_deg), bearing)
    return as_float(np.where(np.isfinite(angle_deg), gain, np.nan))


def better(one: Worth, other: Worth) -> Literal[0, 1] | None:
    """Return which of two is better, 0 or 1; None where the difference is too small."""
    alike = ALIKE_PART * max(one.total, other.total)
    if not one.region:
        alike = max(ALIKE_HOURS, alike)
    if abs(one.total - other.total) <= alike:
        return None
    return 0 if one.total > other.total else 1
