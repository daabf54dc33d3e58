"""The numbers of a source file: which of them are constants of the engine, their names, and the file with one
of them changed."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from types import CodeType

# Numbers that carry no measure: an identity; within a formula also the factor of a square or a half.
PLAIN = (0, 1)
PLAIN_IN_FORMULAS = (0, 1, 2)
# Keyword arguments that count axes, digits or room in memory, not anything in the sky.
SHAPES = ("axis", "axes", "ndim", "ndmin", "dtype", "decimals", "ndigits", "maxsize", "indent", "stacklevel")
# Calls whose numbers lay out an array and hold no measure.
LAYOUT = (
    "reshape",
    "expand_dims",
    "moveaxis",
    "swapaxes",
    "transpose",
    "squeeze",
    "ljust",
    "rjust",
    "center",
)
# Calls in which a very small number guards against a division by zero or a logarithm of nothing.
GUARDS = ("maximum", "max", "fmax", "clip", "minimum", "isclose")
SMALLEST = 1e-6  # below it a number within GUARDS is a guard


@dataclass(frozen=True)
class Constant:
    """One number of a room: its name there, the line, its value, and its place among the file's numbers.

    The name is that of the module's or class's constant, with `.3` for the third number of a table, or
    `function:value` for a number within a function, with `/2` where the same value comes again.
    """

    name: str
    line: int
    value: float
    place: int

    def moved(self, factor: float) -> float:
        """The value times a factor; a whole number stays one and moves by one at least."""
        if not isinstance(self.value, int):
            return self.value * factor
        near = round(self.value * factor)
        return near if near != self.value else self.value + (1 if factor > 1.0 else -1)


def _called(node: ast.AST) -> str:
    """The last name of what a call calls."""
    if not isinstance(node, ast.Call):
        return ""
    return getattr(node.func, "attr", getattr(node.func, "id", ""))


def _is_number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and type(node.value) in (int, float)


def _children(node: ast.AST) -> Iterator[ast.AST]:
    """What of a node may hold constants of the engine."""
    called = _called(node)
    for field, value in ast.iter_fields(node):
        if isinstance(node, ast.Subscript) and field == "slice":
            continue  # an index
        if field in ("annotation", "returns", "type_params", "format_spec"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or (isinstance(child, ast.keyword) and child.arg in SHAPES):
                continue
            if field == "args" and (called in LAYOUT or (called == "round" and child is not value[0])):
                continue
            if called in GUARDS and _is_number(child) and abs(child.value) < SMALLEST:  # type: ignore[attr-defined]
                continue
            yield child


def _named(node: ast.AST, within: str) -> str:
    """The name under which the numbers of a statement go."""
    name = ""
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
        name = node.name
    elif isinstance(node, ast.Assign | ast.AnnAssign):
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        name = ast.unparse(target).strip("()").replace(" ", "")
    return f"{within}.{name}" if within and name else within or name


def _walk(node: ast.AST, scope: str, function: bool) -> Iterator[tuple[str, bool, ast.Constant]]:
    """Every number with the scope it stands in and whether that is a function."""
    for child in _children(node):
        if _is_number(child):
            assert isinstance(child, ast.Constant)
            yield scope, function, child
            continue
        inner, inside = scope, function
        if not function:
            inner = _named(child, scope)
            inside = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef)
        yield from _walk(child, inner, inside)


def constants(source: str) -> list[Constant]:
    """The numbers of a file that a test should notice, in the order of the file."""
    tree = ast.parse(source)
    places = {id(node): i for i, node in enumerate(ast.walk(tree))}
    met = [(scope, function, node) for scope, function, node in _walk(tree, "", False)]
    scopes = [scope for scope, function, _ in met if not function]
    found: list[Constant] = []
    counted: dict[str, int] = {}
    for scope, function, node in met:
        name = f"{scope}:{node.value!r}" if function else scope or "module"
        counted[name] = counted.get(name, 0) + 1
        if function:
            name += f"/{counted[name]}" if counted[name] > 1 else ""
        elif scopes.count(scope) > 1:
            name += f".{counted[name]}"
        plain: tuple[float, ...] = PLAIN_IN_FORMULAS if function else PLAIN
        if abs(node.value) not in plain:  # type: ignore[arg-type]
            found.append(Constant(name, node.lineno, node.value, places[id(node)]))  # type: ignore[arg-type]
    return found


def compiled(source: str, file: str, place: int, value: float) -> CodeType:
    """The file's code with another value at one place."""
    tree = copy.deepcopy(ast.parse(source))
    node = list(ast.walk(tree))[place]
    assert isinstance(node, ast.Constant)
    node.value = value
    return compile(tree, file, "exec")
