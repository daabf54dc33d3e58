"""How long a season takes, and a contact on its way to the disk: seconds, and ratios to P (`reference_unit`).

Run by hand: python tests/benchmarks/bench_season.py
Wanted on two quiet cores: a year to one target under 2 s, to a continent under 8 s; a contact under 20 ms.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the program sets it

import numpy as np
from reference_unit import report, unit_p_seconds

from propagation.advice.season import hours_of, months_ahead, season
from propagation.advice.sked import Party, party_of_station
from propagation.base import files
from propagation.geo.places import resolve
from propagation.logbook import journal
from propagation.signal.chances.request import Request
from propagation.space_weather.state.conditions import built_in
from propagation.station import station as stations
from propagation.station.terminals import far_terminal, own_terminal

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "station.toml"
START = np.datetime64("2026-03-20")
CONTACTS = 50


def both_clocks(work: Callable[[], object]) -> tuple[float, float]:
    """Wall and processor time of one run [s]."""
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - cpu


def main() -> None:
    own = stations.load(DEMO)
    near, far = own_terminal(own), far_terminal(own.far_end)
    months = months_ahead(START)
    hours = hours_of(months).ravel()
    sky = built_in(hours)
    home = party_of_station(own)
    unit = unit_p_seconds(1)
    near.receive_efficiency(np.array([14.2]))  # the antenna is worked out once and kept
    for name, wanted in (("GF25", 2.0), ("Europe", 8.0)):
        target = resolve(name)
        other = None if target.is_region else Party(name, target.centre, home.zone)

        def year(target: object = target, other: Party | None = other) -> None:
            season(Request(own, target, hours, sky, near=near, far=far), home, other)  # type: ignore[arg-type]

        wall, cpu = both_clocks(year)
        report(f"a year to {name}, three predictions", wall, unit)
        print(f"    {wall:.1f} s ({cpu:.1f} s of processor time), wanted {wanted:g} s")
    with tempfile.TemporaryDirectory() as folder:
        one = journal.Worked("ZS1TEST", "59", "59", START.astype("datetime64[s]"), "20m", 14.2, "SSB", 5.0)
        file = Path(folder) / "outing.adi"
        times = [
            both_clocks(lambda: files.append(file, journal.record(one), journal.header()))[0]
            for _ in range(CONTACTS)
        ]
    print(f"a contact to the disk: median {np.median(times) * 1e3:.1f} ms, slowest {max(times) * 1e3:.1f} ms")


if __name__ == "__main__":
    main()
