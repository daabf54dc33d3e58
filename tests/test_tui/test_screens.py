"""The screens on made-up results: what they show at two sizes, that nothing sticks out, that every key does
its work.
"""

from __future__ import annotations

import re
from functools import partial

import pytest
import synthetic
from fake_engine import FakeEngine
from rich.cells import cell_len
from screen_text import PLACES, go, golden, make_app, rows_of, run, settle, text_of
from textual.binding import Binding
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input

from tui.app import paths, prompts
from tui.app.app import BandwhenApp
from tui.app.page import Page
from tui.app.prompts import ask_hours
from tui.app.queries import PlanQuery
from tui.features.antenna.form import analyser
from tui.features.sky.page import TypeIn, heard
from tui.features.stations.form import SaveStation
from tui.features.why.page import WhyQuery
from tui.kit.canvas import Drawn
from tui.kit.form import Form
from tui.kit.overlays import Ask, HelpSheet, Pick, WordsSheet

LAID_OUT_ANEW = ("day", "why", "reach", "bench", "sky", "plan")  # where there is more room
SIZES = ((80, 24), (100, 30), (132, 43), (240, 70))


@pytest.mark.parametrize("size", [(80, 24), (132, 43)])
def test_screens_are_as_on_file(size: tuple[int, int]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for place in PLACES if size == (80, 24) else LAID_OUT_ANEW:
            await go(app, pilot, place)
            golden(f"{place}_{size[0]}x{size[1]}", text_of(app))
            page = app.page
            assert page is not None
            if page.compact and page.panes_by_tab():
                for pane in page.panes[1:]:
                    page.action_next_pane()
                    await pilot.pause()
                    golden(f"{place}_{pane}_{size[0]}x{size[1]}", text_of(app))

    run(scenario, size)


def outside(screen: Screen[object]) -> list[str]:
    """Widgets that are shown and stick out of the screen."""
    width, height = screen.size
    out = []
    for widget in screen.walk_children():
        if not widget.display or any(
            not parent.display for parent in widget.ancestors if hasattr(parent, "display")
        ):
            continue
        region = widget.region
        clipped = any(parent.id == "form-fields" for parent in widget.ancestors)
        if (
            region.area
            and not clipped
            and (region.x < 0 or region.y < 0 or region.right > width or region.bottom > height)
        ):
            out.append(f"{widget!r} {region}")
    return out


@pytest.mark.slow
def test_no_widget_sticks_out() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for place in PLACES:
            await go(app, pilot, place)
            for size in (*SIZES, (40, 10)):
                await pilot.resize_terminal(*size)
                await pilot.pause()
                assert outside(app.screen) == [], (place, size)
                assert all(len(row) <= size[0] for row in rows_of(app)), (place, size)
            await pilot.resize_terminal(80, 24)

    run(scenario)


@pytest.mark.slow
def test_sheets_fit_and_come_back_after_shrinking() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        openers = (
            app.action_words,
            app.action_help,
            app.action_target,
            app.action_mode,
            app.action_look,
            app.action_new_station,
            partial(heard, app),
            partial(ask_hours, app),
            partial(analyser, app),
        )
        for opener in openers:
            opener()
            await settle(app, pilot)
            assert not isinstance(app.screen, Page), opener
            for size in ((80, 24), (40, 10), (132, 43)):
                await pilot.resize_terminal(*size)
                await pilot.pause()
                assert outside(app.screen) == [], (opener, size)
            app.pop_screen()
            await pilot.pause()

    run(scenario)


def all_bindings(app: BandwhenApp) -> list[tuple[object, Binding]]:
    """(owner, binding) of the app, all screens and all sheets."""
    pages = [entry.make() for entry in app.pages]
    sheets = [
        WordsSheet("", [], str),
        HelpSheet("", [], str),
        Ask(""),
        Pick("", [], ""),
        Form("", [], lambda entries: ""),
    ]
    owners: list[object] = [app, *pages, *sheets]
    found = []
    for owner in owners:
        for kind in type(owner).__mro__:
            for binding in kind.__dict__.get("BINDINGS", ()):
                if isinstance(binding, Binding) and kind.__module__.startswith("tui."):
                    found.append((owner, binding))
    return found


def test_every_binding_resolves() -> None:
    app = make_app()
    found = all_bindings(app)
    assert len(found) > 60
    for owner, binding in found:
        name = re.match(r"(?:(app|screen)\.)?(\w+)", binding.action)
        assert name is not None
        holder = (
            app
            if name[1] == "app" or (name[1] is None and not hasattr(owner, f"action_{name[2]}"))
            else owner
        )
        assert callable(getattr(holder, f"action_{name[2]}", None)), (owner, binding.action)


# keys that mean something else on one page: on the air a hand knows v and g without looking; the look and
# the signs are chosen on any other page. u takes back the last thing done, or what is tried or learnt.
OWN_KEYS = {"onair": "vgu", "plan": "u", "bench": "u", "review": "u"}


def test_every_action_has_a_key_and_every_key_is_in_the_help() -> None:
    """No action of ours that is reached by mouse or palette alone."""
    app = make_app()
    bound = {re.match(r"(?:\w+\.)?(\w+)", binding.action)[1] for _, binding in all_bindings(app)}  # type: ignore[index]
    pages = [entry.make() for entry in app.pages]
    for kind in (*BandwhenApp.__mro__[:2], *(type(page) for page in pages)):
        own = {name[7:] for name in vars(kind) if name.startswith("action_")}
        assert own <= bound, own - bound

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for place in PLACES:
            await go(app, pilot, place)
            page = app.page
            assert page is not None
            told = "\n".join(app.help_sentences(page))
            for binding in [*page.BINDINGS, *app.BINDINGS]:
                assert isinstance(binding, Binding)
                if binding in app.BINDINGS and binding.key in OWN_KEYS.get(place, ""):
                    continue
                assert (binding.tooltip or binding.description) in told

    run(scenario)


def test_keys_are_not_bound_twice_on_a_screen() -> None:
    app = make_app()
    for entry in app.pages:
        keys = [
            key
            for b in [*entry.make().BINDINGS, *app.BINDINGS]
            if isinstance(b, Binding)
            for key in b.key.split(",")
        ]
        keys += [other.key for other in app.pages]
        for own in OWN_KEYS.get(entry.place, ""):
            keys.remove(own)
        assert len(keys) == len(set(keys)), (entry, sorted(keys))


def test_by_keyboard_alone() -> None:
    """Walk through the screens with keys; Pilot presses are dear, so each counts for several things."""
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        state = app.state
        assert state.cursor is not None
        assert state.day is not None
        start, first = state.cursor.time, state.band_index
        await pilot.press("right", "full_stop", "down")
        assert (state.cursor.time - start).astype(int) == 40 * 60
        assert state.band_index == first + 1
        await pilot.press("n")
        assert state.cursor.time == start
        await pilot.press("2")
        await settle(app, pilot)
        assert app.current_mode == "why"
        assert state.answers.get(WhyQuery) is not None
        await pilot.press("tab", "r")
        await settle(app, pilot)
        assert state.cursor.long
        assert app.page is not None
        assert app.page.pane == 1
        await pilot.press("right_square_bracket")
        await settle(app, pilot)
        assert str(state.day.times[0]) == "2026-03-15T00:00:00"
        await pilot.press("t")
        await pilot.pause()
        assert isinstance(app.screen, Ask)
        await pilot.press(*"Eri", "down", "enter")
        await settle(app, pilot)
        assert state.choice is not None
        assert state.choice.target == "Eritrea"
        await pilot.press("1", "m", "down", "enter")
        await settle(app, pilot)
        assert state.choice.mode == "CW"
        await pilot.press("p", "5", "enter")
        await settle(app, pilot)
        assert state.choice.power_w == 5.0
        await pilot.press("q")

    run(scenario, engine=engine)
    assert engine.asked.count("day") == 5


def test_forms_by_keyboard() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await pilot.press("8", "s")
        await settle(app, pilot)
        assert isinstance(app.screen, Form)
        app.screen.query_one("#field-0", Input).value = ""
        await pilot.pause()
        assert "Where you are: give" in text_of(app)
        await pilot.press("ctrl+s")
        assert isinstance(app.screen, Form), "a form that is not right is not saved"
        app.screen.query_one("#field-0", Input).value = "JO22"
        await pilot.press("enter", "ctrl+s")
        await settle(app, pilot)
        assert isinstance(app.screen, Page)
        assert engine.last(SaveStation).entries["site.locator"] == "JO22"
        assert "Saved in" in text_of(app)
        assert app.chosen.station == str(paths.station_file())
        await pilot.press("f")
        await settle(app, pilot)
        await pilot.press("escape")
        assert isinstance(app.screen, Page)
        await pilot.press("4", "a")
        await settle(app, pilot)
        assert "SWR there: type the SWR" in text_of(app)
        await pilot.press("escape", "5", "f")
        await settle(app, pilot)
        assert "Fetched 5 of 6 products." in text_of(app)
        await pilot.press("k")
        await settle(app, pilot)
        await pilot.press(*"150", "ctrl+s")
        await settle(app, pilot)
        assert engine.last(TypeIn).entries["flux_sfu"] == "150"
        await pilot.press("6")
        await settle(app, pilot)  # the plan, of which x marks a band
        await pilot.press("x")
        await settle(app, pilot)
        assert engine.last(PlanQuery).hours.dead[0][0] == "20m"

    run(scenario, engine=engine)


@pytest.mark.slow
def test_all_signs_take_one_cell() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for place in PLACES:
            await go(app, pilot, place)
            for row in rows_of(app):
                assert all(cell_len(sign) == 1 for sign in row), row

    for size in ((80, 24), (132, 43)):
        run(scenario, size)


@pytest.mark.slow
def test_plain_signs_are_ascii() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for place in PLACES:
            await go(app, pilot, place)
            assert text_of(app).isascii(), [row for row in rows_of(app) if not row.isascii()]

    for size in ((80, 24), (132, 43)):
        run(scenario, size, glyphs="ascii")


def test_brackets_in_names_stay_what_they_are() -> None:
    names = ("59 [QSB] [/ [red]x[/red]", "日本 a\tb\x1b[31m")

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for place in PLACES:
            await go(app, pilot, place)
            assert app.page is not None
            text_of(app)
        app.say("[/] a fault with [brackets]")
        await pilot.pause()
        assert "[/] a fault with [brackets]" in text_of(app)
        app.set_target("[/b] friend")
        await settle(app, pilot)
        assert "[/b] friend" in text_of(app)
        app.action_words()
        await pilot.pause()
        assert "\x1b" not in text_of(app)

    for name in names:
        run(scenario, engine=FakeEngine(site=name))


def test_words_of_every_screen_can_be_copied_and_written(tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.chdir(tmp_path)
    copied: list[str] = []

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        monkeypatch.setattr(app, "copy_to_clipboard", copied.append)
        for place in PLACES:
            await go(app, pilot, place)
            page = app.page
            assert page is not None
            said = page.sentences(app.state)
            assert len(said) >= 2, place
            assert all(
                sentence == sentence.strip() and "nan" not in sentence.lower().split() for sentence in said
            ), said
        await pilot.press("w", "y", "e")
        await pilot.pause()
        assert "Written: bandwhen-" in text_of(app)

    run(scenario)
    assert copied
    written = next(tmp_path.glob("bandwhen-*.txt")).read_text(encoding="utf-8")
    assert written.partition("\n\n")[2] == copied[0]


def test_palette_reaches_targets_bands_and_screens() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        from tui.app.command_finder import Entries

        provider = Entries(app.screen)
        labels = [label for label, _, _ in provider._all()]
        for wanted in (
            "Screen: sky",
            "Band: 20 m",
            "Target: Europe",
            "Look: night",
            "Mode: CW",
            "New station ...",
        ):
            assert wanted in labels
        for _, _, action in provider._all():
            if isinstance(action, partial) and action.func == app.run_action:
                name = re.match(r"\w+", action.args[0])
                assert name is not None
                assert callable(getattr(app, f"action_{name[0]}"))
        await pilot.press("slash")
        await pilot.pause()
        assert app.screen.query("CommandInput")

    run(scenario)


def test_looks_change_and_are_remembered() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for name in ("light", "sunlight", "night", "ansi"):
            prompts.set_look(app, name)
            await pilot.pause()
            assert text_of(app).strip()
        app.action_glyphs()
        await pilot.pause()
        assert text_of(app).isascii()

    app = run(scenario)
    from tui.app import settings

    kept, note = settings.load(app._settings_file)
    assert (kept.theme, kept.glyphs, note) == ("ansi", "ascii", "")


def test_every_segment_has_a_style() -> None:
    """Without colour a segment without a style brings the terminal's driver down."""

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        for place in PLACES:
            await go(app, pilot, place)
            for widget in app.screen.query(Drawn):
                for strip in widget._strips:
                    assert all(segment.style is not None for segment in strip)

    run(scenario)


def test_synthetic_times_are_the_clock_of_these_tests() -> None:
    assert str(synthetic.NOW) == "2026-03-14T12:20:00"
