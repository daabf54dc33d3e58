"""Monthly median of one path at one hour: its ray paths, its MUF, and the skip distance of each band.

The forecast computes chances for whole days of many paths at once. This module describes a single path for
display, and for comparison with a table of the Recommendation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from typing import Final, Literal

import numpy as np

from propagation.base.constants import E_LAYER_HEIGHT_KM
from propagation.base.units import FloatArray, as_float
from propagation.geo import great_circle
from propagation.geo.locator import Position
from propagation.ionosphere import hops, muf
from propagation.ionosphere.layers import Ionosphere
from propagation.ionosphere.mirror_height import f2_mirror_height_km
from propagation.signal.chances.skip import skip_distance_km
from propagation.signal.rays.path_samples import Disturber, sky_on_day
from propagation.space_weather.indices.solar_index import r12_from_index

HIGHER_ORDERS: Final = 5  # ray paths listed above the lowest order (P.533 section 5, from memory)
E_HOPS_MAX: Final = 3  # hops by the E layer (P.533 section 5, from memory)
E_PATH_MAX_KM: Final = 4000.0  # km, longest path by the E layer alone (P.533 section 5, from memory)
GRAZING_DEG: Final = (
    -1.5
)  # deg, a lowest-order hop this little below the horizon still counts (see `ray_paths`)

Layer = Literal["E", "F2"]


@dataclass(frozen=True)
class EqualHopRayPath:
    """Ray path of equal hops by one layer.

    `muf_mhz` is its basic MUF, the lower of its two control points'. `elevation_deg` is the take-off angle
    with a mirror at `mirror_height_km`.
    """

    layer: Layer
    hops: int
    hop_km: float
    elevation_deg: float
    mirror_height_km: float
    muf_mhz: float


@dataclass(frozen=True)
class Path:
    """Path at an hour. `skip_km` holds each band's skip distance, None where no layer returns it."""

    distance_km: float
    bearing_deg: float
    muf_mhz: float
    ray_paths: tuple[EqualHopRayPath, ...]
    skip_km: Mapping[str, float | None]
    control_lat_deg: float
    control_lon_deg: float


def single_path(
    tx: Position,
    rx: Position,
    time: np.datetime64,
    index: float,
    *,
    long: bool = False,
    frequency_mhz: float | None = None,
    bands_mhz: Mapping[str, float] | None = None,
    disturber: Disturber | None = None,
) -> Path:
    """Compute the path from `tx` to `rx` at one time (UTC) for an ionospheric `index` (scale of R12).

    long: by the long route. disturber: the day's storm, None on a quiet day. frequency_mhz: at which the
    mirror heights are taken; by default each ray path's own MUF. bands_mhz: a frequency [MHz] for each band
    whose skip distance towards `rx` is requested.

    The path's MUF is the highest of its ray paths' basic MUFs (P.1240 sections 3 and 5: the lowest order of
    F2, hops up to dmax and 4000 km, or the E layer up to 4000 km), medians of the month.
    """
    route = great_circle.route(tx, rx, long)
    distance = float(route.distance_km)
    sky = _Sky(route, time, index, disturber)
    middle = sky.at_km(np.array([distance / 2.0]))
    longest = min(
        float(muf.f2_dmax_km(middle.fof2_mhz, middle.foe_mhz, middle.m3000f2)[0]), muf.F2_HOP_MAX_KM
    )
    lowest_order = max(1, ceil(distance / longest - 1e-9))

    orders = np.arange(lowest_order, lowest_order + HIGHER_ORDERS + 1)
    found = _f2_ray_paths(sky, distance, orders, frequency_mhz)
    if distance <= E_PATH_MAX_KM:
        e_orders = np.arange(1, E_HOPS_MAX + 1)
        found += _e_ray_paths(sky, distance, e_orders[distance / e_orders <= muf.E_HOP_MAX_KM])
    lat, lon = route.at_km(distance / lowest_order / 2.0)
    bands = bands_mhz or {}
    skip = skip_distance_km(
        tx, float(route.bearing_deg), as_float(list(bands.values())), time, index, disturber
    )
    return Path(
        distance_km=distance,
        bearing_deg=float(route.bearing_deg),
        muf_mhz=max(ray_path.muf_mhz for ray_path in found),
        ray_paths=tuple(sorted(found, key=lambda ray_path: (-ray_path.muf_mhz, ray_path.hops))),
        skip_km={name: None if np.isnan(km) else float(km) for name, km in zip(bands, skip, strict=True)},
        control_lat_deg=float(lat),
        control_lon_deg=float(lon),
    )


@dataclass(frozen=True)
class _Sky:
    """Layers over a route at one time."""

    route: great_circle.Route
    time: np.datetime64
    index: float
    disturber: Disturber | None

    def at_km(self, km: FloatArray) -> Ionosphere:
        """Layers over places along the route."""
        lat, lon = self.route.at_km(km)
        return sky_on_day(lat, lon, np.asarray([self.time]), self.index, self.disturber)


def _control_points(distance: float, hop_km: FloatArray) -> FloatArray:
    """Distances from the start [km] of the two control points of each ray path, half a hop from either
    end."""
    return np.stack([hop_km / 2.0, distance - hop_km / 2.0], axis=-1)


def _f2_ray_paths(
    sky: _Sky,
    distance: float,
    orders: np.ndarray[tuple[int, ...], np.dtype[np.int64]],
    frequency_mhz: float | None,
) -> list[EqualHopRayPath]:
    hop_km = distance / as_float(orders)
    layer = sky.at_km(_control_points(distance, hop_km))
    at_points = muf.f2_muf_mhz(
        hop_km[:, None], layer.fof2_mhz, layer.foe_mhz, layer.m3000f2, layer.gyro_300_mhz
    )
    basic_muf = at_points.min(axis=-1)
    f = basic_muf if frequency_mhz is None else np.full_like(basic_muf, frequency_mhz)
    height = f2_mirror_height_km(
        f[:, None], layer.fof2_mhz, layer.foe_mhz, layer.m3000f2, r12_from_index(sky.index), hop_km[:, None]
    ).mean(axis=-1)
    elevation = hops.elevation_deg(hop_km, height)
    return [
        EqualHopRayPath("F2", int(n), float(d), max(float(el), 0.0), float(h), float(m))
        for n, d, el, h, m in zip(orders, hop_km, elevation, height, basic_muf, strict=True)
        if el >= GRAZING_DEG or n == orders[-1]
    ]


def _e_ray_paths(
    sky: _Sky,
    distance: float,
    orders: np.ndarray[tuple[int, ...], np.dtype[np.int64]],
) -> list[EqualHopRayPath]:
    hop_km = distance / as_float(orders)
    layer = sky.at_km(_control_points(distance, hop_km))
    basic_muf = muf.e_muf_mhz(hop_km[:, None], layer.foe_mhz).min(axis=-1)
    elevation = hops.elevation_deg(hop_km, E_LAYER_HEIGHT_KM)
    return [
        EqualHopRayPath("E", int(n), float(d), float(el), E_LAYER_HEIGHT_KM, float(m))
        for n, d, el, m in zip(orders, hop_km, elevation, basic_muf, strict=True)
    ]
