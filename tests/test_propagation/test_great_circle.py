"""Great circles against geographiclib on a sphere, at the awkward places, and by their properties."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import assume, given
from hypothesis import strategies as st

from propagation.base.constants import EARTH_RADIUS_KM
from propagation.geo.great_circle import EARTH_TURN_KM, bearing_deg, destination, distance_km, route
from propagation.geo.locator import Position

HALF_TURN_KM = EARTH_TURN_KM / 2.0
SPHERE = Geodesic(EARTH_RADIUS_KM * 1000.0, 0.0)  # the reference: an ellipsoid without flattening
latitudes = st.floats(-90.0, 90.0)
longitudes = st.floats(-180.0, 180.0)


def turned(angle_deg: float) -> float:
    """An angle brought to -180..180."""
    return (angle_deg + 180.0) % 360.0 - 180.0


def test_against_geographiclib() -> None:
    """Distance to a millimetre and bearing to 1e-6 degrees (geographiclib works to nanometres)."""
    rng = np.random.default_rng(20260101)
    lat1, lat2 = rng.uniform(-90, 90, (2, 300))
    lon1, lon2 = rng.uniform(-180, 180, (2, 300))
    lat2[:40] = lat1[:40] + rng.uniform(-0.01, 0.01, 40)  # near
    lon2[:40] = lon1[:40] + rng.uniform(-0.01, 0.01, 40)
    lat2[40:80] = -lat1[40:80] + rng.uniform(-0.01, 0.01, 40)  # nearly antipodal
    lon2[40:80] = lon1[40:80] + 180.0
    lat2 = np.clip(lat2, -90.0, 90.0)
    lines = [SPHERE.Inverse(*ends) for ends in zip(lat1, lon1, lat2, lon2, strict=True)]
    np.testing.assert_allclose(
        distance_km(lat1, lon1, lat2, lon2), [line["s12"] / 1000.0 for line in lines], rtol=0.0, atol=1e-6
    )
    difference = bearing_deg(lat1, lon1, lat2, lon2) - np.array([line["azi1"] for line in lines])
    np.testing.assert_allclose((difference + 180.0) % 360.0 - 180.0, 0.0, atol=1e-6)

    span = rng.uniform(-30000.0, 50000.0, 300)
    start = rng.uniform(0.0, 360.0, 300)
    ends = [SPHERE.Direct(*line) for line in zip(lat1, lon1, start, span * 1000.0, strict=True)]
    lat, lon = destination(lat1, lon1, start, span)
    np.testing.assert_allclose(lat, [end["lat2"] for end in ends], atol=1e-8)
    east_km = (lon - np.array([end["lon2"] for end in ends]) + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(east_km * np.cos(np.radians(lat)), 0.0, atol=1e-8)


@pytest.mark.parametrize(
    ("ends", "distance", "bearing"),
    [
        ((0.0, 0.0, 0.0, 90.0), HALF_TURN_KM / 2, 90.0),  # along the equator
        ((0.0, 0.0, 90.0, 123.0), HALF_TURN_KM / 2, 0.0),  # to a pole, whatever its longitude
        ((0.0, 50.0, -90.0, -20.0), HALF_TURN_KM / 2, 180.0),
        ((0.0, 179.0, 0.0, -179.0), EARTH_TURN_KM / 180.0, 90.0),  # over the date line
        ((0.0, -179.0, 0.0, 179.0), EARTH_TURN_KM / 180.0, 270.0),
        ((10.0, 180.0, 11.0, -180.0), EARTH_TURN_KM / 360.0, 0.0),  # the date line's two names
        ((12.0, 34.0, 12.0, 34.0), 0.0, 0.0),  # one place: north by convention
        ((0.0, 0.0, 0.0, 180.0), HALF_TURN_KM, 0.0),  # antipodes: north by convention
        ((30.0, 40.0, -30.0, -140.0), HALF_TURN_KM, 0.0),
        ((90.0, 0.0, -90.0, 77.0), HALF_TURN_KM, None),  # pole to pole: any bearing, but a number
        ((90.0, 0.0, 0.0, 50.0), HALF_TURN_KM / 2, 130.0),  # from a pole: counted from its own meridian
        ((-90.0, 10.0, 0.0, 50.0), HALF_TURN_KM / 2, 40.0),
    ],
)
def test_awkward_places(
    ends: tuple[float, float, float, float], distance: float, bearing: float | None
) -> None:
    np.testing.assert_allclose(distance_km(*ends), distance, atol=1e-6)
    found = float(bearing_deg(*ends))
    assert 0.0 <= found < 360.0
    if bearing is not None:
        np.testing.assert_allclose(turned(found - bearing), 0.0, atol=1e-9)


def test_bearing_never_reaches_360() -> None:
    found = bearing_deg(0.0, 0.0, 10.0, np.array([-1e-300, -1e-17, -1e-13, 0.0, 1e-17]))
    assert np.all((found >= 0.0) & (found < 360.0))


def test_shapes() -> None:
    column, row = np.zeros((3, 1)), np.linspace(-170.0, 170.0, 4)
    assert np.ndim(distance_km(1.0, 2.0, 3.0, 4.0)) == 0
    assert distance_km(0.0, 0.0, 0.0, row).shape == (4,)
    assert bearing_deg(column, 0.0, 5.0, row).shape == (3, 4)
    assert destination(column, 0.0, 90.0, row)[1].shape == (3, 4)
    assert np.isnan(distance_km(np.nan, 0.0, 0.0, 0.0))


def test_route_shapes_and_ends() -> None:
    tx = (np.array([[-29.5], [52.0]]), np.array([[29.5], [179.5]]))
    rx = (np.array([[-34.9], [51.0]]), np.array([[-56.2], [-179.0]]))
    for long in (False, True):
        way = route(tx, rx, long)
        assert way.long is long
        assert way.lat_deg.shape == way.bearing_deg.shape == way.distance_km.shape == (2, 1)
        lat, lon = way.at_km(way.distance_km * np.array([0.0, 0.25, 0.5, 1.0]))
        assert lat.shape == lon.shape == (2, 4)
        np.testing.assert_allclose(distance_km(*tx, lat[:, :1], lon[:, :1]), 0.0, atol=1e-6)
        np.testing.assert_allclose(distance_km(*rx, lat[:, 3:], lon[:, 3:]), 0.0, atol=1e-6)
        middle = way.at_fraction(0.5)
        np.testing.assert_allclose(middle[0][:, 0], lat[:, 2], atol=1e-9)


def test_route_takes_positions() -> None:
    way = route(Position(-29.5, 29.5), Position(-34.9, -56.2))
    np.testing.assert_allclose(way.distance_km, distance_km(-29.5, 29.5, -34.9, -56.2))
    assert way.lat_deg.shape == ()


def test_long_route() -> None:
    short = route((10.0, 20.0), (-5.0, 100.0))
    long = route((10.0, 20.0), (-5.0, 100.0), long=True)
    np.testing.assert_allclose(short.distance_km + long.distance_km, EARTH_TURN_KM)
    np.testing.assert_allclose(turned(float(short.bearing_deg - long.bearing_deg)), -180.0, atol=1e-9)
    once_round = route((10.0, 20.0), (10.0, 20.0), long=True)
    np.testing.assert_allclose(once_round.distance_km, EARTH_TURN_KM)
    np.testing.assert_allclose(once_round.bearing_deg, 180.0)
    np.testing.assert_allclose(once_round.at_km(EARTH_TURN_KM), (10.0, 20.0), atol=1e-9)


@given(latitudes, longitudes, latitudes, longitudes)
def test_distance_is_reciprocal(lat1: float, lon1: float, lat2: float, lon2: float) -> None:
    there, back = distance_km(lat1, lon1, lat2, lon2), distance_km(lat2, lon2, lat1, lon1)
    np.testing.assert_allclose(there, back, rtol=1e-12, atol=1e-9)
    assert 0.0 <= there <= HALF_TURN_KM * (1 + 1e-12)


@given(latitudes, longitudes, latitudes, longitudes, st.floats(0.0, 1.0), st.booleans())
def test_route_points_lie_on_the_route(
    lat1: float, lon1: float, lat2: float, lon2: float, fraction: float, long: bool
) -> None:
    """Going to a point of the route and on to its end is as long as the route, and arrives."""
    whole = route((lat1, lon1), (lat2, lon2), long)
    at = whole.at_fraction(fraction)
    end = whole.at_km(whole.distance_km)
    assert np.isfinite([*at, *end]).all()
    np.testing.assert_allclose(distance_km(*end, lat2, lon2), 0.0, atol=1e-5)
    gone, left = fraction * whole.distance_km, (1.0 - fraction) * whole.distance_km
    np.testing.assert_allclose(
        distance_km(lat1, lon1, *at), np.minimum(gone, EARTH_TURN_KM - gone), atol=1e-5
    )
    np.testing.assert_allclose(
        distance_km(*at, lat2, lon2), np.minimum(left, EARTH_TURN_KM - left), atol=1e-5
    )


@given(latitudes, longitudes, st.floats(0.0, 359.9), st.floats(0.01, 20000.0))
def test_destination_is_the_inverse_of_distance_and_bearing(
    lat: float, lon: float, bearing: float, distance: float
) -> None:
    end = destination(lat, lon, bearing, distance)
    np.testing.assert_allclose(distance_km(lat, lon, *end), distance, atol=1e-6)
    assume(distance < 20000.0 and abs(lat) < 89.9)
    across_km = (
        turned(float(bearing_deg(lat, lon, *end)) - bearing) * np.sin(distance / EARTH_RADIUS_KM) * 111.0
    )
    np.testing.assert_allclose(across_km, 0.0, atol=1e-6)
