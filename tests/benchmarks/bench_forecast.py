"""Speed and memory of the forecast and of long lists of circuits, as ratios to P (see reference_unit).

Run by hand: python tests/benchmarks/bench_forecast.py [world] [circuits] [between] [profile]
Without a word all but the profile is run; `between` holds regions laid through their half hours against every
ten minutes computed. The peak memory is that of the whole process so far
(`resource.getrusage`), PyIRI and everything else included, so the parts run in the order of their appetite.
"""

from __future__ import annotations

import cProfile
import pstats
import resource
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from reference_unit import PLACES, grid, least_seconds, report, unit_p_seconds

from propagation.advice.region_chance import outlook
from propagation.base.units import FloatArray, TimeArray
from propagation.geo.places import resolve
from propagation.geo.regions import Target, make_target
from propagation.signal.chances import forecast as engine
from propagation.signal.chances import time_interpolation
from propagation.signal.chances.forecast import day_times, forecast
from propagation.signal.chances.many_circuits import Rows, many_circuits
from propagation.signal.chances.request import Request
from propagation.signal.chances.time_interpolation import on_times
from propagation.space_weather.state.conditions import built_in, typed_in
from propagation.station import station as stations
from propagation.station.terminals import far_terminal, own_terminal

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "station.toml"
DAY = np.datetime64("2026-03-20", "s")
ROWS = 100_000


def target_of(lat_deg: FloatArray, lon_deg: FloatArray) -> Target:
    """Points of equal weight."""
    names = [f"point {i}" for i in range(lat_deg.size)]
    return make_target("grid", "region", lat_deg, lon_deg, np.ones(lat_deg.size), names)


def peak_mb() -> float:
    """Largest memory this process has held [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def main(words: list[str]) -> None:
    everything = not words
    unit = unit_p_seconds()
    print(
        f"P = {unit:.3f} s: PyIRI's monthly means, {PLACES} places x 24 h; memory so far {peak_mb():.0f} MB"
    )
    station = stations.load(DEMO)
    near, far = own_terminal(station), far_terminal(station.far_end)
    conditions = typed_in(ssn=120.0, kp=2.0)
    hours = DAY + np.arange(24) * np.timedelta64(3600, "s")
    tens = DAY + np.arange(144) * np.timedelta64(600, "s")
    friend = target_of(np.array([-34.5]), np.array([-55.5]))

    def one(times: TimeArray, target: Target = friend) -> Callable[[], object]:
        return lambda: forecast(Request(station, target, times, conditions, near=near, far=far))

    if everything or "one" in words:
        report("one target, 24 h x 12 bands, both routes and directions", least_seconds(one(hours)), unit)
        report("one target, 24 h in 10-minute steps x 12 bands, the same", least_seconds(one(tens)), unit)
    if everything or "circuits" in words:
        report_circuits(unit)
    if everything or "world" in words:
        lat, lon = grid()
        world = target_of(lat, lon)
        seconds = least_seconds(one(hours, world), 1)
        report(f"the world: {PLACES} places x 24 h x 12 bands, both routes", seconds, unit)
        print(f"  memory so far {peak_mb():.0f} MB")
    if everything or "between" in words:
        report_between(station)
    if "profile" in words:
        lat, lon = grid()
        some = target_of(lat[::27], lon[::27])
        engine.in_blocks = _one_after_another  # type: ignore[attr-defined]
        forecast(Request(station, some, hours, conditions, near=near, far=far))
        profile = cProfile.Profile()
        profile.runcall(forecast, Request(station, some, hours, conditions, near=near, far=far))
        pstats.Stats(profile).sort_stats("tottime").print_stats(25)


def _one_after_another(work: Callable[[Any], None], blocks: Sequence[Any]) -> None:
    """Blocks without threads, into which a profile does not look."""
    for block in blocks:
        work(block)


def report_between(station: stations.Station) -> None:
    """How far what lies between the half hours is from what is computed there: chances and outlooks."""
    laid = time_interpolation.between_times
    usual: list[FloatArray] = []
    told: list[FloatArray] = []
    for day in ("2026-03-20", "2026-06-21", "2026-12-12"):
        times = day_times(np.datetime64(day, "s"), 24.0, np.timedelta64(600, "s"))
        for name in ("europe", "anyone", "South Africa", "within 500 km"):
            found = []
            for between in (laid, lambda times, sudden: on_times(times)):
                vars(engine)["between_times"] = between
                result = forecast(
                    Request(station, resolve(name, station.site.position), times, built_in(times))
                )
                found.append((result.chance[..., result.usable], outlook(result).chance[:, result.usable]))
            vars(engine)["between_times"] = laid
            usual.append(np.abs(found[0][0] - found[1][0]).ravel())
            told.append(np.abs(found[0][1] - found[1][1]).ravel())
    for what, parts in (("chance of a point", usual), ("outlook of the region", told)):
        share = [float(np.mean(part > 0.02)) for part in parts]
        most = max(float(part.max()) for part in parts)
        off = f"{min(share):.2%} to {max(share):.2%}"
        print(f"between half hours, {what}: over 0.02 off in {off}, most {most:.3f}")


def report_circuits(unit: float) -> None:
    """Rows all over the world and over a year, 1.8 to 28 MHz."""
    rng = np.random.default_rng(1)
    lat1, lat2 = (np.degrees(np.arcsin(rng.uniform(-0.98, 0.98, ROWS))) for _ in range(2))
    lon1, lon2 = (rng.uniform(-180.0, 180.0, ROWS) for _ in range(2))
    times = np.datetime64("2024-01-01", "s") + rng.integers(0, 366 * 1440, ROWS) * np.timedelta64(60, "s")
    mhz = rng.choice([1.84, 3.6, 7.1, 10.12, 14.2, 18.1, 21.2, 24.9, 28.4], ROWS)
    conditions = typed_in(ssn=120.0, kp=2.0)

    def run() -> object:
        rows = Rows(lat1, lon1, lat2, lon2, times, mhz, np.full(ROWS, 37.0))
        return many_circuits(rows, conditions, -26.0)

    report(f"circuits, {ROWS} rows anywhere", least_seconds(run, 1), unit)
    print(f"  memory so far {peak_mb():.0f} MB")
    # most reports are of paths under 4000 km: places drawn within some 20 degrees of the first
    lat2, lon2 = np.clip(lat1 + rng.normal(0.0, 12.0, ROWS), -89.0, 89.0), lon1 + rng.normal(0.0, 20.0, ROWS)
    report(f"circuits, {ROWS} rows mostly under 5000 km", least_seconds(run, 1), unit)
    print(f"  memory so far {peak_mb():.0f} MB")


if __name__ == "__main__":
    main(sys.argv[1:])
