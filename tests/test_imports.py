"""Who may import whom: the rules between the wings, checked in the source and in a fresh interpreter.

That every module can be imported alone is not tried one by one, in an interpreter each: it follows from three
facts that are tested here. No circle of imports exists, late ones and those for the type checker included; a
module names another of ours by `from ... import` alone, so that it never finds one by luck, because something
else has loaded it; and all modules load in one fresh interpreter, in several orders. What a module meets when
it is loaded then does not depend on which one was asked for first.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

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
def tree(name: str) -> ast.Module:
    """The source of a module, parsed."""
    return ast.parse(modules()[name].read_text(encoding="utf-8"))


@cache
def imports(name: str) -> frozenset[str]:
    """The modules a module imports anywhere in its source, late or for the type checker alone too; names from
    packages count as their modules.
    """
    wanted = set()
    for node in ast.walk(tree(name)):
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


def test_a_wing_imports_only_from_those_below() -> None:
    broken = [
        f"{name} imports {other}"
        for name in ENGINE
        for other in imports(name)
        if other.startswith("propagation.") and wing_of(other) != "data"
        if WINGS.index(wing_of(other)) > WINGS.index(wing_of(name))
    ]
    assert not broken


SCREENS_AND_HOME = {"tui", "textual", "rich", "platformdirs"}
NETWORK = {"socket", "ssl", "http", "requests", "urllib3"}
CLOCK_AND_HOME = (
    *("datetime.now", "datetime.utcnow", "date.today", "time.time"),
    *("os.environ", "os.getenv", "Path.home"),
)


def test_the_engine_knows_no_screen_clock_home_or_network() -> None:
    broken = []
    for name in ENGINE:  # without the data, whose builders run on their own
        tops = {other.partition(".")[0] for other in imports(name)}
        barred = SCREENS_AND_HOME | set(HEAVY)
        if name != "propagation.space_weather.sources.exchange":
            barred |= NETWORK
        if name != "propagation.geo.sun":
            barred |= {"astral"}
        broken += [f"{name} imports {top}" for top in sorted(tops & barred)]
        for node in ast.walk(tree(name)):
            if isinstance(node, ast.Attribute):
                words = ast.unparse(node)
                if words in CLOCK_AND_HOME or node.attr == "expanduser":
                    broken.append(f"{name} uses {words}")
    assert not broken


def test_the_network_is_loaded_only_to_ask_it() -> None:
    code = (
        "import sys; import propagation.space_weather.sources.refresh; "
        "print(sorted({'requests', 'urllib3', 'socket', 'ssl'} & set(sys.modules)))"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"


WITHOUT_SCREENS = ("tui.cli", "tui.__main__", "tui.app.clock", "tui.kit.format", "tui.app.paths")


def test_the_screens_do_not_reach_into_heavy_packages() -> None:
    broken = []
    for name in modules():
        if name.startswith("tui"):
            barred = {"requests", "socket", "http", "astral", *HEAVY}
            if name.endswith("command") or name in WITHOUT_SCREENS:
                barred |= {"textual"}
            tops = {other.partition(".")[0] for other in imports(name)}
            broken += [f"{name} imports {top}" for top in sorted(tops & barred)]
    assert not broken


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


def test_our_modules_are_named_by_from_alone() -> None:
    """`import propagation.geo` would leave open who loads `propagation.geo.sun`."""
    broken = [
        f"{name}: {ast.unparse(node)}"
        for name in modules()
        for node in ast.walk(tree(name))
        if isinstance(node, ast.Import)
        if any(alias.name.partition(".")[0] in PACKAGES for alias in node.names)
    ]
    broken += [
        f"{name}: {other} is a package"
        for name in modules()
        for other in imports(name)
        if other in modules() and modules()[other].name == "__init__.py" and takes_no_name(name, other)
    ]
    assert not broken


def takes_no_name(name: str, package: str) -> bool:
    """True if a module imports a package of ours as a whole, and not names that its `__init__` defines."""
    for node in ast.walk(tree(name)):
        if isinstance(node, ast.ImportFrom):
            for alias in node.names:
                if f"{node.module}.{alias.name}" == package:
                    return True
    return False


IN_SEVERAL_ORDERS = """
import importlib, random, sys
names = sys.argv[1:]
shuffled = random.Random(1).sample(names, len(names))
for order in (names, names[::-1], shuffled):
    for name in order:
        importlib.import_module(name)
    ours = [name for name in sys.modules if name.partition(".")[0] in ("propagation", "tui")]
    assert set(names) <= set(ours)
    for name in ours:
        del sys.modules[name]
"""


def test_all_modules_load_in_several_orders() -> None:
    """In one fresh interpreter that forgets ours, and only ours, in between."""
    names = [name for name in modules() if not name.startswith("propagation.data.builders")]
    result = subprocess.run(
        [sys.executable, "-c", IN_SEVERAL_ORDERS, *names],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stderr


COMMANDS = """
sky --at KG40
path --from KG40 --to GF25
advise --to GF25 --date 2026-03-20
why --to GF25 --band 20m --at 2026-03-20T12:00Z
antenna
station show
"""
ONE_AFTER_ANOTHER = """
import sys
from tui.cli import main
heavy = {"textual", "rich", "socket", "ssl", "requests", "urllib3", "scipy", "pandas"}
for line in sys.argv[1].strip().splitlines():
    code = main(line.split())
    loaded = {name.partition(".")[0] for name in sys.modules} & heavy
    if code not in (0, 3) or loaded:
        sys.exit(f"{line}: exit code {code}, loaded {sorted(loaded)}")
"""


def test_a_command_loads_neither_the_screens_nor_the_network() -> None:
    """All in one fresh interpreter: what it has not loaded at the end, each command does without."""
    result = subprocess.run(
        [sys.executable, "-c", ONE_AFTER_ANOTHER, COMMANDS],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stderr
