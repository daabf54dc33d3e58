"""How the forecast's levels agree with 12,409 measured monthly medians of field strength.

Run by hand from the root: python tests/benchmarks/bench_field_strength.py [--without K | --only K] [cells]
Some ten seconds. Measured less predicted, as Recommendation ITU-R P.1148 asks: count, mean difference,
standard deviation, root mean square, by classes. K (0, 1 or 2) is a third of the pairs of places: a constant
is chosen `--without K` and reported with `--only K`, in turn. `cells` prints distance, light and frequency
over MUF together too.
"""

from __future__ import annotations

import argparse
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import field_strength  # noqa: E402

HEADS = " count   mean   dev   rms"


def main(words: list[str]) -> None:
    parser = argparse.ArgumentParser(description="Levels against measured field strengths.")
    thirds = range(field_strength.FOLDS)
    part = parser.add_mutually_exclusive_group()
    part.add_argument("--without", type=int, choices=thirds, help="leave this third of the pairs out")
    part.add_argument("--only", type=int, choices=thirds, help="score this third of the pairs alone")
    parser.add_argument("cells", nargs="?", choices=("cells",), help="all cells of 8 values or more")
    chosen = parser.parse_args(words)
    whole = field_strength.comparison()
    fold = field_strength.fold_of(whole.bank)
    if chosen.without is not None:
        whole = whole.of(fold != chosen.without)
    elif chosen.only is not None:
        whole = whole.of(fold == chosen.only)
    overview(whole, fold)
    by_class(whole)
    within_circuits(whole)
    if chosen.cells:
        cells(whole)


def overview(whole: field_strength.Comparison, fold: np.ndarray) -> None:
    """All values, the near, the far, and each third of the pairs."""
    km = whole.distance_km
    print(f"Monthly median field, measured less predicted, dB                {HEADS}")
    for name, mask in (
        ("all", km > 0.0),
        ("under 4000 km", km < 4000.0),
        ("4000 to 9000 km", (km >= 4000.0) & (km < 9000.0)),
        ("over 9000 km", km >= 9000.0),
        *((f"third {k} of the pairs of places", fold == k) for k in range(field_strength.FOLDS)),
    ):
        found = whole.score(mask)
        if found.count:
            print(f"  {name:<62} {found}")


def by_class(whole: field_strength.Comparison) -> None:
    """A row for every class."""
    heading = ""
    for quantity, name, found in whole.classes():
        if quantity != heading:
            heading = quantity
            print(f"  by {heading}")
        print(f"    {name:<60} {found}")


def within_circuits(whole: field_strength.Comparison) -> None:
    """Correlation over the hours, and the error of the level, of circuit-months."""
    print(
        f"  within a circuit-month: correlation over the hours ({field_strength.CORRELATION_HOURS} or more), "
        "and error of the level"
    )
    print("    km                months    mean  median       months    mean     dev")
    edges = field_strength.FAR_CLASSES_KM
    for low, high in (*pairwise(edges), (9000.0, edges[-1])):
        shape, level = whole.correlations(low, high), whole.levels(low, high)
        if shape.size and level.size:
            print(
                f"    {low:6.0f} to {high:<6.0f} {shape.size:8d} {shape.mean():7.3f} {np.median(shape):7.3f}"
                f"     {level.size:8d} {level.mean():+7.1f} {level.std():7.1f}"
            )


def cells(whole: field_strength.Comparison) -> None:
    """A row for every cell of 8 values or more."""
    print("  by distance, light and frequency over MUF together")
    for where, ratio, found in whole.cells():
        if found.count >= 8:
            print(f"    {where:<34} {ratio:<25} {found}")


if __name__ == "__main__":
    main(sys.argv[1:])
