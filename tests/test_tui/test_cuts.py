"""No cut changes the meaning: what is not shown whole says so, at every size."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from screen_text import go, rows_of, run, settle
from textual.pilot import Pilot

from propagation.signal.rays.causes import CAUSES
from propagation.wording.causes import clause
from tui.app.app import BandwhenApp
from tui.app.feature_list import PAGES
from tui.kit import text_flow, words
from tui.kit.canvas import Canvas
from tui.kit.lists import Notes

SIZES = (
    (40, 12), (60, 20), (80, 24), (100, 30), (112, 36), (120, 36), (132, 43), (160, 48), (200, 50), (220, 60)
)  # fmt: skip
STATES = tuple(f"20 m at 12:20: 2 days in 10; {clause(cause)}." for cause in CAUSES)


def _said(sentences: tuple[str, ...], width: int, height: int, *, single: bool) -> tuple[str, str]:
    """What a note shows, and what it should say."""
    note = Notes(single=single)
    note.sentences = sentences
    canvas = Canvas(width, height)
    note.paint(canvas)
    return " ".join(" ".join(canvas.texts()).split()), " ".join(" ".join(sentences).split())


@given(
    sentences=st.lists(st.sampled_from(STATES), min_size=1, max_size=3).map(tuple),
    width=st.integers(24, 240),
    height=st.integers(1, 6),
    single=st.booleans(),
)
def test_a_note_is_whole_or_shows_that_it_is_not(
    sentences: tuple[str, ...], width: int, height: int, single: bool
) -> None:
    shown, whole = _said(sentences, width, height, single=single)
    assert shown == whole or "…" in shown or "↓" in shown


@given(text=st.text("abc ,;", min_size=1, max_size=120), room=st.integers(10, 200))
def test_shortening_marks_the_cut(text: str, room: int) -> None:
    short = text_flow.in_room(text, room)
    assert short == text or (short.endswith(text_flow.CUT) and text.startswith(short[: -len(text_flow.CUT)]))


def test_the_headline_of_why_is_whole_at_every_size() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "why")
        assert app.state.day is not None
        told = words.band_state(app.state.day, app.state.band_index, app.state.time_index)
        long = told.rstrip(".") + "; the signal arrives, but under the noise of the place, which is high."
        for size in SIZES:
            await pilot.resize_terminal(*size)
            if size[1] < 14:
                continue  # the headline is put away on the smallest screens
            app.page.query_one("#why-line", Notes).show([long])  # type: ignore[union-attr]
            app.page.query_one("#why-line", Notes).fit(size[0], 4)  # type: ignore[union-attr]
            await pilot.pause()
            assert " ".join(long.split()) in " ".join(" ".join(rows_of(app)).split()), size

    run(scenario)


def whole_or_marked(note: Notes) -> bool:
    """Whether all sentences of a note can be read where it stands, or a sign says that there is more."""
    canvas = note._canvas
    if canvas is None:
        return True
    rows = canvas.texts()
    shown = " ".join(" ".join(rows).split())
    said = " ".join(" ".join((note.title, *note.sentences)).split())
    return said in shown or any(sign in row for row in rows for sign in ("…", "↓", "↑"))


@pytest.mark.parametrize("place", [entry.place for entry in PAGES])
def test_every_note_of_every_page_is_whole_or_says_that_it_is_not(place: str) -> None:
    """Notes of the page and of what stands beside it, at every size, with sentences of any length."""

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, place)
        for size in SIZES:
            await pilot.resize_terminal(*size)
            await settle(app, pilot)
            for note in app.screen.query(Notes):
                if not note.region.area or note.id == "notice":
                    continue
                assert whole_or_marked(note), (place, size, note)
                kept = note.sentences
                for count in (1, 3, 9):
                    note.show(STATES[:count])
                    assert whole_or_marked(note), (place, size, note, count)
                note.show(kept)

    run(scenario)


def test_a_cut_without_a_sign_would_be_seen() -> None:
    note = Notes()
    note.sentences = ("The signal arrives, but under the noise of the place.",)
    note._canvas = Canvas(30, 1)
    note._canvas.put(2, 0, "The signal arrives,")
    assert not whole_or_marked(note)
