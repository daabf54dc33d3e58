"""Commands from cold, and the long list: processor time as ratios, and the peak memory of a list of circuits.

A command's processor time counts its threads together and is steadier than wall time where the machine has
other work; on two free cores a region's wall time is less. `first` is a user's first run: byte code to be
compiled, antenna to be solved; `again` every later one. Base and command alternate, and the ratio is the
median of the pairs. The list is told in P by processor time, of two threads together.

Run by hand: python tests/benchmarks/bench_commands.py [ROWS]
"""

from __future__ import annotations

import os
import resource
import statistics
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
PAIRS = 7  # runs of base and command, in turn
COMMANDS: tuple[tuple[str, list[str], float | None], ...] = (  # what, the command, ratio wanted of `again`
    ("sky", ["sky", "--at", "KG40"], 1.1),
    ("path", ["path", "--from", "KG40", "--to", "GF25"], None),
    ("antenna", ["antenna"], None),
    ("advise, a point", ["advise", "--to", "GF25"], 1.4),
    ("advise, a continent", ["advise", "--to", "Europe"], 2.0),
    ("plan, a continent", ["plan", "--to", "Europe"], 1.8),
    ("why", ["why", "--to", "GF25", "--band", "20m", "--at", "2026-03-20T18:00Z"], 1.6),
)


def environment(folder: str) -> dict[str, str]:
    """Environment of a user: a home and a cache of byte code of its own, which a first run fills."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return kept | {
        "BANDWHEN_HOME": str(Path(folder) / "home"),
        "PYTHONPYCACHEPREFIX": str(Path(folder) / "byte code"),
    }


def processor_seconds(arguments: list[str], folder: str) -> float:
    """Processor time of a fresh interpreter, its threads together [s]."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT,
        env=environment(folder),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=False,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def ratios(command: list[str], folder: str) -> tuple[float, float]:
    """Processor time of the first run, and of later ones, over that of the base."""
    processor_seconds(BASE, folder)
    first = processor_seconds(["-m", "tui", *command], folder) / processor_seconds(BASE, folder)
    again = [
        processor_seconds(["-m", "tui", *command], folder) / processor_seconds(BASE, folder)
        for _ in range(PAIRS)
    ]
    return first, statistics.median(again)


def write_rows(file: Path, count: int) -> None:
    """Invented circuits all over the globe and the year."""
    rng = np.random.default_rng(1)

    def places() -> list[str]:
        fields = np.array(list("ABCDEFGHIJKLMNOPQR"))
        lon, lat = fields[rng.integers(0, 18, count)], fields[rng.integers(3, 16, count)]
        return [f"{a}{b}{n:02}" for a, b, n in zip(lon, lat, rng.integers(0, 100, count), strict=True)]

    minutes = np.datetime64("2025-01-01T00:00") + rng.integers(0, 365 * 1440, count).astype("timedelta64[m]")
    with open(file, "w", encoding="utf-8") as out:
        out.write("time,tx,rx,frequency_mhz,power_dbm\n")
        for minute, tx, rx, mhz in zip(
            minutes, places(), places(), rng.choice(MEGACYCLES, count), strict=True
        ):
            out.write(f"{minute}Z,{tx},{rx},{mhz},37\n")


def main() -> None:
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000  # 100000 takes half a minute more
    unit = unit_p_seconds(clock=time.process_time)
    print(f"P = {unit:.3f} s of processor time")
    print(f"{'times importing textual.app and numpy':<40}{'first':>7}{'again':>7}{'wanted':>8}")
    for what, command, wanted in COMMANDS:
        with tempfile.TemporaryDirectory() as folder:
            first, again = ratios(command, folder)
        told = "" if wanted is None else f"{wanted:.1f}"
        print(f"{what:<40}{first:7.2f}{again:7.2f}{told:>8}")
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "rows.csv"
        write_rows(file, rows)
        processor_seconds(["-m", "tui", "sky", "--at", "KG40"], folder)
        report(
            f"circuits, {rows} rows", processor_seconds(["-m", "tui", "circuits", str(file)], folder), unit
        )
    peak_kb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    print(f"  peak memory of any of these processes: {peak_kb / 1024:.0f} MB")


if __name__ == "__main__":
    main()
