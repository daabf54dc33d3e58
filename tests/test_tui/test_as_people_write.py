"""Entries as people write them: units behind figures, decimal commas, hemispheres, named days; and errors of
forms in the words of the form.
"""

from __future__ import annotations

import argparse
import re
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import synthetic
from numpy.testing import assert_allclose

from propagation.base.errors import InputError
from propagation.geo import places
from tui import cli
from tui.app import clock, forecast_options, station_form
from tui.app.sites import Sites
from tui.app.station_form import LINES, MORE
from tui.features.sked.view import Clocks
from tui.kit import export, input_parsing, words
from tui.kit.canvas import Canvas


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("5.6 m", "m", 5.6), ("4 h", "h", 4.0), ("5W", "W", 5.0), ("14,060", "MHz", 14.06), (".5", "", 0.5)],
)
def test_figures_with_their_unit(text: str, unit: str, value: float) -> None:
    assert_allclose(input_parsing.figure(text, unit), value, rtol=1e-12)


@pytest.mark.parametrize("text", ["", "five", "5 m", "5 5", "nan", "1e400x"])
def test_what_is_no_figure_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        input_parsing.power(text)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("today", "2026-03-20"),  # the clock of the tests: a Friday
        ("friday", "2026-03-20"),
        ("Saturday", "2026-03-21"),
        ("thu", "2026-03-26"),
        ("27 June", "2026-06-27"),
        ("June 27", "2026-06-27"),
        ("1 Jan", "2027-01-01"),
        ("27 June 2027", "2027-06-27"),
    ],
)
def test_named_days(text: str, day: str) -> None:
    assert str(clock.parse_date(text)) == day


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("tomorrow 08:00", "2026-03-21T08:00:00"),
        ("saturday 08:00", "2026-03-21T08:00:00"),
        ("2026-03-20T14:00+02:00", "2026-03-20T12:00:00"),
        ("2026-03-20T07:00-05:00", "2026-03-20T12:00:00"),
        ("2026-03-20 12:00", "2026-03-20T12:00:00"),
    ],
)
def test_times_with_named_days_and_offsets(text: str, time: str) -> None:
    assert str(clock.parse_time(text)) == time


@pytest.mark.parametrize("text", ["31 June", "mo", "someday", "tomorrow 25:00", "0 March"])
def test_days_that_are_none(text: str) -> None:
    with pytest.raises(InputError):
        clock.parse_time(text) if ":" in text else clock.parse_date(text)


@pytest.mark.parametrize("text", ["51.5 N 0.1 W", "51.5N, 0.1W", "51.5° N 0.1° W"])
def test_a_position_with_its_hemispheres(text: str) -> None:
    found = places.place(text)
    assert_allclose((found.lat_deg, found.lon_deg), (51.5, -0.1), rtol=0, atol=1e-9)


def test_errors_of_the_station_form_quote_its_labels() -> None:
    for key, label, *_ in (*LINES, *MORE):
        name = key.rpartition(".")[2]
        if "_" in name:
            told = station_form.check({"site.locator": "KG30", key: "-987654"})
            assert name not in told, told
            assert not told or label in told, told


def test_only_the_demo_has_the_friends_of_the_demo() -> None:
    sites = Sites()
    sites.open("", "")
    assert sites.suggest("Uru")[0].startswith("Uru")
    demo = {friend.name for friend in sites.friends("")}
    own = station_form.save({"site.locator": "IO91"}, "")
    sites.open(own, "")
    assert not demo & {friend.name for friend in sites._known()}


def test_nothing_is_written_where_there_is_nothing() -> None:
    from dataclasses import replace

    import synthetic

    for view in (replace(synthetic.sked_view(), slots=()), replace(synthetic.plan_view(), steps=())):
        with pytest.raises(InputError, match="There is no"):
            export.write(view, synthetic.NOW)


def test_until_and_open_till_never_differ_by_a_step() -> None:
    """`until 10:30` beside `open till 10:20` are two answers to one question."""
    view = synthetic.day_view("Uruguay")
    for index in range(view.times.size):
        line = words.answer(view, index).lines[0]
        found = re.search(r"until (\d\d):(\d\d).*(?:till |-)(\d\d):(\d\d)", line)
        if found:
            a, b, c, d = (int(part) for part in found.groups())
            assert abs((a - c) * 60 + b - d) not in range(1, 16), line


def test_local_is_by_the_zone_of_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "XXX-2")  # POSIX: two hours east
    time.tzset()
    assert str(clock.parse_time("2026-03-20 14:00 local")) == "2026-03-20T12:00:00"
    monkeypatch.undo()
    time.tzset()


def test_each_friend_has_files_of_their_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    view = replace(synthetic.sked_view(), calendar="BEGIN:VCALENDAR", paper="a slot\n")
    for name in ("Anna", "Ben / 2"):
        export.write(replace(view, far=name), synthetic.NOW)
    names = {file.name for file in tmp_path.iterdir()}
    assert len(names) == 4
    assert "bandwhen-sked-Ben-2-2026-03-14-1500-2-slots.ics" in names


def test_the_clock_shows_the_day_of_the_slot_chosen() -> None:
    """From 20:10 UTC on, an axis of a day has its middle on the next day."""
    view = synthetic.sked_view()
    late = np.timedelta64(20 * 3600 + 600, "s")
    first = replace(view.slots[0], start=view.times[0] + late + np.timedelta64(3600, "s"))
    view = replace(view, times=view.times + late, slots=(first, *view.slots[1:]))
    clocks = Clocks()
    clocks.view = view
    canvas = Canvas(80, 20)
    clocks.paint(canvas)
    assert canvas.texts()[0].strip().startswith("UTC Sat 14 Mar")


@pytest.mark.parametrize(
    ("date", "start", "moment"),
    [
        (None, "now", "2026-03-20T12:00:00"),
        (None, None, "2026-03-20T00:00:00"),
        ("saturday", None, "2026-03-21T00:00:00"),
        ("2026-03-22", "06:00", "2026-03-22T06:00:00"),
        (None, "06:00", "2026-03-20T06:00:00"),
        ("today", "2026-03-22T06:00Z", "2026-03-22T06:00:00"),
        ("2026-03-22", "2026-03-22T06:00Z", "2026-03-22T06:00:00"),
    ],
)
def test_date_and_start_mean_the_same_in_every_command(
    date: str | None, start: str | None, moment: str
) -> None:
    assert str(forecast_options.beginning(date, start)) == moment


def test_a_start_on_another_day_than_the_date_is_refused() -> None:
    with pytest.raises(InputError, match="not on --date"):
        forecast_options.beginning("2026-03-22", "2026-03-23T06:00Z")


@pytest.mark.parametrize("command", ["advise", "plan", "sked"])
def test_the_commands_share_their_names_for_time(command: str) -> None:
    parser = cli.build_parser(command)
    child = next(a for a in parser._actions if isinstance(a, argparse._SubParsersAction)).choices[command]
    assert {"--date", "--start"} <= set(child._option_string_actions)
