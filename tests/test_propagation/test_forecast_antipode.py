"""Near the antipode every bearing is a route: a forecast tries a fan of them and keeps what serves the
day."""

from __future__ import annotations

import numpy as np
import pytest

from propagation.geo import great_circle
from propagation.geo.locator import Position
from propagation.geo.regions import point
from propagation.signal.chances import forecast, routes
from propagation.signal.chances.forecast_detail import detail
from propagation.signal.chances.request import Request
from propagation.space_weather.state import conditions
from propagation.station.station import FarEnd, Site, Station

RIDGE = Station(site=Site(position=Position(-29.5, 29.5)), far_end=FarEnd(antenna="isotropic"))
TIMES = forecast.day_times(np.datetime64("2026-03-20", "s"), step=np.timedelta64(3600, "s"))
SUN = conditions.typed_in(ssn=100.0, kp=2.0)


def run(place: Position) -> forecast.Forecast:
    return forecast.forecast(Request(RIDGE, point("there", place), TIMES, SUN, mode="DIGITAL", power_w=100.0))


def test_the_fan_serves_no_worse_than_the_great_circle_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    near_antipode = Position(29.0, -149.5)
    with_fan = run(near_antipode)
    monkeypatch.setattr(routes, "FAN_DEG", ())
    plain = run(near_antipode)
    served, before = (np.mean(f.chance[0][..., f.usable], axis=(1, 2)) for f in (with_fan, plain))
    assert np.all(served >= before)
    # an equinox day: some other bearing runs along the twilight better than the one the geometry happens to
    # give
    assert np.any(served > before + 1e-3)
    assert np.any(with_fan.bearing_deg != plain.bearing_deg)


def test_the_exact_antipode_is_answered() -> None:
    found = run(Position(29.5, -150.5))
    assert np.isfinite(found.chance).all()
    assert found.chance.max() > 0.1
    np.testing.assert_allclose(found.distance_km, 0.5 * great_circle.EARTH_TURN_KM, atol=1.0)


def test_away_from_the_antipode_the_bearing_is_the_great_circles() -> None:
    found = run(Position(50.0, 8.0))
    bearing = float(great_circle.bearing_deg(-29.5, 29.5, 50.0, 8.0))
    np.testing.assert_allclose(found.bearing_deg[0], [bearing, (bearing + 180.0) % 360.0])


def test_the_detail_takes_the_bearing_of_the_forecast() -> None:
    found = run(Position(29.0, -149.5))
    for route in (0, 1):
        again = detail(found, route=route)
        # the ends are made anew from the same station: equal to rounding
        np.testing.assert_allclose(again.chance, found.chance[0, route], atol=1e-9)
