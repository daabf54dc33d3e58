"""Compute the demo's antennas in advance: those of its station, its friend and an ordinary far end.

Run from the root: python -m propagation.data.builders.demo_antennas
The result shortens the first start; `tests/test_tui/test_demo_antennas.py` compares it with the solver.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from propagation.antennas import solution_cache
from propagation.signal.chances.forecast import computed_mhz
from propagation.spectrum.bands import BANDS
from propagation.station import station
from propagation.station.terminals import far_terminal, own_terminal

DEMO = Path(__file__).resolve().parents[3] / "fixtures" / "demo"
FILE = DEMO / "antennas.npz"


def solve() -> bytes:
    """Solve all bands, on the frequencies of the demo's mode; return the bytes to be stored."""
    solution_cache.forget()
    own = station.load(DEMO / "station.toml")
    frequency = np.array([computed_mhz(own, band, own.rig.emission) for band in BANDS])
    friend = own_terminal(station.load(DEMO / "friend.toml"))
    for end in (own_terminal(own), friend, far_terminal(own.far_end)):
        end.receive_efficiency(frequency)
    return solution_cache.dump()


if __name__ == "__main__":
    FILE.write_bytes(solve())
    print(f"{FILE}: {FILE.stat().st_size} bytes")
