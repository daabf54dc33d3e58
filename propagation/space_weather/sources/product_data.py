"""Data of a published product, and what all readers of products share: careful JSON, and packed maps.

A map is kept in few bytes: a first line of JSON, then packed whole numbers. No damaged bytes raise an error:
what cannot be read is None.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from propagation.base.text import as_time
from propagation.base.time_series import EMPTY, TimeSeries

FLUX_RANGE_SFU: Final = (50.0, 500.0)  # outside: a burst, a fill value or a cut number
KP_RANGE: Final = (0.0, 9.34)
SSN_RANGE: Final = (0.0, 500.0)
XRAY_RANGE_W_M2: Final = (1e-9, 0.1)
WEB_PAGE: Final = "a web page came instead of the product"
_LARGEST_UNPACKED: Final = 1_000_000  # bytes; the largest map takes 70 000
_LARGEST_LINE: Final = 4096  # bytes of the first line


@dataclass(frozen=True, eq=False)
class ProductData:
    """Data of one product of indices. Records that it does not hold are empty; times are UTC.

    flux_sfu by day (00 UT), flux_forecast_sfu likewise; kp and kp_forecast by start of the three-hour
    interval, hp30 by that of the half hour; daily_kp_forecast a coarser one from daily A indices; xray_w_m2
    by minute; smoothed_ssn (version 2) and smoothed_flux_sfu by month (its first day); proton_scale: the S
    scale in force; storm_notes: plain sentences; problems: what was left out, and why.
    """

    issued: np.datetime64 | None = None
    flux_sfu: TimeSeries = EMPTY
    flux_forecast_sfu: TimeSeries = EMPTY
    kp: TimeSeries = EMPTY
    hp30: TimeSeries = EMPTY
    kp_forecast: TimeSeries = EMPTY
    daily_kp_forecast: TimeSeries = EMPTY
    a_index: TimeSeries = EMPTY
    xray_w_m2: TimeSeries = EMPTY
    smoothed_ssn: TimeSeries = EMPTY
    smoothed_flux_sfu: TimeSeries = EMPTY
    proton_scale: int | None = None
    storm_notes: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def empty(self) -> bool:
        """True if nothing usable was found."""
        records = (
            *(self.flux_sfu, self.flux_forecast_sfu, self.kp, self.kp_forecast, self.daily_kp_forecast),
            *(self.hp30, self.xray_w_m2, self.smoothed_ssn, self.smoothed_flux_sfu),
        )
        return (
            not any(len(record) for record in records) and self.proton_scale is None and not self.storm_notes
        )


def record_of(pairs: Iterable[tuple[np.datetime64, float, object]]) -> TimeSeries:
    """TimeSeries of (time, value, anything)."""
    listed = list(pairs)
    return TimeSeries.of([pair[0] for pair in listed], [pair[1] for pair in listed]) if listed else EMPTY


def text_of(body: bytes) -> tuple[str, str | None]:
    """Text of a product, and what was wrong with its encoding."""
    if body[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return body.decode("utf-16", errors="replace"), "encoded as UTF-16 instead of UTF-8"
    try:
        return body.decode("utf-8-sig"), None
    except UnicodeDecodeError as error:
        return body.decode("latin-1"), f"not UTF-8 at byte {error.start}; read as Latin-1"


def json_of(text: str) -> tuple[object, str | None]:
    """Value of a JSON product, or None and what is wrong with it."""
    if text.lstrip()[:1] == "<":
        return None, WEB_PAGE
    if not text.strip():
        return None, "it is empty"
    try:
        return json.loads(text), None
    except json.JSONDecodeError as error:
        end = text.rstrip()
        cut = not end.endswith(("}", "]")) or error.pos >= len(end) - 1
        why = "it ends too early" if cut else f"character {error.pos} makes no sense"
        return None, f"not whole JSON: {why} ({len(text)} characters)"
    except RecursionError:
        return None, f"not usable JSON: its brackets are nested too deeply ({len(text)} characters)"
    except ValueError:
        return None, f"not usable JSON: a number of thousands of digits ({len(text)} characters)"


def pack(kind: str, times: dict[str, np.datetime64], numbers: NDArray[Any], notes: list[str]) -> bytes:
    """Bytes of a map. numbers: unsigned whole numbers of 8 or 16 bits, any shape."""
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
