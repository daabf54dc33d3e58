"""The reading of an analyser taken from a sweep: the dip, its edges, and the side of the match."""

from __future__ import annotations

import numpy as np

from propagation.antennas.analyser import AnalyserReading
from propagation.antennas.feedline import VELOCITY_FACTOR
from propagation.antennas.spec import FeedlineSpec
from propagation.antennas.touchstone import Sweep
from propagation.base.constants import SPEED_OF_LIGHT_M_PER_S
from propagation.base.errors import InputError
from propagation.base.units import FloatArray


def from_sweep(sweep: Sweep, line: FeedlineSpec, at_antenna: bool = False) -> AnalyserReading:
    """Take the reading from a sweep: its deepest dip, the edges of SWR 1.5 and 2, and the side of the match.

    The side follows from the circle of the reflection coefficient. Near a resonance the circle passes through
    the open-circuit point. It encloses the centre of the chart where r < 1, and excludes it where r > 1, for
    any cable length. The rotation by the cable over the sweep is removed with its length. Raises InputError
    where the sweep has no dip, or does not reach SWR 1.5 on both sides of it.
    """
    frequency, swr = sweep.frequency_mhz, sweep.swr
    place = int(np.argmin(swr))
    if place in (0, swr.size - 1):
        raise InputError("The sweep's best SWR is at its edge: sweep a wider span, with the dip inside.")
    edges = []
    for level in (1.5, 2.0):
        if swr[place] > level - 0.05:
            continue
        low, high = (_crossing(frequency, swr, place, level, step) for step in (-1, 1))
        if low is not None and high is not None:
            edges.append((level, low, high))
    if not edges:
        raise InputError(
            f"The sweep dips to SWR {swr[place]:.2f} at {frequency[place]:.3f} MHz and does not show SWR 1.5 "
            f"or 2 on both sides of it: tune for a deeper dip, or sweep a wider span."
        )
    dip_mhz, dip = _vertex(frequency, swr, place)
    return AnalyserReading(dip_mhz, dip, tuple(edges), at_antenna, _low_side(sweep, place, line, at_antenna))


def _vertex(frequency: FloatArray, swr: FloatArray, place: int) -> tuple[float, float]:
    """The dip between the points of a sweep: the vertex of the parabola through the lowest three."""
    x, y = frequency[place - 1 : place + 2], swr[place - 1 : place + 2]
    square, linear, _ = np.polyfit(x - x[1], y, 2)
    if square <= 0.0:
        return float(x[1]), float(y[1])
    offset = float(np.clip(-linear / (2.0 * square), x[0] - x[1], x[2] - x[1]))
    return float(x[1]) + offset, max(1.0, float(y[1] + linear * offset / 2.0))


def _crossing(frequency: FloatArray, swr: FloatArray, place: int, level: float, step: int) -> float | None:
    """Frequency [MHz] at which the SWR first rises through a level, on one side of the dip; None: nowhere."""
    here = place
    while 0 <= here + step < swr.size:
        following = here + step
        if swr[following] >= level:
            part = (level - swr[here]) / (swr[following] - swr[here])
            return float(frequency[here] + part * (frequency[following] - frequency[here]))
        here = following
    return None


def _low_side(sweep: Sweep, place: int, line: FeedlineSpec, at_antenna: bool) -> bool | None:
    """Side of the match: True where the circle of the reflection encloses the chart's centre (r < 1)."""
    if sweep.swr[place] >= 3.0:
        return None
    low, high = (_crossing(sweep.frequency_mhz, sweep.swr, place, 3.0, step) for step in (-1, 1))
    inside = np.ones(sweep.swr.size, dtype=bool)
    if low is not None:
        inside &= sweep.frequency_mhz >= low
    if high is not None:
        inside &= sweep.frequency_mhz <= high
    if np.count_nonzero(inside) < 5:
        return None
    points = sweep.reflection[inside]
    if not at_antenna:
        there_and_back_s = 2.0 * line.length_m / (SPEED_OF_LIGHT_M_PER_S * VELOCITY_FACTOR)
        turns = 1.0e6 * sweep.frequency_mhz[inside] * there_and_back_s
        points = points * np.exp(2j * np.pi * turns)
    # circle by least squares: |z|^2 = 2 Re(conj(c) z) + (radius^2 - |c|^2)
    system = np.stack([2.0 * points.real, 2.0 * points.imag, np.ones(points.size)], axis=1)
    (x, y, rest), *_ = np.linalg.lstsq(system, np.abs(points) ** 2, rcond=None)
    centre = float(np.hypot(x, y))
    radius = float(np.sqrt(max(rest + centre**2, 0.0)))
    if abs(centre - radius) < 0.01:
        return None
    return centre < radius
