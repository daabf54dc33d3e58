"""Fixtures of the engine's tests: the station a test module describes, and both ends of its contacts."""

from __future__ import annotations

import pytest
import worlds

from propagation.advice.cells import Ends
from propagation.station import station
from propagation.station.terminals import far_terminal, own_terminal


@pytest.fixture(scope="session")
def demo() -> station.Station:
    """The demo's station."""
    return worlds.demo()


@pytest.fixture(scope="module")
def own(request: pytest.FixtureRequest) -> station.Station:
    """The station file a module calls HERE; the demo's station where it has none."""
    text = getattr(request.module, "HERE", None)
    return worlds.demo() if text is None else station.loads(text)


@pytest.fixture(scope="module")
def ends(own: station.Station) -> Ends:
    """Both ends of that station's contacts; made once a module, since solving antennas takes longest."""
    return Ends(own_terminal(own), far_terminal(own.far_end))
