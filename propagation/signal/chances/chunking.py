"""Blocks of work that fit the processor's cache, computed by two workers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, TypeAlias

import numpy as np

from propagation.base.two_workers import by_two
from propagation.base.units import FloatArray, IntArray

BLOCK_CELLS: Final = 8_000  # routes x times x bands in one block: some 100 MB of working memory (ours)

Block: TypeAlias = tuple[IntArray, slice]  # routes and consecutive times computed together


def blocks_of(distance_km: FloatArray, t: int, b: int) -> list[Block]:
    """Return blocks of some `BLOCK_CELLS` cells each, of routes (N,) and T consecutive times.

    Routes of similar length share a block, because they have the same ray paths. A block fits the processor's
    cache. Larger blocks are slower and take more memory.
    """
    order = np.argsort(distance_km, kind="stable")
    rows = max(1, BLOCK_CELLS // (t * b))
    stretch = -(-t // max(1, round(t * b * rows / BLOCK_CELLS))) if rows == 1 else t
    return [
        (order[i : i + rows], slice(j, min(j + stretch, t)))
        for i in range(0, order.size, rows)
        for j in range(0, t, stretch)
    ]


def in_blocks(work: Callable[[Block], None], blocks: Sequence[Block]) -> None:
    """Compute every block with two workers: numpy releases the interpreter's lock."""
    if len(blocks) == 1:
        work(blocks[0])
        return
    by_two(work, blocks)
