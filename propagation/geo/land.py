"""Land or sea at points, for the ground reflections of a ray path.

The mask has quarter-degree cells (28 km at the equator), made from public-domain coast lines; see
`data/land_mask.provenance.md`. A cell's middle decides, so narrow straits and small islands are lost.
Lakes count as land.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, FloatLike, IntArray, as_float, wrap_longitude_deg

MASK: Final = Path(__file__).parent.parent / "data" / "land_mask.npz"
CELLS_PER_DEG: Final = 4  # cells of the mask in a degree of latitude or longitude


@lru_cache(maxsize=1)
def _land() -> BoolArray:
    """Land by cell [720 rows from 90 N, 1440 columns from 180 W]."""
    with np.load(MASK) as archive:
        return np.unpackbits(archive["land"], axis=1).astype(np.bool_)


def is_land(lat_deg: FloatLike, lon_deg: FloatLike) -> BoolArray:
    """Return whether points are on land.

    lat_deg, lon_deg [deg] broadcast; any multiple of 360 may be added to longitudes; latitudes are clipped to
    -90..90. NaN gives False.
    """
    lat, lon = np.broadcast_arrays(as_float(lat_deg), as_float(lon_deg))
    known = np.isfinite(lat) & np.isfinite(lon)
    land = _land()
    rows, columns = land.shape
    down = (90.0 - np.where(known, lat, 0.0)) * CELLS_PER_DEG
    east = (wrap_longitude_deg(np.where(known, lon, 0.0)) + 180.0) * CELLS_PER_DEG
    row = np.clip(down.astype(np.intp), 0, rows - 1)
    column = np.clip(east.astype(np.intp), 0, columns - 1)
    return np.asarray(land[row, column] & known)


def is_sea(lat_deg: FloatLike, lon_deg: FloatLike) -> BoolArray:
    """Return whether points are on the sea; NaN gives False. See `is_land`."""
    lat, lon = as_float(lat_deg), as_float(lon_deg)
    return ~is_land(lat, lon) & np.isfinite(lat) & np.isfinite(lon)


@lru_cache(maxsize=1)
def _sea_near() -> IntArray:
    """Count of sea cells among the nine around each cell, flattened; columns wrap, end rows are repeated."""
    sea = np.pad(~_land(), ((0, 0), (1, 1)), mode="wrap").astype(np.int8)
    sea = np.pad(sea, ((1, 1), (0, 0)), mode="edge")
    down = sea[:-2] + sea[1:-1] + sea[2:]
    return np.ascontiguousarray(down[:, :-2] + down[:, 1:-1] + down[:, 2:]).ravel()


def sea_share(lat_deg: FloatLike, lon_deg: FloatLike) -> FloatArray:
    """Share of sea around points, 0 (land) to 1 (sea): mean over the nine cells of the mask around each.

    lat_deg, lon_deg [deg] broadcast and must be finite. Any multiple of 360 may be added to longitudes;
    latitudes are clipped to -90..90. A ground reflection involves an area, not a point. The mean also changes
    in three small steps at a coast instead of one.
    """
    rows, columns = _land().shape
    down = np.clip((90.0 - as_float(lat_deg)) * CELLS_PER_DEG, 0.0, rows - 1.0).astype(np.intp)
    east = (wrap_longitude_deg(lon_deg) + 180.0) * CELLS_PER_DEG
    column = np.minimum(east.astype(np.intp), columns - 1)
    return as_float(_sea_near()[down * columns + column] / 9.0)
