"""The maps beside an ionosonde: published monthly medians of foF2 at Sodankylä, 67.4 N 26.6 E.

Source: Sodankylä Geophysical Observatory, monthly ionospheric bulletins (sgodata.sgo.fi/pub_ion/bulletins:
IB_200607, IB_201504, IB_201702, IB_201907), rows "MED" of foF2 in 0.1 MHz for 00 to 11 hours of 30 degrees
east (UT + 2 h). Twelve hours are what could be read of each. A station at the edge of the auroral oval is a
hard case: the CCIR maps were made from the 1950s and 1960s, and their own error there is of the order of 10
to 15 %.
"""

from __future__ import annotations

import numpy as np

from propagation.base.units import FloatArray
from propagation.ionosphere.layers import ionosphere
from propagation.space_weather.state.conditions import built_in

LAT, LON = 67.37, 26.63
MEDIANS = {
    "2006-07": (40, 37, 38, 38, 39, 40, 41, 44, 46, 47, 47, 48),
    "2015-04": (52, 47, 44, 45, 40, 44, 49, 54, 59, 64, 67, 71),
    "2017-02": (21, 19, 21, 25, 22, 18, 15, 18, 27, 37, 43, 47),
    "2019-07": (32, 33, 33, 34, 33, 34, 37, 38, 39, 40, 41, 42),
}


def computed(month: str, basis: str) -> FloatArray:
    """foF2 [MHz] at those hours, with the month's mean index on the given basis."""
    days = np.datetime64(f"{month}-01T12", "s") + np.arange(28) * np.timedelta64(86_400, "s")
    index = float(np.mean(built_in(basis=basis).index_at(days)))  # type: ignore[arg-type]
    hours = np.datetime64(f"{month}-15", "s") + (np.arange(12) - 2) * np.timedelta64(3600, "s")
    return np.asarray(ionosphere(LAT, LON, hours, index).fof2_mhz)


def ratios(basis: str) -> FloatArray:
    """Computed over measured (months, hours)."""
    return np.array([computed(month, basis) / (np.array(MEDIANS[month]) / 10.0) for month in MEDIANS])


def test_medians_with_the_ionospheric_index() -> None:
    """Root mean square of the relative difference over the 48 values under 13 %, their mean within 10 %.

    By month it is 11, 10, 15 and 8 %, all of them low by 7 to 11 %: at the edge of the oval the layer is a
    little thicker than the world's ionosondes, from which the index is made, say. The nights of February 2017
    rest on 8 to 15 days.
    """
    ratio = ratios("flux")
    assert np.sqrt(np.mean((ratio - 1.0) ** 2)) < 0.13
    np.testing.assert_allclose(np.mean(ratio), 1.0, atol=0.10)


def test_no_month_is_far_off() -> None:
    """The mean of a month's twelve hours within 12 %: the maps' own error at one station is 10 to 15 %."""
    np.testing.assert_allclose(ratios("flux").mean(axis=1), 1.0, atol=0.12)


def test_the_index_moves_as_the_station_does() -> None:
    """All four months, index -12 to 83, are low here by one and the same tenth: within 3 % of their mean.

    Ten units of the index are 4 to 7 % of foF2, so it is right between minimum and maximum to half that; what
    is left is the maps' error at this one place, and no index takes it away.
    """
    by_month = ratios("flux").mean(axis=1)
    np.testing.assert_allclose(by_month / by_month.mean(), 1.0, atol=0.03)


def test_the_hours_of_a_month_are_right_but_for_the_winter_night() -> None:
    """About each month's own mean the hours spread by under 6 % (February 2017: 12 %, few days by night)."""
    ratio = ratios("flux")
    spread = np.std(ratio / ratio.mean(axis=1, keepdims=True), axis=1)
    np.testing.assert_array_less(spread, [0.06, 0.06, 0.14, 0.06])


def test_the_ionospheric_index_serves_better_than_the_sunspots() -> None:
    """In April 2015 sunspots ran low: by them foF2 comes out 18 % too low, by the index 9 %."""
    measured = np.array(MEDIANS["2015-04"]) / 10.0
    by_index, by_spots = (np.mean(computed("2015-04", basis) / measured) for basis in ("flux", "sunspots"))
    assert abs(by_index - 1.0) < abs(by_spots - 1.0) - 0.05
