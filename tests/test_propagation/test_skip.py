"""The skip distance: the closed answer in an even layer, and one figure whoever asks."""

from __future__ import annotations

import numpy as np
import pytest

from propagation.advice.why import near_and_far
from propagation.geo import great_circle
from propagation.geo.locator import Position
from propagation.geo.regions import point
from propagation.ionosphere import muf
from propagation.signal.chances.forecast import forecast
from propagation.signal.chances.path import single_path
from propagation.signal.chances.request import Request
from propagation.signal.chances.skip import MIDDLES_KM, skip_along_km, skip_of_forecast_km
from propagation.space_weather.state.conditions import typed_in
from propagation.space_weather.state.event_absorption import Effects
from propagation.space_weather.state.storm_corrections import corrections_of
from propagation.station.station import FarEnd, Site, Station
from propagation.station.terminals import Terminals, plain_terminal
from propagation.wording.quantities import skip_words
from propagation.wording.why import near_far_sentence

END = plain_terminal(100.0)


def test_in_an_even_layer_the_closed_answer() -> None:
    """For a layer that is the same everywhere the walk along the path gives that of `muf.skip_km`; where the
    layer weakens on the way, the skip is longer.
    """
    even = np.ones_like(MIDDLES_KM)
    mhz = np.array([7.0, 10.0, 14.0, 18.0, 21.0, 25.0, 28.0, 50.0])
    found = skip_along_km(mhz, MIDDLES_KM, 9.0 * even, 3.0 * even, 3.0 * even, even)
    np.testing.assert_allclose(found, muf.skip_km(mhz, 9.0, 3.0, 3.0, 1.0), atol=1.0)  # km
    falling = 9.0 - 2.0 * MIDDLES_KM / 2000.0
    weaker = skip_along_km(mhz, MIDDLES_KM, falling, 3.0 * even, 3.0 * even, even)
    assert (weaker[2:5] > found[2:5]).all()
    assert np.isnan(found[-1])


@pytest.mark.parametrize("kp", [1.0, 7.0])
def test_a_path_and_a_forecast_tell_the_same_figure(kp: float) -> None:
    """On a quiet day and in a storm, for every band: to the last digit."""
    here, there = Position(-29.5, 29.5), Position(-34.5, -55.5)
    time = np.datetime64("2026-03-20T09:00", "s")
    sun = typed_in(ssn=100.0, kp=kp)
    station = Station(site=Site(position=here), far_end=FarEnd(antenna="isotropic"))
    result = forecast(Request(station, point("there", there), np.array([time]), sun, near=END, far=END))
    names = [band.name for band in result.bands]
    bearing = float(result.bearing_deg[0, 0])
    by_forecast = skip_of_forecast_km(result, bearing, time, result.frequency_mhz)
    bands = dict(zip(names, result.frequency_mhz.tolist(), strict=True))
    disturber = corrections_of(sun, Effects(), np.asarray([time]))
    path = single_path(here, there, time, float(sun.index_at(time)), bands_mhz=bands, disturber=disturber)
    by_path = [np.nan if km is None else km for km in path.skip_km.values()]
    np.testing.assert_allclose(by_path, by_forecast, rtol=1e-12)
    assert 0 < np.sum(by_forecast > 0.0) < len(names)
    np.testing.assert_allclose(bearing, great_circle.bearing_deg(-29.5, 29.5, -34.5, -55.5))
    ends = Terminals(END, END)
    for row in (names.index("20m"), int(np.argmax(np.isnan(by_forecast)))):
        told = near_and_far(result, ends, row, 0)
        np.testing.assert_array_equal(np.nan if told.skip_km is None else told.skip_km, by_forecast[row])
        assert skip_words(by_forecast[row]) in near_far_sentence(told)
        assert "on half of the days" in skip_words(by_forecast[row])
