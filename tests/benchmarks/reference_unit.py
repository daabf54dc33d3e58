"""The unit of every benchmark: P, the time PyIRI 0.1.7 needs for a month's means of a whole grid.

Machines differ and are noisy, so a time is given as a share of P taken in the same run: 2592 places (a grid
of 5 degrees) x 24 hours by `IRI_monthly_mean_par`. Timings are the least of a few repeats, the one least
disturbed.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from propagation.base.units import FloatArray

PLACES = 2592
HOURS = np.arange(24.0)


def grid() -> tuple[FloatArray, FloatArray]:
    """Latitudes and longitudes [deg] of the 2592 places."""
    lat, lon = np.meshgrid(np.arange(-87.5, 90.0, 5.0), np.arange(-180.0, 180.0, 5.0))
    return lat.ravel(), lon.ravel()


def least_seconds(
    work: Callable[[], object], repeats: int = 5, clock: Callable[[], float] = time.perf_counter
) -> float:
    """Wall time, or time by another clock, of the quickest of `repeats` runs, after one to warm up [s]."""
    work()
    times = []
    for _ in range(repeats):
        start = clock()
        work()
        times.append(clock() - start)
    return min(times)


def unit_p_seconds(repeats: int = 3, clock: Callable[[], float] = time.perf_counter) -> float:
    """P on this machine, now [s], by wall time or another clock."""
    import PyIRI
    from PyIRI import main_library

    coefficients = str(Path(PyIRI.__file__).parent / "coefficients")
    lat, lon = grid()
    assert lat.size == PLACES

    def month() -> object:
        return main_library.IRI_monthly_mean_par(2026, 7, HOURS, lon, lat, coefficients)

    return least_seconds(month, repeats, clock)


def report(name: str, seconds: float, unit: float) -> None:
    """One line: what, its time, and its ratio to P."""
    ratio = f"{seconds / unit:.1f} P" if seconds > unit else f"P/{unit / seconds:.0f}"
    print(f"{name:<62} {1000.0 * seconds:9.2f} ms  {ratio:>8}")
