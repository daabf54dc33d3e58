"""Which numbers of the engine may move by a quarter without any test noticing? Run by hand, from the root:

    python tests/mutate.py --room spectrum.noise          one room (a module without `propagation.`)
    python tests/mutate.py --wing ionosphere --jobs 2     every room of a wing
    python tests/mutate.py --list                         what was found, without running anything
    python tests/mutate.py --own                          quick: by the tests named after each room alone,
    python tests/mutate.py --again                        then by all that import it, where those missed

Every number of a room is changed in turn, times 0.8 and times 1.25, and the tests that import the room are
run until one fails. No file is edited: a process that has everything loaded but the room and what stands on
it forks a child for every change, and the child imports the room from changed code. What was found is kept in
`build/mutants.jsonl`; a run that was stopped goes on where it was. Not counted: 0 and 1, 2 within formulas,
indices, axes and digits, numbers under 1e-6 that guard a division (`mutate_constants`), `data`, and what
`mutate_accepted.toml` lists with a reason.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import signal
import sys
import time
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from fnmatch import fnmatchcase
from functools import cached_property
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))

from mutate_constants import Constant, compiled, constants

ROOT = Path(__file__).resolve().parent.parent
FACTORS = (0.8, 1.25)
NOTICED, UNNOTICED, TIME, ERROR = "noticed", "unnoticed", "time", "error"


@dataclass(frozen=True)
class Found:
    """What became of one change."""

    room: str
    constant: str
    line: int
    value: float
    factor: float
    verdict: str
    by: str  # the test that failed
    seconds: float

    @property
    def key(self) -> tuple[str, str, float, float]:
        return self.room, self.constant, self.value, self.factor


class Tree:
    """The source: what imports what, and which tests stand on a room."""

    def __init__(self, root: Path, package: str) -> None:
        self.root, self.package = root, package
        self.files: dict[str, Path] = {}
        for top in sorted({package, "tui"} if (root / "tui").is_dir() else {package}):
            for file in sorted((root / top).rglob("*.py")):
                parts = file.relative_to(root).with_suffix("").parts
                self.files[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = file
        self.tests = sorted((root / "tests").rglob("test_*.py"))
        self.helpers: dict[str, Path] = {}
        for file in sorted((root / "tests").rglob("*.py")):
            if not file.name.startswith(("test_", "bench_", "mutate")):
                folder = file.parent.name
                self.helpers[f"oracles.{file.stem}" if folder == "oracles" else file.stem] = file

    def rooms(self) -> list[str]:
        """The rooms that may be changed, without the package's name."""
        names = [name for name in self.files if name.startswith(f"{self.package}.")]
        short = [name.removeprefix(f"{self.package}.") for name in names]
        return [name for name in short if name.split(".")[0] != "data"]

    def file(self, room: str) -> Path:
        return self.files[f"{self.package}.{room}"]

    def imports(self, file: Path) -> set[str]:
        """Modules of the source and helpers of the tests that a file imports anywhere."""
        wanted: set[str] = set()
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                wanted |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                full = {f"{node.module}.{alias.name}" for alias in node.names}
                known = {*self.files, *self.helpers}
                wanted |= {name if name in known else node.module for name in full}
        return wanted

    @cached_property
    def graph(self) -> dict[str, set[str]]:
        """What every module imports, its parent packages with it."""
        found = {}
        for name, file in self.files.items():
            wanted = self.imports(file) & set(self.files)
            parents = {other.rpartition(".")[0] for other in {*wanted, name}}
            found[name] = (wanted | (parents & set(self.files))) - {name}
        return found

    def users(self, room: str) -> dict[str, int]:
        """Every module that stands on a room, by how many imports away; the room itself at 0."""
        away = {f"{self.package}.{room}": 0}
        queue = list(away)
        for name in queue:
            for other, wanted in self.graph.items():
                if name in wanted and other not in away:
                    away[other] = away[name] + 1
                    queue.append(other)
        return away

    def tests_of(self, room: str, every: bool) -> list[Path]:
        """The engine's tests that import a room, else those nearest to it; `every`: all that stand on it."""
        away = self.users(room)
        near: dict[Path, int] = {}
        for test in self.tests:
            if "tui" in {name.partition(".")[0] for name in self.imports(test)} and not every:
                continue  # a screen takes long and says little about a number
            queue, distances = [test], []
            for file in queue:
                wanted = self.imports(file)
                distances += [away[name] + (file is not test) for name in wanted if name in away]
                queue += [
                    self.helpers[name]
                    for name in sorted(wanted)
                    if name in self.helpers and self.helpers[name] not in queue
                ]
            if distances:
                near[test] = min(distances)
        least = min(near.values(), default=0)
        return sorted((test for test in near if every or near[test] == least), key=lambda test: near[test])


class Changed(importlib.abc.MetaPathFinder, importlib.machinery.SourceFileLoader):  # type: ignore[misc]
    """Finds one module in changed code instead of its file; nothing is written anywhere."""

    def __init__(self, name: str, path: str, code: CodeType) -> None:
        super().__init__(name, path)
        self.code = code

    def find_spec(self, name: str, path: Any, target: ModuleType | None = None) -> Any:
        if name != self.name:
            return None
        places = [str(Path(self.path).parent)] if Path(self.path).name == "__init__.py" else None
        return importlib.util.spec_from_file_location(
            name, self.path, loader=self, submodule_search_locations=places
        )

    def get_code(self, fullname: str) -> CodeType:
        return self.code


class Reporter:
    """A pytest plugin that remembers the first test that failed and the seconds of every file."""

    def __init__(self) -> None:
        self.failed = ""
        self.seconds: Counter[str] = Counter()

    def pytest_runtest_logreport(self, report: Any) -> None:
        self.seconds[report.nodeid.split("::")[0]] += report.duration
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: Any) -> None:
        if report.failed and not self.failed:
            self.failed = f"{report.nodeid}: {str(report.longrepr)[-300:]}"


def _run_tests(tests: Sequence[Path]) -> tuple[int, Reporter]:
    import pytest

    reporter, code = Reporter(), 0
    loaded, left = (
        "ignore::pytest.PytestAssertRewriteWarning",
        "ignore::pytest.PytestUnraisableExceptionWarning",
    )
    quiet = ("-W", loaded, "-W", left)  # of plugins loaded already, and of what a fork leaves open
    options = ["-x", "-q", "-p", "no:cacheprovider", *quiet]
    for some in (tests[:1], tests[1:]):  # mostly the first file fails: the others are not even read then
        if some and not code:
            code = int(pytest.main([*options, *map(str, some)], plugins=[reporter]))
    return code, reporter


def _child(tests: Sequence[Path], changed: Changed | None, limit_s: float) -> tuple[int, int]:
    """Start the tests in a fork of this process: its id and the end of a pipe that will carry one answer."""
    reads, writes = os.pipe()
    child = os.fork()
    if child:
        os.close(writes)
        return child, reads
    try:
        os.close(reads)
        os.setsid()
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        signal.setitimer(signal.ITIMER_REAL, limit_s)
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nowhere, stream)
        if changed is not None:
            sys.meta_path.insert(0, changed)
        code, reporter = _run_tests(tests)
        answer = {"code": code, "by": reporter.failed[:2000], "seconds": dict(reporter.seconds)}
        os.write(writes, json.dumps(answer).encode())
    except BaseException as error:
        os.write(writes, json.dumps({"code": -1, "by": repr(error)}).encode())
    finally:
        os._exit(0)


def _answer(reads: int) -> dict[str, Any]:
    with os.fdopen(reads, "rb") as pipe:
        data = pipe.read()
    return json.loads(data) if data else {}


def warm_up(tree: Tree, room: str, tests: Sequence[Path]) -> None:
    """Import what the tests need and what does not stand on the room, so that a child need not."""
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    import hypothesis

    phases = (hypothesis.Phase.explicit, hypothesis.Phase.generate)  # a smaller example is of no use here
    hypothesis.settings.register_profile("mutate", derandomize=True, database=None, phases=phases)
    hypothesis.settings.load_profile("mutate")
    above = set(tree.users(room))
    files = [*tests, *tree.root.glob("tests/conftest.py")]
    outside = {name for file in files for name in tree.imports(file)} - set(tree.helpers)
    ours = {name for name in outside if name in tree.files}
    for name in list(ours):
        ours |= {other for other in tree.graph[name] if other in tree.files}
    for name in [*sorted(outside - ours), *sorted(ours - above)]:
        if name not in above and (name in tree.files or name.split(".")[0] not in (tree.package, "tui")):
            with contextlib.suppress(ImportError):
                importlib.import_module(name)
    assert not above & set(sys.modules), sorted(above & set(sys.modules))


def changes(
    tree: Tree, room: str, done: set[tuple[str, str, float, float]], skip: set[str]
) -> Iterator[tuple[Constant, float]]:
    """What is still to be tried in a room."""
    for constant in constants(tree.file(room).read_text(encoding="utf-8")):
        for factor in FACTORS:
            if constant.name not in skip and (room, constant.name, constant.value, factor) not in done:
                yield constant, factor


def try_room(tree: Tree, room: str, todo: list[tuple[Constant, float]], options: argparse.Namespace) -> None:
    """Try every change of a room; runs in a process of its own, so that the next room starts clean."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    running: dict[int, tuple[int, Constant, float, float]] = {}
    try:
        _try_all(tree, room, todo, options, running)
    finally:
        for child in running:
            _end(child)


def _end(child: int) -> None:
    """End a child with all it started."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(child, signal.SIGKILL)


def _try_all(
    tree: Tree, room: str, todo: list[tuple[Constant, float]], options: argparse.Namespace,
    running: dict[int, tuple[int, Constant, float, float]],
) -> None:  # fmt: skip
    tests = tree.tests_of(room, options.all)
    leaf = room.rpartition(".")[2]
    tests = (options.own and [test for test in tests if leaf in test.stem]) or tests
    if not tests:
        print(f"{room}: no test stands on it")
        return
    warm_up(tree, room, tests)
    start = time.monotonic()
    child, reads = _child(tests, None, options.budget)
    plain = _answer(reads)
    os.waitpid(child, 0)
    whole = time.monotonic() - start
    if plain.get("code") != 0:
        print(f"{room}: its tests do not pass unchanged: {plain.get('by', 'no time')}")
        return
    order = {tree.root / name: seconds for name, seconds in plain["seconds"].items()}
    tests.sort(
        key=lambda test: (leaf not in test.stem, order.get(test, 0.0))
    )  # its own first, then the quick
    limit = max(10.0, 6.0 * whole) if options.limit is None else options.limit
    print(f"{room}: {len(todo)} changes, {len(tests)} test files in {whole:.1f} s", flush=True)
    source, name = tree.file(room).read_text(encoding="utf-8"), f"{tree.package}.{room}"
    queue = list(todo)
    while running or queue:
        while queue and len(running) < options.jobs and time.monotonic() - start < options.budget:
            constant, factor = queue.pop(0)
            code = compiled(source, str(tree.file(room)), constant.place, constant.moved(factor))
            child, reads = _child(tests, Changed(name, str(tree.file(room)), code), limit)
            running[child] = (reads, constant, factor, time.monotonic())
        if not running:
            print(f"{room}: stopped with {len(queue)} changes left")
            return
        child, _ = os.wait()
        reads, constant, factor, began = running.pop(child)
        _end(child)  # what a test left behind
        answer, seconds = _answer(reads), time.monotonic() - began
        verdict = {0: UNNOTICED, 1: NOTICED, 2: NOTICED}.get(answer.get("code", -1), ERROR)
        if not answer:
            verdict = TIME if seconds >= limit else ERROR
        _write(
            options.out,
            Found(
                room, constant.name, constant.line, constant.value, factor, verdict,
                answer.get("by", ""), round(seconds, 2),
            ),
        )  # fmt: skip


def _write(out: Path, found: Found) -> None:
    out.parent.mkdir(parents=True, exist_ok=True)
    with out.open("a", encoding="utf-8") as file:
        file.write(json.dumps(asdict(found)) + "\n")


def read(out: Path) -> dict[tuple[str, str, float, float], Found]:
    """What was found before; the last word on a change counts."""
    if not out.exists():
        return {}
    lines = (json.loads(line) for line in out.read_text(encoding="utf-8").splitlines() if line)
    return {found.key: found for found in (Found(**line) for line in lines)}


def accepted(file: Path) -> dict[str, list[tuple[str, str]]]:
    """The constants that may move unnoticed, by room: patterns of their names and why."""
    rows = tomllib.loads(file.read_text(encoding="utf-8")).get("accepted", []) if file.exists() else []
    found: dict[str, list[tuple[str, str]]] = {}
    for row in rows:
        for name in row["constants"]:
            found.setdefault(row["room"], []).append((name, row["why"]))
    return found


def report(tree: Tree, rooms: Sequence[str], options: argparse.Namespace) -> int:
    """Print the constants that no test notices; how many changes those are."""
    kept, excused, holes = read(options.out), accepted(options.accepted), 0
    for room in rooms:
        names = {constant.name: constant for constant in constants(tree.file(room).read_text("utf-8"))}
        here = [found for found in kept.values() if found.room == room and found.constant in names]
        here = [found for found in here if found.value == names[found.constant].value]
        patterns = excused.get(room, [])
        for pattern, _ in patterns:
            if not any(fnmatchcase(name, pattern) for name in names):
                print(f"{room}: nothing is called {pattern} any more; take it out of the accepted")
        counted = Counter(found.verdict for found in here)
        print(f"{room}: {len(names)} constants; {', '.join(f'{n} {v}' for v, n in counted.items()) or 'new'}")
        rows: dict[str, list[Found]] = {}
        for found in here:
            if found.verdict != NOTICED and not any(fnmatchcase(found.constant, p) for p, _ in patterns):
                rows.setdefault(found.constant, []).append(found)
        for name, some in sorted(rows.items(), key=lambda row: names[row[0]].line):
            tried = ", ".join(f"x {found.factor:g} {found.verdict}" for found in some)
            print(f"  line {names[name].line:4d}  {name}: {tried}")
            holes += len(some)
    return holes


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="numbers of the engine that no test notices")
    parser.add_argument("--root", type=Path, default=ROOT)
    parser.add_argument("--package", default="propagation")
    parser.add_argument("--wing", action="append", default=[])
    parser.add_argument("--room", action="append", default=[], help="such as ionosphere.muf")
    parser.add_argument("--all", action="store_true", help="also tests that reach the room through others")
    parser.add_argument("--own", action="store_true", help="only tests named after the room, if any")
    parser.add_argument("--again", action="store_true", help="try only what no test noticed before")
    parser.add_argument("--list", action="store_true", help="run nothing")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--limit", type=float, help="seconds for one change (6 times the unchanged run)")
    parser.add_argument("--budget", type=float, default=3600.0, help="seconds for one room")
    parser.add_argument("--out", type=Path)
    parser.add_argument("--accepted", type=Path)
    options = parser.parse_args(arguments)
    root = options.root = options.root.resolve()
    options.out = (options.out or root / "build" / "mutants.jsonl").resolve()
    options.accepted = (options.accepted or root / "tests" / "mutate_accepted.toml").resolve()
    os.chdir(root)
    sys.path[:0] = [str(root)]
    tree = Tree(root, options.package)
    rooms = [
        room
        for room in tree.rooms()
        if not (options.wing or options.room) or room in options.room or room.split(".")[0] in options.wing
    ]
    if unknown := set(options.room) - set(rooms):
        parser.error(f"no room is called {', '.join(sorted(unknown))}")
    excused = accepted(options.accepted)
    for room in rooms if not options.list else []:
        kept = read(options.out).values()
        missed = {found.key for found in kept if found.verdict != NOTICED}
        done = {found.key for found in kept} - (missed if options.again else set())
        names = {constant.name for constant in constants(tree.file(room).read_text("utf-8"))}
        skip = {name for name in names if any(fnmatchcase(name, p) for p, _ in excused.get(room, []))}
        todo = list(changes(tree, room, done, skip))
        if options.again:
            todo = [
                (constant, f) for constant, f in todo if (room, constant.name, constant.value, f) in missed
            ]
        if not todo:
            continue
        sys.stdout.flush()
        child = os.fork()
        if not child:
            try:
                try_room(tree, room, todo, options)
                sys.stdout.flush()
            except BaseException as error:
                print(f"{room}: {type(error).__name__}: {error}", file=sys.stderr, flush=True)
            finally:
                os._exit(0)

        def stop(*_: object, child: int = child) -> None:
            os.kill(child, signal.SIGTERM)
            sys.exit(1)

        signal.signal(signal.SIGTERM, stop)
        os.waitpid(child, 0)
    return 1 if report(tree, rooms, options) else 0


if __name__ == "__main__":
    sys.exit(main())
