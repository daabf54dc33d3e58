"""Antennas worked out once stay worked out: the solutions' memory kept in the data folder between runs.

What is kept is only a saving of time: a damaged, missing or outdated file costs the time and nothing else,
and a folder that cannot be written is passed over in silence.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import NamedTemporaryFile

from tui import paths


@contextmanager
def remembering() -> Iterator[None]:
    """Take the kept solutions into memory; at the end keep the new ones, if any antenna was worked out."""
    from propagation.antennas import solved

    with suppress(OSError):
        solved.restore(paths.antennas_file().read_bytes())
    before = solved.keys()
    try:
        yield
    finally:
        if solved.keys() - before:
            with suppress(OSError):
                _keep(paths.antennas_file(), solved.dump())


def needed_by(command: str) -> bool:
    """Whether a command works with antennas at all."""
    return command in ("advise", "antenna", "plan", "review", "sked", "why")


def _keep(file: Path, data: bytes) -> None:
    """Write the file whole or not at all."""
    file.parent.mkdir(parents=True, exist_ok=True)
    with NamedTemporaryFile(dir=file.parent, delete=False) as part:
        part.write(data)
    os.replace(part.name, file)
