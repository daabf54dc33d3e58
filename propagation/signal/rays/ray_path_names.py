"""Numbers and names of the ray paths by which a signal can travel: the chains of hops, and what stands beside
them.
"""

from __future__ import annotations

from typing import Final

from propagation.signal.rays.ray_paths import TEMPLATES, chain_name

# beside the ray paths of `ray_paths.TEMPLATES`, as numbers that follow theirs
LONG_PATH: Final = len(TEMPLATES)  # the combined method, which knows no single ray paths
SCATTER: Final = LONG_PATH + 1  # back- and side-scatter into the skip zone
GROUND_WAVE: Final = LONG_PATH + 2
RAY_PATH_COUNT: Final = LONG_PATH + 3


def ray_path_name(number: int, low_hops: int, high_hops: int) -> str:
    """A ray path's name from its number and hop counts: "2F2", "1E+1F2", "scatter", "ground wave"."""
    if number < len(TEMPLATES):
        return chain_name(number, low_hops, high_hops)
    return {
        LONG_PATH: f"{high_hops}F2",
        SCATTER: "scatter",
        GROUND_WAVE: "ground wave",
    }[number]
