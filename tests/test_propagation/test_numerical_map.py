"""The numerical maps against PyIRI 0.1.7, which reads the same published tables by its own code."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import PyIRI
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import broadcastable_shapes
from PyIRI import igrf_library, main_library

from propagation.base.units import FloatArray
from propagation.data.builders import ionosphere_maps as build_ionosphere_maps
from propagation.geo import geomagnetic
from propagation.ionosphere import numerical_map
from propagation.ionosphere.numerical_map import (
    INDEX_RANGE,
    LEVELS,
    ORDERS,
    QUANTITIES,
    Points,
    Quantity,
    sample,
)

COEFFICIENTS = str(Path(PyIRI.__file__).parent / "coefficients")
HOURS = np.arange(24.0)
MONTHS = range(1, 13)
PYIRI_NAME: dict[Quantity, str] = {
    "foF2": "F0F2",
    "M3000F2": "M3000",
    "foEs_upper": "Es_upper",
    "foEs_median": "Es_median",
    "foEs_lower": "Es_lower",
}


@pytest.fixture(scope="module")
def grid() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Modified dip, latitude, longitude on the 5 degree grid, poles and date line included."""
    lat, lon = (part.ravel() for part in np.meshgrid(np.arange(-90, 91, 5.0), np.arange(-180, 181, 5.0)))
    return geomagnetic.field_map(2025.5, 300.0).modified_dip_deg(lat, lon), lat, lon


@pytest.fixture(scope="module")
def reference(
    grid: tuple[FloatArray, FloatArray, FloatArray],
) -> dict[tuple[Quantity, int], FloatArray]:
    """PyIRI's maps of every quantity and month on the grid: [hour, place, level]."""
    dip, lat, lon = grid
    sizes = main_library.highest_power_of_extension()
    place, time = {}, {}
    for quantity, name in PYIRI_NAME.items():
        place[quantity] = main_library.set_global_functions(
            sizes["QM"][name], sizes["nk"][name], lon, lat, dip
        )
        time[quantity] = main_library.set_diurnal_functions(sizes["nj"][name], HOURS).T
    maps: dict[tuple[Quantity, int], FloatArray] = {}
    for month in MONTHS:
        fof2, _, m3000, median, lower, upper = main_library.read_ccir_ursi_coeff(
            month, COEFFICIENTS, output_deciles=True
        )
        tables = dict(zip(QUANTITIES, (fof2, m3000, upper, median, lower), strict=True))
        for quantity, table in tables.items():
            numbers = table.astype(np.float64)  # PyIRI leaves an array of objects
            levels = [time[quantity] @ numbers[:, :, level] @ place[quantity] for level in (0, 1)]
            maps[quantity, month] = np.stack(levels, axis=-1)
    return maps


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_every_map_agrees_with_pyiri_fed_the_same_modified_dip(
    quantity: Quantity,
    grid: tuple[FloatArray, FloatArray, FloatArray],
    reference: dict[tuple[Quantity, int], FloatArray],
) -> None:
    """12 months, 2701 places, 24 hours, both levels: within 1e-6 MHz, by far above rounding (about 1e-12)."""
    points = Points(*grid)
    for month in MONTHS:
        mapped = sample(quantity, month, points)
        for level, index in enumerate(LEVELS[quantity]):
            value = mapped.at(HOURS[:, np.newaxis], index)
            expected = reference[quantity, month][:, :, level]
            np.testing.assert_allclose(value, expected, rtol=0, atol=1e-6, err_msg=f"{month} {index}")


def test_tables_are_those_of_the_text_files() -> None:
    """The shipped file, number by number, against the published text read again by the script of record."""
    tables = build_ionosphere_maps.build(Path(COEFFICIENTS))
    with np.load(numerical_map.TABLES) as archive:
        assert sorted(archive.files) == sorted(tables) == sorted(QUANTITIES)
        for name, table in tables.items():
            np.testing.assert_array_equal(archive[name], table, err_msg=name)


def test_numbers_of_terms_are_the_published_ones() -> None:
    """76 and 49 functions of place, 13 and 9 of time for foF2 and M(3000)F2 (P.1239, table 1)."""
    counts = {quantity: orders[0] + 2 * sum(orders[1:]) for quantity, orders in ORDERS.items()}
    assert counts == {"foF2": 76, "M3000F2": 49, "foEs_upper": 55, "foEs_median": 61, "foEs_lower": 55}
    times = {name: table.shape[2] for name, table in numerical_map._tables().items()}
    assert times == {"foF2": 13, "M3000F2": 9, "foEs_upper": 5, "foEs_median": 7, "foEs_lower": 5}


# foF2 [MHz] at 00, 06, 12, 18 UT, from a separate evaluation of the same tables with the dip of PyIRI 0.1.7
SPOT_VALUES = [
    (51.5, 0.0, 7, 120.0, [6.41, 5.87, 7.08, 7.13]),
    (51.5, 0.0, 1, 120.0, [3.01, 2.39, 9.81, 5.34]),
    (51.5, 0.0, 1, 20.0, [2.70, 1.96, 6.23, 3.39]),
    (40.0, -90.0, 7, 120.0, [7.18, 5.57, 5.37, 7.30]),
    (0.0, 100.0, 1, 120.0, [6.73, 10.75, 10.99, 8.62]),
]


@pytest.mark.parametrize(("lat", "lon", "month", "r12", "expected"), SPOT_VALUES)
def test_spot_values_of_fof2(lat: float, lon: float, month: int, r12: float, expected: list[float]) -> None:
    """Within 0.03 MHz: the printed values have two places and leave the year of the field open (0.02 MHz)."""
    dip = igrf_library.inclination(COEFFICIENTS, 2024.5, np.array([lon]), np.array([lat]), 300.0)
    modified_dip = igrf_library.inc2modip(dip, np.array([lat]))
    values = sample("foF2", month, modified_dip, lat, lon).at(np.array([0.0, 6.0, 12.0, 18.0]), r12)
    np.testing.assert_allclose(values, expected, rtol=0, atol=0.03)


# foEs [MHz] at R12 = 100 and local mean time 00, 03 .. 21, from the same separate evaluation
ES_SPOT_VALUES = [
    (35.0, 135.0, 7, "foEs_median", [4.1, 3.0, 3.7, 6.3, 6.6, 5.8, 5.3, 4.7]),
    (35.0, 135.0, 7, "foEs_upper", [6.7, 5.1, 6.7, 10.0, 11.4, 10.6, 9.8, 8.8]),
    (45.0, 10.0, 7, "foEs_median", [2.3, 2.1, 3.3, 4.7, 4.5, 4.1, 3.8, 3.0]),
    (45.0, 10.0, 7, "foEs_upper", [4.4, 4.0, 5.5, 7.1, 7.2, 6.6, 6.4, 5.8]),
]


@pytest.mark.parametrize(("lat", "lon", "month", "quantity", "expected"), ES_SPOT_VALUES)
def test_spot_values_of_foes(
    lat: float, lon: float, month: int, quantity: Quantity, expected: list[float]
) -> None:
    """Within 0.1 MHz: the printed values have one place, and the field's year moves them by 0.05 MHz."""
    modified_dip = geomagnetic.field_map(2025.5, 300.0).modified_dip_deg(lat, lon)
    hours = np.arange(0.0, 24.0, 3.0) - lon / 15.0
    values = sample(quantity, month, modified_dip, lat, lon).at(hours, 100.0)
    np.testing.assert_allclose(values, expected, rtol=0, atol=0.1)


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_index_runs_straight_and_is_held_outside_its_range(quantity: Quantity) -> None:
    mapped = sample(quantity, 4, 55.0, 48.0, 12.0)
    low, high = LEVELS[quantity]
    bottom, top = INDEX_RANGE[quantity]
    at_low, at_high = mapped.at(10.0, low), mapped.at(10.0, high)
    np.testing.assert_allclose(mapped.at(10.0, (low + high) / 2), (at_low + at_high) / 2, rtol=1e-12)
    straight = at_low + (at_high - at_low) * (top - low) / (high - low)
    np.testing.assert_allclose(mapped.at(10.0, [top, top + 1.0, 1000.0]), straight, rtol=1e-12)
    below = at_low + (at_high - at_low) * (bottom - low) / (high - low)
    np.testing.assert_allclose(mapped.at(10.0, [bottom, bottom - 1.0, -50.0]), below, rtol=1e-12)


def test_cap_of_fof2_is_150() -> None:
    mapped = sample("foF2", 12, 30.0, 20.0, -60.0)
    at_0, at_100, at_200 = mapped.at(15.0, np.array([0.0, 100.0, 200.0]))
    np.testing.assert_allclose(at_200, at_0 + 1.5 * (at_100 - at_0), rtol=1e-12)


def test_one_hour_after_another_repeats_after_a_day() -> None:
    mapped = sample("foF2", 9, np.array([60.0, -20.0]), np.array([50.0, -10.0]), np.array([0.0, 77.0]))
    hours = np.array([[-3.0], [21.0], [45.0]])
    values = mapped.at(hours, 80.0)
    np.testing.assert_allclose(values, values[:1].repeat(3, axis=0), rtol=1e-12)


def test_longitude_turns_meet_at_the_date_line() -> None:
    hours = HOURS[:, np.newaxis]
    values = [sample("foF2", 3, 40.0, 35.0, lon).at(hours, 50.0) for lon in (-180.0, 180.0, 540.0)]
    np.testing.assert_allclose(values[1], values[0], rtol=1e-12)
    np.testing.assert_allclose(values[2], values[0], rtol=1e-11)


def test_longitude_does_not_matter_at_a_pole() -> None:
    values = sample("M3000F2", 6, 89.0, 90.0, np.arange(-180.0, 181.0, 30.0)).at(5.0, 100.0)
    np.testing.assert_allclose(values, values[0], rtol=1e-12)


SHAPES = [  # places, hours, index, months
    ((), (), (), ()),
    ((6,), (5, 1), (5, 1), ()),
    ((4, 1, 3), (1, 5, 1), (), ()),
    ((4, 1, 3), (1, 5, 1), (1, 5, 1), (1, 5, 1)),
    ((4, 1, 3), (1, 5, 1), (4, 1, 1), (4, 1, 1)),
    ((7, 3), (7, 1), (7, 1), (7, 1)),
    ((4, 3), (), (), (3,)),
    ((2,), (7, 1, 1), (3, 1), (2,)),
    ((), (3,), (2, 1), (2, 1, 1)),
    ((0, 3), (0, 1), (), (0, 1)),
]


def one_by_one(quantity: Quantity, *arrays: FloatArray) -> FloatArray:
    """The map evaluated one entry at a time: dip, lat, lon, hour, index, month."""
    whole = np.broadcast_arrays(*arrays)
    entries = zip(*(array.ravel() for array in whole), strict=True)
    values = [sample(quantity, int(m), x, lat, lon).at(h, r) for x, lat, lon, h, r, m in entries]
    return np.array(values, dtype=np.float64).reshape(whole[0].shape)


@pytest.mark.parametrize(("places", "hours", "levels", "months"), SHAPES)
def test_arrays_give_what_single_values_give(
    places: tuple[int, ...], hours: tuple[int, ...], levels: tuple[int, ...], months: tuple[int, ...]
) -> None:
    rng = np.random.default_rng(5)
    dip, lat, lon = (rng.uniform(-edge, edge, places) for edge in (80.0, 90.0, 180.0))
    hour, index = rng.uniform(0.0, 24.0, hours), rng.uniform(-20.0, 200.0, levels)
    month = rng.integers(1, 13, months)
    for quantity in ("foF2", "foEs_upper"):
        values = sample(quantity, month, dip, lat, lon).at(hour, index)
        expected = one_by_one(quantity, dip, lat, lon, hour, index, month)
        assert values.shape == expected.shape
        np.testing.assert_allclose(values, expected, rtol=0, atol=1e-10)


@given(shape=broadcastable_shapes((3, 4), max_dims=3, max_side=4), seed=st.integers(0, 2**31))
def test_any_shape_of_hours_that_broadcasts_will_do(shape: tuple[int, ...], seed: int) -> None:
    rng = np.random.default_rng(seed)
    dip, lat, lon = (rng.uniform(-edge, edge, (3, 4)) for edge in (80.0, 90.0, 180.0))
    hour = rng.uniform(0.0, 24.0, shape)
    values = sample("M3000F2", 8, dip, lat, lon).at(hour, 60.0)
    expected = one_by_one("M3000F2", dip, lat, lon, hour, np.asarray(60.0), np.asarray(8))
    assert values.shape == expected.shape
    np.testing.assert_allclose(values, expected, rtol=0, atol=1e-10)


@pytest.mark.parametrize("month", [0, 13, -1, 1.5, [1, 13], [True]])
def test_a_month_that_is_none_is_refused(month: object) -> None:
    with pytest.raises(ValueError, match="month"):
        sample("foF2", month, 0.0, 0.0, 0.0)  # type: ignore[arg-type]


def test_nan_goes_in_and_comes_out_alone() -> None:
    values = sample("foF2", 1, np.array([10.0, np.nan]), 0.0, 0.0).at(np.array([[3.0], [np.nan]]), 10.0)
    np.testing.assert_array_equal(np.isnan(values), [[False, True], [True, True]])


@pytest.fixture(autouse=True)
def _no_leftover_state() -> Iterator[None]:
    """The tables are shared by all calls: none may have been changed."""
    before = {name: table.sum() for name, table in numerical_map._tables().items()}
    yield
    assert before == {name: table.sum() for name, table in numerical_map._tables().items()}


def test_a_quantity_there_is_no_map_of_is_refused() -> None:
    with pytest.raises(ValueError, match="foF2"):
        sample("foE", 1, 0.0, 0.0, 0.0)  # type: ignore[arg-type]
