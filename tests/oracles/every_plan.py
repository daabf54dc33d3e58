"""The best of all plans for a day, by trying each."""

from __future__ import annotations

import numpy as np

from propagation.advice.switching import Rewards
from propagation.base.units import FloatArray


def earned(made: Rewards, band: int, start_min: float, end_min: float) -> float:
    """The integral of a band's reward by a fine sum of trapezoids, its own way of doing it."""
    if end_min <= start_min:
        return 0.0
    corners = made.minutes[(made.minutes > start_min) & (made.minutes < end_min)]
    x = np.concatenate(([start_min], corners, [end_min]))
    y = np.interp(x, made.minutes, made.reward[:, band])
    return float(np.sum(np.diff(x) * (y[1:] + y[:-1])) / 2.0)


def best_of_all(made: Rewards, cost: FloatArray, least: float, current: int | None) -> float:
    """The greatest reward over every sequence of stays, by trying each."""
    minutes = made.minutes
    least = min(least, float(minutes[-1]))
    best = -1.0

    def go(t: int, before: int | None, so_far: float) -> None:
        nonlocal best
        if t == minutes.size - 1:
            best = max(best, so_far)
            return
        for band in range(len(made.bands)):
            if band == before:
                continue
            if before is not None:
                lost = float(cost[before, band])
            else:
                lost = 0.0 if current in (None, band) else float(cost[current, band])
            if not np.isfinite(lost):
                continue
            for end in range(t + 1, minutes.size):
                if minutes[end] - minutes[t] - lost >= least - 1e-9:
                    ready = min(minutes[t] + lost, minutes[end])
                    go(end, band, so_far + earned(made, band, ready, float(minutes[end])))

    go(0, None, 0.0)
    return best
