"""The world at one time: coast lines and daylight."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np

from propagation.advice.band_now import LIKELY
from propagation.base.units import BoolArray, FloatArray
from propagation.geo.locator import Position
from propagation.wording.quantities import band_title, clock, percent

CHART_STEP_DEG = 0.5


@cache
def chart_axes() -> tuple[FloatArray, FloatArray, BoolArray]:
    """The chart's latitudes from north to south, longitudes, and where there is sea."""
    from propagation.geo import land

    lat = np.arange(90.0 - CHART_STEP_DEG / 2, -90.0, -CHART_STEP_DEG)
    lon = np.arange(-180.0 + CHART_STEP_DEG / 2, 180.0, CHART_STEP_DEG)
    return lat, lon, land.is_sea(lat[:, None], lon[None, :])


def plain_chart(time: np.datetime64, site: Position) -> MapView:
    """Coast and daylight at a time, without band and routes."""
    from propagation.geo import sun

    lat, lon, sea = chart_axes()
    return MapView(
        time=time,
        band="",
        lat_deg=lat,
        lon_deg=lon,
        sea=sea,
        sun_elevation_deg=90.0 - sun.zenith_deg(lat[:, None], lon[None, :], time),
        share=None,
        site=(site.lat_deg, site.lon_deg),
    )


@dataclass(frozen=True)
class MapView:
    """The world at one time: sun, land, routes, and where one band comes down."""

    time: np.datetime64
    band: str
    lat_deg: FloatArray  # (Y,) from north to south
    lon_deg: FloatArray  # (X,) from west to east
    sea: BoolArray  # (Y, X)
    sun_elevation_deg: FloatArray  # (Y, X)
    share: FloatArray | None  # (y, x) footprint on its own coarser grid, or None while it is not worked out
    share_lat_deg: FloatArray = field(default_factory=lambda: np.zeros(0))
    share_lon_deg: FloatArray = field(default_factory=lambda: np.zeros(0))
    routes: tuple[tuple[str, FloatArray, FloatArray], ...] = ()  # (name, lat, lon)
    site: tuple[float, float] = (0.0, 0.0)
    targets: tuple[tuple[str, float, float], ...] = ()


def map_sentences(view: MapView) -> list[str]:
    """The map in words."""
    lit = float((view.sun_elevation_deg > 0).mean())
    out = [
        f"World at {clock(view.time)} UTC, {band_title(view.band)}; {percent(lit)} of this "
        "picture lies in daylight."
    ]
    for name, lat, lon in view.targets:
        out.append(
            f"{name} at {abs(lat):.1f} {'N' if lat >= 0 else 'S'}, {abs(lon):.1f} {'E' if lon >= 0 else 'W'}."
        )
    if view.share is not None:
        out.append(
            f"The band comes down on {percent(float((view.share >= LIKELY).mean()))} of the "
            "picture on at least 5 days in 10."
        )
    return out
