"""Great circles on a spherical Earth: distance, bearing, destination, and routes by the short or long path.

The sphere has the mean radius, so a distance differs from that on the ellipsoid by up to 0.6 %. Every
function broadcasts its arguments. Longitudes are east positive; any multiple of 360 may be added, and results
are from -180 (included) to 180 (excluded). Bearings are measured clockwise from north, 0..360.

Where a bearing is undefined it has a fixed value, never NaN:
- both ends at one place, or at antipodes (every direction is correct): 0, north;
- at a pole the bearing is measured from the meridian of the longitude given for that pole, as the limit along
  that meridian; `destination` uses the same convention.

Source: spherical trigonometry; the formulas are the well-conditioned arctangent forms (textbook).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol, TypeAlias

import numpy as np

from propagation.base.constants import EARTH_RADIUS_KM
from propagation.base.units import (
    DEG,
    FloatArray,
    FloatLike,
    IntArray,
    as_float,
    cosd,
    sind,
    wrap_longitude_deg,
)

EARTH_TURN_KM: Final = 2.0 * np.pi * EARTH_RADIUS_KM  # km, circumference of the Earth
_NO_DIRECTION: Final = 1e-12  # sine of the separation below which a bearing is only rounding (6 micrometres)


class Located(Protocol):
    """A place: latitude and longitude in degrees, scalar or array."""

    @property
    def lat_deg(self) -> FloatLike: ...
    @property
    def lon_deg(self) -> FloatLike: ...


Place: TypeAlias = Located | tuple[FloatLike, FloatLike]


def _separation(
    lat1_deg: FloatLike, lon1_deg: FloatLike, lat2_deg: FloatLike, lon2_deg: FloatLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """East, north and radial parts of the second point's direction, seen from the first (unit sphere)."""
    turn_deg = wrap_longitude_deg(as_float(lon2_deg) - as_float(lon1_deg))
    sin1, cos1, sin2, cos2 = sind(lat1_deg), cosd(lat1_deg), sind(lat2_deg), cosd(lat2_deg)
    cos_turn = cosd(turn_deg)
    east = cos2 * sind(turn_deg)
    north = cos1 * sin2 - sin1 * cos2 * cos_turn
    radial = sin1 * sin2 + cos1 * cos2 * cos_turn
    return east, north, radial


def distance_km(
    lat1_deg: FloatLike, lon1_deg: FloatLike, lat2_deg: FloatLike, lon2_deg: FloatLike
) -> FloatArray:
    """Length of the shorter great-circle arc [km], 0..20015; arguments [deg] broadcast."""
    east, north, radial = _separation(lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    return EARTH_RADIUS_KM * np.arctan2(np.hypot(east, north), radial)


def bearing_deg(
    lat1_deg: FloatLike, lon1_deg: FloatLike, lat2_deg: FloatLike, lon2_deg: FloatLike
) -> FloatArray:
    """Bearing of the short path from the first point to the second [deg], 0 (included) to 360 (excluded).

    Arguments [deg] broadcast. Poles, equal points and antipodes: see the module docstring.
    """
    east, north, _ = _separation(lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    return _bearing(east, north)


def _bearing(east: FloatArray, north: FloatArray) -> FloatArray:
    bearing = np.mod(np.arctan2(east, north) / DEG, 360.0)
    bearing = np.where(bearing >= 360.0, 0.0, bearing)  # np.mod of a tiny negative number rounds to 360
    return np.where(np.hypot(east, north) < _NO_DIRECTION, 0.0, bearing)


def destination(
    lat_deg: FloatLike, lon_deg: FloatLike, bearing_deg: FloatLike, distance_km: FloatLike
) -> tuple[FloatArray, FloatArray]:
    """Point reached along a great circle: (lat_deg, lon_deg) [deg].

    lat_deg, lon_deg, bearing_deg [deg] and distance_km [km] broadcast. A distance may exceed half the Earth's
    circumference (the long path) or be negative (backwards). At a pole the longitude is arbitrary.
    """
    arc = as_float(distance_km) / EARTH_RADIUS_KM
    sin1, cos1 = sind(lat_deg), cosd(lat_deg)
    sin_arc, cos_arc = np.sin(arc), np.cos(arc)
    cos_bearing = cosd(bearing_deg)
    # Cartesian components with the x axis on the start's meridian
    x = cos1 * cos_arc - sin1 * sin_arc * cos_bearing
    y = sin_arc * sind(bearing_deg)
    z = sin1 * cos_arc + cos1 * sin_arc * cos_bearing
    lat = np.arctan2(z, np.hypot(x, y)) / DEG
    lon = wrap_longitude_deg(as_float(lon_deg) + np.arctan2(y, x) / DEG)
    return lat, lon


@dataclass(frozen=True)
class Route:
    """Great-circle routes from one or many starting points.

    lat_deg, lon_deg: start [deg]; bearing_deg: bearing at the start [deg]; distance_km: length [km];
    arrays of one shape. long: True for the long path.
    """

    lat_deg: FloatArray
    lon_deg: FloatArray
    bearing_deg: FloatArray
    distance_km: FloatArray
    long: bool = False

    @property
    def far_bearing_deg(self) -> FloatArray:
        """Bearing at the far end back along the route [deg], 0..360; 0 where that end is a pole.

        Spherical trigonometry from the start, its bearing and the length. This also holds near the antipode,
        where the bearing between two points changes within the last metre.
        """
        arc = self.distance_km / EARTH_RADIUS_KM
        cos_lat, cos_bearing = cosd(self.lat_deg), cosd(self.bearing_deg)
        east = sind(self.bearing_deg) * cos_lat
        north = np.cos(arc) * cos_bearing * cos_lat - np.sin(arc) * sind(self.lat_deg)
        return _bearing(-east, -north)

    def rows(self, index: IntArray | None) -> Route:
        """Rows of the routes (N,), in the order of `index`; None makes a single route one of shape (1,)."""
        return Route(
            self.lat_deg[index],
            self.lon_deg[index],
            self.bearing_deg[index],
            self.distance_km[index],
            self.long,
        )

    def at_km(self, km: FloatLike) -> tuple[FloatArray, FloatArray]:
        """Points km [km] from the start along the route: (lat_deg, lon_deg) [deg].

        km broadcasts with the route: a route of shape (n, 1) and km of shape (n, p) give (n, p) points.
        """
        return destination(self.lat_deg, self.lon_deg, self.bearing_deg, km)

    def at_fraction(self, fraction: FloatLike) -> tuple[FloatArray, FloatArray]:
        """Points at a fraction of the whole length, 0 at the start and 1 at the far end; broadcasts."""
        return self.at_km(as_float(fraction) * self.distance_km)


def route(tx: Place, rx: Place, long: bool = False) -> Route:
    """The route from tx to rx.

    tx, rx: a Position, or (lat_deg, lon_deg) of scalars or arrays [deg], which broadcast.
    long: the long path. Its length is the Earth's circumference less the short distance, and its bearing is
    the opposite one. Between equal points it therefore goes once round the Earth, starting south.
    """
    lat1, lon1 = _lat_lon(tx)
    lat2, lon2 = _lat_lon(rx)
    east, north, radial = _separation(lat1, lon1, lat2, lon2)
    bearing = _bearing(east, north)
    distance = EARTH_RADIUS_KM * np.arctan2(np.hypot(east, north), radial)
    if long:
        bearing = np.mod(bearing + 180.0, 360.0)
        distance = EARTH_TURN_KM - distance
    lat, lon, bearing, distance = np.broadcast_arrays(lat1, lon1, bearing, distance)
    return Route(lat, lon, bearing, distance, long)


def _lat_lon(place: Place) -> tuple[FloatArray, FloatArray]:
    if isinstance(place, tuple):
        return as_float(place[0]), as_float(place[1])
    return as_float(place.lat_deg), as_float(place.lon_deg)
