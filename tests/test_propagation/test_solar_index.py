"""The ionospheric index IG12, and how flux and sunspot numbers go with it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from propagation.base.time_series import as_times
from propagation.base.units import FloatArray
from propagation.space_weather.indices.solar_history import solar_history
from propagation.space_weather.indices.solar_index import (
    LOWEST_INDEX,
    flux_from_index,
    following,
    index_from_flux,
    index_from_ssn,
    r12_from_index,
    r12_from_ssn,
    relation_of_flux,
    relation_of_ssn,
    ssn_from_index,
)

# IG12 as printed in ig_rz.dat, issue of 4 November 2025, by year and month
PUBLISHED = {
    "1958-04": 166.8, "1964-05": 10.5, "1968-04": 109.0, "1996-06": -1.0, "2008-12": -9.2, "2014-03": 93.2,
    "2019-03": -12.7, "2019-04": -13.3, "2019-09": -10.7, "2021-12": 35.2, "2023-01": 90.8, "2024-10": 129.0,
    "2025-03": 113.2,
}  # fmt: skip


def month(name: str) -> int:
    months = solar_history().month_middles.astype("datetime64[M]")
    return int(np.flatnonzero(months == np.datetime64(name))[0])


@pytest.mark.parametrize(("name", "value"), PUBLISHED.items())
def test_published_months(name: str, value: float) -> None:
    """As printed, to the tenth; and what the forecast reads in the middle of that month."""
    history = solar_history()
    np.testing.assert_allclose(history.observed_index[month(name)], value, atol=1e-9)
    np.testing.assert_allclose(history.index_at(history.month_middles[[month(name)]]), value, atol=1e-9)


def test_relations_leave_what_the_provenance_says() -> None:
    """Fitted again here from the shipped months: the same parabolas, 5.9 and 5.1 units of residual."""
    history = solar_history()
    fitted = slice(0, month("2024-12") + 1)
    index = history.observed_index[fitted]
    for relation, values in (
        (relation_of_flux(), history.smoothed_flux_sfu[fitted]),
        (relation_of_ssn(), history.smoothed_ssn[fitted]),
    ):
        again = np.polynomial.polynomial.polyfit(values, index, 2)
        np.testing.assert_allclose([relation.a, relation.b, relation.c], again, rtol=1e-6)
        left = index - relation.of(values)
        np.testing.assert_allclose(np.sqrt(np.mean(left**2)), relation.residual, atol=0.02)
        assert relation.residual < 6.0
        np.testing.assert_allclose(left.mean(), 0.0, atol=0.05)


def test_the_relation_of_version_1_agrees() -> None:
    """IG12 = -11.5634 + 1.5332 R - 0.0031 R^2 (PyIRI 0.1.7) takes R of version 1: within 4 to R = 150."""
    ssn = np.linspace(0.0, 215.0, 44)
    r12 = r12_from_ssn(ssn)
    theirs = -11.5634 + 1.5332 * r12 - 0.0031 * r12**2
    np.testing.assert_allclose(index_from_ssn(ssn), theirs, atol=4.0)


def test_values_in_the_docstrings() -> None:
    np.testing.assert_allclose(index_from_flux([70.0, 100.0, 150.0, 200.0]), [-2, 44, 106, 148], atol=0.5)
    np.testing.assert_allclose(index_from_ssn([0.0, 50.0, 100.0, 150.0]), [-14, 37, 81, 117], atol=0.5)
    assert 0.55 < following() < 0.67


@given(st.floats(LOWEST_INDEX, 240.0))
def test_both_ways(index: float) -> None:
    np.testing.assert_allclose(index_from_flux(flux_from_index(index)), index, atol=1e-9)
    if index >= index_from_ssn(0.0):
        np.testing.assert_allclose(index_from_ssn(ssn_from_index(index)), index, atol=1e-9)


@given(st.floats(0.0, 600.0), st.floats(0.0, 20.0))
@example(257.1875, 4.194538998248272e-14)  # where a last digit goes the other way
def test_more_sun_never_means_less(value: float, more: float) -> None:
    """Also far beyond the fitted span, where a parabola would turn down; to 1e-9 index units, which is far
    over the rounding of a float and far under any difference in the layer.
    """
    for relation in (index_from_flux, index_from_ssn):
        assert LOWEST_INDEX <= relation(value) <= relation(value + more) + 1e-9
    if value > 70.0:
        assert index_from_flux(value + 1.0) > index_from_flux(value)


def test_a_thin_layer_has_no_negative_sunspots() -> None:
    np.testing.assert_array_equal(ssn_from_index([-15.0, -14.0]), 0.0)
    np.testing.assert_array_equal(r12_from_index([-15.0, -14.0]), 0.0)
    np.testing.assert_allclose(r12_from_index(index_from_ssn([20.0, 100.0])), [14.0, 70.0])


def test_versions_of_the_sunspot_number() -> None:
    """The version-2 maximum of about 157 (late 2024) is about 110 on the scale of the maps."""
    np.testing.assert_allclose(r12_from_ssn(157.0), 109.9)


def continued(last: int, flux: FloatArray, index: FloatArray, ahead: int) -> float:
    """The index `ahead` months after the last observed one, as `SolarHistory.monthly_index` continues it."""
    from dataclasses import replace

    cut = np.where(np.arange(len(index)) <= last, index, np.nan)
    history = replace(solar_history(), observed_index=cut, smoothed_flux_sfu=flux)
    return float(history.monthly_index()[last + ahead])


def test_continued_months_stay_near_what_came() -> None:
    """Each half year since 1960, a year ahead with the flux known: 4.8 left, 6.0 by the relation alone."""
    history = solar_history()
    index, flux = history.observed_index, history.smoothed_flux_sfu
    starts = range(20, history.last_observed_month - 12, 6)
    left = [continued(at, flux, index, 12) - index[at + 12] for at in starts]
    alone = [float(index_from_flux(flux[at + 12])) - index[at + 12] for at in starts]
    assert np.sqrt(np.mean(np.square(left))) < 5.3
    assert np.sqrt(np.mean(np.square(left))) < 0.9 * np.sqrt(np.mean(np.square(alone)))


def test_every_month_has_an_index() -> None:
    """Without holes, without a step where observation ends, and within what any cycle has had."""
    history = solar_history()
    index = history.monthly_index()
    assert np.isfinite(index).all()
    assert index.min() >= LOWEST_INDEX
    assert index.max() < 180.0
    end = history.last_observed_month
    assert np.abs(np.diff(index[end - 3 : end + 12])).max() < 8.0  # a month has brought 9.5 at most, in 2011
    outside = history.index_at(as_times(["1900-01-01", "2100-01-01"]))
    np.testing.assert_array_equal(outside, index[[0, -1]])
