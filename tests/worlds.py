"""Where the engine's tests stand: the demo's station, and a day of it or of a station written in a test."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from propagation.base.units import TimeArray
from propagation.geo.places import resolve
from propagation.signal.chances.forecast import Forecast, day_times, forecast
from propagation.signal.chances.request import Request
from propagation.space_weather.state.conditions import Conditions
from propagation.station import station
from propagation.station.terminals import Terminals

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "fixtures" / "demo" / "station.toml"


@cache
def demo() -> station.Station:
    """The station the demo shows: a ridge, a loaded vertical, 50 W or less."""
    return station.load(DEMO)


def request_for(times: TimeArray, state: Conditions) -> Request:
    """The demo station's request for anybody at some times."""
    return Request(demo(), resolve("anyone"), times, state)


def forecast_of(
    own: station.Station, terminals: Terminals, target: str, state: Conditions, start: np.datetime64, *,
    hours: float = 24.0, step_min: int = 60, **asked: Any,
) -> Forecast:  # fmt: skip
    """The forecast from a station whose terminals are made already; `asked` goes to the forecast as it is."""
    times = day_times(start, hours, np.timedelta64(step_min * 60, "s"))
    where = resolve(target, own.site.position)
    return forecast(Request(own, where, times, state, near=terminals.near, far=terminals.far, **asked))
