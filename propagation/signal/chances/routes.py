"""Two routes to every point of a target, with a fan of bearings near the antipode.

Shapes: P points, N = 2 P routes, the short ones first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, as_float
from propagation.geo import great_circle
from propagation.geo.great_circle import Route
from propagation.geo.regions import Target
from propagation.signal.chances.chunking import Block
from propagation.signal.chances.forecast_arrays import Figures
from propagation.station.station import Station

ANTIPODE_KM: Final = 600.0  # km from the antipode within which every bearing is tried (ours)
FAN_DEG: Final = (-75.0, -50.0, -25.0, 25.0, 50.0, 75.0)  # deg, turns tried there (ours)


def both_routes(station: Station, target: Target, bearing_deg: FloatArray | None = None) -> Route:
    """Short and long routes to every point, (2 P,) with the short ones first.

    `bearing_deg` (P, 2): departure bearings that replace those of the great circles. A forecast chooses them
    near the antipode, where every bearing leads to the target.
    """
    place = (target.lat_deg, target.lon_deg)
    short, long = (great_circle.route(station.site.position, place, long=far) for far in (False, True))
    both = Route(
        np.concatenate([short.lat_deg, long.lat_deg]),
        np.concatenate([short.lon_deg, long.lon_deg]),
        np.concatenate([short.bearing_deg, long.bearing_deg]),
        np.concatenate([short.distance_km, long.distance_km]),
    )
    return both if bearing_deg is None else replace(both, bearing_deg=bearing_deg.T.ravel())


def turned_at_antipode(
    route: Route,
    usable: BoolArray,
    whole: Figures,
    work: Callable[[Block, Route], None],
) -> Route:
    """Turn the routes to points near the antipode to the best bearing of a fan.

    Every bearing leads to the antipode. Each turn of the fan is computed for those routes alone. Where it
    gives better chances than `whole` on the usable bands of the day, it replaces them in `whole`. Routes far
    from the antipode stay unchanged.
    """
    rows = np.flatnonzero(np.abs(route.distance_km - 0.5 * great_circle.EARTH_TURN_KM) < ANTIPODE_KM)
    if not rows.size:
        return route
    everything = slice(None)

    def served() -> FloatArray:
        return as_float(np.mean(whole.chance[rows][..., usable], axis=(1, 2)))

    best, bearing = served(), route.bearing_deg.copy()
    for turn in FAN_DEG:
        kept = {name: values[rows].copy() for name, values in vars(whole).items()}
        trial = route.bearing_deg.copy()
        trial[rows] = np.mod(trial[rows] + turn, 360.0)
        turned = replace(route, bearing_deg=trial)
        for row in rows:
            work((np.array([row]), everything), turned)
        better = served() > best
        for name, values in kept.items():
            getattr(whole, name)[rows[~better]] = values[~better]
        bearing[rows[better]] = trial[rows[better]]
        best = np.maximum(best, served())
    return replace(route, bearing_deg=bearing)
