"""Versions of the dependencies: a range with both ends, tested by .ci/run, and the lock file within it."""

from __future__ import annotations

import re
import tomllib

from lowest_versions import PROJECT, lowest_versions
from packaging.requirements import Requirement
from packaging.version import Version

ROOT = PROJECT.parent
LOCK = (ROOT / ".ci" / "lock.txt").read_text(encoding="utf-8")
TABLE = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
NEEDED = [Requirement(text) for text in TABLE["dependencies"]]
MORE = [Requirement(text) for texts in TABLE["optional-dependencies"].values() for text in texts]
PRIVATE = {"textual", "urllib3"}  # whose private behaviour is used
UNBOUNDED = {"tzdata"}  # data, numbered by its year


def locked() -> dict[str, set[Version]]:
    """Versions of each package in the lock file: several where they depend on Python's."""
    found: dict[str, set[Version]] = {}
    for name, version in re.findall(r"^([\w.-]+)==([^ ]+)", LOCK, re.MULTILINE):
        found.setdefault(name.lower(), set()).add(Version(version))
    return found


def test_every_dependency_has_a_lowest_version_and_a_bound() -> None:
    for needed in NEEDED:
        kinds = sorted(part.operator for part in needed.specifier)
        assert kinds == ([">="] if needed.name in UNBOUNDED else ["<", ">="]), needed
    assert [Requirement(line).name for line in lowest_versions()] == [needed.name for needed in NEEDED]
    for line, needed in zip(lowest_versions(), NEEDED, strict=True):
        assert needed.specifier.contains(line.partition("==")[2]), line


def test_private_behaviour_is_bounded_at_the_next_minor_version() -> None:
    for needed in NEEDED:
        if needed.name in PRIVATE:
            (bound,) = (Version(part.version) for part in needed.specifier if part.operator == "<")
            newest = max(locked()[needed.name])
            assert (bound.major, bound.minor) == (newest.major, newest.minor + 1), needed


def test_the_lock_file_is_within_the_ranges_and_has_a_hash_for_every_package() -> None:
    versions = locked()
    for needed in (*NEEDED, *MORE):
        if needed.name != TABLE["name"]:
            held = versions[needed.name.lower()]
            assert all(needed.specifier.contains(version, prereleases=True) for version in held), needed
    for entry in re.split(r"\n(?=\S)", LOCK.partition("\n\n")[2].strip()):
        assert "--hash=sha256:" in entry, entry[:80]


def test_both_ends_run_before_a_change_is_kept() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    lowest = script[script.index("lowest_versions.py") :]
    assert '.venv-lowest/bin/python -m pytest -n auto -m "not slow"' in lowest
    assert "-c lowest.txt" in lowest
    assert "pip install -q --require-hashes -r .ci/lock.txt" in script
