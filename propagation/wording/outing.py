"""The outing under way, in a few words: how long until the change, what was noted, what an answer tells."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from propagation.wording.quantities import band_title, clock, counted, listed


def minutes_left(until: np.datetime64, now: np.datetime64) -> int:
    """Whole minutes from now to a moment, never under 0."""
    seconds = float((until - now).astype("timedelta64[s]").astype(np.int64))
    return max(int(np.ceil(seconds / 60.0)), 0)


def change_words(band: str, until: np.datetime64, now: np.datetime64, setup: str) -> str:
    """`17 m in 24 min: coil 3.4 µH`."""
    left = minutes_left(until, now)
    when = f"in {left} min" if left else "now"
    return f"{band_title(band)} {when}: {setup}" if setup else f"{band_title(band)} {when}"


def tally(
    contacts: Sequence[tuple[str, str, str]],
    in_vain: Sequence[tuple[str, np.datetime64]],
    one_way: Sequence[tuple[str, np.datetime64]],
) -> str:
    """What was noted so far, on one line."""
    parts = []
    if contacts:
        call, band, time = contacts[-1]
        parts.append(f"{counted(len(contacts), 'contact')}, the last {call} on {band_title(band)} at {time}")
    else:
        parts.append("no contact yet")
    for told, marks in (("called in vain on", in_vain), ("heard one way on", one_way)):
        if marks:
            parts.append(
                f"{told} " + listed([f"{band_title(band)} at {clock(at)}" for band, at in marks[-2:]])
            )
    return "; ".join(parts)


def half_words(band: str, chance_words: str, best: str, best_words: str) -> str:
    """That another band is twice as good as the one in use."""
    return f"{band_title(band)} is down to {chance_words}; {band_title(best)} has {best_words}."
