"""Numbers and names of the modes by which a signal can travel: the chains of hops, and what stands beside
them.
"""

from __future__ import annotations

from typing import Final

from propagation.signal.rays.ray_paths import SLOTS, mode_name

# beside the modes of `mode_chains.SLOTS`, as numbers that follow theirs
LONG_PATH_MODE: Final = len(SLOTS)  # the combined method, which knows no single modes
SCATTER_MODE: Final = LONG_PATH_MODE + 1  # back- and side-scatter into the skip zone
GROUND_WAVE_MODE: Final = LONG_PATH_MODE + 2
MODE_COUNT: Final = LONG_PATH_MODE + 3


def path_mode_name(mode: int, low_hops: int, high_hops: int) -> str:
    """A mode's name from its number and hop counts: "2F2", "1E+1F2", "scatter", "ground wave"."""
    if mode < len(SLOTS):
        return mode_name(mode, low_hops, high_hops)
    return {
        LONG_PATH_MODE: f"{high_hops}F2",
        SCATTER_MODE: "scatter",
        GROUND_WAVE_MODE: "ground wave",
    }[mode]
