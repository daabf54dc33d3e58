"""What `bandwhen help reliability` promises: each line has a test of its name, and each such test a line."""

from __future__ import annotations

import ast
import re

from hostile import ROOT

from tui.app.help_topics import topic_lines


def promised() -> list[str]:
    """Names of tests by the lines of the table: what is between the dash and the colon."""
    told = [
        line.removeprefix("- ").partition(":")[0] for line in topic_lines("reliability") if line[:1] == "-"
    ]
    return [f"test_{re.sub(r'[^a-z0-9]+', '_', text.lower().replace(chr(39), ''))}" for text in told]


def marked() -> list[str]:
    """Names of the tests that are marked as those of a promise."""
    found = []
    for file in (ROOT / "tests").rglob("test_*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                marks = [ast.unparse(mark) for mark in node.decorator_list]
                found += [node.name] * ("pytest.mark.promise" in marks)
    return found


def test_every_promise_has_a_test_of_its_name_and_every_such_test_a_line() -> None:
    assert len(promised()) >= 20
    assert sorted(promised()) == sorted(marked())


def test_every_promise_is_one_line_with_its_details_and_fits_a_narrow_terminal() -> None:
    lines = topic_lines("reliability")
    assert all(len(line) <= 80 for line in lines)
    assert all(": " in line or line.endswith(":") for line in lines if line.startswith("- "))
