"""The tool that looks for unnoticed numbers, on a package of its own with one of each kind."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from mutate_constants import compiled, constants

ROOT = Path(__file__).resolve().parent.parent
ROOM = '''"""A room."""
import numpy as np

HELD = 40.0
LOOSE = 7.0
TABLE = np.array([3.0, 5.0])
EXCUSED = 9.0


def held(x, step=1.5):
    """Numbers in a docstring, as 12.5, are none of the code's."""
    rows = np.zeros((4, 4), dtype=float)
    assert rows[3, 3] == 0.0
    return HELD * x + step + np.sum(TABLE, axis=0) - 2.0 * 1 + np.log(max(x, 1e-9))


def loose(x):
    return LOOSE * x + EXCUSED
'''
TEST = """from hall.wing.room import held, loose

def test_held():
    assert abs(held(1.0) - 47.5) < 0.01

def test_loose():
    assert loose(1.0) > 0.0
"""
UPSTAIRS = "from hall.wing import room\n\ndef up(x):\n    return 1.3 * room.loose(x)\n"
WHY = '[[accepted]]\nroom = "wing.room"\nconstants = ["EXCUSED"]\nwhy = "a wish"\n'


@pytest.fixture
def hall(tmp_path: Path) -> Path:
    """A package with one room that a test imports and one that stands on it."""
    for name, text in (
        ("hall/__init__.py", ""), ("hall/wing/__init__.py", ""), ("hall/wing/room.py", ROOM),
        ("hall/wing/upstairs.py", UPSTAIRS), ("tests/test_room.py", TEST),
        ("tests/mutate_accepted.toml", WHY), ("pyproject.toml", ""),
    ):  # fmt: skip
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def run(hall: Path, *more: str) -> subprocess.CompletedProcess[str]:
    tool = [sys.executable, str(ROOT / "tests" / "mutate.py"), "--root", str(hall), "--package", "hall"]
    return subprocess.run([*tool, *more], capture_output=True, text=True, check=False, cwd=hall)


def test_names_of_constants() -> None:
    names = {constant.name: constant.value for constant in constants(ROOM)}
    assert names == {
        "HELD": 40.0, "LOOSE": 7.0, "TABLE.1": 3.0, "TABLE.2": 5.0, "EXCUSED": 9.0, "held:1.5": 1.5,
        "held:4": 4, "held:4/2": 4,
    }  # fmt: skip


def test_one_number_is_changed_and_no_other() -> None:
    for constant in constants(ROOM):
        namespace: dict[str, object] = {}
        exec(compiled(ROOM, "room.py", constant.place, constant.moved(1.25)), namespace)
        assert (namespace["HELD"] == 40.0) == (constant.name != "HELD")
        assert (namespace["LOOSE"] == 7.0) == (constant.name != "LOOSE")


def test_whole_numbers_stay_whole_and_move() -> None:
    assert [constants(f"N = {n}")[0].moved(1.25) for n in (2, 3, 16)] == [3, 4, 20]
    assert [constants(f"N = {n}")[0].moved(0.8) for n in (2, 3, 16)] == [1, 2, 13]


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_the_unnoticed_number_is_found_and_no_file_changes(hall: Path) -> None:
    before = {file: file.read_bytes() for file in hall.rglob("*.py")}
    found = run(hall, "--room", "wing.room")
    assert found.returncode == 1, found.stderr
    assert "LOOSE: x 0.8 unnoticed, x 1.25 unnoticed" in found.stdout
    for name in ("HELD:", "TABLE", "held:1.5", "EXCUSED"):
        assert name not in found.stdout
    assert {file: file.read_bytes() for file in hall.rglob("*.py")} == before
    kept = (hall / "build" / "mutants.jsonl").read_text(encoding="utf-8")
    assert '"by": "tests/test_room.py::test_held"' in kept
    again = run(hall, "--room", "wing.room")  # nothing is left to try
    assert "LOOSE" in again.stdout
    assert (hall / "build" / "mutants.jsonl").read_text(encoding="utf-8") == kept


def test_an_excuse_for_a_number_that_is_gone_is_named(hall: Path) -> None:
    room = hall / "hall" / "wing" / "room.py"
    room.write_text(ROOM.replace("EXCUSED", "OTHER"), encoding="utf-8")
    assert "nothing is called EXCUSED any more" in run(hall, "--list").stdout
    assert run(hall, "--room", "wing.cellar").returncode == 2


def test_excuses_name_their_room_and_their_reason() -> None:
    import tomllib

    rows = tomllib.loads((ROOT / "tests" / "mutate_accepted.toml").read_text(encoding="utf-8"))["accepted"]
    for row in rows:
        assert set(row) == {"room", "constants", "why"}
        assert len(row["why"]) > 20
        assert (ROOT / "propagation" / f"{row['room'].replace('.', '/')}.py").exists(), row["room"]
