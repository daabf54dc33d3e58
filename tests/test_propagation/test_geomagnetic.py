"""The magnetic field against ppigrf, another evaluation of the same coefficients, and what it yields."""

from __future__ import annotations

import datetime as dt
import runpy
from pathlib import Path

import numpy as np
import ppigrf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.base.units import FloatArray
from propagation.geo import geomagnetic
from propagation.geo.geomagnetic import (
    coefficients,
    dip_deg,
    dipole_pole,
    field,
    field_map,
    field_nt,
    geomagnetic_latitude_deg,
    gyrofrequency_mhz,
    modified_dip_deg,
)

DATA = Path(geomagnetic.__file__).parent.parent / "data"
LAT = np.array([-89.9, *np.arange(-85.0, 86.0, 10.0), 89.9])[:, np.newaxis]
LON = np.arange(-180.0, 181.0, 15.0)


def reference_nt(year: int, height_km: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """North, east, down [nT] of ppigrf 2.1 on the test grid, January 1 of a year."""
    east, north, up = (
        np.asarray(part[0], dtype=np.float64)
        for part in ppigrf.igrf(LON, LAT, height_km, dt.datetime(year, 1, 1))
    )
    return north, east, -up


@pytest.mark.parametrize("year", [1900, 1953, 2000, 2012, 2020, 2025, 2027, 2030])
def test_field_against_ppigrf(year: int) -> None:
    """Within 5 nT is asked; both evaluate one model, so 0.1 nT at an epoch, 1 nT between (leap days)."""
    atol = 0.1 if year % 5 == 0 else 1.0
    for found, reference in zip(field_nt(LAT, LON, 300.0, year), reference_nt(year, 300.0), strict=True):
        np.testing.assert_allclose(found, reference, rtol=0.0, atol=atol)


@pytest.mark.parametrize("height_km", [0.0, 100.0, 600.0])
def test_other_heights_against_ppigrf(height_km: float) -> None:
    for found, reference in zip(
        field_nt(LAT, LON, height_km, 2025.0), reference_nt(2025, height_km), strict=True
    ):
        np.testing.assert_allclose(found, reference, rtol=0.0, atol=0.1)


def test_latitude_is_geodetic() -> None:
    """Taken as geocentric the field would differ by hundreds of nT, so the check above is not blind to it."""
    radial, south, _ = ppigrf.igrf_gc(6671.0, 45.0, 0.0, dt.datetime(2025, 1, 1))
    north, _, down = field_nt(45.0, 0.0, 300.0, 2025.0)
    assert np.hypot(float(north) + south.item(), float(down) + radial.item()) > 50.0


def test_table_is_that_of_the_coefficient_file() -> None:
    builder = runpy.run_path(str(DATA / "builders" / "igrf14.py"))
    source = Path(ppigrf.__file__).with_name("IGRF14.shc")
    years, g, h = builder["read_shc"](source.read_text(encoding="ascii"))
    with np.load(DATA / "igrf14.npz") as stored:
        np.testing.assert_array_equal(stored["years"], years)
        np.testing.assert_array_equal(stored["g"], g)
        np.testing.assert_array_equal(stored["h"], h)
    assert years[0] == 1900.0
    assert years[-1] == 2030.0


def test_years_outside_the_model() -> None:
    def g10(year: float) -> float:
        return float(coefficients(year).g[1, 0])

    assert g10(1850.0) == g10(1900.0)
    np.testing.assert_allclose(g10(2035.0) - g10(2030.0), g10(2030.0) - g10(2025.0))  # the change carried on
    assert g10(2099.0) == g10(2035.0)
    np.testing.assert_allclose(g10(2022.5), (g10(2020.0) + g10(2025.0)) / 2.0)


def test_poles_are_one_point() -> None:
    """At a pole down is the same from every meridian, and the horizontal part turns with it."""
    lon = np.arange(-180.0, 180.0, 30.0)
    for lat in (90.0, -90.0):
        north, east, down = field_nt(lat, lon, 300.0, 2025.0)
        np.testing.assert_allclose(down, down[0], atol=1e-6)
        np.testing.assert_allclose(np.hypot(north, east), np.hypot(north[0], east[0]), atol=1e-6)
        beside = field_nt(lat * 0.99999, lon, 300.0, 2025.0)
        np.testing.assert_allclose((north, east, np.broadcast_to(down, lon.shape)), beside, atol=2.0)


def test_shapes() -> None:
    lat, lon = np.linspace(-80.0, 80.0, 5), np.linspace(-170.0, 170.0, 7)
    grid = field_nt(lat[:, np.newaxis], lon, 300.0, 2025.0)
    points = field_nt(*(a.ravel() for a in np.meshgrid(lat, lon, indexing="ij")), 300.0, 2025.0)
    for whole, flat in zip(grid, points, strict=True):
        assert whole.shape == (5, 7)
        np.testing.assert_allclose(whole.ravel(), flat, atol=1e-8)
    assert all(np.ndim(part) == 0 for part in field_nt(10.0, 20.0, 300.0, 2025.0))
    assert field_nt(0.0, 0.0, np.array([100.0, 300.0]), 2025.0)[2].shape == (2,)
    assert np.isnan(field_nt(np.nan, 0.0, 300.0, 2025.0)).all()
    east_side, west_side = field_nt(10.0, 180.0, 300.0, 2025.0), field_nt(10.0, -180.0, 300.0, 2025.0)
    np.testing.assert_allclose(east_side, west_side, atol=1e-8)


def test_dip_and_gyrofrequency_against_ppigrf() -> None:
    north, east, down = reference_nt(2025, 300.0)
    there = field(LAT, LON, 300.0, 2025.0)
    np.testing.assert_allclose(there.dip_deg, np.degrees(np.arctan2(down, np.hypot(north, east))), atol=0.001)
    np.testing.assert_allclose(dip_deg(LAT, LON, 300.0, 2025.0), there.dip_deg)
    total = np.sqrt(north**2 + east**2 + down**2)
    np.testing.assert_allclose(there.gyrofrequency_mhz, total * 2.7992e-5, rtol=1e-4)  # 28.0 GHz per tesla


def test_gyrofrequency() -> None:
    """27.992 49 GHz per tesla, e / (2 pi m) of CODATA (from memory)."""
    np.testing.assert_allclose(gyrofrequency_mhz(np.array([0.0, 50_000.0])), [0.0, 1.3996245], rtol=1e-6)


def test_modified_dip() -> None:
    np.testing.assert_allclose(modified_dip_deg(0.0, 30.0), 0.0)
    np.testing.assert_allclose(modified_dip_deg(60.0, 0.0), np.degrees(np.arctan(np.pi / 3.0)))
    # 60 degrees is 1.0472 rad, cos 60 is 0.5: tan X = 1.0472 / 0.70711 = 1.4810
    np.testing.assert_allclose(modified_dip_deg(np.array([60.0, -60.0]), 60.0), [55.97, -55.97], atol=0.01)
    np.testing.assert_allclose(
        modified_dip_deg(np.array([80.0, -80.0, 0.0]), np.array([90.0, -90.0, 90.0])),
        [90.0, -90.0, 0.0],
        atol=1e-5,
    )
    assert modified_dip_deg(np.zeros((3, 1)), np.zeros(4)).shape == (3, 4)


def test_dipole_pole() -> None:
    """2020: 80.59 N (geocentric) 72.68 W, as published with IGRF-13 (from memory)."""
    np.testing.assert_allclose(dipole_pole(2020.0), (80.59, -72.68), atol=0.02)


def test_geomagnetic_latitude_against_the_dipole_field() -> None:
    """In a dipole's field tan(dip) = 2 tan(latitude); the field is ppigrf's, cut to its first degree."""
    lat, lon = np.meshgrid(np.arange(-85.0, 86.0, 10.0), np.arange(-180.0, 180.0, 20.0))
    radial, south, east = (
        part[0] for part in ppigrf.igrf_gc(6371.2, 90.0 - lat, lon, dt.datetime(2025, 1, 1), max_degree=1)
    )
    latitude = np.degrees(np.arctan2(-radial, 2.0 * np.hypot(south, east)))
    np.testing.assert_allclose(geomagnetic_latitude_deg(lat, lon, 2025.0), latitude, atol=1e-6)
    pole_lat, pole_lon = dipole_pole(2025.0)
    np.testing.assert_allclose(geomagnetic_latitude_deg(pole_lat, pole_lon, 2025.0), 90.0, atol=1e-5)
    np.testing.assert_allclose(
        geomagnetic_latitude_deg(-pole_lat, pole_lon + 180.0, 2025.0), -90.0, atol=1e-5
    )


@pytest.mark.parametrize(("year", "height_km"), [(1960.0, 300.0), (2026.5, 300.0), (2026.5, 100.0)])
def test_map_against_direct_evaluation(year: float, height_km: float) -> None:
    """Less than 1 nT from interpolation (5 nT is allowed), everywhere; dip within 0.002 degrees."""
    rng = np.random.default_rng(11)
    lat = np.concatenate(
        (
            np.degrees(np.arcsin(rng.uniform(-1, 1, 4000))),
            rng.uniform(87, 90, 500),
            rng.uniform(-90, -87, 500),
        )
    )
    lon = rng.uniform(-180.0, 180.0, 5000)
    direct = field(lat, lon, height_km, year)
    fast = field_map(year, height_km).at(lat, lon)
    for name in ("north_nt", "east_nt", "down_nt"):
        np.testing.assert_allclose(getattr(fast, name), getattr(direct, name), rtol=0.0, atol=1.0)
    np.testing.assert_allclose(fast.dip_deg, direct.dip_deg, rtol=0.0, atol=0.002)


def test_map_is_exact_at_its_points_and_edges() -> None:
    there = field_map(2025.0, 300.0)
    lat = np.array([-90.0, -90.0, 0.0, 45.0, 90.0, 90.0])
    lon = np.array([-180.0, 77.0, 180.0, -180.0, 0.0, 179.0])
    found, direct = there.at(lat, lon), field(lat, lon, 300.0, 2025.0)
    np.testing.assert_allclose(found.north_nt, direct.north_nt, atol=1e-6)
    np.testing.assert_allclose(found.down_nt, direct.down_nt, atol=1e-6)
    np.testing.assert_allclose(there.dip_deg(10.0, 180.0), there.dip_deg(10.0, -180.0))
    np.testing.assert_allclose(there.dip_deg(10.0, 190.0), there.dip_deg(10.0, -170.0))


def test_map_shapes() -> None:
    there = field_map(2025.0, 300.0)
    lat, lon = np.linspace(-90.0, 90.0, 3)[:, np.newaxis], np.linspace(-180.0, 180.0, 4)
    assert there.at(lat, lon).total_nt.shape == (3, 4)
    assert np.ndim(there.dip_deg(1.0, 2.0)) == 0
    np.testing.assert_array_equal(
        np.isnan(there.dip_deg(np.array([np.nan, 0.0, 0.0]), [0.0, np.nan, 0.0])), [1, 1, 0]
    )
    np.testing.assert_allclose(
        there.modified_dip_deg(lat, lon), modified_dip_deg(there.dip_deg(lat, lon), lat)
    )
    np.testing.assert_allclose(
        there.gyrofrequency_mhz(lat, lon), gyrofrequency_mhz(there.at(lat, lon).total_nt)
    )
    assert field_map(2025.0, 300.0) is there
    with pytest.raises(ValueError, match="read-only"):
        there.components_nt[0, 0, 0] = 1.0


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0), st.floats(0.0, 1000.0), st.floats(1900.0, 2035.0))
def test_never_nan_on_the_globe(lat: float, lon: float, height_km: float, year: float) -> None:
    there = field(lat, lon, height_km, year)
    assert 10_000.0 < there.total_nt < 75_000.0  # the field's range from the ground to 1000 km
    assert -90.0 <= there.dip_deg <= 90.0
    assert -90.0 <= modified_dip_deg(there.dip_deg, lat) <= 90.0
    assert -90.0 <= geomagnetic_latitude_deg(lat, lon, year) <= 90.0
