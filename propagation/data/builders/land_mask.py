"""Make `land_mask.npz`, land or sea on a quarter-degree grid, from a file of coast lines.

Run manually when the coast lines or their layout change:

    npm pack world-atlas@2.0.2 && tar xzf world-atlas-2.0.2.tgz
    python -m propagation.data.builders.land_mask package/land-50m.json

The file is TopoJSON: rings of the land are lists of arcs, arcs are lists of steps in whole numbers. Lakes
count as land; the Caspian Sea is a hole in the land, so it counts as sea.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray

OUTPUT: Final = Path(__file__).parent.parent / "land_mask.npz"
CELLS_PER_DEG: Final = 4
ROWS: Final = 180 * CELLS_PER_DEG  # from 90 N down
COLUMNS: Final = 360 * CELLS_PER_DEG  # from 180 W eastward


def read_rings(topology: dict[str, Any]) -> list[FloatArray]:
    """Rings of the land, (n, 2) of longitude and latitude [deg]; longitudes are continuous across 180 deg."""
    scale, shift = np.array(topology["transform"]["scale"]), np.array(topology["transform"]["translate"])
    arcs = [np.cumsum(np.array(arc), axis=0) * scale + shift for arc in topology["arcs"]]

    def ring(indices: list[int]) -> FloatArray:
        pieces = [arcs[i] if i >= 0 else arcs[~i][::-1] for i in indices]
        points = np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])
        points[:, 0] = np.unwrap(points[:, 0], period=360.0)
        return points

    rings: list[FloatArray] = []
    for geometry in topology["objects"]["land"]["geometries"]:
        polygons = geometry["arcs"] if geometry["type"] == "MultiPolygon" else [geometry["arcs"]]
        rings.extend(ring(indices) for polygon in polygons for indices in polygon)
    return rings


def close_at_pole(ring: FloatArray) -> FloatArray:
    """Close a ring once round the Earth (Antarctica) through the pole; return others unchanged."""
    if abs(ring[-1, 0] - ring[0, 0]) < 180.0:
        return ring
    return np.concatenate([ring, [[ring[-1, 0], -90.0], [ring[0, 0], -90.0], ring[0]]])


def fill(rings: list[FloatArray]) -> BoolArray:
    """Land at the middle of each cell [ROWS, COLUMNS]: an odd number of coasts is west of it."""
    coasts = np.zeros((ROWS, 5 * COLUMNS), dtype=np.int64)  # two turns west and two east, then folded
    for ring in map(close_at_pole, rings):
        x = (
            (ring[:, 0] + 180.0) * CELLS_PER_DEG - 0.5 + 2 * COLUMNS
        )  # in cells, whole at the middle of a cell
        y = (90.0 - ring[:, 1]) * CELLS_PER_DEG - 0.5
        for x0, y0, x1, y1 in zip(x[:-1], y[:-1], x[1:], y[1:], strict=True):
            if y0 > y1:
                x0, y0, x1, y1 = x1, y1, x0, y0
            rows = np.arange(max(int(np.ceil(y0)), 0), min(int(np.ceil(y1)), ROWS))
            if rows.size:
                crossing = x0 + (rows - y0) * (x1 - x0) / (y1 - y0)
                np.add.at(coasts, (rows, np.ceil(crossing).astype(np.int64)), 1)
    inside = np.cumsum(coasts, axis=1).reshape(ROWS, 5, COLUMNS).sum(axis=1)
    land: BoolArray = inside % 2 == 1
    return land


def main(arguments: list[str]) -> None:
    """Write the .npz file into the folder above."""
    land = fill(read_rings(json.loads(Path(arguments[0]).read_text("utf-8"))))
    np.savez_compressed(OUTPUT, land=np.packbits(land, axis=1))
    share = float(np.average(land.mean(axis=1), weights=np.cos(np.deg2rad(90 - (np.arange(ROWS) + 0.5) / 4))))
    print(f"{OUTPUT.name}: {OUTPUT.stat().st_size} bytes, land {100.0 * share:.1f} % of the Earth")


if __name__ == "__main__":
    main(sys.argv[1:])
