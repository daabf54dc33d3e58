"""Every reader of files as one call, with seeds to mutate: what comes back is a result or one sentence."""

from __future__ import annotations

import io
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np
from hostile import FIXTURES
from map_readers import MAP_READERS, map_seeds

from propagation.antennas import touchstone
from propagation.antennas.solution_cache import dump, restore
from propagation.base.store import Store, Stored
from propagation.logbook import files, kept_offset
from propagation.space_weather.sources.hosts import INDEX_PRODUCTS
from propagation.space_weather.state.stored_conditions import best
from propagation.station import friends, station
from tui.app import settings
from tui.features.review import circuits_command

NOW: Final = np.datetime64("2026-03-20T12:00", "s")
Reader = Callable[[bytes, Path], None]


def _toml(read: Callable[[Path], object]) -> Reader:
    def reader(data: bytes, folder: Path) -> None:
        file = folder / "some.toml"
        file.write_bytes(data)
        read(file)

    return reader


def _log(data: bytes, folder: Path) -> None:
    files.read(data)


def _circuits(data: bytes, folder: Path) -> None:
    text = io.TextIOWrapper(io.BytesIO(data), encoding="utf-8-sig", newline="")
    circuits_command.read(text, "the file").rows()


def _sweep(data: bytes, folder: Path) -> None:
    touchstone.read(data)


def _stored(data: bytes, folder: Path) -> None:
    store = Store(folder)
    for name in ("flux", "heard", "typed-in"):
        (folder / f"{name}.stored").write_bytes(data)
    best(store, NOW, NOW)


def _feed(name: str) -> Reader:
    def reader(data: bytes, folder: Path) -> None:
        store = Store(folder)
        store.put(Stored(name, data, "test", NOW, NOW))
        INDEX_PRODUCTS[name].data(data)
        best(store, NOW, NOW)

    return reader


def _solutions(data: bytes, folder: Path) -> None:
    restore(data)


READERS: Final[dict[str, Reader]] = {
    "station": _toml(station.load),
    "friends": _toml(friends.load),
    "settings": _toml(settings.load),
    "learnt": _toml(kept_offset.load),
    "circuits": _circuits,
    "ADIF": _log,
    "ADX": _log,
    "reports": _log,
    "Touchstone": _sweep,
    "stored": _stored,
    "antennas": _solutions,
    **{
        f"feed {name}": _feed(name)
        for name in ("flux", "planetary-k", "outlook", "three-days", "alert", "potsdam-k", "potsdam-hp30")
    },
    **MAP_READERS,
}
LEARNT: Final = b"""date = "2026-03-20"
setup = "0123456789ab"
on = true
entries = 40
used = 31
days = 3
first = "2026-03-18"
last = "2026-03-20"

[[band]]
band = "20m"
offset_db = -3.2
sd_db = 1.1
count = 20
"""
KP_NOWCAST: Final = (
    b"#YYY MM DD hh.h hh._m        days      days_m     Kp   ap D\n"
    b"2026 03 19 21.0 22.50 34411.87500 34411.93750  2.000    7 0\n"
    b"2026 03 20 00.0 01.50 34412.00000 34412.06250  2.333    9 0\n"
    b"2026 03 20 03.0 04.50 34412.12500 34412.18750  5.667   67 0\n"
    b"2026 03 20 06.0 07.50 34412.25000 34412.31250 -1.000   -1 0\n"
)
_FEEDS: Final = {
    "flux": "flux.json", "planetary-k": "planetary_k_new.json", "outlook": "outlook.txt",
    "three-days": "three_days.txt", "alert": "alert.txt",
    "potsdam-hp30": "hp30_nowcast.txt",
}  # fmt: skip


@cache
def seeds(name: str) -> tuple[bytes, ...]:
    """Whole files of the kind a reader takes."""
    logs = FIXTURES / "logs"
    if name in MAP_READERS:
        return map_seeds(name)
    if name == "feed potsdam-k":
        return (KP_NOWCAST,)
    if name.startswith("feed "):
        return (((FIXTURES / "space_weather" / _FEEDS[name.removeprefix("feed ")]).read_bytes())[:20_000],)
    if name == "stored":
        return (_a_stored_copy(),)
    if name == "antennas":
        return (dump(),)
    others: dict[str, Callable[[], tuple[bytes, ...]]] = {
        "station": lambda: ((FIXTURES / "demo" / "station.toml").read_bytes(),),
        "friends": lambda: ((FIXTURES / "demo" / "friends.toml").read_bytes(),),
        "settings": lambda: (b'theme = "night"\nglyphs = "ascii"\ntarget = "Europe"\npower_w = 20.0\n',),
        "learnt": lambda: (LEARNT,),
        "circuits": lambda: (
            b"time,tx,rx,frequency_mhz,power_dbm\n2026-03-20T12:00Z,KG30,GF25,14.1,43\n"
            b'2026-03-20 22:00,"-34.5,-55",London,7.1,50\n',
        ),
        "ADIF": lambda: tuple(file.read_bytes()[:8000] for file in sorted(logs.glob("*.adi"))),
        "ADX": lambda: tuple(file.read_bytes() for file in sorted(logs.glob("*.adx"))),
        "reports": lambda: tuple(file.read_bytes() for file in sorted(logs.glob("*.csv"))),
        "Touchstone": lambda: (
            b"! a sweep\n# MHz S RI R 50\n14.0 0.3 0.1\n14.1 0.1 0.0\n14.2 0.05 0.0\n14.3 0.2 -0.1\n",
        ),
    }
    return others[name]()


def _a_stored_copy() -> bytes:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        store = Store(Path(folder))
        store.put(Stored("flux", b'[{"time_tag": "2026-03-19", "flux": 150}]', "test", NOW, NOW, '"e"'))
        return (Path(folder) / "flux.stored").read_bytes()
