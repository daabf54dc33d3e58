"""Changes that would help a season without a likely hour: more power, and the next narrower mode.

Each is computed for the best waking hour of the season, on the band that is best with the change.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from propagation.advice.rates import Prospect
from propagation.advice.region_chance import outlook
from propagation.advice.season import Season, hours_of
from propagation.signal.chances.forecast import forecast
from propagation.signal.chances.limiting import FAIR_POWER_W
from propagation.signal.chances.request import Request
from propagation.signal.rays.causes import CAUSES, Cause
from propagation.spectrum.modes import by_name, narrower


@dataclass(frozen=True)
class BestHour:
    """Best waking hour of a season: month and hour (index), band, what it promises, and its limit."""

    month: int
    hour: int
    band: str
    promise: Prospect
    limit: Cause


@dataclass(frozen=True)
class SeasonChange:
    """Power [W] and mode after a change, and the best band of the season's best hour with it."""

    power_w: float
    mode: str
    band: str
    promise: Prospect


def best_hour(found: Season) -> BestHour | None:
    """Best waking hour, by the middle prediction; None where no band or no hour is left."""
    if not found.bands or not found.suits.any():
        return None
    best = np.where(found.suits, found.of_best(found.worth)[1], -1.0)
    month, hour = (int(i) for i in np.unravel_index(int(np.argmax(best)), best.shape))
    band = int(found.best_band[month, hour])
    limit = CAUSES[int(found.limit[month, hour, band])]
    return BestHour(month, hour, found.bands[band].name, found.at(month, hour, band), limit)


def season_changes(found: Season, request: Request) -> tuple[SeasonChange, ...]:
    """Results of 100 W and of the next narrower mode, each alone, at the best hour of a season.

    request: of the season. Only changes that are possible and better are returned.
    """
    best = best_hour(found)
    if best is None:
        return ()
    most = min(FAIR_POWER_W, found.station.limits.power_w or FAIR_POWER_W)
    mode = narrower(by_name(found.mode))
    asked = [(most, found.mode)] if found.power_w < most else []
    asked += [(found.power_w, mode.name)] if mode is not None else []
    times = hours_of(found.months)[best.month, best.hour : best.hour + 1]
    changes = []
    for power_w, name in asked:
        near = replace(request.own_end, power_w=power_w)
        again = forecast(replace(request, times=times, mode=name, power_w=power_w, near=near))
        seen = outlook(again)
        band = int(np.argmax(np.where(again.usable, seen.ranked[0], -1.0)))
        if not again.usable[band]:
            continue
        promise = seen.at(0, band)
        if found.told(promise.figure) > found.told(best.promise.figure):
            changes.append(SeasonChange(power_w, name, again.bands[band].name, promise))
    return tuple(changes)
