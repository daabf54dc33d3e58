"""Numbers and names of ray paths: the chains of hops, the combined method, scatter and ground wave."""

from __future__ import annotations

from typing import Final

from propagation.signal.rays.ray_paths import TEMPLATES, chain_name

# numbers after those of the ray paths of `ray_paths.TEMPLATES`
LONG_PATH: Final = len(TEMPLATES)  # the combined method, which has no single ray paths
SCATTER: Final = LONG_PATH + 1  # back- and side-scatter into the skip zone
GROUND_WAVE: Final = LONG_PATH + 2
RAY_PATH_COUNT: Final = LONG_PATH + 3


def ray_path_name(number: int, low_hops: int, high_hops: int) -> str:
    """Name of a ray path from its number and hop counts: "2F2", "1E+1F2", "scatter", "ground wave"."""
    if number < len(TEMPLATES):
        return chain_name(number, low_hops, high_hops)
    return {
        LONG_PATH: f"{high_hops}F2",
        SCATTER: "scatter",
        GROUND_WAVE: "ground wave",
    }[number]
