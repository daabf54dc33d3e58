"""Reach screen: a row of places along the bearing for the rulers, a grid of places for the chart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from propagation.advice.recompute import request_of
from propagation.base.units import FloatArray
from propagation.geo import great_circle, regions, sun
from propagation.signal.chances import forecast
from propagation.signal.chances.skip import skip_of_forecast_km
from propagation.spectrum.bands import by_name
from propagation.station.terminals import Terminals
from propagation.wording.hops import stand_in_sentence
from tui.app.choice import Cursor
from tui.app.day_forecast import DayForecast
from tui.app.queries import Abandoned, Cancelled
from tui.features.reach.view import ReachView, SkipView
from tui.kit.world import MapView, chart_axes

RULER_POINTS = 97
SHORTEST_RULER_KM, LONGEST_RULER_KM = 4000.0, 19500.0
GRID_STEP_DEG = 6.0
ROUTE_POINTS = 160


def rulers(kept: DayForecast, cursor: Cursor) -> ReachView:
    """Rulers of all bands, and the chart without its footprint."""
    result = kept.result
    time = result.times[result.time_index(cursor.time)]
    site = result.station.site.position
    point = kept.point
    route = 1 if cursor.long else 0
    bearing = float(result.bearing_deg[point, route])
    distance = float(result.distance_km[point, route])
    longest = min(max(SHORTEST_RULER_KM, 1.25 * distance), LONGEST_RULER_KM)
    km = np.linspace(longest / RULER_POINTS, longest, RULER_POINTS)
    shown = [row for row in range(len(result.bands)) if result.usable[row]] or list(range(len(result.bands)))
    lat, lon = great_circle.destination(site.lat_deg, site.lon_deg, bearing, km)
    far = forecast.forecast(
        replace(
            request_of(result, Terminals(kept.near, kept.far)),
            target=_points(lat, lon),
            times=np.array([time]),
            bands=[result.bands[row] for row in shown],
            people=False,
        )
    )
    share = far.chance[:, 0, 0, :].T
    hops = (far.low_hops + far.high_hops)[:, 0, 0, :].T
    skip = skip_of_forecast_km(result, bearing, time, result.frequency_mhz[shown])
    single = not result.target.is_region
    return ReachView(
        SkipView(
            time=time,
            bearing_deg=bearing,
            distance_km=np.concatenate([[0.0], km]),
            bands=tuple(result.bands[row].name for row in shown),
            share=np.concatenate([share[:, :1], share], axis=1),
            hop=np.concatenate([hops[:, :1], hops], axis=1),
            skip_km=skip,
            target=result.target.name if single else result.target.labels[point],
            target_km=distance,
            stand_in=stand_in_sentence(result.target, point, reached=False),
        ),
        _chart(kept, cursor, time),
    )


def _points(lat: FloatArray, lon: FloatArray) -> regions.Target:
    count = lat.size
    return regions.make_target("places", "region", lat.ravel(), lon.ravel(), np.ones(count), [""] * count)


def _chart(kept: DayForecast, cursor: Cursor, time: np.datetime64) -> MapView:
    result = kept.result
    site = result.station.site.position
    lat, lon, sea = chart_axes()
    place = (float(result.target.lat_deg[kept.point]), float(result.target.lon_deg[kept.point]))
    route = great_circle.route(site, place, long=cursor.long)
    along = route.at_km(np.linspace(0.0, float(route.distance_km), ROUTE_POINTS))
    name = result.target.name if not result.target.is_region else result.target.labels[kept.point]
    return MapView(
        time=time,
        band=cursor.band,
        lat_deg=lat,
        lon_deg=lon,
        sea=sea,
        sun_elevation_deg=90.0 - sun.zenith_deg(lat[:, None], lon[None, :], time),
        share=None,
        routes=(("long" if cursor.long else "short", along[0], along[1]),),
        site=(site.lat_deg, site.lon_deg),
        targets=((name, *place),),
    )


def footprint(kept: DayForecast, view: MapView, cursor: Cursor, cancelled: Cancelled) -> MapView:
    """Chart with the share of days on which the band is returned to each place, on a coarse grid."""
    result = kept.result
    lat = np.arange(81.0, -64.0, -GRID_STEP_DEG)
    lon = np.arange(-180.0 + GRID_STEP_DEG / 2, 180.0, GRID_STEP_DEG)
    grid_lat, grid_lon = np.meshgrid(lat, lon, indexing="ij")
    share = np.empty(grid_lat.shape)
    for first in range(0, lat.size, 6):
        if cancelled():
            raise Abandoned
        rows = slice(first, first + 6)
        part = forecast.forecast(
            replace(
                request_of(result, Terminals(kept.near, kept.far)),
                target=_points(grid_lat[rows], grid_lon[rows]),
                times=np.array([view.time]),
                bands=[by_name(cursor.band)],
                people=False,
            )
        )
        best = np.max(part.chance[:, :, 0, 0], axis=1)
        share[rows] = best.reshape(grid_lat[rows].shape)
    return replace(view, band=cursor.band, share=share, share_lat_deg=lat, share_lon_deg=lon)
