"""One path at one hour: the modes and skip distances hang together with the functions they come from.

Outside values: exact hop geometry over a sphere of 6371 km (compare 47 CFR 73.190 figure 6a), and P.1240's
rule that a path longer than one hop takes the lower MUF of its two ends.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.geo import great_circle
from propagation.geo.locator import Position, position_of
from propagation.ionosphere import hops, muf
from propagation.ionosphere.layers import ionosphere
from propagation.signal.chances.path import single_path
from propagation.spectrum.bands import BANDS, centre_mhz

NOON = np.datetime64("2026-03-20T12:00", "s")
CENTRES = {band.name: centre_mhz(band, 1, "SSB") for band in BANDS}


def test_a_single_hop_has_the_muf_of_its_middle() -> None:
    tx, rx = Position(-30.0, 20.0), Position(-30.0, 40.0)
    path = single_path(tx, rx, NOON, 100.0)
    route = great_circle.route(tx, rx)
    lat, lon = route.at_fraction(0.5)
    layer = ionosphere(lat, lon, NOON, 100.0)
    expected = muf.f2_muf_mhz(
        route.distance_km, layer.fof2_mhz, layer.foe_mhz, layer.m3000f2, layer.gyro_300_mhz
    )
    np.testing.assert_allclose(path.muf_mhz, expected, rtol=1e-9)
    best = path.ray_paths[0]
    assert (best.layer, best.hops) == ("F2", 1)
    np.testing.assert_allclose(best.hop_km, path.distance_km)


def test_two_hops_take_the_lower_of_the_two_ends() -> None:
    tx, rx = position_of("KG40"), position_of("GF25")
    path = single_path(tx, rx, np.datetime64("2026-03-20T18:00", "s"), 100.0)
    two = next(mode for mode in path.ray_paths if mode.hops == 2)
    lat, lon = great_circle.route(tx, rx).at_fraction(np.array([0.25, 0.75]))
    layer = ionosphere(lat, lon, np.datetime64("2026-03-20T18:00", "s"), 100.0)
    ends = muf.f2_muf_mhz(two.hop_km, layer.fof2_mhz, layer.foe_mhz, layer.m3000f2, layer.gyro_300_mhz)
    assert abs(ends[0] - ends[1]) > 0.5  # sunset lies between the ends: the case is worth its name
    np.testing.assert_allclose(two.muf_mhz, ends.min(), rtol=1e-9)


def test_e_modes_stand_at_110_km_with_the_exact_angles() -> None:
    # one E hop of 1000 km leaves at 10.05 degrees, by exact geometry
    tx = Position(0.0, 20.0)
    lat, lon = great_circle.destination(0.0, 20.0, 90.0, 1000.0)
    path = single_path(tx, Position(float(lat), float(lon)), NOON, 50.0)
    by_hops = {mode.hops: mode for mode in path.ray_paths if mode.layer == "E"}
    assert sorted(by_hops) == [1, 2, 3]
    np.testing.assert_allclose(by_hops[1].elevation_deg, 10.05, atol=0.01)
    np.testing.assert_allclose(by_hops[2].elevation_deg, 22.44, atol=0.01)  # two of 500 km


def test_skip_distance_is_where_the_muf_meets_the_band() -> None:
    tx, rx = position_of("KG40"), position_of("KH54")
    path = single_path(tx, rx, NOON, 100.0, bands_mhz=CENTRES)
    route = great_circle.route(tx, rx)
    for band, km in path.skip_km.items():
        if km is None or km == 0.0:
            continue
        layer = ionosphere(*route.at_km(0.5 * km), NOON, 100.0)  # over the middle of that hop
        there = max(
            float(muf.f2_muf_mhz(km, layer.fof2_mhz, layer.foe_mhz, layer.m3000f2, layer.gyro_300_mhz)),
            float(muf.e_muf_mhz(km, layer.foe_mhz)),
        )
        # between two of the middles looked at, 31 km apart, the rise of the MUF is taken as straight
        np.testing.assert_allclose(there, CENTRES[band], atol=0.01)
    assert path.skip_km["80m"] == 0.0
    assert path.skip_km["2m"] is None


def test_the_long_way_is_the_rest_of_the_circle() -> None:
    tx, rx = position_of("KG40"), position_of("GF25")
    short = single_path(tx, rx, NOON, 100.0)
    long = single_path(tx, rx, NOON, 100.0, long=True)
    np.testing.assert_allclose(short.distance_km + long.distance_km, 2 * np.pi * 6371.0)
    np.testing.assert_allclose((long.bearing_deg - short.bearing_deg) % 360.0, 180.0)


def test_a_given_frequency_moves_the_mirror_and_not_the_muf() -> None:
    # by night: beside a strong E layer the Recommendation's mirror does not move with frequency
    night = np.datetime64("2026-03-20T22:00", "s")
    tx, rx = Position(-30.0, 20.0), Position(-30.0, 32.0)
    own = single_path(tx, rx, night, 100.0)
    low = single_path(tx, rx, night, 100.0, frequency_mhz=4.0)
    assert own.muf_mhz == low.muf_mhz
    heights = [
        {mode.hops: mode.mirror_height_km for mode in path.ray_paths if mode.layer == "F2"}
        for path in (own, low)
    ]
    assert heights[0].keys() == heights[1].keys()
    assert abs(heights[0][1] - heights[1][1]) > 10.0  # km


@pytest.mark.parametrize(
    ("tx", "rx"),
    [
        ((0.0, 0.0), (0.0, 0.0)),
        ((90.0, 0.0), (-90.0, 0.0)),
        ((10.0, 179.9), (10.0, -179.9)),
        ((0, 0), (0, 180)),
    ],
    ids=["same place", "pole to pole", "date line", "antipode"],
)
@pytest.mark.parametrize("long", [False, True])
def test_corners_of_the_globe(tx: tuple[float, float], rx: tuple[float, float], long: bool) -> None:
    path = single_path(Position(*tx), Position(*rx), NOON, 50.0, long=long, bands_mhz=CENTRES)
    assert path.ray_paths
    assert np.isfinite([path.muf_mhz, path.distance_km, path.bearing_deg]).all()


@settings(max_examples=40)
@given(
    st.floats(-90, 90), st.floats(-180, 180), st.floats(-90, 90), st.floats(-180, 180),
    st.integers(0, 364 * 24), st.floats(0.0, 200.0), st.booleans(),
)  # fmt: skip
def test_every_path_has_modes_of_sound_geometry(
    lat1: float, lon1: float, lat2: float, lon2: float, hour: int, r12: float, long: bool
) -> None:
    time = np.datetime64("2026-01-01", "s") + np.timedelta64(hour, "h")
    path = single_path(Position(lat1, lon1), Position(lat2, lon2), time, r12, long=long, bands_mhz=CENTRES)
    assert path.muf_mhz == max(mode.muf_mhz for mode in path.ray_paths)
    for mode in path.ray_paths:
        np.testing.assert_allclose(mode.hops * mode.hop_km, path.distance_km, rtol=1e-9)
        assert mode.hop_km <= muf.F2_HOP_MAX_KM + 1e-6
        assert 0.0 <= mode.elevation_deg <= 90.0
        assert mode.muf_mhz > 0.0
        if mode.elevation_deg > 0.0:
            back = hops.hop_km(mode.elevation_deg, mode.mirror_height_km)
            np.testing.assert_allclose(back, mode.hop_km, atol=1e-3)  # km
    skips = [km for km in path.skip_km.values() if km is not None]
    assert skips == sorted(skips)
