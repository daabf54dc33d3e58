"""`bandwhen sked`: friends and places, two clocks, the calendar file, exit codes."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import pytest

Run = Callable[..., Any]
STATION = """
name = "test hill"
[site]
locator = "KG40"
time_zone = "Africa/Johannesburg"
[rig]
power_w = 100
mode = "CW"
[antenna]
kind = "dipole"
height_m = 10
"""
WHEN = ("--start", "2026-03-27T10:00Z", "--ssn", "120", "--kp", "2")


@pytest.fixture
def sked(bandwhen: Run, tmp_path: Path) -> Run:
    file = tmp_path / "station.toml"
    file.write_text(STATION, encoding="utf-8")

    def run(*arguments: str) -> Any:
        return bandwhen("sked", "--station", str(file), *arguments)

    return run


def test_the_keys_and_both_clocks(sked: Run) -> None:
    answer = sked("--with", "London", *WHEN, "--free", "17:00-21:00", "--json")
    assert answer.code == 0, answer.err
    found = answer.json
    assert found["home"]["time_zone"] == "Africa/Johannesburg"
    assert found["far"]["time_zone"] == "Europe/London"
    assert 0.0 < found["hours_both"] <= 4.5
    assert [slot["rank"] for slot in found["slots"]] == list(range(1, len(found["slots"]) + 1))
    for slot in found["slots"]:
        start = datetime.fromisoformat(slot["start"])
        assert start.tzinfo == UTC or start.utcoffset() is not None
        for key, zone in (("home_clock", "Africa/Johannesburg"), ("far_clock", "Europe/London")):
            assert datetime.fromisoformat(slot[key]) == start.astimezone(ZoneInfo(zone))
        assert 17 <= datetime.fromisoformat(slot["home_clock"]).hour < 21
        band = next(row for row in found["bands"] if row["band"] == slot["band"])
        assert band["low_mhz"] <= slot["frequency_mhz"] <= band["high_mhz"]


def test_a_friend_brings_station_zone_and_hours(sked: Run, bandwhen: Run) -> None:
    """The demo's list: the friend in Uruguay has a file, with national limits of its own."""
    found = sked("--with", "uruguay friend", *WHEN, "--json").json
    assert found["far"]["time_zone"] == "America/Montevideo"
    assert found["far"]["awake"] == "07:00-23:30"
    assert found["slots"]
    loud = sked("--with", "uruguay friend", *WHEN, "--power", "1000", "--json").json
    assert loud["slots"][0]["chance"] >= found["slots"][0]["chance"]


def test_the_calendar_file_is_read_back(sked: Run, tmp_path: Path) -> None:
    file = tmp_path / "meet.ics"
    answer = sked("--with", "London", *WHEN, "--calendar", str(file), "--json")
    entries = icalendar.Calendar.from_ical(file.read_bytes()).walk("VEVENT")
    slots = answer.json["slots"]
    assert len(entries) == len(slots)
    for entry, slot in zip(entries, slots, strict=True):
        assert entry["DTSTART"].dt == datetime.fromisoformat(slot["start"])
        assert entry["DTEND"].dt == datetime.fromisoformat(slot["end"])


def test_text_and_plain_lines(sked: Run) -> None:
    first = sked("--with", "London", *WHEN, "--json").json["slots"][0]
    for more in ((), ("--plain",)):
        answer = sked("--with", "London", *WHEN, *more)
        assert answer.code == 0
        assert f"{first['frequency_mhz']:.3f} MHz" in answer.out
        assert datetime.fromisoformat(first["far_clock"]).strftime("%H:%M") in answer.out


def test_no_common_hour_is_exit_3(sked: Run) -> None:
    answer = sked("--with", "London", *WHEN, "--awake", "08:00-10:00", "--their-awake", "20:00-22:00")
    assert answer.code == 3
    assert "never awake and free at the same time" in answer.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--with", "Europe"], ["Europe", "region"]),
        (["--with", "nowhere at all"], ["'nowhere at all'"]),
        (["--with", "London", "--minutes", "20"], ["20", "quarter"]),
        (["--with", "London", "--days", "0"], ["0 days"]),
        (["--with", "London", "--days", "x"], ["'x'"]),
        (["--with", "London", "--most", "0"], ["--most"]),
        (["--with", "London", "--free", "evenings"], ["'evenings'"]),
        (["--with", "London", "--their-zone", "Mars/Olympus"], ["Mars/Olympus"]),
        (["--with", "London", "--calendar", "/nowhere/at/all.ics"], ["/nowhere/at/all.ics"]),
        ([], ["--with"]),
    ],
    ids=lambda value: " ".join(value) if value and value[0].startswith("--") else "",
)
def test_bad_input_is_one_sentence(sked: Run, arguments: list[str], words: list[str]) -> None:
    answer = sked(*arguments)
    assert (answer.code, answer.out) == (2, "")
    last = answer.err.strip().splitlines()[-1]
    for word in words:
        assert word in last


def test_repeating_days_are_one_line_and_can_be_sorted_and_filtered(sked: Run) -> None:
    asked = ("--to", "London", *WHEN, "--most", "3")
    lines = [line for line in sked(*asked, "--plain").out.splitlines() if line[:1].isdigit()]
    assert 1 <= len(lines) <= 3
    assert any("every day" in line or "days from" in line for line in lines)
    slots = sked(*asked, "--json").json["slots"]
    assert len({(slot["start"][11:], slot["band"]) for slot in slots}) == len(lines)
    band = slots[0]["band"]
    only = sked(*asked, "--band", band, "--json").json
    assert {slot["band"] for slot in only["slots"]} == {band}
    by_time = [
        line for line in sked(*asked, "--sort", "time", "--plain").out.splitlines() if line[:1].isdigit()
    ]
    hours = [re.search(r"\((\d\d:\d\d) to", line)[1] for line in by_time]  # type: ignore[index]
    assert hours == sorted(hours)


def test_the_better_hour_for_which_one_gets_up(sked: Run) -> None:
    asked = ("--to", "London", *WHEN, "--awake", "22:00-04:00")
    one = sked(*asked, "--json").json["gets_up"]
    assert (one["who"], one["asleep"]) == ("home", True)
    assert "Best if one of you gets up: " in sked(*asked, "--plain").out
    assert sked(*asked, "--awake", "always", "--their-awake", "always", "--json").json["gets_up"] is None


def test_a_region_offers_the_friends_there(sked: Run) -> None:
    assert "Your friends there: Uruguay friend." in sked("--to", "South America").err
    assert "None of your friends is there; elsewhere: " in sked("--to", "Japan").err
