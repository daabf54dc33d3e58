"""Progress of long work on standard error: the share done, an estimate of the time left, and how to stop it.

On a terminal one line is written over and over, from the first second on. Elsewhere nothing is written in
the first ten seconds, and then one line each half minute, so that a long silence is explained in a script's
log too.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

from tui.app import output_filter

FIRST_S: Final = 1.0  # s of work, after which a terminal shows its progress (ours)
STEP_S: Final = 0.2  # s between two lines on a terminal (ours)
FIRST_ELSEWHERE_S: Final = 10.0  # s, likewise where standard error is no terminal (ours)
STEP_ELSEWHERE_S: Final = 30.0  # s, likewise (ours)

Tell = Callable[[int, int], None]


@contextmanager
def shown(what: str, clock: Callable[[], float] = time.monotonic) -> Iterator[Tell]:
    """A callback for the parts done and the total of parts; its line is ended with the `with` block.

    what: the work, as the beginning of a sentence.
    """
    here = sys.stderr.isatty()
    first, step = (FIRST_S, STEP_S) if here else (FIRST_ELSEWHERE_S, STEP_ELSEWHERE_S)
    start = clock()
    due, written = start + first, 0

    def tell(done: int, whole: int) -> None:
        nonlocal due, written
        now = clock()
        if now < due or not 0 < done < whole:
            return
        due = now + step
        left = left_words((now - start) * (whole - done) / done)
        line = f"{what}: {done * 100 // whole} % done, {left}; Ctrl-C stops it."
        if here:
            output_filter.progress(line.ljust(written))
            written = len(line)
        else:
            print(line, file=sys.stderr, flush=True)

    try:
        yield tell
    finally:
        if written:
            output_filter.progress(" " * written, "\r")


def left_words(seconds: float) -> str:
    """The time left, as it is known: "about 20 s left"."""
    if seconds < 90.0:
        return f"about {max(round(seconds), 1)} s left"
    return f"about {round(seconds / 60.0)} min left"
