"""The screens with hostile names, random keys, slow servers and files that are in the way."""

from __future__ import annotations

import asyncio
import random
import threading
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hostile import NAMES, STEERING
from servers import OK, drips, serving
from textual import events
from textual.content import Content
from textual.geometry import Size
from textual.pilot import Pilot
from textual.widgets import Input
from walks import Spree, hostile_app, hostile_home, on, settled, shown, spree, walk

from propagation.base.errors import InputError
from propagation.space_weather.sources.exchange import THREAD
from tui.app import fault_log, paths, settings
from tui.app.app import BandwhenApp
from tui.app.command_finder import Entries
from tui.app.prompts import Export, export
from tui.app.queries import A, Cancelled, Engine, OpeningQuery, Query
from tui.features.sky.fetching import MIRROR_VARIABLE
from tui.features.sky.page import Fetch
from tui.kit.glyphs import one_cell
from tui.kit.overlays import KEEP, REPLACE, Pick
from tui.kit.plan_view import PlanView

SPREE = 150  # random keys; five thousand by hand, with tests/attack.py


class Refusing(Engine):
    """Opens the station, and refuses everything else in a hostile sentence."""

    def answer(self, query: Query[A], cancelled: Cancelled) -> A:
        if isinstance(query, (OpeningQuery, Fetch, Export)):
            return super().answer(query, cancelled)
        raise InputError(f"{NAMES[0]} {NAMES[1]} {NAMES[-1]} {NAMES[-2]} cannot be.")


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A hostile home; the log in it."""
    monkeypatch.setenv(MIRROR_VARIABLE, "")
    monkeypatch.chdir(tmp_path)
    return hostile_home(tmp_path)


@pytest.mark.usefixtures("short_season")
def test_every_page_and_sheet_with_hostile_names(log: Path) -> None:
    """Nothing of a user's or a file's is taken for markup, and nothing steers the terminal."""

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        seen = await walk(app, pilot, log, NAMES[-2:-1])
        everything = "\n".join(seen)
        for name in (NAMES[1], NAMES[2], NAMES[-2]):
            assert name in everything
        assert "could not be worked out" not in everything

    on(scenario)
    assert not paths.fault_file().exists()


def test_random_keys_clicks_and_sizes(log: Path) -> None:
    found = Spree()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await settled(app, pilot)
        await spree(app, pilot, random.Random(5), SPREE, found)

    while found.keys < SPREE:
        on(scenario, Refusing())
    assert not paths.fault_file().exists()


def test_the_palette_shows_names_as_they_are(log: Path) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await settled(app, pilot)
        provider = Entries(app.screen)
        offered = {str(hit.text): hit async for hit in provider.discover()}
        for name in NAMES:
            hit = offered[f"Target: {one_cell(name)}"]
            for words in (hit.prompt, hit.help):
                assert isinstance(words, Content)
                assert not set(words.plain) & set(STEERING)
                assert all("click" not in str(span.style) for span in words.spans)
            found = [one async for one in provider.search(one_cell(name))]
            assert any(one.text == hit.text for one in found)
        await pilot.press("slash", *"target", "enter")
        await settled(app, pilot)

    on(scenario, Refusing())


def test_what_is_typed_or_pasted_cannot_steer(log: Path) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await settled(app, pilot)
        await pilot.press("t")
        await settled(app, pilot)
        entry = app.screen.query_one(Input)
        entry.value = "".join(NAMES)
        assert not set(entry.value) & {*STEERING, "\n"}
        entry.value = "x" * 100_000
        assert len(entry.value) <= 1000
        shown(app)
        await pilot.press("escape", "escape", "slash")
        await settled(app, pilot)
        for name in NAMES:
            app.post_message(events.Paste(name))
            await settled(app, pilot)
            shown(app)
        assert "Bob" in app.screen.query_one(Input).value

    on(scenario, Refusing())


def test_the_address_is_shown_and_escape_ends_the_exchange(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The server would drip for ever: without Esc the exchange took its twenty seconds."""
    asked = threading.Event()
    start = drips(OK + b"\r\n", b" ")

    def talk(line: Any, over: threading.Event) -> None:
        asked.set()
        start(line, over)

    with serving(talk) as (address, _):
        monkeypatch.setenv(MIRROR_VARIABLE, address)

        async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
            await settled(app, pilot)
            before = app.state.notice
            app.fetch()
            assert address in app.state.notice != before, "told before anything is sent"
            while not asked.is_set():
                await pilot.pause(0.01)
            assert address in shown(app)
            await pilot.press("escape")
            assert not app.jobs.busy
            for _ in range(40):  # two seconds at most
                await pilot.pause(0.05)
                if not any(thread.name == THREAD for thread in threading.enumerate()):
                    break
            else:
                raise AssertionError("the exchange goes on")

        on(scenario, Refusing())


def test_a_mirror_that_cannot_be_is_told_before_anything_is_asked(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(MIRROR_VARIABLE, "ftp://x\x1b[31m/")

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await settled(app, pilot)
        app.fetch()
        await settled(app, pilot)
        assert "not an address to fetch from" in app.state.notice
        shown(app)

    on(scenario, Refusing())


# -- files that are in the way ------------------------------------------------------------------------------


async def _answered(app: BandwhenApp, pilot: Pilot[None], answer: str) -> None:
    await settled(app, pilot)
    assert isinstance(app.screen, Pick), "nothing is replaced without a question"
    shown(app)
    await pilot.press(*(["down"] if answer == REPLACE else []), "enter")
    await settled(app, pilot)


Way = Callable[[BandwhenApp, Pilot[None]], Awaitable[None]]


async def _words(app: BandwhenApp, pilot: Pilot[None]) -> None:
    if len(app.screen_stack) == 1:
        await pilot.press("w")
    await pilot.press("e")


async def _plan(app: BandwhenApp, pilot: Pilot[None]) -> None:
    view = PlanView.__new__(PlanView)
    object.__setattr__(view, "paper", f"Run sheet {NAMES[0]}\n")
    object.__setattr__(view, "steps", ("a step",))
    object.__setattr__(view, "start", np.datetime64("2026-03-14T08:00:00"))
    export(app, view)


@pytest.mark.parametrize("way", [_words, _plan])
def test_an_export_asks_before_it_takes_the_place_of_another_file(
    log: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: Way
) -> None:
    name = "bandwhen-day-" if way is _words else "bandwhen-plan-"
    letter = b"a letter, years of work"

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await settled(app, pilot)
        await way(app, pilot)
        await settled(app, pilot)
        (file,) = tmp_path.glob(f"{name}*.txt")
        assert not set(file.read_text(encoding="utf-8")) & set(STEERING)
        file.write_bytes(letter)
        await way(app, pilot)
        await _answered(app, pilot, KEEP)
        assert file.read_bytes() == letter
        await way(app, pilot)
        await _answered(app, pilot, REPLACE)
        assert b"Written by bandwhen" in file.read_bytes()
        before = len(app.screen_stack)
        await way(app, pilot)  # one of the program's own is replaced without a word
        await settled(app, pilot)
        assert len(app.screen_stack) == before

    on(scenario, Refusing())


def test_the_record_of_faults_is_clean_and_does_not_grow_for_ever() -> None:
    fault = RuntimeError("".join(NAMES) * 20)
    for _ in range(400):
        assert "the details are in" in fault_log.record(f"{NAMES[0]}\n", fault)
    data = paths.fault_file().read_bytes()
    assert len(data) <= fault_log.MOST_BYTES
    assert not set(data.decode()) & set(STEERING)


def test_settings_that_cannot_be_read_are_told_of_once_and_left_alone(home: Path) -> None:
    file = paths.settings_file()
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text('target = "Ana"\nfetch_on_start = fals\n', encoding="utf-8")
    before, app = file.read_bytes(), hostile_app()
    said: list[str] = []
    app.say = lambda sentence, *_, **__: said.append(sentence)  # type: ignore[method-assign]
    app._unreadable = ""
    app.remember(glyphs="ascii")
    app.remember(mode="CW")
    assert (len(said), app.chosen.glyphs, app.chosen.mode) == (1, "ascii", "CW")
    assert "cannot be read" in said[0]
    assert file.read_bytes() == before


def test_two_screens_do_not_undo_each_others_choices(home: Path) -> None:
    settings.save(settings.Settings(proxy="http://localhost:3128"))
    one, two = hostile_app(), hostile_app()
    one.remember(theme="night")
    two.remember(mode="CW")
    there, note = settings.load()
    assert (there.theme, there.mode, there.proxy, note) == ("night", "CW", "http://localhost:3128", "")


@pytest.mark.parametrize("keys", ["", "w", "slash"])
def test_two_sizes_with_something_between_them_do_not_follow_each_other_for_ever(
    keys: str, home: Path
) -> None:
    """Found by the long attack, as a page that took no key more; on a page, on a sheet and in the finder."""

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await settled(app, pilot)
        await pilot.press(*([keys] if keys else []))
        await settled(app, pilot)
        laid_out = 0
        resized = app.screen._screen_resized

        def counted(size: Size) -> None:
            nonlocal laid_out
            laid_out += 1
            if laid_out < 20:  # else it would go on for ever
                app.screen.call_later(lambda: None)  # as a page does that changes with its size
                resized(size)
                app.screen.call_later(lambda: None)

        app.screen._screen_resized = counted  # type: ignore[method-assign]
        for size in (Size(160, 48), Size(80, 24)):
            app.screen.post_message(events.Resize(size, size))
            app.screen.call_later(lambda: None)
        await asyncio.sleep(0.5)
        assert laid_out <= 4

    on(scenario, Refusing())
