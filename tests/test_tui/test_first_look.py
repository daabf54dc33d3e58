"""The opening screen of the demo as the engine gives it at a fixed hour, and the same screen in the README.

`BANDWHEN_GOLDEN=write` files the screen anew, in both places, to be read before it is committed.
"""

from __future__ import annotations

import asyncio
import os
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from screen_text import golden, settle, text_of

from propagation.advice.band_now import HARDLY, best_band, moves, window_at
from propagation.advice.windows import find_windows
from propagation.station.terminals import Terminals
from propagation.wording import quantities as say
from propagation.wording.windows import window_sentence
from tui.app.app import BandwhenApp
from tui.app.queries import Engine
from tui.app.settings import Settings
from tui.kit import words
from tui.kit.glyphs import to_ascii

README = Path(__file__).resolve().parents[2] / "README.md"
NOW = np.datetime64("2026-03-20T12:20:00", "s")
BLOCK = re.compile(r"(## A look at it\n.*?```\n)(.*?)(```\n)", re.DOTALL)


@pytest.fixture(scope="module")
def first_look(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, BandwhenApp]]:
    """The demo's first screen, settled, from a home without files of its own; one run for all checks."""
    home = tmp_path_factory.mktemp("first")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BANDWHEN_HOME", str(home))
        yield _look(home)


def _look(home: Path) -> tuple[str, BandwhenApp]:
    app = BandwhenApp(
        lambda: Engine(now=lambda: NOW),
        chosen=Settings(),
        now=lambda: NOW,
        settings_file=home / "settings.toml",
    )

    async def body() -> str:
        async with app.run_test(size=(80, 24)) as pilot:
            await settle(app, pilot)
            return text_of(app)

    return asyncio.run(body()), app


def test_the_readme_shows_the_screen_as_it_is(first_look: tuple[str, BandwhenApp]) -> None:
    """In the plain signs of key g, which every font has."""
    shown, _ = first_look
    plain = "".join(sign if sign == "\n" else to_ascii(sign) for sign in shown)
    readme = README.read_text(encoding="utf-8")
    assert BLOCK.search(readme), "the README has a block under 'A look at it'"
    if os.environ.get("BANDWHEN_GOLDEN") == "write":
        readme = BLOCK.sub(lambda found: found[1] + plain + found[3], readme)
        README.write_text(readme, encoding="utf-8")
    golden("demo_day_80x24", shown)
    found = BLOCK.search(readme)
    assert found is not None
    assert found[2] == plain


def test_the_screen_says_the_windows_as_the_advice_does(first_look: tuple[str, BandwhenApp]) -> None:
    _, app = first_look
    assert app.state.forecast is not None
    _, day, kept = app.state.forecast
    said = words.day_sentences(day, 0)
    found = find_windows(kept.result, Terminals(kept.near, kept.far), explained=False)
    for window in found.windows:
        assert words.on_screen(window_sentence(window)) in said


def test_the_screen_tells_the_windows_of_the_advice(first_look: tuple[str, BandwhenApp]) -> None:
    """Bands, beginnings, bests and ends are those that `find_windows` gives for the same forecast; the answer
    names the best band of the moment, and a best time only where it is ahead.
    """
    _, app = first_look
    assert app.state.forecast is not None
    _, day, kept = app.state.forecast
    found = find_windows(kept.result, Terminals(kept.near, kept.far), explained=False)
    told = [(w.rank, w.band, w.start, w.peak_time, w.end, w.route) for w in day.windows]
    assert told == [(w.rank, w.band, w.start, w.peak_time, w.end, w.route) for w in found.windows]
    assert told
    for index in range(0, day.times.size, 5):
        when = day.times[index]
        best = best_band(day, index)
        assert (best is None) == bool(np.all(day.hope[:, index] < HARDLY))
        if best is None:
            continue
        assert day.ranked[best, index] == day.ranked[day.hope[:, index] >= HARDLY, index].max()
        line = words.answer(day, index).lines[0]
        following = moves(day, index)[1:]
        assert line.startswith(f"until {say.clock(following[0].when)}" if following else "all day")
        window = window_at(day, best, index)
        ahead = window is not None and window.peak_time > when
        assert ("best at" in line) == ahead, "what is past is not offered"
        assert window is None or not ahead or f"best at {say.clock(window.peak_time)}" in line
