"""Make igrf14.npz from the coefficient file IGRF14.shc.

Usage: python propagation/data/builders/igrf14.py [path/to/IGRF14.shc]
Without an argument the copy inside the installed ppigrf package is read. See igrf14.provenance.md.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np

DEGREE = 13  # highest degree and order of the model


def read_shc(text: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Epochs [years], and g and h [nT] of shape (epochs, degree + 1, order + 1), from an SHC file's text."""
    lines = [line.split() for line in text.splitlines() if line.strip() and not line.startswith("#")]
    lowest, highest, count = (int(word) for word in lines[0][:3])
    if (lowest, highest) != (1, DEGREE):
        raise SystemExit(f"expected degrees 1 to {DEGREE}, found {lowest} to {highest}")
    years = np.array([float(word) for word in lines[1]])
    if years.size != count:
        raise SystemExit(f"expected {count} epochs, found {years.size}")
    g = np.zeros((count, DEGREE + 1, DEGREE + 1))
    h = np.zeros_like(g)
    seen = 0
    for n, m, *values in lines[2:]:
        if len(values) != count:
            raise SystemExit(f"degree {n} order {m}: expected {count} values, found {len(values)}")
        order = int(m)  # negative orders hold the sine terms
        (g if order >= 0 else h)[:, int(n), abs(order)] = [float(value) for value in values]
        seen += 1
    if seen != DEGREE * (DEGREE + 2):
        raise SystemExit(f"expected {DEGREE * (DEGREE + 2)} coefficients, found {seen}")
    return years, g, h


def main() -> None:
    """Read the coefficient file named on the command line, or ppigrf's, and write the compressed table."""
    if len(sys.argv) > 1:
        source = Path(sys.argv[1])
    else:
        spec = importlib.util.find_spec("ppigrf")
        if spec is None or spec.origin is None:
            raise SystemExit("give the path of IGRF14.shc, or install ppigrf")
        source = Path(spec.origin).with_name("IGRF14.shc")
    years, g, h = read_shc(source.read_text(encoding="ascii"))
    target = Path(__file__).parent.parent / "igrf14.npz"
    np.savez_compressed(target, years=years, g=g, h=h)
    print(f"{target}: {years.size} epochs, {target.stat().st_size} bytes, from {source}")


if __name__ == "__main__":
    main()
