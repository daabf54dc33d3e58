"""Output as JSON and in columns; `propagation.wording` puts quantities into words."""

from __future__ import annotations

import json
import math
import shutil
import sys
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Final, TextIO

import numpy as np

from propagation.base.text import in_json

USUAL_WIDTH: Final = 100  # columns of text that does not go to a terminal
LEAST_WIDTH: Final = 40  # columns below which text is not wrapped narrower (ours)


def text_width() -> int:
    """Columns at which the text of a command wraps: the terminal's, `USUAL_WIDTH` where there is none."""
    if not sys.stdout.isatty():
        return USUAL_WIDTH
    return max(shutil.get_terminal_size((USUAL_WIDTH, 24)).columns, LEAST_WIDTH)


def number(value: float | None, digits: int = 1, unit: str = "", missing: str = "-") -> str:
    """A number with its unit, `7.1 MHz`; a dash if it is undefined."""
    if value is None or not math.isfinite(value):
        return missing
    text = f"{value:.{digits}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return f"{text} {unit}" if unit else text


def iso(time: np.datetime64) -> str:
    """A time by ISO 8601 with Z, `2026-03-20T12:00:00Z`."""
    return f"{time.astype('datetime64[s]')}Z"


def plain_value(value: object) -> Any:
    """A value in JSON types: numpy to Python, dataclass to object, time to ISO text, NaN to null."""
    if value is None or isinstance(value, (str, bool)):
        return value
    if isinstance(value, (np.datetime64,)):
        return None if np.isnat(value) else iso(value)
    if isinstance(value, np.bool_):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.ndarray):
        return [plain_value(item) for item in value] if value.ndim else plain_value(value[()])
    if isinstance(value, Mapping):
        return {str(key): plain_value(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain_value(item) for item in value]
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: plain_value(getattr(value, item.name)) for item in fields(value)}
    raise TypeError(f"no JSON form for {type(value).__name__}")


def rounded(value: Any, digits: int = 4) -> Any:
    """`value` with every float rounded to the significant digits useful to a reader."""
    if isinstance(value, float):
        return round(value, digits)
    if isinstance(value, dict):
        return {key: rounded(item, digits) for key, item in value.items()}
    if isinstance(value, list):
        return [rounded(item, digits) for item in value]
    return value


def json_text(value: object) -> str:
    """The JSON answer of a command: one object, indented, never NaN."""
    return in_json(
        json.dumps(plain_value(value), indent=2, allow_nan=False, ensure_ascii=not _utf(sys.stdout))
    )


def _utf(stream: TextIO) -> bool:
    """Return whether a stream accepts every character; otherwise JSON is written with escapes."""
    return (getattr(stream, "encoding", None) or "utf-8").lower().startswith(("utf", "cp65001"))


def write_json(value: Mapping[str, object], out: TextIO) -> None:
    """Write the answer of `json_text` to a file; a value that is an iterator (with at least one item) is
    written item by item.
    """
    out.write("{")
    for number, (key, item) in enumerate(value.items()):
        out.write(f"{',' if number else ''}\n  {json.dumps(key)}: ")
        if not isinstance(item, Iterator):
            out.write(json_text(item).replace("\n", "\n  "))
            continue
        mark = "["
        for one in item:
            out.write(f"{mark}\n    " + json_text(one).replace("\n", "\n    "))
            mark = ","
        out.write("[]" if mark == "[" else "\n  ]")
    out.write("\n}\n")


def table(rows: list[list[str]], heading: list[str] | None = None, gap: int = 2) -> str:
    """Rows of text as aligned columns: the first left-aligned, the others right-aligned."""
    everything = ([heading] if heading else []) + rows
    if not everything:
        return ""
    widths = [max(len(row[column]) for row in everything) for column in range(len(everything[0]))]
    lines = []
    for row in everything:
        cells = [
            row[0].ljust(widths[0]),
            *(cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)),
        ]
        lines.append((" " * gap).join(cells).rstrip())
    return "\n".join(lines)
