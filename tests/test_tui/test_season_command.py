"""`bandwhen season`: the promised JSON, the table, the calendar, two sides, and what is refused."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import icalendar
import pytest

from tui.app import settings
from tui.kit.glyphs import FAINTEST

Run = Callable[..., Any]
ASKED = ("--now", "2026-11-28T12:00Z", "season", "--to", "GF25")


def test_the_json_has_every_cell_and_the_slots(bandwhen: Run) -> None:
    answer = bandwhen(*ASKED, "--months", "2", "--json")
    assert answer.code == 0
    found = json.loads(answer.out)
    assert found["target"]["name"] == "GF25"
    assert [month["month"] for month in found["months"]] == ["2026-11", "2026-12"]
    for month in found["months"]:
        assert [cell["hour"] for cell in month["hours"]] == list(range(24))
        for cell in month["hours"]:
            assert 0.0 <= cell["chance"] <= 1.0
            assert cell["chance"] == max(cell["bands"].values()) == cell["bands"][cell["band"]]
    assert {"month", "from", "to", "band", "chance"} <= set(found["slots"][0])


def test_the_table_has_a_row_a_month_and_fits(bandwhen: Run) -> None:
    lines = bandwhen(*ASKED, "--months", "3").out.splitlines()
    assert [line.split()[:3] for line in lines[2:4]] == [["UTC", "00", "01"], ["UTC+2", "02", "03"]]
    assert [line[:6] for line in lines[4:7]] == ["Nov 26", "Dec 26", "Jan 27"]
    assert max(len(line) for line in lines) <= 100


def test_the_plain_season_is_whole_sentences_with_every_slot(bandwhen: Run) -> None:
    plain = bandwhen(*ASKED, "--months", "2", "--plain")
    slots = bandwhen(*ASKED, "--months", "2", "--json").json["slots"]
    lines = plain.out.splitlines()
    assert plain.code == 0
    assert "the season ahead" in lines[0]
    assert lines[1 : len(slots) + 1] == [f"{n}. {slot['words']}" for n, slot in enumerate(slots, start=1)]
    assert all(line.endswith(".") for line in lines)
    assert any(line.startswith("Predicted index ") for line in lines)
    assert not set("▁▂▃▄▅▆▇█·") & set(plain.out), "no table, which is no sentence"


def test_a_terminal_sees_how_far_it_is_and_how_to_stop(
    bandwhen: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    answer = bandwhen(*ASKED, "--months", "2", "--json")
    assert answer.code == 0
    parts = [part for part in answer.err.split("\r") if "of 6 parts" in part]
    assert [int(part.split()[0]) for part in parts] == [1, 2, 3, 4, 5, 6]
    assert "Ctrl-C stops it" in answer.err.split("\r")[1]
    assert parts[-1].endswith("\n")
    assert "·" not in answer.err


def test_ctrl_c_ends_the_season_without_the_parts_that_are_left(
    bandwhen: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[int] = []

    def interrupted(*arguments: Any, **more: Any) -> Any:
        begun.append(1)
        raise KeyboardInterrupt

    monkeypatch.setattr("propagation.advice.season.forecast", interrupted)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    answer = bandwhen(*ASKED, "--months", "12")
    assert (answer.code, answer.out) == (130, "")
    assert answer.err.endswith("\n")
    assert len(begun) < 36 / 2, "of 36 parts"


def test_the_slots_go_to_a_calendar(bandwhen: Run, tmp_path: Path) -> None:
    file = tmp_path / "season.ics"
    assert bandwhen(*ASKED, "--months", "2", "--calendar", str(file)).code == 0
    events = icalendar.Calendar.from_ical(file.read_bytes()).walk("VEVENT")
    assert 1 <= len(events) <= 4
    assert all(event["DTSTART"].dt < event["DTEND"].dt for event in events)


def test_another_place_stands_beside_it(bandwhen: Run) -> None:
    answer = bandwhen(*ASKED, "--months", "1", "--or-from", "Cape Town", "--json")
    found = json.loads(answer.out)
    assert found["beside"]["name"] == "Cape Town"
    assert found["beside"]["months"][0]["hours"] != found["months"][0]["hours"]
    plain = bandwhen(*ASKED, "--months", "1", "--or-from", "cape town", "--plain").out
    assert "hours of contact" in plain
    assert "Cape Town" in plain
    assert "cape town" not in plain


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--months", "0"), "1 to 36"),
        (("--months", "1.5"), "whole number"),
        (("--months", "many"), "not a number"),
        (("--or-from", "Atlantis Beach"), "Atlantis Beach"),
        (("--or-station", "nowhere.toml"), "nowhere.toml"),
        (("--date", "someday"), "someday"),
    ],
)
def test_what_is_wrong_is_one_sentence(bandwhen: Run, more: tuple[str, ...], words: str) -> None:
    answer = bandwhen(*ASKED, *more)
    assert answer.code == 2
    assert answer.out == ""
    assert words in answer.err.strip().splitlines()[-1]


def test_a_season_without_a_band_for_the_mode_says_so(bandwhen: Run, tmp_path: Path) -> None:
    """30 m has no room for speech, so a station that may use 30 m alone has no band by voice."""
    file = tmp_path / "voice.toml"
    file.write_text(
        '[site]\nlocator = "KG40"\n[rig]\nmode = "SSB"\n[limits]\nbands = ["30m"]\n', encoding="utf-8"
    )
    answer = bandwhen(*ASKED, "--months", "1", "--station", str(file))
    assert answer.code == 3
    assert answer.err.strip()


def test_a_hopeless_season_says_so(bandwhen: Run, tmp_path: Path) -> None:
    file = tmp_path / "weak.toml"
    file.write_text(
        '[site]\nlocator = "KG40"\n[rig]\npower_w = 0.001\nmode = "SSB"\n[limits]\nbands = ["160m"]\n',
        encoding="utf-8",
    )
    answer = bandwhen(*ASKED, "--months", "1", "--station", str(file))
    assert answer.code == 3
    assert "No" in answer.err or "no" in answer.err


def test_the_table_of_a_place_with_two_offsets_has_the_hours_of_both(bandwhen: Run) -> None:
    """Central Europe is two hours ahead of UTC until 25 October 2026, then one."""
    asked = ("season", "--to", "Europe", "--from", "JN47", "--date", "2026-10-01", "--months", "2")
    lines = bandwhen(*asked).out.splitlines()
    axes = [line.split()[:2] for line in lines[2:5]]
    assert axes == [["UTC", "00"], ["UTC+2", "02"], ["UTC+1", "01"]]
    assert "Local time is UTC+2 until October 2026, then UTC+1." in " ".join(lines)
    assert (
        "UTC+5"
        not in bandwhen("season", "--to", "KG30", "--from", "NL37", "--months", "1").out.split("\n\n")[1]
    )


def test_a_hopeless_region_says_why_in_every_cell_and_what_would_help(bandwhen: Run) -> None:
    asked = ("--now", "2026-11-28T12:00Z", "season", "--to", "uruguay", "--months", "1")
    answer = bandwhen(*asked)
    assert answer.code == 3
    row = next(line for line in answer.out.splitlines() if line.startswith("Nov 26"))
    assert not set(row) & set("▁▂▃▄▅▆▇█"), "no bar"
    assert set(row[9::3]) <= set("╱∿:┴ "), "the sign of the cause in every cell"
    assert ": absorbed" in answer.out
    told = " ".join(answer.out.split())
    assert "Uruguay friend is a friend there" in told
    assert "In that hour, with DIGITAL: a contact in some " in told
    cells = bandwhen(*asked, "--json").json["months"][0]["hours"]
    assert {cell["limit"] for cell in cells} >= {"above the MUF", "absorption", "noise"}


def test_the_table_has_a_bar_exactly_where_the_screen_has_one(bandwhen: Run) -> None:
    """From `FAINTEST` of a full cell on; a dot in its place where somebody is asleep."""
    asked = (*ASKED, "--months", "2", "--power", "2")
    cells = [cell for month in bandwhen(*asked, "--json").json["months"] for cell in month["hours"]]
    lines = bandwhen(*asked).out.splitlines()
    rows = [line[7:].ljust(72) for line in lines if line[:6] in ("Nov 26", "Dec 26")]
    signs = [row[3 * hour + 2] for row in rows for hour in range(24)]
    shares = [cell["chance"] for cell in cells]
    assert any(0.02 < share < FAINTEST for share in shares)
    assert max(shares) > FAINTEST
    assert [sign in "▁▂▃▄▅▆▇█·" for sign in signs] == [share >= FAINTEST for share in shares]


def test_local_time_first_turns_the_table_and_the_sentences_over(bandwhen: Run) -> None:
    settings.change({"clock": "local"})
    lines = bandwhen(*ASKED, "--months", "1").out.splitlines()
    assert [line.split()[:2] for line in lines[2:4]] == [["UTC+2", "02"], ["UTC", "00"]]
    assert " local (" in next(line for line in lines if line.startswith("1. "))
    slots = json.loads(bandwhen(*ASKED, "--months", "1", "--json").out)["slots"]
    assert " UTC (" in slots[0]["words"]
