"""What a measured density frame is worth on drawn days, and what it costs.

Run by hand from the root: python tests/benchmarks/bench_measured_sky.py; half a minute. The days are drawn
from published statistics (`tests/sky_days.py`); the frame is half an hour old at the first of the hours.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "test_propagation")]

import test_measured_layer as drawn  # noqa: E402
from worlds import demo  # noqa: E402

from propagation.base.store import Store  # noqa: E402
from propagation.geo.places import resolve  # noqa: E402
from propagation.ionosphere import conditions_today  # noqa: E402
from propagation.signal.chances.forecast import day_times, forecast  # noqa: E402
from propagation.signal.chances.request import Request  # noqa: E402
from propagation.space_weather.sources.hosts import day_copy  # noqa: E402
from propagation.space_weather.state.conditions import Conditions  # noqa: E402
from propagation.space_weather.state.measured_conditions import alike  # noqa: E402


def main() -> None:
    error()
    calibration()
    cost()


def error() -> None:
    """The error of foF2 against that of the usual layer, as mean square and as root mean square."""
    usual, measured = drawn.belt_errors()
    left = measured / usual
    hours = np.array([0.5, 1.5, 2.5, 3.5, 6.5])
    print("Error of ln foF2 where it was observed, of the usual layer's, at hours after the frame")
    print("   hours   now+   mean square   root   least there can be (perfect frame), root")
    for hour, share in zip(hours, left, strict=True):
        least = np.sqrt(1.0 - float(alike(hour)) ** 2) if hour < 6.0 else 1.0
        print(f"   {hour:5.1f}  {hour - 0.5:5.1f}   {share:11.2f}   {np.sqrt(share):4.2f}   {least:4.2f}")


def calibration() -> None:
    """Chances promised and kept, in steps of the promise, and how near they are to the day."""
    usual, measured, kept = drawn.promised_and_kept()
    print("Chance promised and kept in the first three hours, by the measured layer")
    edges = [0.0, 0.02, 0.1, 0.25, 0.5, 0.75, 0.9]
    for low, high in pairwise(edges):
        cells = (measured >= low) & (measured < high)
        print(f"   {low:4.2f} to {high:4.2f}: {measured[cells].mean():.3f} {kept[cells].mean():.3f}")
    for name, one in (("usual", usual), ("measured", measured)):
        by_hour = np.mean((one - kept) ** 2, axis=(0, 1, 3))
        print(f"   mean square from the day's own chance, {name}:", " ".join(f"{x:.4f}" for x in by_hour))


def cost() -> None:
    """Processor time that stored frames add to the first answer."""
    own = demo()
    start = np.datetime64("2026-11-28T10:00", "s")
    times, now = day_times(start, 24.0, np.timedelta64(600, "s")), start + np.timedelta64(1200, "s")
    with tempfile.TemporaryDirectory() as folder:
        empty, full = Store(Path(folder) / "empty"), Store(Path(folder) / "full")
        drawn.keep(full, drawn.lower_frame(start), "measured-density")
        for day in range(1, 4):
            before = start - day * 24 * drawn.HOUR
            drawn.keep(full, drawn.lower_frame(before), day_copy(before))
        states: list[Conditions] = []
        for name, store in (("none", empty), ("four frames", full)):
            spent = _least(lambda store=store: states.append(conditions_today.best(store, times, now)))  # type: ignore[misc]
            print(f"   conditions with {name}: {1000.0 * spent:.1f} ms")
        plain, measured = states[0], states[-1]
        for target in ("Montevideo", "europe"):
            where = resolve(target, own.site.position)
            without = _least(lambda where=where: forecast(Request(own, where, times, plain)))  # type: ignore[misc]
            with_it = _least(lambda where=where: forecast(Request(own, where, times, measured)))  # type: ignore[misc]
            print(f"   {target}: {1000.0 * (with_it - without):+.0f} ms, ratio {with_it / without:.3f}")


def _least(work: Callable[[], object], rounds: int = 4) -> float:
    """The least processor time of a few rounds [s]."""
    spent = []
    for _ in range(rounds):
        before = time.process_time()
        work()
        spent.append(time.process_time() - before)
    return min(spent)


if __name__ == "__main__":
    main()
