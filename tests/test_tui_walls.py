"""Who may import whom in the terminal program: kit below app below features, and no feature another."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parent.parent
TOP = {"tui", "tui.cli", "tui.completion", "tui.__main__"}  # the way in, above everything


class Import(NamedTuple):
    """One imported module or name of a module."""

    name: str  # dotted: the module, or module.name
    for_types: bool  # under TYPE_CHECKING alone


@cache
def modules() -> dict[str, ast.Module]:
    """The syntax tree of every module of the terminal program, by its dotted name."""
    found = {}
    for file in sorted((ROOT / "tui").rglob("*.py")):
        parts = file.relative_to(ROOT).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = ast.parse(file.read_text(encoding="utf-8"))
    return found


@cache
def imports(module: str) -> tuple[Import, ...]:
    """Everything a module imports anywhere in its source."""
    tree = modules()[module]
    typed = {
        id(node)
        for block in ast.walk(tree)
        if isinstance(block, ast.If) and ast.unparse(block.test) == "TYPE_CHECKING"
        for node in ast.walk(block)
    }
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [Import(alias.name, id(node) in typed) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            found += [Import(f"{node.module}.{alias.name}", id(node) in typed) for alias in node.names]
    return tuple(found)


def zone(name: str) -> str:
    """The zone a module or a name of it stands in: kit, app, the name of a feature, or the way in."""
    parts = name.split(".")
    if parts[:2] == ["tui", "features"]:
        return parts[2] if len(parts) > 2 else "features"
    return parts[1] if parts[:2] in (["tui", "kit"], ["tui", "app"]) else parts[0]


BELOW = {"kit": {"kit"}, "app": {"kit", "app"}}  # what a zone may import of the terminal program


@pytest.mark.parametrize("module", [name for name in modules() if name not in TOP])
def test_a_module_imports_only_from_its_own_zone_and_those_below(module: str) -> None:
    """Late imports and those for the type checker included: the app reaches a feature only by its list."""
    allowed = BELOW.get(zone(module), {"kit", "app", zone(module)})
    for wanted, _ in imports(module):
        if wanted.split(".")[0] == "tui":
            assert zone(wanted) in allowed, f"{module} imports {wanted}"


def test_every_place_in_the_list_of_features_is_there() -> None:
    """A module or a name that was moved or misspelt would fail only when its key is pressed."""
    from tui.app import feature_list

    places = [
        *feature_list.SIDE_PANELS.values(),
        *(page.screen for page in feature_list.PAGES),
        *(what for _, _, what in feature_list.FOUND_BY_NAME if ":" in what),
        *(f"{module}:run" for module, _ in feature_list.COMMANDS.values()),
    ]
    for place in places:
        assert callable(feature_list.load(place)), place


def test_every_feature_is_in_the_list() -> None:
    from tui.app import feature_list

    listed = {module for module, _ in feature_list.COMMANDS.values()}
    listed |= {place.partition(":")[0] for place in feature_list.SIDE_PANELS.values()}
    listed |= {page.screen.partition(":")[0] for page in feature_list.PAGES}
    reached = {zone(module) for module in listed}
    features = {zone(name) for name in modules() if name.startswith("tui.features.")}
    assert features <= reached


def test_the_commands_load_no_toolkit_of_screens() -> None:
    """A command module imports neither Textual nor anything that does, late imports aside."""
    for name in modules():
        if name.endswith("command"):
            assert not any(wanted.split(".")[0] == "textual" for wanted, _ in imports(name)), name


DRAWS = [name for name in modules() if zone(name) == "kit" or name.endswith(".view")]
PLAIN = ("base", "geo", "spectrum", "wording")  # wings of the engine that compute no forecast
RECORDS = (  # of the other wings: tables, records, and the choice among finished results
    "propagation.advice.band_now",
    "propagation.advice.calendar",
    "propagation.advice.ranking",
    "propagation.advice.rates",
    "propagation.signal.rays.causes",
)


@pytest.mark.parametrize("module", DRAWS)
def test_what_draws_never_computes(module: str) -> None:
    """Kit and views take finished results: no forecast, no antenna, no store, no job; for types they may."""
    for wanted, for_types in imports(module):
        parts = wanted.split(".")
        if for_types:
            continue
        if parts[0] == "propagation":
            assert parts[1] in PLAIN or wanted.startswith(RECORDS), f"{module} imports {wanted}"
            assert parts[1:3] != ["base", "store"], f"{module} imports {wanted}"
        if parts[:2] == ["tui", "app"]:
            raise AssertionError(f"{module} imports {wanted}")
