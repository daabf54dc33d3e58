"""Choice of the band to name now and the band to name next, for the band name on the opening screen.

A band may be named where at least the best-equipped station can be reached; the best of them comes first by
the one rule of `ranking`. The choice stays on a band, without a change of the antenna, until another is
clearly better, or nothing is left on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol, TypeVar

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray
from propagation.signal.rays.causes import CAUSES, CODE, Cause

HARDLY: Final = 0.05  # chance with the best-equipped station below which no contact is expected (ours)
LIKELY: Final = 0.5  # share of days from which a band is called likely (ours)
FAINT: Final = 1e-6  # weight of the best-equipped's chance; decides only between bands of worth 0 (ours)
CLEARLY: Final = (
    0.1  # share of its worth by which another band must be better to replace the current one (ours)
)


class OpenWindow(Protocol):
    """Protocol of a window: its band, its times, its best chance, and whether it closes within the times."""

    @property
    def band(self) -> str: ...
    @property
    def start(self) -> np.datetime64: ...
    @property
    def end(self) -> np.datetime64: ...
    @property
    def chance(self) -> float: ...
    @property
    def closes(self) -> bool: ...


Known = TypeVar("Known", bound=OpenWindow)
Shown = TypeVar("Shown", bound=OpenWindow, covariant=True)


class BandChances(Protocol[Shown]):
    """Protocol of a day: times (T,), bands, windows, and worth, hope and limit (B, T).

    ranked: worth by which bands are compared (`ranking`). hope: chance with the best-equipped station.
    """

    @property
    def times(self) -> TimeArray: ...
    @property
    def bands(self) -> tuple[str, ...]: ...
    @property
    def ranked(self) -> FloatArray: ...
    @property
    def hope(self) -> FloatArray: ...
    @property
    def cause(self) -> IntArray: ...
    @property
    def windows(self) -> Sequence[Shown]: ...


@dataclass(frozen=True, slots=True)
class Move:
    """Moment at which another band becomes the one to use."""

    when: np.datetime64
    band: str | None  # None: no band is worth trying


def holds(window: OpenWindow, times: TimeArray) -> BoolArray:
    """Return whether a window is open, at each time; without a closing it is also open at its last moment."""
    inside: BoolArray = (times >= window.start) & ((times < window.end) | (not window.closes))
    return inside


def candidates(day: BandChances[OpenWindow]) -> FloatArray:
    """Worth of every band and time (B, T) at which the band may be named, 0 elsewhere."""
    hope = np.nan_to_num(day.hope)
    worth = np.maximum(np.nan_to_num(day.ranked), FAINT * hope)
    named: FloatArray = np.where(hope >= HARDLY, worth, 0.0)
    return named


def best_band(day: BandChances[OpenWindow], index: int) -> int | None:
    """Best band at a time, of those that may be named then."""
    worth = candidates(day)[:, index]
    return int(worth.argmax()) if worth.size and float(worth.max()) > 0.0 else None


def window_at(day: BandChances[Known], band: int, index: int) -> Known | None:
    """Window of a band that is open at a time; where two overlap, the better."""
    name, when = day.bands[band], day.times[index : index + 1]
    holding = [one for one in day.windows if one.band == name and holds(one, when)[0]]
    return max(holding, key=lambda one: one.chance, default=None)


def moves(day: BandChances[OpenWindow], start: int = 0) -> list[Move]:
    """Bands to use from a time on: one stays until another is clearly better, or nothing is left on it."""
    inside = candidates(day)
    if not inside.size:
        return [Move(day.times[start], None)]
    top = inside.argmax(axis=0)
    best = [int(row) if inside[row, column] > 0.0 else None for column, row in enumerate(top.tolist())]
    held = best[start]
    out = [_move(day, held, day.times[start])]
    for index in range(start + 1, day.times.shape[0]):
        new = best[index]
        if new == held:
            continue
        now = 0.0 if held is None else float(inside[held, index])
        then = 0.0 if new is None else float(inside[new, index])
        if now <= 0.0 or then > now * (1.0 + CLEARLY):
            out.append(_move(day, new, _moment(day, index, held, new, now <= 0.0)))
            held = new
    return out


def _moment(
    day: BandChances[OpenWindow], index: int, held: int | None, new: int | None, closed: bool
) -> np.datetime64:
    """Time of a move: when a window closes or opens, else the time of the step itself."""
    before, at = day.times[index - 1], day.times[index]

    def edges(band: int | None, of: str) -> list[np.datetime64]:
        name = day.bands[band] if band is not None else ""
        found = [getattr(one, of) for one in day.windows if one.band == name]
        return [edge for edge in found if before < edge <= at]

    inside = (edges(held, "end") if closed else []) or edges(new, "start")
    return max(inside) if inside else at


def _move(day: BandChances[OpenWindow], band: int | None, when: np.datetime64) -> Move:
    return Move(when, None if band is None else day.bands[band])


def commonest_limit(limit: IntArray) -> Cause | None:
    """Most frequent limit of a band over the times (T,); None where nothing limits it."""
    counts = np.bincount(limit, minlength=len(CAUSES))
    counts[CODE["open"]] = 0
    return CAUSES[int(counts.argmax())] if counts.any() else None
