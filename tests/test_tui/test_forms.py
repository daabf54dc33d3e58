"""One rule for all forms and prompts: a bad value never closes one, and nothing that was typed is lost."""

from __future__ import annotations

import ast
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fake_engine import FakeEngine
from screen_text import go, rows_of, run, settle
from textual.containers import Horizontal
from textual.pilot import Pilot
from textual.widgets import Input

import tui
from propagation.base.errors import InputError
from tui.app import kept_plans, paths, prompts
from tui.app.app import BandwhenApp
from tui.app.choice import Choice, HoursOnAir, Trial
from tui.app.queries import A, Cancelled, Command, Query
from tui.features.antenna import form as antenna
from tui.features.plan import kept
from tui.features.sky import page as sky
from tui.features.stations import form as stations
from tui.features.stations.form import SaveStation
from tui.kit.first_step import FirstStep
from tui.kit.form import Form
from tui.kit.lists import Notes
from tui.kit.overlays import Ask, Pick

RUBBISH = ("?[/b]", "-7e9")
NAMELESS = "?" * 70  # for prompts: too long for a name, and without a letter
Opener = Callable[[BandwhenApp], object]


class RealWork(FakeEngine):
    """What forms save is really saved, and names are judged as they are."""

    def answer(self, query: Query[A], cancelled: Cancelled) -> A:
        self.put.append(query)
        return (
            query.answer(self, cancelled) if isinstance(query, Command) else super().answer(query, cancelled)
        )

    def check_target(self, text: str) -> str:
        return self.sites.check_target(text)


def page_action(name: str) -> Opener:
    return lambda app: getattr(app.page, name)()


def choice_of(app: BandwhenApp) -> Choice:
    assert app.state.choice is not None
    return app.state.choice


def edits(kind: str) -> Opener:
    """Open the form of a saved station with this kind of antenna."""

    def opens(app: BandwhenApp) -> None:
        file = paths.stations_dir() / "hill.toml"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(f'name = "hill"\n[site]\nlocator = "KG40rs"\n[antenna]\nkind = "{kind}"\n')
        stations.edit_station(app, str(file))

    return opens


def renames(app: BandwhenApp) -> None:
    """Ask for another name of a plan that is kept."""
    station, choice, hours = app.engine.sites.station(""), choice_of(app), app.state.hours
    assert hours is not None
    plan = kept_plans.new(station, hours, "Hill", ("Europe",), choice.mode, choice.power_w)
    kept_plans.keep(plan, force=True)
    kept._ask_other_name(app, "Hill", renamed=True)


def unsaved(trial: Trial) -> None:
    """What is tried is left alone here."""


# every function that makes a form or a prompt (a word after it: another way in), the page to be on, what
# opens it, and the entries that make it valid
OPENERS: dict[str, tuple[str, Opener, dict[str, str]]] = {
    "app.prompts.note_mark": ("bench", lambda app: prompts.note_mark(app, "40m"), {}),
    "app.prompts.target": ("day", prompts.target, {}),
    "app.prompts.date": ("day", prompts.date, {}),
    "app.prompts.days": ("day", lambda app: prompts.days(app, lambda first, count: None), {}),
    "app.prompts.power": ("day", prompts.power, {}),
    "app.prompts.ask_hours": ("plan", prompts.ask_hours, {}),
    "app.prompts.ask_date_of_plan": ("plan", prompts.ask_date_of_plan, {}),
    "features.antenna.form._ask_power": ("bench", lambda app: antenna._ask_power(app, choice_of(app)), {}),
    "features.antenna.form._describe": (
        "bench",
        lambda app: antenna._describe(app, choice_of(app), unsaved),
        {},
    ),
    "features.antenna.form.analyser": (
        "bench",
        antenna.analyser,
        {"dip": "7.1", "swr": "1.2", "low_1p5": "7.05", "high_1p5": "7.15"},
    ),
    "features.antenna.form.touchstone": ("bench", antenna.touchstone, {}),
    "features.outing.page.OnAirPage._ask_line": ("onair", page_action("action_contact"), {}),
    "features.plan.kept.ask_name": ("plan", kept.ask_name, {}),
    "features.plan.kept._ask_file": ("plan", kept._ask_file, {}),
    "features.plan.kept._ask_other_name": ("plan", renames, {}),
    "features.review.page.ReviewPage.action_open": ("review", page_action("action_open"), {}),
    "features.season.page.SeasonPage._ask_elsewhere": ("season", page_action("_ask_elsewhere"), {}),
    "features.sky.page.heard": ("sky", sky.heard, {}),
    "features.sky.page.type_in": ("sky", sky.type_in, {}),
    "features.stations.form._friend_form": (
        "station",
        stations.new_friend,
        {"name": "Ben", "place": "GF25"},
    ),
    "features.stations.form._station_form": ("station", edits("loaded vertical"), {}),
    "features.stations.form._station_form new": (
        "station",
        stations.new_station,
        {"site.locator": "KG40rs"},
    ),
    **{
        f"features.stations.form._station_form {kind}": ("station", edits(kind), {})
        for kind in ("sloping end-fed", "inverted v", "yagi")
    },
}


def makers() -> set[str]:
    """Every function of the terminal program that makes a form or a prompt, by module and name."""
    root = Path(tui.__file__).parent
    found = set()
    for file in root.rglob("*.py"):
        module = ".".join(file.relative_to(root).with_suffix("").parts)
        for node in ast.parse(file.read_text()).body:
            inside = node.body if isinstance(node, ast.ClassDef) else [node]
            prefix = f"{node.name}." if isinstance(node, ast.ClassDef) else ""
            for function in inside:
                if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef) and any(
                    isinstance(call, ast.Call)
                    and isinstance(call.func, ast.Name)
                    and call.func.id in ("Form", "FirstStep", "Ask")
                    for call in ast.walk(function)
                ):
                    found.add(f"{module}.{prefix}{function.name}")
    return found


def test_every_form_is_attacked_below() -> None:
    assert makers() == {name.partition(" ")[0] for name in OPENERS}


def entries_of(app: BandwhenApp) -> list[str]:
    return [entry.value for entry in app.screen.query(Input)]


def told(app: BandwhenApp) -> str:
    name = "#form-verdict" if isinstance(app.screen, Form) else "#verdict"
    return " ".join(app.screen.query_one(name, Notes).sentences)


async def attack(app: BandwhenApp, pilot: Pilot[None], opened: Callable[[], Any]) -> int:
    """Type rubbish into every entry of the open form, one after the other; returns how many were refused."""
    count, refused = len(app.screen.query(Input)), 0
    for number in range(count):
        for rubbish in (*RUBBISH, NAMELESS) if isinstance(app.screen, Ask) else RUBBISH:
            sheet = app.screen
            assert isinstance(sheet, Form | Ask)
            entry = list(sheet.query(Input))[number]
            if isinstance(entry.parent, Horizontal) and not entry.parent.display:
                continue  # of another kind of antenna
            before, notice = entry.value, app.state.notice
            entry.value = rubbish
            entry.focus()
            await pilot.pause()
            typed = entries_of(app)
            await pilot.press("ctrl+s" if isinstance(sheet, Form) else "enter")
            await settle(app, pilot)
            if app.screen is sheet:
                assert entries_of(app) == typed, f"{sheet} lost what was typed"
                assert told(app).strip(), f"{typed}: refused without a sentence"
                here = app.page
                await pilot.press("1")
                assert app.page is here  # the digit went into the entry, not to another page
                assert "1" in "".join(entries_of(app))
                list(sheet.query(Input))[number].value = before
                refused += 1
            else:  # text that is valid here, as a name: it must have been saved
                assert not app.state.fault, (typed, app.state.notice, notice)
                await opened()
    return refused


async def fill(app: BandwhenApp, pilot: Pilot[None], entries: dict[str, str]) -> None:
    """Give the open form the entries that make it valid."""
    sheet = app.screen
    if isinstance(sheet, Form):
        for number, field in enumerate(sheet.fields):
            if field.key in entries:
                sheet.query_one(f"#field-{number}", Input).value = entries[field.key]
        await pilot.pause()
        assert sheet._judge(), told(app)


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(OPENERS))
def test_rubbish_never_closes_a_form_or_loses_what_was_typed(name: str) -> None:
    place, opens, entries = OPENERS[name]

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, place)

        async def opened() -> None:
            opens(app)
            await settle(app, pilot)
            await fill(app, pilot, entries)

        async def second() -> None:
            if not isinstance(app.screen, FirstStep):
                await opened()
            await pilot.press("ctrl+n")
            await settle(app, pilot)
            assert isinstance(app.screen, Form)
            assert not isinstance(app.screen, FirstStep)

        await opened()
        two_steps = isinstance(app.screen, FirstStep)
        assert await attack(app, pilot, opened) >= 1
        if two_steps:
            await second()
            assert await attack(app, pilot, second) >= 1

    run(scenario, engine=RealWork(), size=(100, 40))


def test_what_cannot_be_saved_stays_in_the_form() -> None:
    """An error while saving is told in the form, which stays open; saving again is possible."""
    fails = True

    def save(query: Any) -> str:
        if fails:
            raise InputError("The disk is full.")
        return "/tmp/hill.toml"

    engine = FakeEngine(made_up={SaveStation: save})

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        nonlocal fails
        stations.new_station(app)
        await settle(app, pilot)
        await pilot.press(*"KG33", "ctrl+s")
        await settle(app, pilot)
        assert isinstance(app.screen, FirstStep)
        assert told(app) == "The disk is full."
        assert entries_of(app)[0] == "KG33"
        fails = False
        await pilot.press("ctrl+s")
        await settle(app, pilot)
        assert app.screen is app.page

    run(scenario, engine=engine)


def test_the_bad_entry_is_marked_and_gets_the_cursor() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "station")
        stations.new_friend(app)
        await settle(app, pilot)
        await fill(app, pilot, {"name": "Ben", "place": "GF25"})
        form = app.screen
        assert isinstance(form, Form)
        number = [field.key for field in form.fields].index("awake")
        form.query_one(f"#field-{number}", Input).value = "early"
        await pilot.press("ctrl+s")
        await settle(app, pilot)
        assert form._number() == number
        assert any("! When awake" in row for row in rows_of(app))

    run(scenario, engine=RealWork())


def test_leaving_two_steps_asks_first_and_the_second_leads_back_to_the_first() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        stations.new_station(app)
        await settle(app, pilot)
        await pilot.press("escape")  # nothing is typed: nothing to ask
        await settle(app, pilot)
        assert app.screen is app.page
        stations.new_station(app)
        await settle(app, pilot)
        await pilot.press(*"KG33", "ctrl+n")
        await settle(app, pilot)
        form = app.screen
        assert isinstance(form, Form)
        number = next(n for n, field in enumerate(form.fields) if field.key == "antenna.top_wires")
        form.query_one(f"#field-{number}", Input).value = "3"
        await pilot.press("escape")
        await settle(app, pilot)
        assert isinstance(app.screen, FirstStep)
        await pilot.press("ctrl+n")
        await settle(app, pilot)
        assert app.screen.query_one(f"#field-{number}", Input).value == "3"
        await pilot.press("escape", "escape")
        await settle(app, pilot)
        assert isinstance(app.screen, Pick)
        await pilot.press("escape")
        await settle(app, pilot)
        assert entries_of(app)[0] == "KG33"
        await pilot.press("ctrl+s")
        await settle(app, pilot)
        assert app.screen is app.page
        saved = engine.last(SaveStation).entries
        assert saved["site.locator"] == "KG33"
        assert saved["antenna.top_wires"] == "3"
        stations.new_station(app)
        await settle(app, pilot)
        await pilot.press(*"KG33", "escape")
        await settle(app, pilot)
        await pilot.press("down", "enter")
        await settle(app, pilot)
        assert app.screen is app.page

    engine = FakeEngine(made_up={SaveStation: lambda query: "/tmp/hill.toml"})
    run(scenario, engine=engine)


def test_a_dip_of_another_band_draws_a_remark_while_it_is_typed() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "bench")
        band = choice_band(app)
        assert band == "40m"
        antenna.analyser(app)
        await settle(app, pilot)
        await pilot.press("ctrl+u", *"14.060")
        await settle(app, pilot)
        assert told(app) == "Dip at: 14.060 MHz is on 20 m; this reading is of 40 m."
        await pilot.press("ctrl+u", *"7.060", "enter", *"1.2")
        await settle(app, pilot)
        assert "SWR 1.20 without a transformer is 42 or 60 ohm" in told(app)

    run(scenario, engine=RealWork())


def choice_band(app: BandwhenApp) -> str:
    assert app.state.cursor is not None
    return app.state.cursor.band


def test_rows_of_another_kind_of_antenna_are_hidden_and_not_saved() -> None:
    engine = FakeEngine(made_up={SaveStation: lambda query: "/tmp/hill.toml"})

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        stations.new_station(app)
        await settle(app, pilot)
        await fill(app, pilot, {"site.locator": "KG33"})
        rows = "\n".join(rows_of(app))
        assert "Radials, length" in rows
        assert "Wire, height" not in rows
        assert "●" in rows  # the coil
        assert "4 radials, 4.5 m, raised." in rows
        await fill(app, pilot, {"antenna.radials": "8", "antenna.kind": "dipole", "antenna.height_m": "8"})
        await settle(app, pilot)
        rows = "\n".join(rows_of(app))
        assert "Radials, length" not in rows
        assert "Wire, height" in rows
        assert "8 m high" in rows
        await pilot.press("ctrl+s")
        await settle(app, pilot)
        assert "antenna.radials" not in engine.last(SaveStation).entries
        assert engine.last(SaveStation).entries["antenna.height_m"] == "8"

    run(scenario, engine=engine)


def test_hours_left_over_are_shown_in_two_decimals_and_end_on_the_same_minute() -> None:
    """110 minutes left of a plan are 1.83 hours in the form, not 1.83333; saving keeps their end."""

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "plan")
        start = app.state.now.astype("datetime64[m]").astype("datetime64[s]")
        app.state.hours = before = HoursOnAir(start, 110.0 / 60.0)
        prompts.ask_hours(app)
        await settle(app, pilot)
        assert [one.value for one in app.screen.query(Input)][1] == "1.83"
        await pilot.press("ctrl+s")
        await settle(app, pilot)
        assert app.state.hours is not before
        assert app.state.hours.end == before.end

    run(scenario)
