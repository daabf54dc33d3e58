"""The frame of the command line: exit codes, one sentence for every fault, and terminals that cannot draw."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from propagation.base.errors import NothingToAdvise
from propagation.space_weather.indices.solar_history import solar_history
from tui.app import command_base, outing_journal, paths, settings
from tui.app.choice import HoursOnAir
from tui.app.feature_list import COMMANDS
from tui.features.sky import command as sky
from tui.kit.format import text_width

ROOT = Path(__file__).resolve().parents[2]
Run = Callable[..., Any]


def outside(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """The program as its own process."""
    return subprocess.run(
        [sys.executable, "-m", "tui", *arguments],
        cwd=ROOT,
        env={**os.environ, **environment},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["sky", "--at"], ["--at"]),
        (["nonsense"], ["'nonsense'", "advise"]),
        (["sky", "--at", "KG40", "--nonsense"], ["--nonsense"]),
        (["sky", "--at", "KG4"], ["'KG4'"]),
        (["sky", "--at", "ZZ99"], ["'ZZ99'"]),
        (["sky", "--at", "Atlantis Beach"], ["'Atlantis Beach'"]),
        (["sky", "--at", "95,0"], ["95"]),
        (["sky", "--at", "Europe"], ["region"]),
        (["sky", "--at", ""], ["place"]),
        (["sky", "--at", "KG40", "--time", "someday"], ["'someday'", "2026-03-20T12:00Z"]),
        (["sky", "--at", "KG40", "--time", "1650-01-01T00:00Z"], ["1650", "1900"]),
        (["sky", "--at", "KG40", "--time", "2200-01-01T00:00Z"], ["2200", "2034"]),
        (["sky", "--at", "KG40", "--ssn", "-5"], ["-5", "sunspot number"]),
        (["sky", "--at", "KG40", "--ssn", "5000"], ["5000", "sunspot number"]),
        (["sky", "--at", "KG40", "--ssn", "nan"], ["'nan'", "number"]),
        (["sky", "--at", "KG40", "--ssn", "many"], ["'many'", "number"]),
        (["sky", "--at", "KG40", "--flux", "10"], ["10", "flux"]),
        (["sky", "--at", "KG40", "--kp", "12"], ["12", "K index"]),
        (["sky", "--at", "KG40", "--ssn", "50", "--flux", "100"], ["--flux", "--ssn"]),
        (["sky", "--at", "KG40", "--json", "--plain"], ["--json", "--plain"]),
        (["advise", "--to", "Spain", "--contacts", "0"], ["--contacts 0", "1 to 60"]),
        (["plan", "--contacts", "2.5"], ["--contacts 2.5", "1 to 60"]),
        (["path", "--from", "KG40", "--to", "nowhere at all"], ["'nowhere at all'"]),
        (["path", "--from", "KG40", "--to", "GF25", "--frequency", "900"], ["900 MHz"]),
        (["station", "show", "no-such-file.toml"], ["'no-such-file.toml'"]),
        (["--now", "whenever", "sky", "--at", "KG40"], ["'whenever'"]),
    ],
    ids=lambda value: " ".join(value) if value and isinstance(value[0], str) else "",
)
def test_bad_input_is_one_sentence_and_exit_2(bandwhen: Run, arguments: list[str], words: list[str]) -> None:
    answer = bandwhen(*arguments)
    assert answer.code == 2
    assert answer.out == ""
    assert len(answer.err.strip().splitlines()) == 1
    assert "Traceback" not in answer.err
    for word in words:
        assert word in answer.err


def test_a_southern_or_western_position_is_no_option(bandwhen: Run) -> None:
    assert bandwhen("sky", "--at", "-29.5,-55.25", "--json").json["lat_deg"] == -29.5
    assert bandwhen("path", "--from", "-29.5,29.5", "--to", "-34.5,-55", "--json").code == 0


@pytest.mark.parametrize("arguments", [["--help"], ["sky", "--help"], ["station", "new", "--help"]])
def test_help_is_no_fault(bandwhen: Run, arguments: list[str]) -> None:
    answer = bandwhen(*arguments)
    assert answer.code == 0
    assert "usage: bandwhen" in answer.out


def test_the_version_is_that_of_the_package_and_tells_how_old_its_data_are(bandwhen: Run) -> None:
    try:
        expected = version("bandwhen")
    except PackageNotFoundError:
        expected = "run from its source, not installed"
    first, *data = bandwhen("--version").out.splitlines()
    assert first == f"bandwhen {expected}"
    history = solar_history()
    last = history.forecast_from.astype("datetime64[D]") - np.timedelta64(1, "D")
    assert data[0].startswith(f"sun and field: measured to {last}, predicted to 20")
    assert data[1].startswith("ionospheric index: measured to 20")
    assert data[2] == "magnetic field: IGRF-14, 1900 to 2030"


@pytest.mark.promise
def test_an_unexpected_fault_is_one_sentence_and_a_record(
    bandwhen: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object) -> int:
        raise ZeroDivisionError("deep inside")

    monkeypatch.setattr(sky, "run", fail)
    answer = bandwhen("sky", "--at", "KG40")
    assert answer.code == 2
    assert len(answer.err.strip().splitlines()) == 1
    assert str(paths.fault_file()) in answer.err
    assert "Traceback" not in answer.err
    record = paths.fault_file().read_text(encoding="utf-8")
    assert "ZeroDivisionError: deep inside" in record
    assert "sky --at KG40" in record


def test_a_fault_with_nowhere_to_write_is_still_one_sentence(
    bandwhen: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def fail(_: object) -> int:
        raise RuntimeError("x")

    file = tmp_path / "a file"
    file.write_text("", encoding="utf-8")
    monkeypatch.setenv("BANDWHEN_HOME", str(file))  # a file where a folder should be
    monkeypatch.setattr(sky, "run", fail)
    answer = bandwhen("sky", "--at", "KG40")
    assert (answer.code, len(answer.err.strip().splitlines())) == (2, 1)


@pytest.mark.parametrize(
    ("error", "code", "said"),
    [
        (NothingToAdvise("No band is open."), 3, "No band is open.\n"),
        (KeyboardInterrupt(), 130, "Stopped by Ctrl-C before the answer was complete.\n"),
    ],
)
def test_other_ends(
    bandwhen: Run, monkeypatch: pytest.MonkeyPatch, error: BaseException, code: int, said: str
) -> None:
    def fail(_: object) -> int:
        raise error

    monkeypatch.setattr(sky, "run", fail)
    answer = bandwhen("sky", "--at", "KG40")
    assert (answer.code, answer.err) == (code, said)


def test_a_reader_that_has_gone_away_is_no_fault() -> None:
    """`bandwhen ... | head -1`: quiet, and no exit code of failure."""
    reader, writer = os.pipe()
    os.close(reader)
    process = subprocess.run(
        [sys.executable, "-m", "tui", "sky", "--at", "KG40"],
        cwd=ROOT, stdout=writer, stderr=subprocess.PIPE, text=True, check=False, timeout=60,
    )  # fmt: skip
    os.close(writer)
    assert (process.returncode, process.stderr) == (0, "")


def test_without_a_terminal_the_screens_are_refused_with_a_way_out() -> None:
    result = outside()
    assert result.returncode == 2
    assert "--plain" in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


@pytest.mark.parametrize("kind", ["dumb", "", "unknown"])
def test_a_terminal_that_cannot_draw_is_refused_with_a_way_out(
    bandwhen: Run, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    monkeypatch.setenv("TERM", kind)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    answer = bandwhen()
    assert answer.code == 2
    assert f"TERM={kind}" in answer.err
    assert "--plain" in answer.err


def test_the_demo_is_used_and_said_until_a_station_is_saved(bandwhen: Run) -> None:
    first = bandwhen("station", "show", "--json")
    assert first.err.strip() == command_base.DEMO_NOTE
    assert first.json["name"] == "demo ridge"
    made = bandwhen("station", "new", "--at", "Durban")
    assert made.code == 0
    assert str(paths.station_file()) in made.out
    second = bandwhen("station", "show", "--json")
    assert second.err == ""
    assert second.json["name"] == "my station"
    assert abs(second.json["site"]["position"]["lat_deg"] + 29.9) < 0.3  # degrees, Durban


def test_a_station_file_is_not_written_over(bandwhen: Run, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    assert bandwhen("station", "new", str(file)).code == 0
    assert bandwhen("station", "check", str(file)).code == 0
    file.write_text("mine", encoding="utf-8")
    refused = bandwhen("station", "new", str(file))
    assert (refused.code, file.read_text(encoding="utf-8")) == (2, "mine")
    assert "--force" in refused.err
    assert bandwhen("station", "check", str(file)).code == 2
    assert bandwhen("station", "new", str(file), "--force").code == 0
    assert bandwhen("station", "show", str(file), "--plain").code == 0


def test_the_commands_in_the_table_are_the_modules_there_are() -> None:
    with_parser = {
        ".".join(file.relative_to(ROOT).with_suffix("").parts)
        for file in (ROOT / "tui").rglob("*.py")
        if re.search(r"^def add_parser\(subparsers", file.read_text(encoding="utf-8"), re.MULTILINE)
    }
    assert with_parser == {module for module, _ in COMMANDS.values()}


STATION = '[site]\nlocator = "IO91"\n[rig]\npower_w = 10\nmode = "SSB"\n'


def test_commands_use_what_the_screens_use_and_say_so(bandwhen: Run, home: Path, tmp_path: Path) -> None:
    file = tmp_path / "hill.toml"
    file.write_text(STATION)
    settings.change({"station": str(file), "mode": "CW", "power_w": 5.0})
    asked = ("advise", "--to", "GF25", "--hours", "1")
    answer = bandwhen(*asked, "--json")
    assert (answer.json["site"]["mode"], answer.json["site"]["power_w"]) == ("CW", 5.0)
    assert abs(answer.json["site"]["lat_deg"] - 51.5) < 0.1
    assert f"As chosen on the screens: station {file}, mode CW and power 5 W;" in answer.err
    given = bandwhen(*asked, "--station", str(file), "--json")  # a file given brings its own
    assert (given.json["site"]["mode"], given.json["site"]["power_w"]) == ("SSB", 10.0)
    assert "As chosen on the screens" not in given.err
    assert bandwhen(*asked, "--mode", "SSB", "--json").json["site"]["power_w"] == 5.0


def test_plan_takes_the_outing_under_way(bandwhen: Run) -> None:
    start = np.datetime64("2026-03-20T11:00", "s")
    outing_journal.save(HoursOnAir(start, 3.0, "GF25", (("20m", start),)))
    answer = bandwhen("plan", "--json")
    assert (answer.json["start"], answer.json["end"]) == ("2026-03-20T12:00:00Z", "2026-03-20T14:00:00Z")
    assert answer.json["targets"] == ["GF25"]
    assert "20m" not in [step["band"] for step in answer.json["steps"]]
    assert "For the outing under way: 2026-03-20, 12:00 to 14:00 UTC" in answer.err
    other = bandwhen("plan", "--hours", "1", "--json")
    assert other.json["targets"] == ["anyone"]


def test_text_wraps_at_the_width_of_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    assert text_width() == 100  # not a terminal
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "72")
    assert text_width() == 72
    monkeypatch.setenv("COLUMNS", "10")
    assert text_width() == 40
