"""Which room of a wing may import which: the rooms of a wing, lowest first, import downward only.

A room is a folder inside a wing of the engine. tests/test_imports.py holds the walls between the wings.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ENGINE = Path(__file__).resolve().parent.parent / "propagation"
ROOMS = {  # wing: its rooms, lowest first
    "space_weather": ("indices", "sources", "state"),
    "signal": ("rays", "losses", "chances"),
}


def rooms_named(file: Path, wing: str) -> set[str]:
    """The rooms of a wing that a file imports from, anywhere in its source."""
    found = set()
    start = f"propagation.{wing}."
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        else:
            continue
        found |= {name.removeprefix(start).split(".")[0] for name in names if name.startswith(start)}
    return found


@pytest.mark.parametrize("wing", ROOMS)
def test_a_wing_holds_only_its_rooms(wing: str) -> None:
    folder = ENGINE / wing
    assert {path.name for path in folder.iterdir() if path.name != "__pycache__"} == {
        "__init__.py",
        *ROOMS[wing],
    }


@pytest.mark.parametrize("wing", ROOMS)
def test_a_room_imports_only_from_those_below(wing: str) -> None:
    rooms = ROOMS[wing]
    broken = [
        f"{file.relative_to(ENGINE)} imports from {other}"
        for number, room in enumerate(rooms)
        for file in sorted((ENGINE / wing / room).glob("*.py"))
        for other in sorted(rooms_named(file, wing))
        if other not in rooms[: number + 1]
    ]
    assert not broken


@pytest.mark.parametrize("wing", ROOMS)
def test_every_room_takes_part(wing: str) -> None:
    """Without imports between the rooms the rule above would hold of nothing."""
    top = ROOMS[wing][-1]
    below = {room for file in (ENGINE / wing / top).glob("*.py") for room in rooms_named(file, wing)}
    assert below >= set(ROOMS[wing])
