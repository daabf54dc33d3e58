"""The command finder under keys and clicks that come faster than it closes, and in panes without room."""

from __future__ import annotations

import pytest
from rich.style import Style
from screen_text import run, settle
from textual import events
from textual.command import CommandList, CommandPalette
from textual.pilot import Pilot

from tui.app import prompts
from tui.app.app import BandwhenApp


def burst(app: BandwhenApp, *keys: str) -> None:
    """Keys that stand in one piece of input: all are waiting before the first is acted on."""
    for key in keys:
        app.post_message(events.Key(key, "\r" if key == "enter" else None))


async def opened(app: BandwhenApp, pilot: Pilot[None], word: str) -> None:
    """The finder with its list for a word."""
    await pilot.press("slash", *word)
    for _ in range(200):
        await pilot.pause(0.01)
        if not word or (isinstance(app.screen, CommandPalette) and app.screen._hit_count):
            return


@pytest.mark.parametrize("word", ["", "night"])
@pytest.mark.parametrize("keys", [("enter",) * 2, ("enter",) * 5, ("enter", "escape"), ("escape",) * 3])
def test_keys_in_one_piece_choose_once(
    word: str, keys: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    looks: list[str] = []
    monkeypatch.setattr(prompts, "set_look", lambda _, name: looks.append(name))

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, word)
        burst(app, *keys)
        await settle(app, pilot)
        assert app.is_running
        assert app.page is app.screen

    run(scenario)
    if "escape" in keys:  # it is acted on before the entry of an Enter just before it, or after
        assert looks in ([], ["night"])
    else:
        assert looks == (["night"] if word else [])


@pytest.mark.parametrize("word", ["", "night"])
def test_opened_and_chosen_in_one_piece(word: str) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        burst(app, "slash", *word, "enter", "enter")
        await settle(app, pilot)
        assert app.is_running
        await pilot.press("escape")
        await settle(app, pilot)
        assert app.page is app.screen

    run(scenario)


def test_a_search_that_ends_after_the_finder_is_closed_is_left() -> None:
    """Found by the long attack: the toolkit's search looked for the list of a finder that was gone."""

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, "night")
        finder = app.screen
        assert isinstance(finder, CommandPalette)
        await pilot.press("escape")
        await settle(app, pilot)
        assert not finder.query(CommandList)
        finder._watch__list_visible()
        await finder._watch__show_busy()

    run(scenario)


def test_clicks_faster_than_it_closes() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, "night")
        entries = app.screen.query_one(CommandList)
        style = Style(meta={"option": 0})
        for _ in range(3):
            entries.post_message(events.Click(entries, 2, 0, 0, 0, 1, False, False, False, 2, 0, style))
        await settle(app, pilot)
        assert app.is_running
        assert app.page is app.screen

        await opened(app, pilot, "night")
        entries = app.screen.query_one(CommandList)
        entries.clear_options()
        entries.post_message(events.Click(entries, 2, 0, 0, 0, 1, False, False, False, 2, 0, style))
        await settle(app, pilot)
        assert app.is_running

    run(scenario)


@pytest.mark.parametrize("size", [(80, 2), (2, 24), (2, 2), (1, 1), (80, 5), (80, 24), (7, 3)])
def test_every_key_of_the_list_in_a_pane_without_room(size: tuple[int, int]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for key in ("up", "pageup", "down", "pagedown", "ctrl+home", "ctrl+end"):
            await opened(app, pilot, "")
            await pilot.pause(0.3)
            await pilot.press("up", key, key)
            await pilot.pause()
            if isinstance(app.screen, CommandPalette):
                await pilot.press("escape")
        assert app.is_running

    run(scenario, size)
