"""Who may import whom: the contracts between the wings, held against the source and fresh interpreters."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("propagation", "tui")
HEAVY = ("scipy", "pandas")  # never at run time


@cache
def modules() -> dict[str, Path]:
    """Every module of the two packages, by its dotted name."""
    found = {}
    for package in PACKAGES:
        for file in sorted((ROOT / package).rglob("*.py")):
            parts = file.relative_to(ROOT).with_suffix("").parts
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = file
    return found


@cache
def imports(name: str) -> frozenset[str]:
    """The modules a module imports anywhere in its source, late or for the type checker alone too; names from
    packages count as their modules.
    """
    wanted = set()
    for node in ast.walk(ast.parse(modules()[name].read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            wanted |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name} imports relatively"
            for alias in node.names:
                full = f"{node.module}.{alias.name}"
                wanted.add(full if full in modules() else str(node.module))
    return frozenset(wanted)


WINGS = (  # of the engine, lowest first: a wing imports only from itself and from those before it
    "base",
    "geo",
    "space_weather",
    "spectrum",
    "ionosphere",
    "antennas",
    "station",
    "signal",
    "advice",
    "logbook",
    "wording",
)
ENGINE = [name for name in modules() if name.startswith("propagation.") and name.split(".")[1] != "data"]


def wing_of(name: str) -> str:
    """The wing a module of the engine stands in."""
    return name.split(".")[1]


def test_every_room_of_the_engine_stands_in_a_wing() -> None:
    assert {wing_of(name) for name in ENGINE} <= set(WINGS)
    for name in ENGINE:
        assert name.count(".") > 1 or modules()[name].name == "__init__.py", name


@pytest.mark.parametrize("name", ENGINE)
def test_a_wing_imports_only_from_those_below(name: str) -> None:
    for other in imports(name):
        if other.startswith("propagation.") and wing_of(other) != "data":
            assert WINGS.index(wing_of(other)) <= WINGS.index(wing_of(name)), f"{name} imports {other}"


@pytest.mark.parametrize("name", [name for name in modules() if name.startswith("propagation")])
def test_the_engine_knows_no_screen_clock_home_or_network(name: str) -> None:
    tops = {other.partition(".")[0] for other in imports(name)}
    assert not tops & {"tui", "textual", "rich", "platformdirs", *HEAVY} or name.startswith(
        "propagation.data."
    )
    if name != "propagation.space_weather.exchange":
        network = {"socket", "ssl", "http", "requests", "urllib3"}
        assert not tops & network or name.startswith("propagation.data.")
    if name != "propagation.geo.sun":
        assert "astral" not in tops or name.startswith("propagation.data.")
    if name.startswith("propagation.data."):
        return
    for node in ast.walk(ast.parse(modules()[name].read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute):
            words = ast.unparse(node)
            assert words not in (
                "datetime.now",
                "datetime.utcnow",
                "date.today",
                "time.time",
                "os.environ",
            ), words
            assert words not in ("Path.home", "os.getenv"), words
            assert node.attr != "expanduser", words


def test_the_network_is_loaded_only_to_ask_it() -> None:
    code = (
        "import sys; import propagation.space_weather.feeds; "
        "print(sorted({'requests', 'urllib3', 'socket', 'ssl'} & set(sys.modules)))"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"


@pytest.mark.parametrize("name", [name for name in modules() if name.startswith("tui")])
def test_the_screens_do_not_reach_into_heavy_packages(name: str) -> None:
    tops = {other.partition(".")[0] for other in imports(name)}
    assert not tops & {"requests", "socket", "http", "astral", *HEAVY}
    if name.endswith("command") or name in (
        "tui.cli",
        "tui.__main__",
        "tui.app.clock",
        "tui.kit.format",
        "tui.app.paths",
    ):
        assert "textual" not in tops


def test_no_circle_of_imports() -> None:
    """Nowhere, not even one that is closed late or for the type checker alone."""
    state: dict[str, int] = {}

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert state.get(name) != 1, " -> ".join((*trail, name))
        if name in state:
            return
        state[name] = 1
        for other in imports(name):
            if other in modules() and other != name:
                visit(other, (*trail, name))
        state[name] = 2

    for name in modules():
        visit(name, ())


ALONE = """
import contextlib, importlib, os, sys, traceback
for name in sys.argv[1].split():  # shared by all: only our own modules must be fresh
    with contextlib.suppress(ImportError):  # what is for the type checker alone
        importlib.import_module(name)
ours = [name for name in sys.modules if name.partition(".")[0] in ("propagation", "tui")]
assert not ours, ours
failed = []
for name in sys.argv[2:]:
    child = os.fork()
    if child == 0:
        try:
            __import__(name)
        except BaseException:
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    if os.waitpid(child, 0)[1]:
        failed.append(name)
sys.exit(f"cannot be imported alone: {failed}" if failed else 0)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_every_module_can_be_imported_alone() -> None:
    """Each in a process of its own, forked from an interpreter that has seen none of ours, but all else that
    they import.
    """
    names = [name for name in modules() if not name.startswith("propagation.data.builders")]
    others = {other for name in names for other in imports(name) if other.partition(".")[0] not in PACKAGES}
    result = subprocess.run(
        [sys.executable, "-c", ALONE, " ".join(sorted(others)), *names],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stderr


COMMANDS = [
    ["sky", "--at", "KG40"],
    ["path", "--from", "KG40", "--to", "GF25"],
    ["advise", "--to", "GF25", "--date", "2026-03-20"],
    ["why", "--to", "GF25", "--band", "20m", "--at", "2026-03-20T12:00Z"],
    ["antenna"],
    ["station", "show"],
]


@pytest.mark.parametrize("command", COMMANDS, ids=[command[0] for command in COMMANDS])
def test_a_command_loads_neither_the_screens_nor_the_network(command: list[str]) -> None:
    code = (
        "import sys; from tui.cli import main; code = main(sys.argv[1:]); "
        "loaded = {name.partition('.')[0] for name in sys.modules}; "
        "heavy = {'textual', 'rich', 'socket', 'ssl', 'requests', 'urllib3', 'scipy', 'pandas'}; "
        "print(code, sorted(loaded & heavy), file=sys.stderr)"
    )
    result = subprocess.run(
        [sys.executable, "-c", code, *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert result.stderr.splitlines()[-1] in ("0 []", "3 []"), result.stderr
