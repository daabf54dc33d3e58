"""UTC and local time side by side: in sentences, on axes, in commands and exports, and turned over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import synthetic
from fake_engine import FakeEngine
from screen_text import go, rows_of, run, settle, text_of
from textual.pilot import Pilot

from propagation.wording import quantities as say
from tui.app import settings
from tui.app.app import BandwhenApp
from tui.app.queries import DayQuery, OpeningQuery, PlanQuery
from tui.features.sked.view import SunsView, suns_sentences
from tui.kit import export
from tui.kit.canvas import Canvas
from tui.kit.day_view import SunDay
from tui.kit.marks import put_hours
from tui.kit.page_lines import Heading

NOON = np.datetime64("2026-03-20T12:00", "s")
RIDGE, NEPAL = ZoneInfo("Africa/Johannesburg"), ZoneInfo("Asia/Kathmandu")


def at(text: str) -> np.datetime64:
    return np.datetime64(f"2026-03-{text}", "s")


def test_a_time_is_told_on_both_clocks() -> None:
    assert say.both_clocks(NOON) == "12:00 UTC"  # no place is known yet
    say.set_clock_face(say.ClockFace(RIDGE))
    assert say.both_clocks(NOON) == "12:00 UTC (14:00 local)"
    assert say.both_spans(at("20T06:00"), at("20T22:30")) == "06:00 to 22:30 UTC (08:00 to Sat 00:30 local)"
    assert say.zone_sentence(NOON) == "Times are UTC; local time here is UTC+2 (Africa/Johannesburg)."
    say.set_clock_face(say.ClockFace(RIDGE, local=True))
    assert say.both_clocks(NOON) == "14:00 local (12:00 UTC)"
    assert say.both_clocks(at("20T23:00")) == "01:00 local (Fri 23:00 UTC)"
    assert (say.clock(NOON), say.zone_word(), say.other_short(NOON)) == ("14:00", "local", "12:00Z")
    assert say.day_title(at("20T23:00")) == "Sat 21 Mar 2026"
    assert say.date(np.datetime64("2026-03-20")) == "2026-03-20"  # a day as such has no clock
    assert say.utc_clock(NOON) == "12:00"
    assert export.stamp(at("20T23:00")) == "2026-03-20-2300"  # names of files are UTC


def test_where_local_time_is_utc_it_is_told_once() -> None:
    say.set_clock_face(say.ClockFace(ZoneInfo("Europe/London")))
    assert say.both_clocks(NOON) == "12:00 UTC"
    assert say.zone_sentence(NOON) == ""
    assert say.both_clocks(np.datetime64("2026-06-20T12:00", "s")) == "12:00 UTC (13:00 local)"


@pytest.mark.parametrize(
    ("zone", "words"), [("Asia/Kathmandu", "UTC+5:45"), ("America/St_Johns", "UTC-2:30"), ("UTC", "UTC+0")]
)
def test_the_offset_in_words(zone: str, words: str) -> None:
    say.set_clock_face(say.ClockFace(ZoneInfo(zone)))
    assert say.offset_words(NOON) == words


def test_a_sentence_with_one_clock_where_there_is_little_room() -> None:
    say.set_clock_face(say.ClockFace(RIDGE))
    told = f"until {say.both_spans(at('20T06:00'), at('20T22:30'))}, then {say.both_clocks(NOON)} (sure)"
    assert say.on_one_clock(told) == "until 06:00 to 22:30 UTC, then 12:00 UTC (sure)"


def test_the_axis_has_the_full_hours_of_its_clock() -> None:
    say.set_clock_face(say.ClockFace(NEPAL))  # 00:00 UTC is 05:45: 06:00 there is a quarter of an hour on
    times = at("20T00:00") + np.arange(144) * np.timedelta64(600, "s")
    canvas = Canvas(96, 2)
    put_hours(canvas, 0, 0, 96, times)
    put_hours(canvas, 0, 1, 96, times, other=True)
    utc, local = canvas.texts()[:2]
    assert utc.startswith("00  01  02")
    assert local.startswith(" 06  07  08")


def test_daylight_at_both_ends_is_told_on_both_clocks() -> None:
    say.set_clock_face(say.ClockFace(RIDGE))
    times = at("20T00:00") + np.arange(144) * np.timedelta64(600, "s")
    low = np.full(144, -20.0)
    low[36:90] = 20.0
    end = SunDay("here", low, None, None, None)
    assert suns_sentences(SunsView(times, end, end))[0] == (
        "Daylight at both ends: 06:00 to 15:00 UTC (08:00 to 17:00 local)."
    )


def test_short_names_leave_room_for_the_day_on_the_top_line() -> None:
    say.set_clock_face(say.ClockFace(RIDGE, local=True))
    line, canvas = Heading(), Canvas(80, 1)
    line.site, line.target, line.range = "my station", "Oupa", "1,180 km at 285 deg"
    line.detail, line.now = "Sun 21 Jun 2026  SSB 20 W", np.datetime64("2026-06-20T23:40", "s")
    line.paint(canvas)
    assert canvas.texts()[0].rstrip() == (
        " \N{BLACK UP-POINTING TRIANGLE} my station  \N{BLACK DIAMOND} Oupa"
        "         Sun 21 Jun 2026  SSB 20 W  01:40 local Sat 23:40Z"
    )


def zoned(local: bool = False) -> FakeEngine:
    """The made-up engine at a place two hours ahead of UTC."""
    engine = FakeEngine()
    engine.made_up[OpeningQuery] = lambda q: replace(engine._opening(q), time_zone="Africa/Johannesburg")
    return engine


def test_both_clocks_stand_on_the_day_page_and_z_turns_them_over(home: Path) -> None:
    engine = zoned()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        top, text = rows_of(app)[0], text_of(app)
        assert top.endswith("12:20 UTC 14:20")
        assert "14:20 (16:20 local), then 30 m" in text  # made up: until 14:20 UTC
        assert text.index("\n local ") < text.index("\n UTC ")  # the hours of both above the lanes
        asked = engine.last(DayQuery)
        await pilot.press("z")
        await settle(app, pilot)
        assert rows_of(app)[0].endswith("14:20 local 12:20Z")
        assert "until 16:20 (14:20 UTC), then 30 m" in text_of(app)
        assert engine.last(DayQuery) != asked  # its sentences are told anew
        assert "Local time is told first; local time is UTC+2 (Africa/Johannesburg)." in text_of(app)
        await go(app, pilot, "plan")
        assert engine.last(PlanQuery).local

    run(scenario, engine=engine)
    assert settings.load(home / "settings.toml")[0].clock == "local"


def test_on_a_large_screen_the_axis_has_both_clocks() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        rows = rows_of(app)
        axis = next(number for number, row in enumerate(rows) if row.startswith(" UTC"))
        assert rows[axis - 1].startswith(" local")
        assert rows[0].endswith("12:20 UTC  14:20 local")
        hour = rows[axis].index("18")
        assert rows[axis - 1][hour : hour + 2] == "20"

    run(scenario, (132, 43), engine=zoned())


def test_the_choice_of_clock_is_kept() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        assert rows_of(app)[0].endswith("14:20 local 12:20Z")

    run(scenario, engine=zoned(), clock="local")


HERE = '[site]\nlocator = "KG40rs"\n'


def test_a_command_tells_both_clocks_and_json_is_of_utc_alone(
    bandwhen: Callable[..., Any], tmp_path: Path, home: Path
) -> None:
    file = tmp_path / "own.toml"
    file.write_text(HERE)  # no time zone: that of the nearest town
    asked = ("advise", "--to", "GF25", "--station", str(file), "--start", "06:00", "--hours", "4")
    told = bandwhen(*asked).out
    assert "06:00 to 10:00 UTC (08:00 to 12:00 local)" in " ".join(told.split())
    axes = told.splitlines()
    utc = next(number for number, line in enumerate(axes) if line.startswith("UTC   06"))
    assert axes[utc + 1].startswith("local 08")
    settings.change({"clock": "local"})
    turned = " ".join(bandwhen(*asked).out.split())  # 06:00 is now of the local clock, as it is told
    assert "06:00 to 10:00 local (04:00 to 08:00 UTC)" in turned
    json = bandwhen(*asked, "--json").json
    assert json["bands"][0]["times"][0] == "2026-03-20T06:00:00Z"


def test_an_export_says_both(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    say.set_clock_face(say.ClockFace(RIDGE))
    export.write_words("day", "words\n", synthetic.NOW)
    text = next(tmp_path.iterdir()).read_text()
    assert text.startswith("Written by bandwhen on 2026-03-14 at 12:20 UTC (14:20 local). Times are UTC; ")


def test_a_column_of_the_other_clock() -> None:
    assert say.other_span(at("20T06:00"), NOON) == ""  # no place is known yet
    say.set_clock_face(say.ClockFace(RIDGE))
    assert say.other_span(at("20T06:00"), NOON) == "08:00-14:00"
    assert say.other_span(at("20T21:00"), at("20T22:30")) == "23:00-Sat 00:30"
    assert say.other_span(at("20T22:30"), at("20T23:30")) == "Sat 00:30-01:30"
    assert say.both_clocks(at("21T00:00"), end=True) == "24:00 UTC (02:00 local)"


@pytest.mark.parametrize(
    ("face", "first", "heads"), [("utc", "06:00", ("UTC", "local")), ("local", "08:00", ("local", "UTC"))]
)
def test_a_run_sheet_has_columns_of_both_clocks(
    bandwhen: Callable[..., Any], tmp_path: Path, home: Path, face: str, first: str, heads: tuple[str, str]
) -> None:
    file = tmp_path / "own.toml"
    file.write_text(HERE)
    settings.change({"clock": face})
    start = "2026-03-20T06:00Z"
    asked = ("plan", "--to", "Africa", "--station", str(file), "--start", start, "--ssn", "120")
    other = "08:00" if first == "06:00" else "06:00"
    lines = bandwhen(*asked).out.splitlines()
    head = next(number for number, line in enumerate(lines) if line.split() == list(heads))
    assert lines[head + 1].startswith(f"{first}-")
    assert lines[head + 1][lines[head].index(heads[1]) :].startswith(f"{other}-")
    words = " ".join(bandwhen(*asked, "--plain").out.split())
    assert f"1. At {first} {heads[0]} ({other} {heads[1]}) go to" in words
    table = bandwhen(*asked, "--markdown").out
    assert f"| {heads[0]} | {heads[1]} | band |" in table
    rows = [line for line in table.splitlines() if line.startswith("|")]
    assert f"| {first} to " in rows[2]
    assert f"| {other} to " in rows[2]
    assert len({len(row.replace("\\|", "").split("|")) for row in rows}) == 1


def test_a_run_sheet_where_both_clocks_agree_has_one_column(
    bandwhen: Callable[..., Any], tmp_path: Path
) -> None:
    file = tmp_path / "own.toml"
    file.write_text('[site]\nlocator = "IO91"\ntime_zone = "UTC"\n')
    asked = ("plan", "--to", "JO40", "--station", str(file), "--start", "2026-03-20T10:00Z", "--hours", "4")
    assert not any("local" in line.split() for line in bandwhen(*asked).out.split("Settings")[0].splitlines())
    assert "| UTC | band |" in bandwhen(*asked, "--markdown").out
