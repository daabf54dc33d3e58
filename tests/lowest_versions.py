"""The lowest version of each dependency, as constraints for pip: python tests/lowest_versions.py > FILE."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent / "pyproject.toml"


def lowest_versions() -> list[str]:
    """Each dependency of the program at the version after ">=": "numpy==2.0"."""
    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
    return [re.sub(r"\s*>=\s*([^,;\s]+).*", r"==\1", line) for line in project["dependencies"]]


if __name__ == "__main__":
    print("\n".join(lowest_versions()))
