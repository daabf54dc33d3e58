"""How far mirrors are from traced rays: over flat layers, and along the terminator, where layers tilt.

Run by hand from the root: python tests/benchmarks/bench_ray_tracer.py
Half a minute. What is compared: `tests/ray_paths.py`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import ray_paths  # noqa: E402
from ray_paths import Compared, Paths  # noqa: E402

from propagation.base.units import BoolArray, FloatArray  # noqa: E402


def main() -> None:
    for words, count, seed, terminator in (
        ("flat layers", 200, 20, False),
        ("across the terminator", 50, 21, True),
    ):
        paths = ray_paths.draw(count, seed, terminator=terminator)
        _show(f"{count} paths of one and two hops, {words}", paths, ray_paths.compare(paths))


def _show(title: str, paths: Paths, found: Compared) -> None:
    print(title)
    print("  engine against rays: 5, 25, 50, 75, 95 % of the paths; within; paths compared")
    usable = found.open_to_f2 & (found.elevation_deg > 3.0)
    groups = [("all", np.ones(paths.hops.size, dtype=bool))]
    groups += [(f"{hops} hop", paths.hops == hops) for hops in (1, 2)]
    fof2 = paths.samples.fof2_mhz[:, 0]
    rising = fof2[:, -1] > fof2[:, 0]
    groups += [("towards the stronger layer", rising), ("towards the weaker layer", ~rising)]
    for words, of in groups:
        print(f"  {words}:")
        _row("take-off angle, deg", (found.elevation_deg - found.rays_elevation_deg)[of & usable], 0.0, 3.0)
        _row("MUF, ratio", (found.muf_mhz / found.rays_muf_mhz)[of], 1.0, 0.08)
        _row("skip distance, ratio", (found.skip_km / found.rays_skip_km)[of], 1.0, 0.10)
        ground = paths.distance_km / found.rays_ground_km
        _row("range at the engine's angle, ratio", ground[of & usable], 1.0, 0.10)
    lost = usable & np.isnan(found.rays_elevation_deg)
    print(f"  no ray by F2 where the engine has one: {np.count_nonzero(lost)} of {np.count_nonzero(usable)}")
    print(
        f"  rays turned by a layer more often than they landed: {np.mean(found.turns_more):.1%} of the rays,"
        f" on {_share(found.turns_more > 0.0)} of the paths"
    )


def _row(words: str, values: FloatArray, right: float, within: float) -> None:
    known = values[~np.isnan(values)]
    if not known.size:
        print(f"    {words:<36} none")
        return
    spread = " ".join(f"{v:6.2f}" for v in np.percentile(known, [5, 25, 50, 75, 95]))
    share = _share(np.abs(known - right) < within)
    print(f"    {words:<36} {spread}   {share:>4} within {within:g}  {known.size:4d}")


def _share(which: BoolArray) -> str:
    return f"{np.mean(which):.0%}"


if __name__ == "__main__":
    main()
