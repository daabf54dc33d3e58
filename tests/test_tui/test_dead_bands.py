"""A band found dead is never the one to use, on the opening screen and in its words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import synthetic
from screen_text import run, settle
from textual.pilot import Pilot

from tui.app.app import BandwhenApp
from tui.app.choice import HoursOnAir
from tui.features.day.view import AnswerBoard
from tui.kit import words


def test_the_big_word_is_never_a_band_found_dead() -> None:
    day = synthetic.day_view()
    for index in range(0, day.times.size, 6):
        named = words.answer(day, index).band
        if named is None:
            continue
        found = words.answer(replace(day, dead=(named,)), index)
        assert found.band != named
        later = words.next_changes(replace(day, dead=(named,)), index)
        assert not any(what.startswith(f"to {named[:-1]} m,") for _, what in later)


def test_where_all_that_is_open_was_found_dead_it_says_so() -> None:
    day = synthetic.day_view()
    index = day.times.size // 2
    named = words.answer(day, index).band
    assert named is not None
    found = words.answer(replace(day, dead=day.bands), index)
    assert found.band is None
    assert f"Nothing but {named[:-1]} m, found dead, to Uruguay" in found.lines[0]


def test_a_day_without_dead_bands_is_left_alone() -> None:
    day = synthetic.day_view()
    assert words.alive(day) is day
    left = words.alive(replace(day, dead=("20m",)))
    row = day.bands.index("20m")
    assert not left.chance[row].any()
    assert np.array_equal(np.delete(left.chance, row, 0), np.delete(day.chance, row, 0))


def test_the_opening_screen_heeds_the_mark() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        board = app.screen.query_one(AnswerBoard)
        assert board.view is not None
        named = words.answer(board.view, board.time_index).band
        assert named is not None
        app.plan_for(HoursOnAir(synthetic.NOW, 4.0, "", ((named, synthetic.NOW),)))
        await settle(app, pilot)
        assert board.view.dead == (named,)
        assert words.answer(board.view, board.time_index).band != named

    run(scenario)
