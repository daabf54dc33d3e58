"""Keeps a map in few bytes: a first line of JSON, then whole numbers, packed; and the way back.

Readers of the measured maps share what is here: careful JSON, and the packing. Nothing raises for damaged
bytes: what cannot be read is None.
"""

from __future__ import annotations

import json
import zlib
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from propagation.base.text import as_time
from propagation.space_weather.sources.reading import WEB_PAGE

_LARGEST_UNPACKED: Final = 1_000_000  # bytes; the largest map takes 70 000
_LARGEST_LINE: Final = 4096  # bytes of the first line


def json_of(body: bytes) -> tuple[Any, str | None]:
    """The value of a JSON product, or None and what is wrong with it."""
    text = body.decode("utf-8-sig", errors="replace")
    if text.lstrip()[:1] == "<":
        return None, WEB_PAGE
    if not text.strip():
        return None, "it is empty"
    try:
        return json.loads(text), None
    except (ValueError, RecursionError) as error:
        at = getattr(error, "pos", None)
        cut = not text.rstrip().endswith(("}", "]")) or (isinstance(at, int) and at >= len(text.rstrip()) - 1)
        why = "it ends too early" if cut else f"character {at} makes no sense"
        return None, f"not whole JSON: {why} ({len(text)} characters)"


def pack(kind: str, times: dict[str, np.datetime64], numbers: NDArray[Any], notes: list[str]) -> bytes:
    """A map as bytes. numbers: unsigned whole numbers of 8 or 16 bits, any shape."""
    head = {
        "map": kind,
        "shape": list(numbers.shape),
        "bits": numbers.dtype.itemsize * 8,
        "notes": notes,
        **{name: str(time.astype("datetime64[s]")) for name, time in times.items()},
    }
    little = numbers.astype(numbers.dtype.newbyteorder("<"))
    return json.dumps(head).encode("ascii") + b"\n" + zlib.compress(little.tobytes(), 9)


def unpack(
    kind: str, body: bytes, names: tuple[str, ...], shape: tuple[int, ...], bits: int
) -> tuple[dict[str, np.datetime64], NDArray[Any], tuple[str, ...]] | None:
    """Times by name, the numbers (shape) and the notes; None unless the bytes are a whole map of the kind."""
    line, _, packed = body.partition(b"\n")
    if len(line) > _LARGEST_LINE:
        return None
    try:
        head = json.loads(line)
        engine = zlib.decompressobj()
        raw = engine.decompress(packed, _LARGEST_UNPACKED)
    except (ValueError, RecursionError, zlib.error):
        return None
    if not isinstance(head, dict) or head.get("map") != kind or not engine.eof:
        return None
    times = {name: as_time(head.get(name)) for name in names}
    notes = head.get("notes")
    fits = head.get("shape") == list(shape) and len(raw) == int(np.prod(shape)) * bits // 8
    if not fits or not isinstance(notes, list) or any(time is None for time in times.values()):
        return None
    numbers = np.frombuffer(raw, f"<u{bits // 8}").reshape(shape)
    known = {name: time for name, time in times.items() if time is not None}
    return known, numbers, tuple(str(note) for note in notes)
