"""The words of the causes: all there, each in one place, and said alike in every form of an answer."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import get_args

import pytest

from propagation.advice.ledger import CAUSE_OF, TermName
from propagation.signal.rays.causes import CAUSES, LOSSES
from propagation.wording.causes import short, words_of
from propagation.wording.why import term_short, term_words

ROOT = Path(__file__).resolve().parents[2]
AT_AN_END = ("antenna", "antenna losses", "feed line", "skyline")


@pytest.mark.parametrize("cause", CAUSES)
def test_every_cause_has_words(cause: str) -> None:
    words = words_of(cause)  # type: ignore[arg-type]
    for text in vars(words).values():
        assert text.strip() == text != ""
        assert not text.endswith("."), "a part of a sentence"
        assert set(re.findall(r"{(\w+)}", text)) <= {"amount", "where", "frequency"}
    assert len(words.short) <= 16, "beside a lane there is room for sixteen signs"


def test_no_two_causes_are_said_alike() -> None:
    for name in ("short", "clause", "without"):
        told = [getattr(words_of(cause), name) for cause in CAUSES]
        assert len(set(told)) == len(told), name
    assert set(LOSSES) <= set(CAUSES)


def test_an_unknown_cause_is_an_error() -> None:
    with pytest.raises(AssertionError):
        short("gremlins")  # type: ignore[arg-type]


@pytest.mark.parametrize("name", get_args(TermName))
def test_every_term_of_a_ledger_has_a_name(name: TermName) -> None:
    for end in ("here", "far end") if name in AT_AN_END else ("",):
        assert term_words(name, end)  # type: ignore[arg-type]
        assert len(term_short(name, end)) <= 16  # type: ignore[arg-type]
    assert set(CAUSE_OF.values()) <= set(CAUSES)


def strings(file: Path) -> list[tuple[int, str]]:
    """Every text in a source file but its docstrings: line and text; the fixed parts of an f-string each."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    documented = set()
    for node in ast.walk(tree):
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef)) and ast.get_docstring(node):
            documented.add(id(node.body[0].value))  # type: ignore[attr-defined]
    return [
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documented
    ]


def phrases() -> set[str]:
    """What is said of causes, in two words or more; of texts with figures in them, what stands before."""
    found = set()
    for cause in CAUSES:
        for text in vars(words_of(cause)).values():
            before = text.partition("{")[0].strip().lower()
            if "{" not in text or before.count(" ") >= 2:
                found.add(before)
    names = {cause.lower() for cause in CAUSES}  # the codes themselves, which JSON carries
    return {part for part in found if " " in part and part not in names}


OUTSIDE = sorted(
    file
    for folder in ("propagation", "tui")
    for file in (ROOT / folder).rglob("*.py")
    if not {"wording", "builders", "errors.py"} & set(file.relative_to(ROOT).parts)
)


def test_the_finder_of_sentences_finds_them() -> None:
    told = " ".join(text for _, text in strings(ROOT / "propagation" / "wording" / "causes.py")).lower()
    assert all(phrase in told for phrase in phrases())


@pytest.mark.parametrize("file", OUTSIDE, ids=lambda file: str(file.relative_to(ROOT)))
def test_no_room_but_wording_says_what_a_cause_is(file: Path) -> None:
    for line, text in strings(file):
        for phrase in phrases():
            assert phrase not in text.lower(), f"{file}:{line} says {phrase!r}; wording.causes does"
