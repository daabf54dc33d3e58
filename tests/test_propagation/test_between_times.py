"""Half hours of the clock and what lies between them: one answer for a moment, close to the computation at
every time."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from worlds import demo

from propagation.advice.ledger import ledger
from propagation.advice.recompute import best_margin_db
from propagation.advice.region_chance import outlook
from propagation.geo.places import resolve
from propagation.signal.chances import forecast as engine
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.chances.request import Request
from propagation.signal.chances.time_interpolation import STEP_S, between_times, on_times
from propagation.space_weather.state.conditions import typed_in
from propagation.station.terminals import Terminals, far_terminal, own_terminal

START = np.datetime64("2026-03-20T05:00", "s")
TENS = START + np.arange(31) * np.timedelta64(600, "s")  # the dawn at the site, when most moves
SUN = typed_in(ssn=120.0, kp=2.0)


@cache
def ends() -> Terminals:
    return Terminals(own_terminal(demo()), far_terminal(demo().far_end))


def run(times: np.ndarray) -> Forecast:  # type: ignore[type-arg]
    target = resolve("Japan", demo().site.position)
    return forecast(Request(demo(), target, times, SUN, near=ends().near, far=ends().far))


@cache
def laid() -> Forecast:
    return run(TENS)


def test_a_cubic_is_laid_through_exactly() -> None:
    """Catmull and Rom's curve is exact for a parabola; a half hour keeps its own value."""
    between = between_times(TENS)
    hours = (between.nodes - START) / np.timedelta64(3600, "s")
    wanted = (TENS - START) / np.timedelta64(3600, "s")
    curve = 3.0 + 0.5 * hours - 0.2 * hours**2
    found = between.level(curve[None, :, None])[0, :, 0]
    np.testing.assert_allclose(found, 3.0 + 0.5 * wanted - 0.2 * wanted**2, atol=1e-12)
    assert np.all(between.chance(curve[None, :, None]) <= 1.0)
    np.testing.assert_allclose(
        between.nodes[between.nearest].astype(np.int64), TENS.astype(np.int64), atol=600
    )


def test_half_hours_hang_on_themselves() -> None:
    halves = START + np.arange(5) * np.timedelta64(STEP_S, "s")
    assert between_times(halves).exact
    assert between_times(START[None]).nodes.tolist() == START[None].tolist()
    assert on_times(TENS).exact
    assert not between_times(TENS).exact


def test_a_moment_has_one_answer_from_whatever_span_it_is_asked() -> None:
    for at in (0, 7, 14):
        alone = run(TENS[at : at + 1])
        np.testing.assert_allclose(alone.chance[:, :, 0], laid().chance[:, :, at], atol=1e-6)
        np.testing.assert_allclose(outlook(alone).chance[0], outlook(laid()).chance[at], atol=1e-5)


def test_it_is_close_to_the_computation_at_every_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """A dawn, the worst part of a day: nine tenths of all cells within 0.02, none further off than the steps
    that the seven kinds of day make on a steep flank, 0.17 where it was measured over whole days."""
    monkeypatch.setattr(engine, "between_times", lambda times, sudden: on_times(times))
    exact = run(TENS)
    off = np.abs(laid().chance - exact.chance)
    assert 0.0 < off.max() < 0.18
    assert np.mean(off > 0.02) < 0.1
    promised = np.abs(outlook(laid()).chance - outlook(exact).chance)
    assert promised.max() < 0.11
    assert np.mean(promised > 0.02) < 0.1


def test_the_margin_of_a_region_is_that_of_its_ledger() -> None:
    margin = best_margin_db(laid(), ends())
    for time, band in ((4, 5), (13, 7), (20, 3)):
        point, route = int(laid().best_point[time, band]), int(laid().route[time, band])
        account = ledger(laid(), ends(), point, route, band, TENS[time])
        np.testing.assert_allclose(account.margin_db, margin[time, band], atol=0.01)
