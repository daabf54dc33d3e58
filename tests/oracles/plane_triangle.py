"""One hop of a ray from a mirror over a sphere, by plane coordinates."""

from __future__ import annotations

import numpy as np

RADIUS_KM = 6371.0  # km, sphere of the great circles


def triangle(hop_km: float, height_km: float) -> tuple[float, float, float]:
    """Elevation [deg], incidence at the mirror [deg] and slant [km] from plane coordinates, not from
    formulas."""
    half = hop_km / 2.0 / RADIUS_KM
    start = RADIUS_KM * np.array([np.sin(-half), np.cos(half)])
    apex = np.array([0.0, RADIUS_KM + height_km])
    ray = apex - start
    up = start / RADIUS_KM
    length = float(np.hypot(*ray))
    elevation = np.degrees(np.arcsin(ray @ up / length))
    incidence = np.degrees(np.arccos(ray[1] / length))
    return float(elevation), float(incidence), 2.0 * length
