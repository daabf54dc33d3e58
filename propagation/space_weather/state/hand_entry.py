"""Facts typed in by hand: flux, A and K as heard on the air, a flare's class, a remembered sunspot number.

They are kept as a stored copy of their own. Each fact holds for a while and is then forgotten: a flux changes
the index for 27 days, a K applies to its hours, a flare fades.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.base.store import Store, Stored, StoreError
from propagation.base.text import as_number, as_time

COPY_NAME: Final = "typed-in"
ORIGIN: Final = "typed in by hand"
KEPT_DAYS: Final = np.timedelta64(90, "D")  # older entries are dropped from the file

LIMITS: Final[dict[str, tuple[float, float, str]]] = {
    "ssn": (0.0, 400.0, "smoothed sunspot number"),
    "flux_sfu": (50.0, 500.0, "10.7 cm flux"),
    "a_index": (0.0, 400.0, "A index"),
    "kp": (0.0, 9.0, "K index"),
    "xray_w_m2": (0.0, 0.1, "X-ray flux"),
    "protons_pfu": (0.0, 1e6, "proton flux"),
}


@dataclass(frozen=True)
class HandEntry:
    """Facts typed in at one time [UTC]; None where not given. ssn is of version 2."""

    at: np.datetime64
    ssn: float | None = None
    flux_sfu: float | None = None
    a_index: float | None = None
    kp: float | None = None
    xray_w_m2: float | None = None
    protons_pfu: float | None = None

    def given(self) -> dict[str, float]:
        """The facts that were typed in, by name."""
        return {name: value for name, value in asdict(self).items() if name in LIMITS and value is not None}

    @property
    def sun(self) -> bool:
        """True if the entry gives the sun's activity."""
        return self.flux_sfu is not None or self.ssn is not None

    def words(self) -> str:
        """The facts in one line."""
        short = {"ssn": "sunspot number", "flux_sfu": "flux", "a_index": "A", "kp": "K"}
        parts = [f"{short[name]} {value:g}" for name, value in self.given().items() if name in short]
        if self.xray_w_m2 is not None:
            parts.append(f"X-rays {self.xray_w_m2:.1e} W/m2")
        if self.protons_pfu is not None:
            parts.append(f"protons {self.protons_pfu:g} pfu")
        return ", ".join(parts) or "nothing"


def checked(entry: HandEntry) -> HandEntry:
    """The entry itself; InputError if it is empty, gives flux and sunspots, or has a number out of range."""
    given = entry.given()
    if not given:
        raise InputError("Give a flux, an A or K index, a flare's class or a sunspot number.")
    if entry.ssn is not None and entry.flux_sfu is not None:
        raise InputError("Give the sunspot number or the solar flux, not both: either one sets the index.")
    for name, value in given.items():
        low, high, words = LIMITS[name]
        if not low <= value <= high:
            raise InputError(f"The {words} {value:g} is outside {low:g} to {high:g}: check the number.")
    return entry


def entries_of(store: Store) -> list[HandEntry]:
    """All entries, oldest first; StoreError if the copy is damaged."""
    stored = store.get(COPY_NAME)
    if stored is None:
        return []
    try:
        listed = json.loads(stored.body)
        return sorted((_entry(item) for item in listed), key=lambda entry: entry.at)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError, InputError) as error:
        raise StoreError(f"The facts typed in ({COPY_NAME}) are damaged; they are left out.") from error


def add_entry(store: Store, entry: HandEntry) -> None:
    """Check and keep one more entry; entries older than KEPT_DAYS go, damaged ones too."""
    checked(entry)
    with store.changing(COPY_NAME):
        try:
            earlier = entries_of(store)
        except StoreError:
            earlier = []
        kept = [old for old in earlier if entry.at - old.at < KEPT_DAYS and old.at != entry.at]
        _write(store, [*kept, entry], entry.at)


def forget_entries(store: Store) -> bool:
    """Forget everything typed in; True if there was something."""
    with store.changing(COPY_NAME):
        return store.remove(COPY_NAME)


def _entry(item: dict[str, object]) -> HandEntry:
    at = as_time(item["at"])
    if at is None:
        raise ValueError("no time")
    return checked(HandEntry(at, **{name: as_number(item.get(name)) for name in LIMITS}))


def _write(store: Store, entries: Iterable[HandEntry], now: np.datetime64) -> None:
    listed = [asdict(entry) | {"at": str(entry.at.astype("datetime64[s]"))} for entry in entries]
    store.put(Stored(COPY_NAME, json.dumps(listed).encode("ascii"), ORIGIN, now, now))
