"""The station's form in two steps: all that a station file knows, the zone guessed, waking and free hours."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fake_engine import FakeEngine
from screen_text import go, rows_of, run, settle
from textual.pilot import Pilot
from textual.widgets import Input

from propagation.advice.sked import party_of_friend, party_of_station
from propagation.antennas.spec import VERTICALS, AntennaSpec
from propagation.base.errors import InputError
from propagation.base.strict_toml import keys_of
from propagation.spectrum import national
from propagation.station import friends, station
from tui.app import paths, station_form
from tui.app.app import BandwhenApp
from tui.app.choice import FriendCard
from tui.app.sites import Sites
from tui.app.station_form import LINES, MORE, fitting
from tui.features.stations import form as lists
from tui.features.stations.form import SaveFriend
from tui.kit.first_step import FirstStep
from tui.kit.form import Form

FULL = """
name = "hill"
[site]
locator = "KG40rs"
permittivity = 13
conductivity_s_per_m = 0.005
horizon_deg = {0 = 2, 180 = 1}
time_zone = "Africa/Maseru"
awake = "05:30-21:00"
free = "17:00-20:00"
[antenna]
mount = "spike"
top_wires = 2
top_wire_m = 0.5
coil_uh_max = 30
coil_positions = {5 = 3.1, 40 = 26}
[feedline]
choke = false
matched_loss_db_per_100m = {10 = 4.6, 30 = 8.1}
[limits]
national = "South Africa"
bands = ["20m", "40m"]
power_w = 400
"""


def test_the_two_steps_know_every_key_of_the_station_file() -> None:
    shown = {line.key for line in (*LINES, *MORE)}
    tables: list[tuple[str, Any, tuple[str, ...]]] = [
        ("site", station.Site, ("position", "horizon")),
        ("rig", station.Rig, ()),
        # rows of a measured gain, and readings: taken from files and from the analyser, not typed here
        ("antenna", AntennaSpec, ("table", "measured", "marks")),
        ("feedline", station.FeedlineSpec, ()),
        ("far_end", station.FarEnd, ()),
        ("limits", station.LicenceLimits, ()),
        ("band_change", station.BandChange, ()),
        ("people", type(station.load(paths.demo_station_file()).people), ()),
    ]
    wanted = {f"{name}.{key}" for name, record, skip in tables for key in keys_of(record, skip)}
    assert wanted | {"name", "site.locator", "site.horizon_deg"} == shown
    for kind in (*VERTICALS, "sloping end-fed"):
        keys = {line.key for line in fitting(kind)}
        assert ("antenna.top_wires" in keys) == (kind in VERTICALS)
        assert ("antenna.transformer_ratio" in keys) == (kind == "sloping end-fed")
        assert ("antenna.shortest_m" in keys) == (kind in VERTICALS)


def test_what_both_steps_show_is_read_back_to_the_same_station(tmp_path: Path) -> None:
    file = tmp_path / "hill.toml"
    file.write_text(FULL)
    before = station.load(file)
    first = {field.key: field.value for field in station_form.form(str(file))}
    second = {field.key: field.value for field in station_form.second_form(str(file), before.antenna.kind)}
    assert second["antenna.coil_positions"] == "5 = 3.1, 40 = 26"
    assert second["limits.bands"] == "40m, 20m" or second["limits.bands"] == "20m, 40m"
    assert station_form.check({**first, **second}) == ""
    fresh = station.loads(station_form.toml_of({**first, **second}, ""))
    assert replace(fresh, site=before.site) == before
    assert replace(fresh.site, position=before.site.position) == before.site


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [
        ("antenna.coil_positions", "5: 3", "Coil, two settings"),
        ("feedline.choke", "perhaps", "Choke on the coax"),
        ("limits.bands", "21m", "no band '21m'"),
        ("antenna.mount", "roof", "Mount"),
        ("antenna.top_wires", "2.5", "Top wires"),
        ("site.awake", "early", "When you are awake"),
        ("site.free", "25:00-26:00", "When you are free"),
        ("limits.national", "Japann", "'Japan'"),
        ("site.time_zone", "Mars", "Time zone"),
    ],
)
def test_slips_are_told_in_the_words_of_the_form(key: str, text: str, words: str) -> None:
    told = station_form.check({"site.locator": "KG30", key: text})
    assert words in told
    assert f"[{key.partition('.')[0]}]" not in told
    assert "_" not in told.partition(" is ")[0]


def test_the_second_step_is_saved_with_the_first(tmp_path: Path) -> None:
    file = tmp_path / "hill.toml"
    file.write_text('[site]\nlocator = "KG40rs"\ntime_zone = "Africa/Maseru"\n')

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        lists.edit_station(app, str(file))
        await pilot.pause()
        assert isinstance(app.screen, FirstStep)
        app.screen.query_one("#field-1", Input).value = "hill"
        await pilot.press("ctrl+n")
        await pilot.pause()
        form = app.screen
        assert isinstance(form, Form)
        number = next(n for n, field in enumerate(form.fields) if field.key == "antenna.top_wires")
        form.query_one(f"#field-{number}", Input).value = "3"
        await pilot.press("ctrl+s")
        await settle(app, pilot)

    run(scenario)
    saved = station.load(file)
    assert saved.name == "hill"
    assert saved.antenna.top_wires == 3


def test_the_zone_is_guessed_shown_and_can_be_changed() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        app.action_new_station()
        await pilot.pause()
        form = app.screen
        assert isinstance(form, Form)
        number = next(n for n, field in enumerate(form.fields) if field.key == "site.time_zone")
        form.query_one("#field-0", Input).value = "GF25"
        await pilot.pause()
        row = next(row for row in rows_of(app) if "Time zone" in row)
        assert "America/Montevideo, a guess" in row
        await pilot.click(form.query(".form-label")[number])
        assert form._number() == number  # a click on the label goes to its entry
        await pilot.press("ctrl+s")
        await settle(app, pilot)

    run(scenario)
    assert station.load(paths.station_file()).site.time_zone == "America/Montevideo"
    given = {"site.locator": "GF25", "site.time_zone": "UTC"}
    assert station_form.guesses(given) == {}
    assert station.load(station_form.save(given, "")).site.time_zone == "UTC"
    assert station_form.guesses({"site.locator": "no such place", "site.time_zone": ""}) == {}


def test_waking_and_free_hours_of_both_ends() -> None:
    noon, evening = np.array(["2026-03-20T10:00", "2026-03-20T17:00"], "datetime64[s]")
    own = party_of_station(station.loads(FULL))
    assert own.suits(noon).tolist() is False
    assert own.suits(evening).tolist() is True  # 19:00 there
    given = party_of_station(station.loads(FULL), "always", "00:00-24:00")
    assert given.suits(noon).tolist() is True
    friend = friends.Friend("Ben", "GF25", awake="06:00-22:00", free="13:00-15:00")
    assert party_of_friend(friend).suits(evening).tolist() is True  # 14:00 there
    assert party_of_friend(friend).suits(noon).tolist() is False
    assert friends.loads(friends.dumps([friend])) == (friend,)
    with pytest.raises(InputError, match="free 'soon'"):
        friends.Friend("Ben", "GF25", free="soon")


def test_a_friends_hours_can_be_changed_in_the_form() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "station")
        lists.edit_friend(app, "Uruguay")
        await pilot.pause()
        form = app.screen
        assert isinstance(form, Form)
        keys = [field.key for field in form.fields]
        form.query_one(f"#field-{keys.index('free')}", Input).value = "soon"
        await pilot.pause()
        assert any("When free: 'soon' is not a span" in row for row in rows_of(app))
        form.query_one(f"#field-{keys.index('free')}", Input).value = "18:00-22:00"
        await pilot.press("ctrl+s")
        await settle(app, pilot)
        assert engine.last(SaveFriend).friend.free == "18:00-22:00"

    run(scenario, engine=engine)
    sites = Sites()
    sites.save_friend(FriendCard("Ben", "GF25", awake="05:00-20:00", free="18:00-19:00"), "")
    card = sites.open(station_form.save({"site.locator": "KG30"}, ""), "").friends[0]
    assert (card.awake, card.free) == ("05:00-20:00", "18:00-19:00")
    sites.save_friend(replace(card, free="", awake=""), "")
    (ben,) = friends.load(paths.friends_file())
    assert (ben.awake, ben.free) == ("07:00-23:00", "")


def test_the_countries_can_be_chosen_and_say_that_they_are_from_memory(bandwhen: Callable[..., Any]) -> None:
    line = next(line for line in station_form.form("") if line.key == "site.time_zone")
    assert line.value == ""
    form = station_form.form(station_form.save({"site.locator": "PM95"}, ""))
    choices = next(field for field in form if field.key == "limits.national").choices
    assert {"Japan", "Region 1", "Region 2", "Region 3"} <= set(choices)
    assert len(choices) == len(national.NATIONAL) >= 33
    made = station_form.save({"site.locator": "PM95", "limits.national": "Japan"}, str(paths.station_file()))
    assert "Japan (80 m in parts, no 60 m; from memory, check your licence)" in bandwhen(
        "station", "show", made
    ).out.replace("\n", " ")
