"""The disk cache of antenna solutions, kept in the data folder between runs.

The cache only saves time: a damaged, missing or outdated file is ignored, and so is a folder that cannot be
written.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Final

from propagation.base.errors import InputError
from propagation.base.files import is_file, locked, read_whole, replace_file
from tui.app import paths

MOST_BYTES: Final = 50_000_000  # bytes; a larger file was not written by this program
WAIT_S: Final = 1.0  # s, for the lock of another program that writes the cache


@contextmanager
def remembering() -> Iterator[None]:
    """Load the cached solutions; on exit save the new ones, if any antenna was computed."""
    from propagation.antennas import solution_cache

    _recall()
    before = solution_cache.keys()
    try:
        yield
    finally:
        if solution_cache.keys() - before:
            with suppress(OSError, InputError), locked(paths.antennas_file(), WAIT_S):
                _recall()  # solutions saved by another program in the meantime
                replace_file(paths.antennas_file(), solution_cache.dump())


def needed_by(command: str) -> bool:
    """Return whether a command computes antennas at all."""
    return command in ("advise", "antenna", "plan", "review", "season", "sked", "why")


def _recall() -> None:
    """Load the solutions from the file if it is readable; if there is no file, load the demo's."""
    from propagation.antennas import solution_cache

    file = paths.antennas_file()
    with suppress(OSError, InputError):
        kept = file if is_file(file) else paths.demo_dir() / "antennas.npz"
        solution_cache.restore(read_whole(kept, MOST_BYTES, "nothing of this program"))
