"""One case for every circuit: all who ask put the question the same way."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from propagation.advice import recompute
from propagation.geo import great_circle
from propagation.geo.ground import GROUNDS
from propagation.geo.locator import Position
from propagation.geo.regions import point
from propagation.logbook import expected
from propagation.signal.chances import (
    forecast,
    forecast_detail,
    lowest_usable,
    many_circuits,
    report_likelihood,
)
from propagation.signal.chances.many_circuits import Rows, like_rows
from propagation.signal.chances.request import Request
from propagation.signal.losses.circuit_inputs import CircuitCase, Circumstances, circuit_case
from propagation.space_weather.state.conditions import typed_in
from propagation.spectrum.modes import by_name
from propagation.station.station import FarEnd, Site, Station
from propagation.station.terminals import plain_terminal

NOON = np.datetime64("2026-03-20T12:00", "s")
SUN = typed_in(ssn=100.0, kp=5.0)
STATION = Station(
    site=Site(position=Position(-29.5, 29.5), ground="dry"), far_end=FarEnd(antenna="isotropic")
)
THERE = Position(50.0, 8.0)
END = plain_terminal(100.0)
ROOMS = (forecast, recompute, expected, report_likelihood, lowest_usable, many_circuits)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[CircuitCase]:
    """The cases built while a test runs, by whichever room."""
    built: list[CircuitCase] = []

    def noted(*words: Any, **more: Any) -> CircuitCase:
        built.append(circuit_case(*words, **more))
        return built[-1]

    for room in ROOMS:
        monkeypatch.setattr(room, "circuit_case", noted)
    return built


def run_forecast() -> forecast.Forecast:
    return forecast.forecast(
        Request(STATION, point("there", THERE), np.array([NOON]), SUN, near=END, far=END)
    )


def run_cells() -> None:
    recompute.compute(run_forecast(), recompute.Terminals(END, END), recompute.one_cell(0, 0, 3, [NOON]))


def run_log() -> None:
    one = np.array([1.0])
    entries: Any = type("Log", (), {
        "own_lat_deg": -29.5 * one, "own_lon_deg": 29.5 * one, "time": np.array([NOON]),
        "power_w": 50.0 * one, "frequency_mhz": 14.2 * one, "far_power_w": np.nan * one, "need_db": 0.0 * one,
        "direction": np.zeros(1, dtype=np.int64),
    })  # fmt: skip
    state = expected._Circuits(entries, END, END, STATION, SUN, expected.Effects())
    expected._block(state, np.array([0]), np.array([THERE.lat_deg]), np.array([THERE.lon_deg]))


def run_list() -> None:
    places = (np.array([v]) for v in (-29.5, 29.5, THERE.lat_deg, THERE.lon_deg))
    rows = Rows(*places, np.array([NOON]), np.array([14.2]), np.array([37.0]))
    many_circuits.many_circuits(rows, SUN, 0.0, ground=STATION.site.earth)


CALLERS = {
    "forecast": run_forecast,
    "detail": lambda: forecast_detail.detail(run_forecast(), near=END, far=END),
    "cells": run_cells,
    "log": run_log,
    "list": run_list,
    "hearing": lambda: report_likelihood.chance_of_hearing(
        STATION, point("there", THERE), 14.2, NOON, SUN, END, 0.0
    )(np.array([100.0])),
    "lowest usable": lambda: lowest_usable.lowest_usable_mhz(
        STATION.site.position, THERE, NOON, SUN, by_name("SSB"), END, END, ground=STATION.site.earth
    ),
}  # fmt: skip


@pytest.mark.parametrize("caller", CALLERS)
def test_every_caller_asks_alike(caller: str, asked: list[CircuitCase]) -> None:
    """The site's ground, the year of the times, the disturbances of the day, and the right far bearing."""
    CALLERS[caller]()
    assert asked
    back = great_circle.bearing_deg(50.0, 8.0, -29.5, 29.5)
    for case in asked:
        assert case.ground == STATION.site.earth == GROUNDS["dry"]
        # a log takes the field of five years' middle: a degree of dip at most
        assert case.year == pytest.approx(2026.5, abs=2.5 if caller == "log" else 0.0)
        assert case.disturber is not None  # Kp 5
        assert case.times.ndim == 2
        assert case.frequency_mhz.ndim == 3
        aside = np.mod(case.route.far_bearing_deg - back, 180.0)  # by the short or the long route
        np.testing.assert_allclose(np.minimum(aside, 180.0 - aside), 0.0, atol=1e-6)
        if caller != "hearing":  # where the index is what is looked for
            np.testing.assert_allclose(case.index, SUN.index_at(NOON))


def test_what_if() -> None:
    """An index and a disturber given stand instead of those of the conditions."""
    route = great_circle.route((np.array([0.0]), np.array([0.0])), (np.array([10.0]), np.array([10.0])))
    times = np.array([NOON])
    mhz = np.array([14.0])
    disturbed = Circumstances(SUN, None, GROUNDS["wet"], 2026.5)
    calm = Circumstances(typed_in(ssn=10.0, kp=1.0), None, GROUNDS["wet"], 2026.5)
    plain = circuit_case(disturbed, END, END, route, times, mhz)
    other = circuit_case(calm, END, END, route, times, mhz, index=plain.index, disturber=plain.disturber)
    assert other.index is plain.index
    assert other.disturber is plain.disturber
    quiet = circuit_case(calm, END, END, route, times, mhz)
    assert quiet.disturber is None


def test_a_row_of_a_list_does_not_know_the_years_of_the_others() -> None:
    """The magnetic field is that of the row's own year, whatever else the list holds."""
    count = 6
    times = np.datetime64("1996-06-20T12:00", "s") + np.arange(count) * np.timedelta64(6 * 365, "D")
    one = np.ones(count)
    rows = Rows(-29.5 * one, 29.5 * one, 50.0 * one, 8.0 * one, times, 14.2 * one, 37.0 * one)
    quiet = typed_in(ssn=100.0, kp=2.0)
    together = many_circuits.many_circuits(rows, quiet, 0.0)
    for i in range(count):
        alone = many_circuits.many_circuits(
            replace(rows, **{k: v[i : i + 1] for k, v in vars(rows).items() if v is not None}), quiet, 0.0
        )
        np.testing.assert_allclose(alone.snr_db[0], together.snr_db[i], atol=1e-9)
    blocks = like_rows(times, one, 4)
    np.testing.assert_array_equal(np.sort(np.concatenate(blocks)), np.arange(count))
    assert all(np.unique(times[block].astype("datetime64[Y]")).size == 1 for block in blocks)
