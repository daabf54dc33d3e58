"""Progress of long work: when a line is written, the estimate, and what is left of it."""

from __future__ import annotations

import sys

import pytest

from tui.app import progress


class Clock:
    """A clock that is set by hand [s]."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.mark.parametrize(
    ("terminal", "told_s"), [(True, [1.0, 1.5, 2.0]), (False, [10.0, 40.0, 70.0])], ids=["terminal", "file"]
)
def test_lines_come_late_and_seldom(
    terminal: bool, told_s: list[float], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: terminal)
    clock, moments = Clock(), list[float]()
    with progress.shown("Reading x", clock) as tell:
        for half_seconds in range(200):
            clock.now = half_seconds / 2.0
            tell(half_seconds, 200)
            if capsys.readouterr().err:
                moments.append(clock.now)
    assert moments[:3] == told_s
    assert "\n" not in capsys.readouterr().err


def test_a_line_has_the_share_the_estimate_and_the_way_out(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    clock = Clock()
    with progress.shown("Reading x", clock) as tell:
        clock.now = 20.0
        tell(25, 100)
        clock.now = 30.0
        tell(50, 100)
        tell(100, 100)
    first, second, blank, end = capsys.readouterr().err.split("\r")[1:]
    assert first == "Reading x: 25 % done, about 60 s left; Ctrl-C stops it."
    assert second == "Reading x: 50 % done, about 30 s left; Ctrl-C stops it."
    assert (blank.strip(), end) == ("", "")
    assert progress.left_words(600.0) == "about 10 min left"


def test_short_work_writes_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    with progress.shown("Reading x") as tell:
        tell(1, 2)
    assert capsys.readouterr().err == ""
