"""Samples of the ionosphere and the ground at fixed points along routes, interpolated in between.

Later steps (hops of every ray path, both control points of P.533, the crossings of the D layer) interpolate
these samples linearly. The maps are thus evaluated once per route and hour, however many ray paths there are.
Shapes: N routes, T times, P points along the route.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np

from propagation.base.units import FloatArray, FloatLike, IntArray, TimeArray, as_float, cosd, sind
from propagation.geo import land, sun
from propagation.geo.great_circle import Route
from propagation.ionosphere import absorbing_layers, layers, variability
from propagation.space_weather.indices.solar_index import r12_from_index

POINTS: Final = 17  # along a route: steps of 560 km on 9000, 1500 km on 24 000, the maps near linear in them
SEA_POINTS: Final = 65  # along a route, for land or sea at the ground reflections


class Disturber(Protocol):
    """Disturbance of the median ionosphere at places and times; see `disturbance`. All arrays broadcast."""

    def fof2_factor(
        self,
        lat_deg: FloatArray,
        lon_deg: FloatArray,
        geomagnetic_latitude_deg: FloatArray,
        times: TimeArray,
    ) -> FloatArray:
        """Factor on the median foF2."""

    def spread_factor(self, lat_deg: FloatArray, lon_deg: FloatArray, times: TimeArray) -> FloatArray | None:
        """Factor on the layer's spread from day to day; None for 1 everywhere."""

    def extra_absorption(
        self,
        lat_deg: FloatArray,
        lon_deg: FloatArray,
        zenith_deg: FloatArray,
        geomagnetic_latitude_deg: FloatArray,
        times: TimeArray,
    ) -> tuple[FloatArray, FloatArray]:
        """X in the extra two-way vertical absorption X / f^1.5 [dB MHz^1.5] of flares, and of protons."""

    def oval_latitude_deg(self, geomagnetic_latitude_deg: FloatArray, times: TimeArray) -> FloatArray:
        """Geomagnetic latitude [deg] at which to read the quiet auroral table."""

    def of_rows(self, rows: IntArray) -> Disturber:
        """Return the disturber of some of the routes alone, by their numbers (M,)."""


@dataclass(frozen=True)
class PathSamples:
    """Layer figures along N routes at T times and P points; shapes (N, T, P) unless noted.

    distance_km (N,); lat_deg, lon_deg (N, P); year: decimal year of the magnetic field. fof2_mhz, m3000f2,
    foe_mhz, foes_lower_mhz, foes_median_mhz, foes_upper_mhz [MHz]; gyro_300_mhz (N, 1 or T, P);
    longitudinal_gyro_mhz = |fH sin I| at 100 km; d_strength, e_db_per_mhz2 of `absorbing_layers`; zenith_deg;
    solar_hour [h]; geomagnetic_latitude_deg; oval_latitude_deg: the same, counted from a quiet oval;
    extra_absorption (both kinds), proton_absorption (of it), spread_factor (see `Disturber`), None on quiet
    days; season -1..+1 (local winter..summer, (N, T, P)); r12 (broadcasts with (N, T, P)); sea_share
    (N, SEA_POINTS): smoothed share of sea along the route, 0..1.
    """

    distance_km: FloatArray
    lat_deg: FloatArray
    lon_deg: FloatArray
    times: TimeArray
    year: float
    r12: FloatArray
    fof2_mhz: FloatArray
    m3000f2: FloatArray
    foe_mhz: FloatArray
    foes_lower_mhz: FloatArray
    foes_median_mhz: FloatArray
    foes_upper_mhz: FloatArray
    gyro_300_mhz: FloatArray
    longitudinal_gyro_mhz: FloatArray
    d_strength: FloatArray
    e_db_per_mhz2: FloatArray
    zenith_deg: FloatArray
    solar_hour: FloatArray
    geomagnetic_latitude_deg: FloatArray
    oval_latitude_deg: FloatArray
    season: FloatArray
    extra_absorption: FloatArray | None
    proton_absorption: FloatArray | None
    spread_factor: FloatArray | None
    sea_share: FloatArray

    def rows(self, index: IntArray) -> PathSamples:
        """Samples of some of the routes; the same record where all are requested."""
        n = self.distance_km.size
        if index.size == n:
            return self

        def pick(value: object) -> object:
            return value[index] if isinstance(value, np.ndarray) and value.shape[:1] == (n,) else value

        return PathSamples(**{name: pick(value) for name, value in vars(self).items()})  # type: ignore[arg-type]

    def r12_mean(self) -> FloatArray:
        """Activity index of each route and time (N, T)."""
        return np.broadcast_to(np.mean(self.r12, axis=-1), self.fof2_mhz.shape[:2])

    def muf_spread(self) -> tuple[FloatArray, FloatArray]:
        """Day-to-day spread of the F2 MUF below and above its median, mean over the route (N, T)."""
        lower, upper = variability.muf_spread(
            self.solar_hour, self.geomagnetic_latitude_deg, self.r12_mean()[..., None]
        )
        if self.spread_factor is not None:
            lower, upper = lower * self.spread_factor, upper * self.spread_factor
        return np.mean(lower, axis=-1), np.mean(upper, axis=-1)

    def layer_factors(self) -> FloatArray:
        """Ratio of the F2 layer's MUF to its median on each kind of day (N, T, U)."""
        lower, upper = self.muf_spread()
        return variability.layer_factor(lower[..., None], upper[..., None], variability.LAYER_NODES)


def season_of(lat_deg: FloatLike, times: TimeArray) -> FloatArray:
    """Local season, smooth: +1 at the summer solstice, 0 at equinoxes and on the equator, -1 in winter."""
    return sun.declination_deg(times) / 23.44 * np.clip(as_float(lat_deg) / 15.0, -1.0, 1.0)


def sky_on_day(
    lat_deg: FloatArray,
    lon_deg: FloatArray,
    times: TimeArray,
    index: FloatLike,
    disturber: Disturber | None = None,
    *,
    year: float | None = None,
    with_es: bool = False,
) -> layers.Ionosphere:
    """Ionosphere of `layers.ionosphere`, with the day's foF2; arguments broadcast."""
    sky = layers.ionosphere(lat_deg, lon_deg, times, index, year, with_es=with_es)
    if disturber is None:
        return sky
    factor = disturber.fof2_factor(lat_deg, lon_deg, sky.geomagnetic_latitude_deg, times)
    return replace(sky, fof2_mhz=sky.fof2_mhz * factor)


def sample(
    route: Route,
    times: TimeArray,
    index: FloatLike,
    disturber: Disturber | None = None,
    *,
    year: float,
    for_ray_paths: bool = True,
) -> PathSamples:
    """Sample N routes (arrays of shape (N,)) at times of shape (1 or N, T); `index` broadcasts with (N, T).

    `index`: ionospheric, drives the maps; `r12` of the samples is the sunspot number that belongs to it.
    `disturber` None means a quiet day. `year` of the magnetic field as in `layers.ionosphere`.
    `for_ray_paths` False omits, as NaN, the samples used only by ray paths: sporadic E and the ground.
    """
    column = Route(
        route.lat_deg[:, None],
        route.lon_deg[:, None],
        route.bearing_deg[:, None],
        route.distance_km[:, None],
        route.long,
    )
    lat, lon = column.at_fraction(np.linspace(0.0, 1.0, POINTS))
    when = np.asarray(times)[..., None]
    index = np.broadcast_to(as_float(index), np.broadcast_shapes(np.shape(index), np.shape(times)))[..., None]
    r12 = r12_from_index(index)
    at_lat, at_lon = lat[:, None, :], lon[:, None, :]
    sky = sky_on_day(at_lat, at_lon, when, index, disturber, year=year, with_es=for_ray_paths)
    fof2, latitude = sky.fof2_mhz, sky.geomagnetic_latitude_deg
    oval, extra, by_protons, narrower = latitude, None, None, None
    if disturber is not None:
        oval = np.broadcast_to(disturber.oval_latitude_deg(latitude, when), fof2.shape)
        by_flare, protons = disturber.extra_absorption(at_lat, at_lon, sky.zenith_deg, latitude, when)
        by_protons = np.broadcast_to(protons, fof2.shape)
        extra = by_flare + by_protons
        narrower = disturber.spread_factor(at_lat, at_lon, when)
    absorbing = absorbing_layers.absorbing_layers(sky.zenith_deg, at_lat, when, index)
    if for_ray_paths:
        sea = land.sea_share(*column.at_fraction(np.linspace(0.0, 1.0, SEA_POINTS)))
    else:
        sea = np.full((route.distance_km.size, SEA_POINTS), np.nan)
    return PathSamples(
        distance_km=route.distance_km,
        lat_deg=lat,
        lon_deg=lon,
        times=np.asarray(times),
        year=year,
        r12=r12,
        fof2_mhz=fof2,
        m3000f2=sky.m3000f2,
        foe_mhz=sky.foe_mhz,
        foes_lower_mhz=sky.foes_lower_mhz,
        foes_median_mhz=sky.foes_median_mhz,
        foes_upper_mhz=sky.foes_upper_mhz,
        gyro_300_mhz=sky.gyro_300_mhz,
        longitudinal_gyro_mhz=sky.gyro_100_mhz * np.abs(sind(sky.dip_deg)),
        d_strength=absorbing.d_strength,
        e_db_per_mhz2=absorbing.e_db_per_mhz2,
        zenith_deg=sky.zenith_deg,
        solar_hour=np.broadcast_to(sun.local_solar_hour(at_lon, when), fof2.shape),
        geomagnetic_latitude_deg=latitude,
        oval_latitude_deg=oval,
        season=np.broadcast_to(season_of(at_lat, when), fof2.shape),
        extra_absorption=extra,
        proton_absorption=by_protons,
        spread_factor=None if narrower is None else np.broadcast_to(narrower, fof2.shape),
        sea_share=_smoothed(sea),
    )


def _smoothed(sea: FloatArray) -> FloatArray:
    """Running mean over three points: the ground that reflects a ray is tens of kilometres across."""
    padded = np.pad(sea, ((0, 0), (1, 1)), mode="edge")
    return (padded[:, :-2] + padded[:, 1:-1] + padded[:, 2:]) / 3.0


class RouteInterpolator:
    """Interpolator of samples along the routes: values (N, T, P) at km (N, M) give (N, T, M).

    Linear between points. Places off the route use its ends, a route of no length its start. Built once for a
    set of places and reused for every quantity there.
    """

    def __init__(self, km: FloatArray, distance_km: FloatArray, times: int, points: int = POINTS) -> None:
        position = np.clip(km / np.maximum(distance_km, 1e-3)[:, None], 0.0, 1.0) * (points - 1)
        left = np.minimum(position.astype(np.intp), points - 2)
        n = left.shape[0]
        self._from_shape = (n, times, points)
        self._shape = (n, times, left.shape[1])
        rows = np.arange(n * times, dtype=np.intp).reshape(n, times, 1) * points
        self._left = rows + left[:, None, :]
        self._right = self._left + 1
        self._share = (position - left)[:, None, :]

    def __call__(self, values: FloatArray) -> FloatArray:
        """Values at the places (N, T, M); `values` broadcasts to (N, T, P)."""
        whole = values if values.shape == self._from_shape else np.broadcast_to(values, self._from_shape)
        flat = whole.ravel()
        before, after = flat.take(self._left), flat.take(self._right)
        after -= before
        after *= self._share
        after += before
        return after


def along(values: FloatArray, km: FloatArray, distance_km: FloatArray) -> FloatArray:
    """Interpolate one quantity (N, T, P) at places km (N, M) along the routes: (N, T, M).

    See `RouteInterpolator`.
    """
    return RouteInterpolator(km, distance_km, values.shape[-2], values.shape[-1])(values)


def daylight(zenith_deg: FloatLike) -> FloatArray:
    """Daylight: 1 by day, 0 by night, half with the sun 6 degrees below the horizon.

    The transition is smooth, over some 10 degrees.
    """
    return 0.5 * (1.0 + np.tanh((cosd(zenith_deg) + 0.05) / 0.1))
