"""The terms of the trade explained on the page that shows them; the command finder's order; key lines."""

from __future__ import annotations

import re

import pytest
from screen_text import PLACES, go, rows_of, run, settle, text_of
from textual.pilot import Pilot
from textual.screen import Screen

from propagation.wording.glossary import spots_in, terms_in
from tui.app.app import BandwhenApp
from tui.app.command_finder import CommandFinder, rank
from tui.kit.glyphs import CHOSEN
from tui.kit.overlays import TermsSheet
from tui.kit.term_pointer import TermPointer


@pytest.mark.parametrize(
    ("text", "term"),
    [
        ("by 1F2, take-off 12 deg", "1F2"),
        ("the MUF falls from 14.4 MHz", "MUF"),
        ("flux 148 sfu, K 2", "sfu"),
        ("flux 148 sfu, K 2", "K, Kp"),
        ("coil at the base, Q 200", "Q"),
        ("foEs 3.10 MHz", "sporadic E"),
        ("a flare of class M2.3", "X-ray class"),
    ],
)
def test_a_term_is_found_where_a_text_has_it(text: str, term: str) -> None:
    assert any(line.startswith(term) for line in terms_in(text))


def test_a_text_with_no_term_gives_the_whole_glossary() -> None:
    everything = terms_in("hello")
    assert len(everything) > 20
    assert len(terms_in("SWR 1.2")) == 1
    assert all(line.endswith(".") for line in everything)


def test_shift_g_marks_the_term_under_the_cursor_and_says_what_it_means() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "bench")
        before = rows_of(app)
        row = next(y for y, text in enumerate(before) if text.startswith(CHOSEN))
        await pilot.press("G")
        pointer = app.screen
        assert isinstance(pointer, TermPointer)
        shown = pointer.shown
        here = shown.found[shown.chosen]
        assert here.row == min(one.row for one in shown.found if one.row >= row)  # at the cursor or the next
        text = text_of(app)
        assert here.says.split(": ", 1)[1].split(" ")[0] in text
        assert before[here.row] in text  # the box leaves the marked row alone
        assert before[-2] not in text  # the keys of the page do nothing here
        for key, way in (("right", 1), ("left", 0), ("left", -1), ("tab", 0)):
            await pilot.press(key)
            at = (shown.found.index(here) + way) % len(shown.found)
            assert shown.found[shown.chosen] == shown.found[at]
        await pilot.press("down")
        assert shown.found[shown.chosen].row > here.row or here.row == shown.found[-1].row
        await pilot.press("G")
        assert app.screen is app.page

    run(scenario)


@pytest.mark.parametrize("size", [(60, 16), (80, 24), (160, 48)])
def test_every_term_of_every_page_can_be_marked_and_is_not_covered(size: tuple[int, int]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for place in PLACES:
            await go(app, pilot, place)
            before = rows_of(app)
            await pilot.press("G")
            if isinstance(app.screen, TermPointer):
                shown = app.screen.shown
                for number, one in enumerate(shown.found):
                    shown.choose(number)
                    drawn = shown.texts()
                    word = drawn[one.row][one.start : one.stop]
                    assert word == before[one.row][one.start : one.stop], (place, one)
                    assert any(f"{number + 1} of {len(shown.found)} on this page" in row for row in drawn)
                    assert not shown.texts()[-1].strip()
            await pilot.press("escape")

    run(scenario, size)


def test_the_pointer_gives_all_terms_of_a_page_and_goes_when_the_size_changes() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "sky")
        await pilot.press("G", "enter")
        await settle(app, pilot)
        assert isinstance(app.screen, TermsSheet)
        assert "sfu, flux: the sun's radio noise" in text_of(app)
        assert "SWR:" not in text_of(app)  # not on this page
        await pilot.press("G")
        assert app.screen is app.page
        await pilot.press("G")
        assert isinstance(app.screen, TermPointer)
        await pilot.resize_terminal(100, 30)
        await settle(app, pilot)
        assert app.screen is app.page

    run(scenario)


def test_of_two_terms_that_overlap_the_longer_is_marked() -> None:
    line = "absorbed in the D and E layers, by 2F2, take-off 14 deg"
    spots = spots_in(line)
    assert [line[spot.start : spot.stop] for spot in spots] == ["absorbed", "D and E", "2F2", "take-off"]


def test_the_finder_ranks_by_what_was_typed() -> None:
    async def first(app: BandwhenApp, pilot: Pilot[None], word: str) -> str:
        await pilot.press("slash", *word)
        for _ in range(200):
            await pilot.pause(0.01)
            finder: Screen[object] = app.screen
            if isinstance(finder, CommandFinder) and finder._hit_count:
                break
        await settle(app, pilot)
        option = finder.query_one("EntryList").get_option_at_index(0)  # type: ignore[attr-defined]
        await pilot.press("escape")
        await settle(app, pilot)
        return str(option.prompt)

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for word, label in (
            ("theme", "Look: dark"),
            ("now", "Now"),
            ("sky", "Screen: sky"),
            ("cw", "Mode: CW"),
        ):
            assert (await first(app, pilot, word)).startswith(label), word

    run(scenario)


def test_ranks() -> None:
    ranks = [
        rank("now", "Now", "back to the present time", 1.0),
        rank("time", "Set time", "", 1.0),
        rank("time", "Now", "back to the present time", 0.0),
        rank("oo", "Look: dark", "", 1.0),
        rank("lkd", "Look: dark", "", 5.0),
    ]
    assert ranks == sorted(ranks, reverse=True)
    assert len(set(ranks)) == len(ranks)
    assert rank("theme", "Now", "back to the present time", 0.0) == 0.0
    assert rank("", "Now", "", 1.0) == 0.0


def test_ctrl_p_opens_the_finder_and_help_says_so() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        assert app.page is not None
        assert any(line.startswith("/ or Ctrl-P: find any command") for line in app.help_sentences(app.page))
        await pilot.press("ctrl+p")
        await settle(app, pilot)
        assert isinstance(app.screen, CommandFinder)
        await pilot.press("escape")

    run(scenario)


@pytest.mark.parametrize("size", [(60, 16), (80, 24), (100, 30)])
def test_help_and_quit_are_on_every_key_line_and_no_label_is_cut(size: tuple[int, int]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for place in PLACES:
            await go(app, pilot, place)
            assert app.page is not None
            for _ in range(max(len(app.page.panes), 1)):
                rows = rows_of(app)
                assert rows[-2].endswith("? help q quit") or rows[-2].endswith("? help  q quit"), place
                # a list may end early, at a comma; words, figures and units are whole
                cut = [row for row in rows if re.search(r"\S…", row)]
                assert not [row for row in cut if not row.startswith("       not shown")], place
                app.page.action_next_pane()
                await pilot.pause()

    run(scenario, size)
