"""The readers of the measured maps as calls on bytes, with invented maps to mutate: nothing may raise.

A product is read, kept and read back; a kept copy is attacked as its bytes and as what is packed in them,
since a wound to packed bytes hardly ever gets past their checksum.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
from hostile import FIXTURES

from propagation.base.store import Store, Stored
from propagation.space_weather.sources.absorption_map import MHZ_RANGE, absorption_of, read_absorption_map
from propagation.space_weather.sources.aurora_map import LARGEST, aurora_of, read_aurora_map
from propagation.space_weather.sources.density_map import (
    HMF2_RANGE_KM,
    MOST_OBSERVATIONS,
    NMF2_RANGE_M3,
    density_of,
    read_density_frame,
    read_density_index,
)
from propagation.space_weather.sources.hosts import MAP_PRODUCTS
from propagation.space_weather.state.measured_maps import measured_of, measured_words

NOW: Final = np.datetime64("2031-02-27T09:30:00", "s")
TIME: Final = "2031-02-27T09:05:00Z"
PIECES_A_WHOLE: Final = 9  # small pieces for each whole map, which takes a thousand times as long to read
PIECE: Final = 6000  # bytes
NAMES: Final = tuple(MAP_PRODUCTS)


def _inside(numbers: Any, limits: tuple[float, float]) -> None:
    """What was read lies inside its limits, whatever the bytes were; a step of keeping beyond is rounding."""
    known = numbers[np.isfinite(numbers)]
    slack = 1e-3 * (limits[1] - limits[0])
    assert not np.any((known < limits[0] - slack) | (known > limits[1] + slack)), (known.min(), known.max())


def _sensible(name: str, found: Any) -> None:
    if name == "measured-density":
        _inside(found.nmf2_m3, NMF2_RANGE_M3)
        _inside(found.hmf2_km, HMF2_RANGE_KM)
        assert 0 <= found.observations.min() <= found.observations.max() <= MOST_OBSERVATIONS
    elif name == "measured-absorption":
        _inside(found.highest_mhz, MHZ_RANGE)
    else:
        _inside(found.value, (0.0, LARGEST))


READ: Final[dict[str, Callable[[bytes], Any]]] = {
    "measured-density": read_density_frame,
    "measured-absorption": read_absorption_map,
    "measured-aurora": read_aurora_map,
}
AGAIN: Final[dict[str, Callable[[bytes], Any]]] = {
    "measured-density": density_of,
    "measured-absorption": absorption_of,
    "measured-aurora": aurora_of,
}


def product(name: str) -> Callable[[bytes, Path], None]:
    """Reads a product, and what is kept of it."""

    def reader(data: bytes, folder: Path) -> None:
        _sensible(name, READ[name](data))
        kept = MAP_PRODUCTS[name].stored_form(data, None)
        if kept.body:
            again = AGAIN[name](kept.body)
            assert again is not None, "what was kept cannot be read"
            _sensible(name, again)
            assert tuple(kept.problems) == tuple(again.problems)

    return reader


def index(data: bytes, folder: Path) -> None:
    """Reads the list of frames."""
    for _, address in read_density_index(data).frames:
        assert address == address.strip() != ""


def copy(name: str, *, unpacked: bool) -> Callable[[bytes, Path], None]:
    """Reads a kept copy out of the store. unpacked: the bytes are the copy before it is packed."""

    def reader(data: bytes, folder: Path) -> None:
        if unpacked:
            head, _, numbers = data.partition(b"\n")
            data = head + b"\n" + zlib.compress(numbers, 1)
        found = AGAIN[name](data)
        if found is not None:
            _sensible(name, found)
        store = Store(folder)
        store.put(Stored(name, data, "test", NOW, NOW))
        listed, notes = measured_of(store, NOW)
        assert len(listed) + len(notes) == 1
        assert all(measured_words(one) for one in listed)

    return reader


MAP_READERS: Final[dict[str, Callable[[bytes, Path], None]]] = {
    "list of maps": index,
    **{f"map {name.removeprefix('measured-')}": product(name) for name in NAMES},
    **{f"copy {name.removeprefix('measured-')}": copy(name, unpacked=False) for name in NAMES},
    **{f"unpacked {name.removeprefix('measured-')}": copy(name, unpacked=True) for name in NAMES},
}


@cache
def map_seeds(reader: str) -> tuple[bytes, ...]:
    """Maps and copies of the kind a reader takes."""
    if reader == "list of maps":
        return (json.dumps([{"url": f"/frame_{n}.geojson", "time_tag": TIME} for n in range(20)]).encode(),)
    kind, short = reader.split()
    name = f"measured-{short}"
    whole = _whole(name)
    if kind == "map":
        pieces = [_piece(name, whole), whole[:PIECE]]
        return (*(pieces * PIECES_A_WHOLE)[:PIECES_A_WHOLE], whole)
    body = MAP_PRODUCTS[name].stored_form(whole, None).body
    if kind == "copy":
        return (body,)
    head, _, packed = body.partition(b"\n")
    return (head + b"\n" + zlib.decompress(packed),)


def _piece(name: str, whole: bytes) -> bytes:
    """A product with little in it, though well formed."""
    if name == "measured-density":
        return (FIXTURES / "space_weather" / "density_cells.json").read_bytes()
    if name == "measured-aurora":
        return json.dumps(_aurora(range(0, 360, 90))).encode()
    return b"\n".join(whole.split(b"\n")[:16]) + b"\n"


@cache
def _whole(name: str) -> bytes:
    """An invented map of the world."""
    if name == "measured-density":
        return json.dumps(_density()).encode()
    return json.dumps(_aurora(range(360))).encode() if name == "measured-aurora" else _absorption()


def _density() -> dict[str, Any]:
    features = [
        {
            "geometry": {"coordinates": [-177.5 + 5.0 * column, -88.75 + 2.5 * row]},
            "properties": {
                "tec": 5, "anomaly": -2, "hmF2": 250 + row, "NmF2": 1e11 + 1e9 * row * column,
                "quality_flag": column % 6,
            },
        }
        for row in range(72)
        for column in range(72)
    ]  # fmt: skip
    return {"type": "FeatureCollection", "time_tag": TIME, "features": features}


def _aurora(longitudes: range) -> dict[str, Any]:
    points = [
        [longitude, latitude, 40 if 62 <= abs(latitude) <= 70 else 0]
        for longitude in longitudes
        for latitude in range(-90, 91)
    ]
    return {"Observation Time": TIME, "Forecast Time": "2031-02-27T10:05:00Z", "coordinates": points}


def _absorption() -> bytes:
    heads = (
        "# Product: invented absorption map\n# Product Valid At : 2031-02-27 09:25 UTC\n"
        "#  X-RAY Message : Normal X-ray background\n#  Proton Message : Quiet proton background\n"
    )
    longitudes = " ".join(str(-178 + 4 * column) for column in range(90))
    rows = "".join(f"{89 - 2 * row} | " + " ".join(["2.5"] * 90) + "\n" for row in range(90))
    return f"{heads}{longitudes}\n{'-' * 90}\n{rows}".encode()
