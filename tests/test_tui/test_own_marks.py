"""The operator's own marks: noted with two keys, or by the command, and said wherever the setting is said."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fake_engine import FakeEngine
from screen_text import go, run, settle, text_of
from textual.pilot import Pilot

from propagation.advice.setup_notes import BandSetup, work_between
from propagation.antennas.marks import BandMark, Move
from propagation.station import station
from propagation.wording.setup import move_words, setup_words, work_words
from tui.app import own_marks, paths
from tui.app.app import BandwhenApp
from tui.app.own_marks import NoteMark
from tui.app.queries import A, Cancelled, Query
from tui.features.antenna.answer import antenna_view
from tui.features.antenna.view import card_sentences, setup_line
from tui.kit.overlays import Ask

WHIP = 'name = "hill"\n[site]\nlocator = "KG40rs"\n[antenna]\nradiator_m = 3.2\n'


class Saving(FakeEngine):
    """Marks are really saved."""

    def answer(self, query: Query[A], cancelled: Cancelled) -> A:
        if isinstance(query, NoteMark):
            self.put.append(query)
            return query.answer(self, cancelled)
        return super().answer(query, cancelled)


@pytest.fixture
def hill(tmp_path: Path) -> str:
    file = tmp_path / "hill.toml"
    file.write_text(WHIP)
    return str(file)


@pytest.mark.parametrize("place", ["bench", "onair"])
def test_a_mark_is_noted_with_two_keys_and_proposed_the_next_time(hill: str, place: str) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, place)
        await pilot.press("i")
        await settle(app, pilot)
        sheet = app.screen
        assert isinstance(sheet, Ask)
        await pilot.press(*"34", "enter")
        await settle(app, pilot)
        assert app.screen is app.page
        await pilot.press("i")
        await settle(app, pilot)
        assert isinstance(app.screen, Ask)
        assert app.screen.value == "34"

    run(scenario, engine=Saving(), station=hill)
    (mark,) = station.load(hill).antenna.marks
    assert (mark.text, mark.radials, mark.radial_m) == ("34", 4, 4.5)
    # 40 m on the bench, with the coil; the plan's present band on the air, with the whip pushed in
    assert (mark.whip_m == 3.2) == (mark.coil_uh > 0.0) == (place == "bench")


def test_the_demos_antenna_takes_no_mark_and_the_prompt_stays() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "bench")
        await pilot.press("i", *"34", "enter")
        await settle(app, pilot)
        assert isinstance(app.screen, Ask)
        assert "takes no marks" in text_of(app)

    run(scenario, engine=Saving())


def noted(text: str = WHIP) -> station.Station:
    own = station.loads(text)
    for band, mark in (("40m", "34"), ("30m", "22"), ("20m", "12"), ("10m", "second ring, 3 out")):
        own = own_marks.with_mark(own, band, mark, "SSB", "2026-08-01")
    return own


def test_bench_and_card_say_the_mark_beside_the_microhenries() -> None:
    from propagation.station.terminals import own_terminal

    own = noted()
    rows = {row.band: row for row in antenna_view(own_terminal(own), own, "SSB").bands}
    assert "µH (mark 34)" in setup_line(rows["40m"])
    assert "whip 1.94 m (mark second ring, 3 out), no coil" in setup_line(rows["10m"])
    assert "(estimated mark " in setup_line(rows["17m"])
    assert "give or take" in setup_line(rows["17m"])
    assert any("Mark 34." in line for line in card_sentences(rows["40m"]))


def test_the_settings_of_day_plan_and_sheet_say_the_mark() -> None:
    forty = BandSetup("40m", 7.1, "loaded vertical", coil_uh=18.5, whip_m=3.2, mark=BandMark("34"))
    thirty = BandSetup("30m", 10.1, "loaded vertical", coil_uh=8.3, whip_m=3.2, mark=BandMark("22", 3.2))
    ten = BandSetup("10m", 28.4, "loaded vertical", coil_uh=0.0, whip_m=1.94, mark=BandMark("second ring"))
    assert setup_words(forty) == "whip 3.20 m, coil 18.5 µH (mark 34)"
    assert setup_words(thirty) == "whip 3.20 m, coil 8.3 µH (estimated mark 22, give or take 3)"
    assert setup_words(ten) == "whip 1.94 m (mark second ring), no coil"
    assert work_words(work_between(forty, thirty)) == "coil to 8.3 µH (estimated mark 22, give or take 3)"
    assert work_words(work_between(forty, ten)) == "whip to 1.94 m (mark second ring), coil out"


def test_a_reading_says_how_far_and_which_way_to_move() -> None:
    told = move_words(Move(coil_uh=0.39, marks=0.5), 7.2, 7.13, BandMark("34"))
    assert told == (
        "The dip is 70 kHz above 7.130 MHz: 0.39 µH more coil, 0.5 up the scale, from mark 34 to 34.5."
    )
    assert move_words(Move(coil_uh=-0.2), 7.0, 7.1, None) == (
        "The dip is 100 kHz below 7.100 MHz: 0.20 µH less coil."
    )
    assert move_words(Move(whip_m=-0.031), 24.6, 24.93, BandMark("second ring")) == (
        "The dip is 330 kHz below 24.930 MHz: push the whip in by 3.1 cm, from mark second ring."
    )
    own = noted()
    (sentence,) = own_marks.move_sentences(antenna_of(own), 7.2, 7.13)
    assert "more coil" in sentence
    assert "up the scale, from mark 34" in sentence
    assert own_marks.move_sentences(antenna_of(own), 7.131, 7.13) == []


def antenna_of(own: station.Station) -> Any:
    from propagation.antennas.factory import build

    return build(own.antenna, own.site.earth, own.feedline)


def test_the_command_notes_lists_estimates_and_forgets(bandwhen: Callable[..., Any], hill: str) -> None:
    assert "No mark is kept" in bandwhen("antenna", "mark", "--station", hill).out
    assert "'41m'" in bandwhen("antenna", "mark", "--station", hill, "41m=3").err
    assert "write it as 40m=34" in bandwhen("antenna", "mark", "--station", hill, "40m").err
    assert station.load(hill).antenna.marks == ()
    out = bandwhen("antenna", "mark", "--station", hill, "40m=34", "20m=12", "30m=22").out
    assert "40 m: mark 34, with whip 3.20 m, coil 18.5 µH, 4 radials of 4.5 m." in out
    found = json.loads(bandwhen("antenna", "mark", "--station", hill, "--json").out)
    assert [one["text"] for one in found["marks"]] == ["34", "12", "22"]
    assert all(one["in_use"] for one in found["marks"])
    estimate = found["estimates"]["17m"]
    np.testing.assert_array_less(0.0, [float(estimate["text"]), estimate["error"]])
    longer = Path(hill).read_text().replace("radiator_m = 3.2\n", "radiator_m = 4.0\n", 1)
    Path(hill).write_text(longer)
    out = bandwhen("antenna", "mark", "--station", hill).out
    assert "Set aside: mark 34 on 40m, of another antenna (radiator 3.2 m, now 4 m)." in out
    assert "No mark of 80m" in bandwhen("antenna", "mark", "--station", hill, "--forget", "80m").err
    bandwhen("antenna", "mark", "--station", hill, "--forget", "40m")
    assert [one.text for one in station.load(hill).antenna.marks] == ["12", "22"]
    assert not paths.station_file().is_file()
