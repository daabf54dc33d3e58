"""Speed and memory of the numerical maps and of the ionosphere, as ratios to P (see reference_unit).

Run by hand: python tests/benchmarks/bench_maps.py
"""

from __future__ import annotations

import tracemalloc

import numpy as np
from reference_unit import HOURS, PLACES, grid, least_seconds, report, unit_p_seconds

from propagation.geo import geomagnetic, land
from propagation.ionosphere.layers import ionosphere
from propagation.ionosphere.numerical_map import Points, sample

ROWS, POINTS_A_ROW, BLOCK_ROWS = 100_000, 12, 2_000
DAY = np.datetime64("2026-07-15T00", "s") + np.arange(24) * np.timedelta64(3600, "s")


def main() -> None:
    unit = unit_p_seconds()
    print(f"P = {unit:.3f} s: PyIRI's monthly means, {PLACES} places x 24 h")
    lat, lon = grid()
    dip = geomagnetic.field_map(2026.5, 300.0).modified_dip_deg(lat, lon)
    hours = HOURS[:, np.newaxis]

    def maps() -> None:
        points = Points(dip, lat, lon)
        for quantity in ("foF2", "M3000F2"):
            sample(quantity, 7, points).at(hours, 80.0)

    def maps_with_es() -> None:
        points = Points(dip, lat, lon)
        for quantity in ("foF2", "M3000F2", "foEs_lower", "foEs_median", "foEs_upper"):
            sample(quantity, 7, points).at(hours, 80.0)

    times = DAY[:, np.newaxis]
    report("foF2 and M(3000)F2, the same places and hours", least_seconds(maps), unit)
    report("all five maps", least_seconds(maps_with_es), unit)
    report("the whole ionosphere", least_seconds(lambda: ionosphere(lat, lon, times, 80.0)), unit)
    report(
        "the ionosphere without Es",
        least_seconds(lambda: ionosphere(lat, lon, times, 80.0, with_es=False)),
        unit,
    )
    report("a magnetic field map, made once a year and height",
           least_seconds(lambda: geomagnetic.field_map.__wrapped__(2026.5, 300.0)), unit)  # fmt: skip
    report("land or sea at the places", least_seconds(lambda: land.is_sea(lat, lon)), unit)

    rng = np.random.default_rng(1)
    row_lat = np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, (ROWS, POINTS_A_ROW))))
    row_lon = rng.uniform(-180.0, 180.0, (ROWS, POINTS_A_ROW))
    row_time = np.datetime64("2024-01-01", "s") + rng.integers(0, 366 * 1440, (ROWS, 1)) * np.timedelta64(
        60, "s"
    )
    row_r12 = rng.uniform(0.0, 150.0, (ROWS, 1))

    def scattered(with_es: bool) -> None:
        for start in range(0, ROWS, BLOCK_ROWS):
            part = slice(start, start + BLOCK_ROWS)
            ionosphere(row_lat[part], row_lon[part], row_time[part], row_r12[part], 2024.5, with_es=with_es)

    name = f"{ROWS} rows x {POINTS_A_ROW} points, a time each, blocks of {BLOCK_ROWS} rows"
    report(name, least_seconds(lambda: scattered(False), 1), unit)
    report("  the same with Es", least_seconds(lambda: scattered(True), 1), unit)
    tracemalloc.start()
    scattered(True)
    print(f"  peak memory of a block: {tracemalloc.get_traced_memory()[1] / 2**20:.0f} MB")


if __name__ == "__main__":
    main()
