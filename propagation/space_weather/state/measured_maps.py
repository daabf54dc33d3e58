"""The measured maps: fetched when asked for, kept small, and what of them is in force.

One line of `MEASURED` a product: where it is, how it is read and kept, how long it speaks. The density map
takes two steps, its list and then the newest frame. A map that cannot be used never replaces a kept one.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np

from propagation.base.store import Store, Stored, StoreError
from propagation.base.text import counted
from propagation.space_weather.sources.absorption_map import (
    AbsorptionMap,
    absorption_of,
    kept_absorption,
    read_absorption_map,
)
from propagation.space_weather.sources.aurora_map import AuroraMap, aurora_of, kept_aurora, read_aurora_map
from propagation.space_weather.sources.density_map import (
    DensityFrame,
    density_of,
    kept_density,
    read_density_frame,
    read_density_index,
)
from propagation.space_weather.sources.exchange import ExchangeError, Line, Watch
from propagation.space_weather.sources.feeds import (
    BASE_ADDRESS,
    FetchError,
    Get,
    Limits,
    Outcome,
    checked_base,
    checked_proxy,
    redirected,
)
from propagation.space_weather.state.conditions import age_words

MEASURED_LIMITS: Final = Limits(product_s=60.0, all_s=90.0)  # 2.4 MB take 20 s at 1 Mbit/s
FUTURE: Final = np.timedelta64(600, "s")  # a clock may be off by that much (ours)
DENSITY: Final = "measured-density"
DAYS_KEPT: Final = 7  # days of which a frame stays: what days at the same hour have in common
Map = TypeVar("Map")
_LARGEST_LIST: Final = 2_000_000  # bytes; a month of entries takes 0.5 MB


@dataclass(frozen=True)
class Kept:
    """A map as far as keeping it goes: its time, what was wrong, its few bytes (empty: of no use)."""

    time: np.datetime64 | None
    problems: tuple[str, ...]
    body: bytes = b""


@dataclass(frozen=True)
class Measured:
    """A measured product. size_mb: what comes over the network before packing; speaks: how long it counts.

    read: its bytes, and its time as a list gave it, to what is kept. again: kept bytes to the same, or None.
    by_list: whether `path` is a list of frames.
    """

    path: str
    what: str
    size_mb: float
    speaks: np.timedelta64
    read: Callable[[bytes, np.datetime64 | None], Kept]
    again: Callable[[bytes], Kept | None]
    by_list: bool = False

    @property
    def largest_bytes(self) -> int:
        """Beyond this it is no such product."""
        return int(self.size_mb * 4e6)


@dataclass(frozen=True)
class InForce:
    """What is kept of one product. in_force: young enough to count; age of the measurement itself."""

    product: str
    what: str
    time: np.datetime64
    age: np.timedelta64
    in_force: bool
    fetched: np.datetime64
    origin: str
    problems: tuple[str, ...]


def _density(body: bytes, time: np.datetime64 | None) -> Kept:
    frame = read_density_frame(body, time)
    return Kept(frame.time, frame.problems, b"" if frame.empty else kept_density(frame))


def _density_again(body: bytes) -> Kept | None:
    frame = density_of(body)
    return None if frame is None else Kept(frame.time, frame.problems, body)


def _absorption(body: bytes, time: np.datetime64 | None) -> Kept:
    found = read_absorption_map(body)
    return Kept(found.valid_at, found.problems, b"" if found.empty else kept_absorption(found))


def _absorption_again(body: bytes) -> Kept | None:
    found = absorption_of(body)
    return None if found is None else Kept(found.valid_at, found.problems, body)


def _aurora(body: bytes, time: np.datetime64 | None) -> Kept:
    found = read_aurora_map(body)
    return Kept(found.observed, found.problems, b"" if found.empty else kept_aurora(found))


def _aurora_again(body: bytes) -> Kept | None:
    found = aurora_of(body)
    return None if found is None else Kept(found.observed, found.problems, body)


# How long each speaks: the layer's departure has all but gone after 6 h (it correlates 0.12 with itself); a
# flare is over and the oval has moved after 2 h (ours)
MEASURED: Final[dict[str, Measured]] = {
    "measured-absorption": Measured(
        "/text/drap_global_frequencies.txt", "absorption map", 0.05, np.timedelta64(7200, "s"),
        _absorption, _absorption_again,
    ),
    "measured-aurora": Measured(
        "/json/ovation_aurora_latest.json", "auroral oval", 0.9, np.timedelta64(7200, "s"),
        _aurora, _aurora_again,
    ),
    "measured-density": Measured(
        "/products/glotec/geojson_2d_urt.json", "density map", 2.4, np.timedelta64(21600, "s"),
        _density, _density_again, by_list=True,
    ),
}  # fmt: skip


def day_copy(time: np.datetime64) -> str:
    """Name under which the last frame of a day stays for a week."""
    day = int(time.astype("datetime64[D]").astype(np.int64))
    return f"{DENSITY}-day-{day % DAYS_KEPT + 1}"


def kept_frames(store: Store) -> list[DensityFrame]:
    """The newest density frame and the last of each day of the week before it, newest first; what is damaged
    or older is left out."""
    frames = {}
    for name in (DENSITY, *(f"{DENSITY}-day-{number + 1}" for number in range(DAYS_KEPT))):
        frame = _read_again(store, name, density_of)
        if frame is not None and frame.time is not None:
            frames[frame.time] = frame
    times = sorted(frames, reverse=True)
    week = np.timedelta64(DAYS_KEPT, "D")
    return [frames[time] for time in times if times[0] - time < week]


def kept_absorption_map(store: Store) -> AbsorptionMap | None:
    """The absorption map that is kept, or None."""
    return _read_again(store, "measured-absorption", absorption_of)


def kept_aurora_map(store: Store) -> AuroraMap | None:
    """The auroral oval that is kept, or None."""
    return _read_again(store, "measured-aurora", aurora_of)


def _read_again(store: Store, name: str, again: Callable[[bytes], Map | None]) -> Map | None:
    try:
        stored = store.get(name)
    except StoreError:
        return None
    return None if stored is None else again(stored.body)


def size_words() -> str:
    """How much comes and how long it takes, before anything is fetched."""
    largest = MEASURED["measured-density"].size_mb
    total = sum(product.size_mb for product in MEASURED.values())
    seconds = total * 8.0  # at 1 Mbit/s
    return (
        f"up to {total:.1f} MB before packing, {largest:.1f} MB of it the density map: "
        f"about {seconds:.0f} s at 1 Mbit/s, never more than {MEASURED_LIMITS.all_s:.0f} s"
    )


def fetch_measured(
    store: Store,
    now: np.datetime64,
    clock: Callable[[], float],
    base_address: str = BASE_ADDRESS,
    limits: Limits = MEASURED_LIMITS,
    cancelled: Callable[[], bool] = lambda: False,
    proxy: str = "",
) -> list[Outcome]:
    """Fetch the measured maps into the store, an outcome for each; arguments as in `feeds.fetch_all`."""
    base = checked_base(base_address)
    end = clock() + limits.all_s
    outcomes: list[Outcome] = []
    hopeless: str | None = None
    with closing(Line.to(base, limits.connect_s, checked_proxy(proxy))) as line:
        for name, product in MEASURED.items():
            try:
                if hopeless is not None:
                    raise FetchError(hopeless)
                if clock() >= end:
                    raise FetchError("no time left; ask again for the rest", final=True)
                watch = Watch(clock, min(end, clock() + limits.product_s), limits.read_s, cancelled)
                outcomes.append(_fetch_one(Get(line, watch), base, name, product, store, now))
            except (ExchangeError, StoreError) as fault:
                if isinstance(fault, ExchangeError) and fault.final:
                    hopeless = str(fault)
                outcomes.append(_failed(store, name, product, str(fault).rstrip("."), now))
    return outcomes


def _failed(store: Store, name: str, product: Measured, reason: str, now: np.datetime64) -> Outcome:
    listed, _ = measured_of(store, now)
    held = [one for one in listed if one.product == name]
    kept = "the stored copy stays" if held else "nothing is stored"
    age = held[0].age if held else None
    return Outcome(name, "failed", f"{product.what}: {reason}; {kept}", age, reason=reason)


def _fetch_one(
    get: Get, base: str, name: str, product: Measured, store: Store, now: np.datetime64
) -> Outcome:
    """Ask for one product, by its list where it has one, look at it, keep it."""
    address, said_time = base + product.path, None
    if product.by_list:
        index = read_density_index(_body(get, address, _LARGEST_LIST))
        if not index.frames:
            raise FetchError("its list is not understood: " + "; ".join(index.problems))
        said_time, place = index.frames[-1]
        address = redirected(address, place)
    kept = product.read(_body(get, address, product.largest_bytes), said_time)
    if not kept.body or kept.time is None:
        raise FetchError("not usable: " + ("; ".join(kept.problems) or "nothing in it"))
    age = now - kept.time
    if age < -FUTURE:
        raise FetchError(f"dated {kept.time}Z, in the future: check the clock")
    held = store_time(store, name)
    if held is not None and held > kept.time:
        raise FetchError(f"stale: of {kept.time}Z, older than the copy that is stored")
    stale = (f"stale: {age_words(age)}",) if age > product.speaks else ()
    problems = (*stale, *kept.problems)
    store.put(Stored(name, kept.body, address, now, now))
    if name == DENSITY:
        store.put(Stored(day_copy(kept.time), kept.body, address, now, now))
    note = f" ({'; '.join(problems)})" if problems else ""
    words = f"{product.what}: of {str(kept.time)[11:16]} UTC, {age_words(age)}{note}"
    return Outcome(name, "new", words, age, problems)


def _body(get: Get, address: str, largest_bytes: int) -> bytes:
    answer = get(address, {}, largest_bytes)
    if answer is None:
        raise FetchError("the server said 'unchanged' though it was not asked that")
    return answer[0]


def store_time(store: Store, name: str) -> np.datetime64 | None:
    """Time of the kept map, or None where there is none that can be read."""
    try:
        stored = store.get(name)
    except StoreError:
        return None
    kept = None if stored is None else MEASURED[name].again(stored.body)
    return None if kept is None else kept.time


def measured_of(store: Store, now: np.datetime64) -> tuple[list[InForce], list[str]]:
    """What is kept of the measured maps and how old it is, and what was wrong with the copies."""
    listed: list[InForce] = []
    notes: list[str] = []
    for name, product in MEASURED.items():
        try:
            stored = store.get(name)
        except StoreError as damage:
            notes.append(damage.message)
            continue
        if stored is None:
            continue
        kept = product.again(stored.body)
        if kept is None or kept.time is None:
            notes.append(f"The stored {product.what} cannot be read; it is left out until the next fetch.")
            continue
        age = now - kept.time
        counts = -FUTURE <= age <= product.speaks
        listed.append(
            InForce(
                name, product.what, kept.time, age, bool(counts), stored.fetched, stored.origin, kept.problems
            )
        )
    return listed, notes


def measured_words(one: InForce) -> str:
    """One kept map in a line: what, its time and age, and whether it still counts."""
    state = "" if one.in_force else ", too old to count" if one.age > FUTURE else ", not of this time"
    faults = f" ({counted(len(one.problems), 'fault')}: {'; '.join(one.problems)})" if one.problems else ""
    return f"{one.what}: measured {str(one.time)[:16]}Z, {age_words(one.age)}{state}{faults}"
