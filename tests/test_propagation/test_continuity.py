"""Sweeps: neighbouring cells of frequency, distance, time and solar index never jump by more than 1 dB.

A jump is what is left of the change between two neighbouring cells when the larger of the changes just
before and just after is taken off. So an even slope is none, however steep: over the MUF, at dawn on a low
band or past the edge of the ground wave the level truly falls by more than 1 dB from cell to cell. Checked
is the total gain of the path between isotropic antennas, on the median day and as the power mean of all
days, where it is better than -200 dB: below that 100 W are 30 dB under a quiet rural noise in 2500 Hz on 14
MHz, and farther on the lower bands.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from cases import computed

from propagation.base.units import FloatArray
from propagation.geo.great_circle import Route
from propagation.ionosphere import variability
from propagation.signal.losses.circuit import Circuit
from propagation.station.terminals import plain_terminal

MHZ = np.array([1.84, 3.6, 7.1, 14.2, 21.2, 28.4])
LEAST_DB = -200.0
JUMP_DB = 1.0
END = plain_terminal(100.0)
# over coasts, mountains' worth of land, the equator and the auroral oval
STARTS = [(-29.6, 30.4, 300.0), (51.0, 0.1, 60.0), (0.3, 100.2, 90.0), (65.0, -20.0, 200.0)]
LENGTHS = np.array(
    [60.0, 300.0, 900.0, 1900.0, 3000.0, 4100.0, 6300.0, 7600.0, 8400.0, 11_900.0, 19_900.0, 28_000.0]
)


def run(
    start: tuple[float, float, float], distance: FloatArray, times: Any, mhz: FloatArray, r12: float
) -> Circuit:
    lat, lon, bearing = (np.full(distance.shape, v) for v in start)
    route = Route(lat, lon, bearing, distance)
    return computed(route, times, mhz, r12, END, END, keep_ray_paths=False)


def levels(found: Circuit) -> tuple[FloatArray, FloatArray]:
    """Gain on the median day and the power mean over all days (N, T, B) [dB]."""
    power = 10.0 ** (0.1 * found.gain_db)
    mean = power @ variability.ES_WEIGHTS @ variability.LAYER_WEIGHTS
    return found.median_gain_db, 10.0 * np.log10(mean)


def jumps(gain_db: FloatArray, axis: int) -> FloatArray:
    """Changes between neighbours along an axis beyond what the changes on either side explain."""
    level = np.moveaxis(gain_db, axis, 0)
    change = np.abs(np.diff(level, axis=0))
    extra = change[1:-1] - np.maximum(change[:-2], change[2:])
    return np.where(level[1:-2] > LEAST_DB, extra, 0.0)


def no_jump(gains: Iterator[FloatArray] | tuple[FloatArray, ...], axis: int) -> None:
    for gain in gains:
        found = jumps(gain, axis)
        assert np.sum(np.moveaxis(gain, axis, 0)[1:-2] > LEAST_DB) > 1000, "nothing was checked"
        worst = np.unravel_index(np.argmax(found), found.shape)
        assert found[worst] < JUMP_DB, f"{found[worst]:.2f} dB at cell {worst}"


HOURS = np.datetime64("2026-06-20T01", "s") + np.arange(0, 24, 4) * np.timedelta64(3600, "s")


@pytest.mark.slow
@pytest.mark.parametrize("start", STARTS)
def test_over_distance(start: tuple[float, float, float]) -> None:
    """Steps of 5 km from 50 to 25 000 km: over 2000, 4000, 7000, 10 000 km and every change of the number of
    hops."""
    distance = np.arange(50.0, 25_000.0, 5.0)
    parts = [levels(run(start, some, HOURS[::2], MHZ, 80.0)) for some in np.array_split(distance, 20)]
    no_jump(tuple(np.concatenate(part) for part in zip(*parts, strict=True)), axis=0)


@pytest.mark.parametrize("start", STARTS)
def test_over_frequency(start: tuple[float, float, float]) -> None:
    """Steps of 0.5 % from 1.8 to 30 MHz."""
    mhz = np.geomspace(1.8, 30.0, 565)
    no_jump(levels(run(start, LENGTHS, HOURS[::2], mhz, 80.0)), axis=2)


@pytest.mark.slow
@pytest.mark.parametrize("start", STARTS)
@pytest.mark.parametrize("date", ["2026-03-20", "2026-12-10"])
def test_over_time(start: tuple[float, float, float], date: str) -> None:
    """Steps of one minute through a day: dawn on the low bands is too steep for longer ones."""
    minutes = np.datetime64(date, "s") + np.arange(1440) * np.timedelta64(60, "s")
    parts = [levels(run(start, LENGTHS, some, MHZ[1:], 80.0)) for some in np.array_split(minutes, 6)]
    no_jump(tuple(np.concatenate(part, axis=1) for part in zip(*parts, strict=True)), axis=1)


@pytest.mark.slow
def test_over_the_solar_index() -> None:
    """Steps of 1 in R12 from 0 to 220, past the value at which the maps are held; all starts in one go."""
    lat, lon, bearing = np.repeat(np.array(STARTS), LENGTHS.size, axis=0).T
    routes = Route(lat, lon, bearing, np.tile(LENGTHS, len(STARTS)))
    found = [
        levels(computed(routes, HOURS[1::2], MHZ, float(r12), END, END, keep_ray_paths=False))
        for r12 in range(221)
    ]
    gains = [np.stack(part) for part in zip(*found, strict=True)]
    for number in range(len(STARTS)):
        of_start = slice(number * LENGTHS.size, (number + 1) * LENGTHS.size)
        no_jump(tuple(gain[:, of_start] for gain in gains), axis=0)


def test_a_jump_would_be_seen() -> None:
    """The measure itself: an even slope of 3 dB a cell is no jump, a step of 2 dB on it is."""
    slope = -150.0 + 3.0 * np.arange(10.0)
    assert np.max(jumps(slope, 0)) < 1e-9
    slope[5:] += 2.0
    np.testing.assert_allclose(np.max(jumps(slope, 0)), 2.0)
