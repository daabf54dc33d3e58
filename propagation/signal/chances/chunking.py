"""Blocks of work that fit the processor's cache, computed by two workers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, TypeAlias

import numpy as np

from propagation.base.two_workers import by_two
from propagation.base.units import FloatArray, IntArray
from propagation.signal.rays.ray_paths import REACH_KM

BLOCK_CELLS: Final = 8_000  # routes x times x bands in one block: some 100 MB of working memory (ours)
LONG_BLOCK_CELLS: Final = (
    24_000  # the same of routes beyond the reach of ray paths, half of that memory (ours)
)

Block: TypeAlias = tuple[IntArray, slice]  # routes and consecutive times computed together


def blocks_of(distance_km: FloatArray, t: int, b: int) -> list[Block]:
    """Return blocks of some `BLOCK_CELLS` cells each, of routes (N,) and T consecutive times.

    Routes of similar length share a block, because they have the same ray paths. A block fits the processor's
    cache. Larger blocks are slower and take more memory. Routes too long for ray paths share larger ones.
    """
    order = np.argsort(distance_km, kind="stable")
    if order.size * t * b <= BLOCK_CELLS:
        return [(order, slice(0, t))]
    short = int(np.searchsorted(distance_km[order], REACH_KM, side="right"))
    blocks = []
    for part, cells in ((order[:short], BLOCK_CELLS), (order[short:], LONG_BLOCK_CELLS)):
        rows = max(1, cells // (t * b))
        stretch = -(-t // max(1, round(t * b * rows / cells))) if rows == 1 else t
        blocks += [
            (part[i : i + rows], slice(j, min(j + stretch, t)))
            for i in range(0, part.size, rows)
            for j in range(0, t, stretch)
        ]
    return blocks


def in_blocks(work: Callable[[Block], None], blocks: Sequence[Block]) -> None:
    """Compute every block with two workers: numpy releases the interpreter's lock."""
    if len(blocks) == 1:
        work(blocks[0])
        return
    by_two(work, blocks)
