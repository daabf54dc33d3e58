"""Answers for programs, and columns."""

from __future__ import annotations

import io
import json
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from tui.kit import format as fmt


@pytest.mark.parametrize(
    ("value", "digits", "unit", "text"),
    [(7.123, 1, "MHz", "7.1 MHz"), (None, 1, "MHz", "-"), (float("nan"), 1, "", "-"),
     (-0.04, 1, "dB", "0.0 dB"),
     (float("inf"), 0, "km", "-"), (1234.5, 0, "", "1234")],
)  # fmt: skip
def test_number(value: float | None, digits: int, unit: str, text: str) -> None:
    assert fmt.number(value, digits, unit) == text


def test_times() -> None:
    assert fmt.iso(np.datetime64("2026-03-20T07:05:09", "s")) == "2026-03-20T07:05:09Z"


@dataclass(frozen=True)
class _Pair:
    name: str
    values: Any


def test_an_answer_written_as_it_comes_reads_as_the_whole_one() -> None:
    rows = [{"a": 1.5, "text": "[b]\n"}, {"a": float("nan"), "text": "Ü"}]
    answers: list[dict[str, Any]] = [
        {"n": 2, "rows": rows, "deep": {"x": [1, {"y": 2}]}}, {"rows": [], "none": {}}, {"rows": rows[:1]},
    ]  # fmt: skip
    for answer in answers:
        out = io.StringIO()
        fmt.write_json(answer | {"rows": iter(answer["rows"])}, out)
        assert out.getvalue() == fmt.json_text(answer) + "\n"


def test_json_takes_what_the_engine_gives_and_never_writes_nan() -> None:
    value = {
        "array": np.array([[1.5, np.nan], [np.inf, -2.0]]),
        "scalar": np.float64(3.25),
        "whole": np.int64(4),
        "truth": np.bool_(True),
        "time": np.datetime64("2026-03-20T12:00", "s"),
        "never": np.datetime64("NaT", "s"),
        "pair": _Pair("x", (1, None)),
    }
    back = json.loads(fmt.json_text(value))
    assert back == {
        "array": [[1.5, None], [None, -2.0]],
        "scalar": 3.25,
        "whole": 4,
        "truth": True,
        "time": "2026-03-20T12:00:00Z",
        "never": None,
        "pair": {"name": "x", "values": [1, None]},
    }
    with pytest.raises(TypeError):
        fmt.json_text({"x": object()})


def test_table_is_aligned() -> None:
    text = fmt.table([["a", "1"], ["long", "22"]], ["name", "n"])
    assert text.splitlines() == ["name   n", "a      1", "long  22"]
    assert fmt.table([]) == ""
