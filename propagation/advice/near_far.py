"""Why do I hear the far ones and not the near ones? The chance over distance, along one bearing, and its gap.

One band at one time: the contact is computed at distances from 30 to 12,000 km. Where it fails between two
distances at which it succeeds there is a dead zone, and its cause is measured like any other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.advice.cause_weights import Weighted, reasons
from propagation.base.units import FloatArray
from propagation.geo.great_circle import bearing_deg, destination
from propagation.geo.regions import Target, make_target
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.chances.request import Request
from propagation.station.terminals import Terminals

NEAREST_KM: Final = 30.0  # km, from here on distances are tried
FARTHEST_KM: Final = 12_000.0  # km
COUNT: Final = 36  # distances, evenly by ratio: each 18 % farther than the last
HEARD: Final = 0.2  # chance from which stations at a distance count as heard (ours)


@dataclass(frozen=True)
class NearFar:
    """Chance over distance on one bearing.

    distance_km, chance: shape (n,). near_to_km: how far the near ones are heard from home on, or None.
    gap_km: the dead zone (from, to), or None. far_to_km: the end of what is heard beyond it, or None where
    nothing is. cause: the heaviest cause in the middle of the gap. band, time: of which it is told.
    """

    band: str
    time: np.datetime64

    bearing_deg: float
    distance_km: FloatArray
    chance: FloatArray
    near_to_km: float | None
    gap_km: tuple[float, float] | None
    far_to_km: float | None
    cause: Weighted | None

    @property
    def best(self) -> float:
        """The best chance at any distance."""
        return float(np.max(self.chance))


def near_and_far(result: Forecast, terminals: Terminals, band: int, time: int) -> NearFar:
    """The chance over distance towards the forecast's target, for one band and time (indices)."""
    home, goal = result.station.site.position, result.target.centre
    bearing = float(bearing_deg(home.lat_deg, home.lon_deg, goal.lat_deg, goal.lon_deg))
    distance = np.geomspace(NEAREST_KM, FARTHEST_KM, COUNT)
    lat, lon = destination(home.lat_deg, home.lon_deg, np.full(COUNT, bearing), distance)
    labels = [f"{km:.0f}" for km in distance.tolist()]
    line = make_target("a line of distances", "ring", lat, lon, np.ones(COUNT), labels)
    row = _forecast(result, terminals, line, band, time)
    chance = np.asarray(row.chance[:, 0, 0, 0])  # the short way
    heard = chance >= HEARD
    near_to, gap, far_to = zones(distance, chance)
    cause = None
    if gap is not None:
        at = int(np.argmin(np.where(heard, np.inf, np.abs(np.log(distance) - 0.5 * np.log(gap[0] * gap[1])))))
        one = make_target(labels[at], "place", lat[at : at + 1], lon[at : at + 1], [1.0], [labels[at]])
        cell = _forecast(result, terminals, one, band, time)
        cause = reasons(cell, terminals, 0, 0).causes[0]
    name, moment = result.bands[band].name, result.times[time]
    return NearFar(name, moment, bearing, distance, chance, near_to, gap, far_to, cause)


def _forecast(result: Forecast, terminals: Terminals, target: Target, band: int, time: int) -> Forecast:
    """The forecast's one band and time again, towards another target."""
    return forecast(
        Request(
            result.station,
            target,
            result.times[time : time + 1],
            result.conditions,
            mode=result.mode.name,
            bands=[result.bands[band]],
            effects=result.effects,
            near=terminals.near,
            far=terminals.far,
            people=False,
        )
    )


def zones(
    distance_km: FloatArray, chance: FloatArray
) -> tuple[float | None, tuple[float, float] | None, float | None]:
    """Near zone's end, the dead zone, and the end of the far zone [km], from a chance over rising distances.

    The far zone is the one of the best chance beyond the first gap; edges lie where the chance, straight over
    the logarithm of distance, meets `HEARD`. A distance is None where the zone is not there.
    """
    heard = chance >= HEARD
    if not heard.any():
        return None, None, None
    first_deaf = int(np.argmin(heard)) if not heard.all() else heard.size
    near_to = None if first_deaf == 0 else _edge(distance_km, chance, first_deaf - 1, first_deaf)
    beyond = np.flatnonzero(heard[first_deaf:]) + first_deaf
    if beyond.size == 0:
        return near_to, None, None
    opens = int(beyond[0])
    gap_start = near_to if near_to is not None else float(distance_km[0])
    gap_end = _edge(distance_km, chance, opens, opens - 1)
    last = int(beyond[-1])
    far_to = _edge(distance_km, chance, last, last + 1)
    return near_to, (gap_start, gap_end), far_to


def _edge(distance_km: FloatArray, chance: FloatArray, inside: int, outside: int) -> float:
    if not 0 <= outside < distance_km.size:
        return float(distance_km[inside])
    share = (chance[inside] - HEARD) / max(float(chance[inside] - chance[outside]), 1e-9)
    low, high = np.log(distance_km[inside]), np.log(distance_km[outside])
    return float(np.exp(low + float(np.clip(share, 0.0, 1.0)) * (high - low)))
