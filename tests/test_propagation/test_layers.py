"""The monthly-median ionosphere: foE by P.1239, the maps on our own field, foF1, hmF2; no hole anywhere."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import PyIRI
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PyIRI import igrf_library, main_library

from propagation.base.units import FloatArray, TimeArray
from propagation.geo import geomagnetic, sun
from propagation.ionosphere import numerical_map
from propagation.ionosphere.layers import (
    Ionosphere,
    foe_mhz,
    hmf2_km,
    ionosphere,
    month_of,
    ut_hour_of,
)
from propagation.space_weather.indices.solar_index import flux_from_index

COEFFICIENTS = str(Path(PyIRI.__file__).parent / "coefficients")
HOURS = np.arange(24.0)
HOUR = np.timedelta64(3600, "s")
FIELDS = tuple(Ionosphere.__dataclass_fields__)


def mid_month(year: int, month: int) -> TimeArray:
    """The 24 hours of the 15th."""
    return np.datetime64(f"{year}-{month:02}-15T00", "s") + np.arange(24) * HOUR


def coarse_grid() -> tuple[FloatArray, FloatArray]:
    lat, lon = np.meshgrid(np.arange(-85.0, 86.0, 10.0), np.arange(-180.0, 180.0, 10.0))
    return lat.ravel(), lon.ravel()


# ---------------------------------------------------------------------------------------------- foE


@pytest.mark.parametrize(
    ("zenith", "lat", "declination", "flux", "expected"),
    [
        # P.1239 worked by hand: A = 1, B = 1, C = 139, D = 1; 139^(1/4)
        (0.0, 0.0, 0.0, 66.0, 3.4336),
        # N 40: m = 0.11 - 0.49 cos 50 = -0.20497, B 1.05614, C 114.498, D = cos^1.2 60 = 0.43528, A 1.3196
        (60.0, 50.0, 10.0, 100.0, 2.8870),
        # m = -1.93 + 1.92 cos 20 = -0.12579, B = 1.00186, C = 132.004, D = cos^1.2 30 = 0.84146, A = 1.7896
        (30.0, -20.0, -10.0, 150.0, 3.7565),
        # lat 10: p 1.31; chi 80 bent by 0.411 deg to 79.589, cos = 0.18071, D 0.10632; C 137.238, A 1
        (80.0, 10.0, 10.0, 66.0, 1.9546),
    ],
)
def test_foe_worked_by_hand(
    zenith: float, lat: float, declination: float, flux: float, expected: float
) -> None:
    """To the four places carried by hand."""
    np.testing.assert_allclose(foe_mhz(zenith, lat, declination, 0.0, flux), expected, atol=5e-4)


def test_foe_floor() -> None:
    """m4 = 0.004 (1 + 0.021 66)^2 = 0.02276: 0.388 MHz in a deep night of a quiet sun."""
    np.testing.assert_allclose(foe_mhz([130.0, 160.0], 45.0, -20.0, 9.0, 66.0), 0.3884, atol=5e-4)


def test_foe_decays_after_sunset_by_the_hour() -> None:
    """foE^4 falls by exp(-1.4) an hour while the evening branch is the greater one and above the floor."""
    hours = np.array([0.0, 0.5, 1.0])
    fourth = foe_mhz(90.0 + 14.0 * hours, 0.0, 0.0, hours, 150.0) ** 4
    np.testing.assert_allclose(fourth / fourth[0], np.exp(-1.4 * hours), rtol=1e-12)


def test_foe_before_sunrise_follows_the_zenith_angle() -> None:
    """Hours after sunset the branch exp(25.2 - 0.28 chi) is what is left of the night law."""
    zenith = np.array([90.0, 92.0, 95.0])
    fourth = foe_mhz(zenith, 0.0, 0.0, 11.5, 150.0) ** 4
    np.testing.assert_allclose(fourth / fourth[0], np.exp(25.2 - 0.28 * zenith), rtol=1e-12)


def test_polar_night_keeps_the_second_branch_only() -> None:
    zenith = np.array([90.5, 93.0, 96.0])
    np.testing.assert_array_equal(
        foe_mhz(zenith, 75.0, -20.0, np.nan, 200.0), foe_mhz(zenith, 75.0, -20.0, 1e9, 200.0)
    )
    times = np.datetime64("2025-12-21T00", "s") + np.arange(24) * HOUR
    assert np.isnan(sun.hours_since_sunset(80.0, 20.0, times)).all()
    assert np.isfinite(ionosphere(80.0, 20.0, times, 100.0).foe_mhz).all()


@pytest.mark.parametrize("lat", [0.0, 11.9, 12.1, 31.9, 32.1, 60.0, 85.0])
@pytest.mark.parametrize("joint", [73.0, 90.0])
def test_foe_joins_at_the_edges_of_its_zenith_ranges(lat: float, joint: float) -> None:
    """P.1239's pieces meet: 0.05 degree of bend at 73 is 0.1 % of foE, and 0.0717 meets 0.072 at 90."""
    before, after = foe_mhz([joint - 1e-6, joint + 1e-6], lat, 5.0, 0.0, 120.0)
    np.testing.assert_allclose(after, before, rtol=2e-3)


def test_foe_by_day_against_pyiri_at_middle_activity() -> None:
    """Within 5 % of PyIRI's foE up to latitude 60, zenith angle below 85 degrees.

    PyIRI has the formula of NeQuick (after Titheridge), not P.1239. The two rise differently with flux:
    on the mean P.1239 is 0.10 MHz higher at R12 = 0, equal at 50, 0.11 MHz lower at 150; so R12 = 50 is where
    they should meet. Poleward P.1239 has a factor of latitude that the other lacks: it is up to 14 % lower
    at the pole. Within five degrees of the horizon their laws of the zenith angle part, by up to 19 %.
    """
    lat, lon = (
        part.ravel() for part in np.meshgrid(np.arange(-90.0, 91.0, 5.0), np.arange(0.0, 360.0, 30.0))
    )
    flux = float(flux_from_index(50.0))
    middle, polar, horizon = [], [], []
    for month in range(1, 13):
        times = mid_month(2025, month)[:, np.newaxis]
        zenith = sun.zenith_deg(lat, lon, times)
        expected = main_library.foE(month, main_library.solzen_effective(zenith), lat, flux)
        own = ionosphere(lat, lon, times, 50.0, with_es=False).foe_mhz
        relative, far = own / expected - 1.0, np.abs(lat) > 60.0
        middle.append(relative[(zenith < 85.0) & ~far])
        polar.append(relative[(zenith < 85.0) & far])
        horizon.append(relative[(zenith >= 85.0) & (zenith < 90.0)])
    by_day = np.concatenate(middle)
    assert by_day.size > 30_000
    assert np.abs(by_day).max() < 0.05
    assert abs(by_day.mean()) < 0.01
    assert np.abs(np.concatenate(polar)).max() < 0.14
    assert np.abs(np.concatenate(horizon)).max() < 0.19


# ------------------------------------------------------------------------- the maps on our own magnetic field


def right_derivatives(degree: int, theta_deg: FloatArray) -> FloatArray:
    """PyIRI's Legendre functions with the derivative it means: half the difference, not half of one part."""
    table = LEGENDRE(degree, theta_deg)
    for n in range(2, degree + 1):
        for m in range(2, n):
            down, up = np.sqrt((n + m) * (n - m + 1)), np.sqrt((n + m + 1.0) * (n - m))
            table[m, n + 1] = 0.5 * (down * table[n, m - 1] - up * table[n, m + 1])
    return table


LEGENDRE = igrf_library.legendre_poly


def differences(year: int) -> dict[str, FloatArray]:
    """Own less PyIRI, end to end, on a 10 degree grid in four months, 24 hours and both levels."""
    lat, lon = coarse_grid()
    found: dict[str, list[FloatArray]] = {"fof2": [], "m3000": [], "dip": []}
    for month in (1, 4, 7, 10):
        f2, _, _, _, _, magnetic = main_library.IRI_monthly_mean_par(
            year, month, HOURS, lon, lat, COEFFICIENTS
        )
        for level, r12 in enumerate((0.0, 100.0)):
            times = mid_month(year, month)[:, np.newaxis]
            own = ionosphere(lat, lon, times, r12, year + (month - 0.5) / 12.0, with_es=False)
            found["fof2"].append(own.fof2_mhz - f2["fo"][:, :, level])
            found["m3000"].append(own.m3000f2 - f2["M3000"][:, :, level])
            found["dip"].append(own.dip_deg[0] - magnetic["inc"])
    return {name: np.stack(parts) for name, parts in found.items()}


def rms(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(values**2)))


def test_end_to_end_against_pyiri_as_it_is() -> None:
    """foF2 within 0.6 MHz, 0.05 MHz rms: all of it is the magnetic field.

    PyIRI 0.1.7 has a slip in the derivative of its Legendre functions (orders 2 and up), which puts its north
    component off by up to 1.2 microtesla and its dip by up to 2.5 degrees (ours stands within 0.001 degree of
    ppigrf's). The next test takes the slip out.
    """
    found = differences(2024)
    assert np.abs(found["dip"]).max() > 2.0  # if this fails, PyIRI was mended: tighten the next lines
    assert np.abs(found["fof2"]).max() < 0.6
    assert rms(found["fof2"]) < 0.05
    assert np.abs(found["m3000"]).max() < 0.035
    assert rms(found["m3000"]) < 0.004


@pytest.mark.parametrize(
    ("year", "greatest_mhz", "rms_mhz", "greatest_m3000", "dip_deg"),
    [
        (2012, 0.001, 1e-4, 2e-4, 0.005),  # the IGRF's generations agree then: our 1 degree grid is left
        (2024, 0.09, 0.010, 0.012, 0.35),  # IGRF-13 foretold the change since 2020, IGRF-14 measured it
    ],
)
def test_end_to_end_against_pyiri_with_its_field_mended(
    monkeypatch: pytest.MonkeyPatch,
    year: int,
    greatest_mhz: float,
    rms_mhz: float,
    greatest_m3000: float,
    dip_deg: float,
) -> None:
    monkeypatch.setattr(igrf_library, "legendre_poly", right_derivatives)
    found = differences(year)
    assert np.abs(found["dip"]).max() < dip_deg
    assert np.abs(found["fof2"]).max() < greatest_mhz
    assert rms(found["fof2"]) < rms_mhz
    assert np.abs(found["m3000"]).max() < greatest_m3000


def test_maps_are_driven_by_the_field_of_the_module() -> None:
    times = mid_month(2026, 8)
    own = ionosphere(-29.4, 29.4, times, 90.0, 2026.5)
    dip = geomagnetic.field_map(2026.5, 300.0).dip_deg(-29.4, 29.4)
    np.testing.assert_array_equal(own.dip_deg, dip)
    modified = geomagnetic.modified_dip_deg(dip, -29.4)
    np.testing.assert_allclose(
        own.fof2_mhz, numerical_map.sample("foF2", 8, modified, -29.4, 29.4).at(HOURS, 90.0), rtol=1e-12
    )
    assert own.gyro_100_mhz[0] > own.gyro_300_mhz[0] > 0.6  # the field weakens with height


# ----------------------------------------------------------------------------------------------- F1, hmF2


def test_hmf2_worked_by_hand() -> None:
    """M = 3, foF2/foE = 3, R12 = 25: dM = 0.18 / 1.6 = 0.1125; 1490 / 3.1125 - 176 = 302.7 km."""
    np.testing.assert_allclose(hmf2_km(3.0, 9.0, 3.0, 25.0), 302.71, atol=0.01)
    np.testing.assert_allclose(hmf2_km(3.0, 3.0, 3.0, 25.0), hmf2_km(3.0, 5.1, 3.0, 25.0))  # held at 1.7


def test_hmf2_against_pyiri() -> None:
    """PyIRI has the later form of the same family (Bilitza 1979), which also bends with the modified dip.

    Mean within 15 km, scatter within 15 km over the globe and the day at R12 near 8 and 89.
    """
    lat, lon = coarse_grid()
    f2, _, e, _, _, _ = main_library.IRI_monthly_mean_par(2025, 4, HOURS, lon, lat, COEFFICIENTS)
    for level, index in enumerate((0.0, 100.0)):
        r12 = main_library.IG12_2_R12(index)
        own = hmf2_km(f2["M3000"][:, :, level], f2["fo"][:, :, level], e["fo"][:, :, level], r12)
        apart = own - f2["hm"][:, :, level]
        assert abs(apart.mean()) < 15.0
        assert apart.std() < 15.0


# ------------------------------------------------------------------------------------- shapes and wholeness


def test_times_and_months() -> None:
    times = np.array(["2024-02-29T23:30", "2031-12-31T00:00", "1999-01-01T12:15"], dtype="datetime64[m]")
    np.testing.assert_array_equal(month_of(times), [2, 12, 1])
    np.testing.assert_allclose(ut_hour_of(times), [23.5, 0.0, 12.25])


def test_every_field_has_the_common_shape() -> None:
    lat, lon = np.full((3, 1, 2), 40.0), np.linspace(-180.0, 180.0, 6).reshape(3, 1, 2)
    times = mid_month(2026, 3)[np.newaxis, :, np.newaxis]
    for with_es in (True, False):
        own = ionosphere(lat, lon, times, np.linspace(0.0, 150.0, 24)[:, np.newaxis], with_es=with_es)
        assert {getattr(own, name).shape for name in FIELDS} == {(3, 24, 2)}
    single = ionosphere(40.0, 0.0, np.datetime64("2026-03-15T12:00"), 50.0)
    assert {getattr(single, name).shape for name in FIELDS} == {()}


def test_without_es_the_rest_is_the_same() -> None:
    whole = ionosphere(10.0, 20.0, mid_month(2026, 7), 70.0)
    part = ionosphere(10.0, 20.0, mid_month(2026, 7), 70.0, with_es=False)
    for name in FIELDS:
        if name.startswith("foes"):
            assert np.isnan(getattr(part, name)).all()
        else:
            np.testing.assert_array_equal(getattr(part, name), getattr(whole, name))


def test_rows_of_different_months_in_one_call() -> None:
    rng = np.random.default_rng(3)
    lat, lon = rng.uniform(-90.0, 90.0, (40, 3)), rng.uniform(-180.0, 180.0, (40, 3))
    start = np.datetime64("2024-01-01T00", "s")
    times = start + rng.integers(0, 366 * 24, (40, 1)) * HOUR
    r12 = rng.uniform(0.0, 180.0, (40, 1))
    together = ionosphere(lat, lon, times, r12, 2024.5)
    for row in range(40):
        alone = ionosphere(lat[row], lon[row], times[row], r12[row], 2024.5)
        for name in FIELDS:
            np.testing.assert_allclose(
                getattr(together, name)[row], getattr(alone, name), rtol=1e-9, err_msg=name
            )


def test_a_night_over_the_turn_of_a_month() -> None:
    """Places and hours on separate axes, hours of two months: each hour has its own month's map."""
    times = np.datetime64("2026-08-31T18", "s") + np.arange(12) * HOUR
    lat, lon = np.array([[50.0], [-30.0]]), np.array([[10.0], [25.0]])
    both = ionosphere(lat, lon, times, 100.0)
    for part in (slice(0, 6), slice(6, 12)):
        np.testing.assert_allclose(
            both.fof2_mhz[:, part], ionosphere(lat, lon, times[part], 100.0).fof2_mhz, rtol=1e-12
        )


anywhere = {
    "lat": st.one_of(st.floats(-90.0, 90.0), st.sampled_from([-90.0, 90.0, 0.0, 66.56, -66.56])),
    "lon": st.one_of(st.floats(-180.0, 180.0), st.sampled_from([-180.0, 180.0])),
    "day": st.integers(0, 45 * 365),
    "r12": st.one_of(st.floats(-15.0, 400.0), st.sampled_from([-15.0, 0.0, 150.0])),
}


@settings(max_examples=60, deadline=None)
@given(**anywhere)
def test_no_hole_anywhere_at_any_hour(lat: float, lon: float, day: int, r12: float) -> None:
    """1990 to 2034, poles, midnight sun and polar night included; every number within what nature shows."""
    times = np.datetime64("1990-01-01", "s") + np.timedelta64(day, "D") + np.arange(0, 24, 2) * HOUR
    own = ionosphere(lat, lon, times, r12, 2020.5)
    bounds = {
        "fof2_mhz": (0.5, 25.0),
        "m3000f2": (1.8, 4.3),
        "foe_mhz": (0.3, 7.0),
        "foes_lower_mhz": (0.0, 15.0),
        "foes_median_mhz": (0.0, 15.0),
        "foes_upper_mhz": (0.3, 17.0),
        "hmf2_km": (140.0, 600.0),
        "zenith_deg": (0.0, 180.0),
        "dip_deg": (-90.0, 90.0),
        "modified_dip_deg": (-90.0, 90.0),
        "gyro_300_mhz": (0.5, 1.7),
        "gyro_100_mhz": (0.5, 1.9),
        "geomagnetic_latitude_deg": (-90.0, 90.0),
    }
    assert set(bounds) == set(FIELDS)
    for name, (least, greatest) in bounds.items():
        values = getattr(own, name)
        assert np.isfinite(values).all(), name
        assert values.min() >= least, name
        assert values.max() <= greatest, name
    assert (own.foes_lower_mhz <= own.foes_median_mhz).all()
    assert (own.foes_median_mhz <= own.foes_upper_mhz).all()


@settings(max_examples=40, deadline=None)
@given(**anywhere, step=st.floats(-0.01, 0.01))
def test_neighbours_are_alike(lat: float, lon: float, day: int, r12: float, step: float) -> None:
    """A kilometre or a minute moves nothing by much: no seam at poles, date line, sunset or in the field map.

    foF2 rises by 3 to 5 MHz an hour at an equatorial sunrise (0.1 MHz a minute is allowed here), foE by less
    than 0.05 MHz a minute. P.1239 itself steps at latitudes 12 and 32 (its exponents change there, by up to
    0.13 MHz), so those two are left out.
    """
    times = np.datetime64("1995-01-01", "s") + np.timedelta64(day, "D") + np.arange(24) * HOUR
    here = ionosphere(lat, lon, times, r12, 2020.5)
    there = ionosphere(np.clip(lat + step, -90.0, 90.0), lon + step, times, r12, 2020.5)
    later = ionosphere(lat, lon, times + np.timedelta64(60, "s"), r12, 2020.5)
    same_month = month_of(times) == month_of(times + np.timedelta64(60, "s"))
    near_a_step = any(abs(abs(lat) - edge) < 0.02 for edge in (12.0, 32.0))
    for other in (there, later):
        np.testing.assert_allclose(other.fof2_mhz[same_month], here.fof2_mhz[same_month], atol=0.1)
        np.testing.assert_allclose(other.m3000f2[same_month], here.m3000f2[same_month], atol=0.02)
        if not near_a_step:
            np.testing.assert_allclose(other.foe_mhz, here.foe_mhz, atol=0.05)
