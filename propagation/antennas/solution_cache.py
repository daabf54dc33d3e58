"""Cache of antenna solutions, shared within a run and stored between runs by the caller.

A solution depends only on the description, the ground and the frequency, and takes some 40 ms by the moment
method. A forecast needs a dozen solutions, and a plan needs the same dozen repeatedly. `solve_once` caches
them. `dump` and `restore` convert the cache to bytes and back, so that the caller can store it in a folder.
The bytes contain `SOLVER_VERSION` and are ignored when it has changed.
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from hashlib import sha256
from typing import Any, Final, cast
from zipfile import ZipFile

import numpy as np

from propagation.antennas.solution import Pattern, Solution
from propagation.antennas.spec import VERTICALS, AntennaSpec, FeedlineSpec
from propagation.geo.ground import Ground

SOLVER_VERSION: Final = 3  # raise it when a change in this package moves any number of a solution
MOST_KEPT: Final = 400  # solutions in the cache and in the stored bytes: some 0.4 MB
MOST_UNPACKED_BYTES: Final = 100_000_000  # bytes; a hundred times the largest stored cache

Solver = Callable[[AntennaSpec, Ground, float, FeedlineSpec], Solution]

# Solution's numbers in the stored bytes; slope and mirror are added where they have been computed
_NUMBERS: Final = (
    "frequency_mhz", "efficiency", "radiation_resistance_ohm", "ground_loss_ohm", "reactance_ohm",
    "tuned_resistance_ohm", "coil_loss_ohm", "coil_uh", "coil_share", "coil_current_ratio",
    "coil_reactance_ohm", "connection_ohm", "connection_share", "other_share", "matched", "whip_m", "tuning",
    "series_pf", "reactance_per_m_ohm", "longer_m", "longer_db", "longer_swr", "longer_pf",
    "in_range", "basis",
)  # fmt: skip


class _Late:
    """Number that is computed at its first use and then cached."""

    def __init__(self, work: Callable[[], float] | None, value: float | None = None) -> None:
        self._work, self.value = work, value

    def __call__(self) -> float:
        if self.value is None:
            self.value = _called(self._work)
        return self.value


@dataclass(frozen=True)
class _Kept:
    """Cached solution, and whether its slope and mirror are known or can still be computed."""

    solution: Solution
    whole: bool

    @classmethod
    def solved(cls, solution: Solution) -> _Kept:
        """Make an entry of a new solution; its slope and mirror are computed at most once."""
        slope, mirror = (work and _Late(work) for work in (solution.slope, solution.mirror))
        return cls(replace(solution, slope=slope, mirror=mirror), whole=True)

    @property
    def late(self) -> list[float | None]:
        """Return slope and mirror; None where they do not exist or were not computed."""
        return [
            part.value if isinstance(part, _Late) else None
            for part in (self.solution.slope, self.solution.mirror)
        ]


_MEMORY: dict[str, _Kept] = {}


def key_of(spec: AntennaSpec, ground: Ground, frequency_mhz: float, line: FeedlineSpec) -> str:
    """Key of one solution: a digest of everything it depends on, except measurements.

    The line decides between two lengths of a vertical's radiator; other antennas do not depend on it.
    """
    bare = replace(spec, measured=(), marks=()) if spec.measured or spec.marks else spec
    chosen_by = line if spec.kind in VERTICALS else None
    said = repr((SOLVER_VERSION, bare, ground, round(frequency_mhz, 6), chosen_by))
    return sha256(said.encode()).hexdigest()[:24]


def solve_once(
    solver: Solver, spec: AntennaSpec, ground: Ground, line: FeedlineSpec, frequency_mhz: float
) -> Solution:
    """Return the solution from the cache, or compute and cache it."""
    key = key_of(spec, ground, frequency_mhz, line)
    work = partial(solver, spec, ground, frequency_mhz, line)
    found = _MEMORY.get(key)
    if found is None:
        found = _Kept.solved(work())
        if len(_MEMORY) >= MOST_KEPT:
            _MEMORY.pop(next(iter(_MEMORY)))
        _MEMORY[key] = found
    if found.whole:
        return found.solution
    again = partial(_anew, key, work)
    slope, mirror = found.late
    return replace(
        found.solution,
        slope=_Late(lambda: _called(again().slope), slope),
        mirror=_Late(lambda: _called(again().mirror), mirror),
    )


def _anew(key: str, work: Callable[[], Solution]) -> Solution:
    """Compute the complete solution in place of a restored one."""
    whole = _MEMORY.get(key)
    if whole is None or not whole.whole:
        whole = _Kept.solved(work())
        _MEMORY[key] = whole
    return whole.solution


def _called(part: Callable[[], float] | None) -> float:
    return 0.0 if part is None else part()


def keys() -> frozenset[str]:
    """Keys in the cache, with the parts known of each, so that a caller can detect new solutions."""
    return frozenset(
        f"{key} {sum(value is not None for value in kept.late)}" for key, kept in list(_MEMORY.items())
    )


def forget() -> None:
    """Empty the cache."""
    _MEMORY.clear()


def dump() -> bytes:
    """Return the cache as bytes: patterns as single-precision arrays, the rest as text."""
    rows: list[dict[str, Any]] = []
    arrays: dict[str, np.ndarray[Any, Any]] = {}
    for key, kept in list(_MEMORY.items()):  # a cancelled forecast may still add entries
        solution = kept.solution
        row = {name: getattr(solution, name) for name in _NUMBERS}
        load = complex(solution.load_ohm)
        has = [solution.slope is not None, solution.mirror is not None]
        rows.append(
            {"key": key, **row, "load_ohm": [load.real, load.imag], "notes": solution.notes, "has": has,
             "late": kept.late}
        )  # fmt: skip
        arrays[key] = solution.pattern.gain.astype(np.float32)
    text = json.dumps({"version": SOLVER_VERSION, "rows": rows}, default=float)
    buffer = io.BytesIO()
    np.savez_compressed(buffer, rows=np.frombuffer(text.encode(), dtype=np.uint8), **cast(Any, arrays))
    return buffer.getvalue()


def restore(data: bytes) -> int:
    """Load stored bytes into the cache without changing existing entries; return the number loaded.

    Damaged bytes, or those of another version of the solver, give 0 and change nothing.
    """
    found: dict[str, _Kept] = {}
    try:
        with ZipFile(io.BytesIO(data)) as archive:
            if sum(entry.file_size for entry in archive.infolist()) > MOST_UNPACKED_BYTES:
                return 0
        with np.load(io.BytesIO(data), allow_pickle=False) as file:
            table = json.loads(bytes(file["rows"]).decode())
            if table["version"] != SOLVER_VERSION:
                return 0
            for row in table["rows"]:
                key, load, has = row.pop("key"), row.pop("load_ohm"), row.pop("has")
                notes, late = tuple(row.pop("notes")), row.pop("late", [None, None])
                slope, mirror = (
                    _Late(_missing, None if value is None else float(value)) if exists else None
                    for exists, value in zip(has, late, strict=True)
                )
                pattern = Pattern(file[key].astype(np.float64))
                solution = Solution(
                    pattern=pattern, load_ohm=complex(*load), notes=notes,
                    slope=slope, mirror=mirror, **row,
                )  # fmt: skip
                whole = all(part is None or part.value is not None for part in (slope, mirror))
                found[key] = _Kept(solution, whole)
    except Exception:  # damaged bytes can raise any exception, also from the archive format
        return 0
    for key, kept in found.items():
        _MEMORY.setdefault(key, kept)
    return len(found)


def _missing() -> float:
    raise AssertionError("a restored solution is completed before its slope is asked for")
