"""Antennas worked out once stay worked out: the solutions' memory kept in the data folder between runs.

What is kept is only a saving of time: a damaged, missing or outdated file costs the time and nothing else,
and a folder that cannot be written is passed over in silence.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Final

from propagation.base.errors import InputError
from propagation.base.files import is_file, locked, read_whole, replace_file
from tui.app import paths

MOST_BYTES: Final = 50_000_000  # bytes; a larger file is not ours
WAIT_S: Final = 1.0  # s, for another program that keeps its own


@contextmanager
def remembering() -> Iterator[None]:
    """Take the kept solutions into memory; at the end keep the new ones, if any antenna was worked out."""
    from propagation.antennas import solution_cache

    _recall()
    before = solution_cache.keys()
    try:
        yield
    finally:
        if solution_cache.keys() - before:
            with suppress(OSError, InputError), locked(paths.antennas_file(), WAIT_S):
                _recall()  # what another program has kept in the meantime
                replace_file(paths.antennas_file(), solution_cache.dump())


def needed_by(command: str) -> bool:
    """Whether a command works with antennas at all."""
    return command in ("advise", "antenna", "plan", "review", "season", "sked", "why")


def _recall() -> None:
    """Take what the file holds into memory, where it can be read; before there is one, the demo's."""
    from propagation.antennas import solution_cache

    file = paths.antennas_file()
    with suppress(OSError, InputError):
        kept = file if is_file(file) else paths.demo_dir() / "antennas.npz"
        solution_cache.restore(read_whole(kept, MOST_BYTES, "nothing of this program"))
