"""Samples along routes: what they hold, and how they are read in between."""

from __future__ import annotations

import numpy as np
import pytest

from propagation.geo import great_circle, land, sun
from propagation.geo.great_circle import Route
from propagation.ionosphere import layers
from propagation.signal.rays import path_samples
from propagation.signal.rays.path_samples import POINTS, RouteInterpolator, along

TIMES = np.datetime64("2026-06-20", "s") + np.arange(0, 24, 3) * np.timedelta64(3600, "s")


def routes() -> Route:
    """Short, long, over a pole, across the date line, from and to one place."""
    tx = (np.array([-29.6, -29.6, 70.0, 20.0, 45.0]), np.array([30.4, 30.4, 10.0, 175.0, 7.0]))
    rx = (np.array([-33.9, 51.0, 70.0, 25.0, 45.0]), np.array([18.4, 0.0, -170.0, -170.0, 7.0]))
    return great_circle.route(tx, rx)


def test_the_samples_are_the_ionosphere_at_their_places() -> None:
    route = routes()
    found = path_samples.sample(route, TIMES[None, :], 80.0, year=2026.5)
    for n in range(5):
        for point in (0, 5, POINTS - 1):
            lat, lon = found.lat_deg[n, point], found.lon_deg[n, point]
            sky = layers.ionosphere(lat, lon, TIMES, 80.0, 2026.5)
            np.testing.assert_allclose(found.fof2_mhz[n, :, point], sky.fof2_mhz, rtol=1e-9)
            np.testing.assert_allclose(found.foe_mhz[n, :, point], sky.foe_mhz, rtol=1e-9)
            np.testing.assert_allclose(found.foes_median_mhz[n, :, point], sky.foes_median_mhz, rtol=1e-9)
            np.testing.assert_allclose(
                found.zenith_deg[n, :, point], sun.zenith_deg(lat, lon, TIMES), atol=1e-6
            )
        at = great_circle.distance_km(
            found.lat_deg[n, 0], found.lon_deg[n, 0], found.lat_deg[n], found.lon_deg[n]
        )
        np.testing.assert_allclose(at, np.linspace(0.0, route.distance_km[n], POINTS), atol=0.01)


def test_shapes_and_the_quiet_day() -> None:
    found = path_samples.sample(routes(), TIMES[None, :], np.full((1, 8), 80.0), year=2026.5)
    assert found.fof2_mhz.shape == (5, 8, POINTS)
    assert found.extra_absorption is None
    np.testing.assert_array_equal(found.oval_latitude_deg, found.geomagnetic_latitude_deg)
    own = np.stack([TIMES + np.timedelta64(i, "D") for i in range(5)])  # times of each row's own
    assert path_samples.sample(routes(), own, 80.0, year=2026.5).fof2_mhz.shape == (5, 8, POINTS)


def test_reading_between_the_points_is_linear() -> None:
    rng = np.random.default_rng(3)
    values, distance = rng.normal(size=(3, 2, POINTS)), np.array([1000.0, 5000.0, 9000.0])
    km = rng.uniform(0.0, 1.0, (3, 40)) * distance[:, None]
    expected = [
        [np.interp(km[n], np.linspace(0.0, distance[n], POINTS), values[n, t]) for t in range(2)]
        for n in range(3)
    ]
    np.testing.assert_allclose(along(values, km, distance), expected, atol=1e-12)
    read = RouteInterpolator(km, distance, 2)
    np.testing.assert_array_equal(read(values), along(values, km, distance))
    np.testing.assert_allclose(read(values[:, :1]), np.repeat(along(values[:, :1], km, distance), 2, axis=1))


def test_reading_off_the_route_and_on_a_route_of_no_length() -> None:
    values = np.arange(float(POINTS))[None, None, :]
    np.testing.assert_array_equal(
        along(values, np.array([[-50.0, 1200.0]]), np.array([1000.0])), [[[0.0, POINTS - 1]]]
    )
    np.testing.assert_array_equal(along(values, np.array([[0.0]]), np.array([0.0])), [[[0.0]]])


def test_season() -> None:
    """Near +1 at the June solstice in the north and -1 in the south, nothing on the equator and at
    equinoxes."""
    june, march = np.datetime64("2026-06-21T12", "s"), np.datetime64("2026-03-20T15", "s")
    np.testing.assert_allclose(
        path_samples.season_of(np.array([50.0, -50.0, 0.0]), june), [1.0, -1.0, 0.0], atol=0.01
    )
    np.testing.assert_allclose(path_samples.season_of(50.0, march), 0.0, atol=0.01)


def test_daylight() -> None:
    zenith = np.array([0.0, 60.0, 92.87, 105.0, 150.0])
    found = path_samples.daylight(zenith)
    np.testing.assert_allclose(found[[0, 1, 2, 3, 4]], [1.0, 1.0, 0.5, 0.015, 0.0], atol=0.01)


@pytest.mark.parametrize(("lat", "lon", "sea"), [(-35.0, -20.0, 1.0), (50.0, 80.0, 0.0), (-89.9, 0.0, 0.0)])
def test_sea_and_land(lat: float, lon: float, sea: float) -> None:
    """The South Atlantic, Kazakhstan, the South Pole's plateau."""
    assert land.sea_share(lat, lon) == sea


def test_sea_share_is_the_mask_blurred() -> None:
    """Its mean over the globe is that of the mask, and a coast is taken in steps of a third at most."""
    lat, lon = np.meshgrid(np.arange(-89.875, 90.0, 0.25), np.arange(-179.875, 180.0, 0.25), indexing="ij")
    share, sea = land.sea_share(lat, lon), land.is_sea(lat, lon)
    assert np.all((share >= 0.0) & (share <= 1.0))
    np.testing.assert_allclose(np.mean(share), np.mean(sea), atol=0.002)
    assert np.max(np.abs(np.diff(share, axis=1))) <= 1.0 / 3.0 + 1e-12
    assert np.mean((share > 0.5) == sea) > 0.99
