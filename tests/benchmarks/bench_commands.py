"""Commands from cold, and the long list: processor time as ratios, and the peak memory of a list of circuits.

A command's processor time counts its threads together and is steadier than wall time where the machine has
other work; on two free cores a region's wall time is less. `first` has the antenna to solve, `again` not.

Run by hand: python tests/benchmarks/bench_commands.py [ROWS]
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from reference_unit import report, unit_p_seconds

ROOT = Path(__file__).resolve().parents[2]
MEGACYCLES = ("3.57", "7.04", "10.14", "14.097", "18.106", "21.096", "28.126")
BASE = ["-c", "import textual.app, numpy"]  # what a terminal program of this kind imports at the least
COMMANDS: tuple[tuple[str, list[str], float | None], ...] = (  # what, the command, ratio wanted of `again`
    ("sky", ["sky", "--at", "KG40"], None),
    ("path", ["path", "--from", "KG40", "--to", "GF25"], None),
    ("antenna", ["antenna"], None),
    ("advise, a point", ["advise", "--to", "GF25"], 1.5),
    ("advise, a continent", ["advise", "--to", "Europe"], 1.8),
    ("why", ["why", "--to", "GF25", "--band", "20m", "--at", "2026-03-20T18:00Z"], None),
)


def seconds(arguments: list[str], repeats: int = 3) -> float:
    """Wall time of the quickest of a few runs of a fresh interpreter [s]."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        subprocess.run(
            [sys.executable, *arguments],
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=False,
        )
        times.append(time.perf_counter() - start)
    return min(times)


def processor_seconds(arguments: list[str], repeats: int = 3) -> float:
    """Processor time of the cheapest of a few runs of a fresh interpreter, its threads together [s]."""
    times = []
    for _ in range(repeats):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        seconds(arguments, 1)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(times)


def write_rows(file: Path, count: int) -> None:
    """Invented circuits all over the globe and the year."""
    rng = np.random.default_rng(1)

    def places() -> list[str]:
        fields = np.array(list("ABCDEFGHIJKLMNOPQR"))
        lon, lat = fields[rng.integers(0, 18, count)], fields[rng.integers(3, 16, count)]
        return [f"{a}{b}{n:02}" for a, b, n in zip(lon, lat, rng.integers(0, 100, count), strict=True)]

    minutes = np.datetime64("2025-01-01T00:00") + rng.integers(0, 365 * 1440, count)
    with open(file, "w", encoding="utf-8") as out:
        out.write("time,tx,rx,frequency_mhz,power_dbm\n")
        for minute, tx, rx, mhz in zip(
            minutes, places(), places(), rng.choice(MEGACYCLES, count), strict=True
        ):
            out.write(f"{minute}Z,{tx},{rx},{mhz},37\n")


def main() -> None:
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000  # 100000 takes half a minute more
    unit = unit_p_seconds()
    print(f"P = {unit:.3f} s")
    base = processor_seconds(BASE)
    print(f"import textual.app, numpy in a fresh interpreter: {base:.3f} s")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["BANDWHEN_HOME"] = folder
        print(f"{'times that':<22}{'first':>7}{'again':>7}{'wanted':>8}")
        for what, command, wanted in COMMANDS:
            first = processor_seconds(["-m", "tui", *command], 1)
            again = processor_seconds(["-m", "tui", *command])
            told = "" if wanted is None else f"{wanted:.1f}"
            print(f"{what:<22}{first / base:7.2f}{again / base:7.2f}{told:>8}")
        file = Path(folder) / "rows.csv"
        write_rows(file, rows)
        taken = seconds(["-m", "tui", "circuits", str(file)], 1)
        report(f"circuits, {rows} rows", taken, unit)
        peak_kb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
        print(f"  peak memory of any of these processes: {peak_kb / 1024:.0f} MB")


if __name__ == "__main__":
    main()
