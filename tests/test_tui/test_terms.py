"""The terms of the trade explained on the page that shows them; the command finder's order; key lines."""

from __future__ import annotations

import re

import pytest
from screen_text import PLACES, go, rows_of, run, settle, text_of
from textual.pilot import Pilot
from textual.screen import Screen

from propagation.wording.glossary import terms_in
from tui.app.app import BandwhenApp
from tui.app.command_finder import CommandFinder, rank
from tui.kit.overlays import TermsSheet


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


def test_shift_g_explains_the_terms_of_the_page() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "sky")
        await pilot.press("G")
        await settle(app, pilot)
        assert isinstance(app.screen, TermsSheet)
        assert "sfu, flux: the sun's radio noise" in text_of(app)
        assert "SWR:" not in text_of(app)  # not on this page
        await pilot.press("G")
        assert app.screen is app.page

    run(scenario)


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
