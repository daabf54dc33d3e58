"""What leaves the program: nothing that steers a terminal, and one sentence whatever becomes of it."""

from __future__ import annotations

import argparse
import csv
import io
import os
import random
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hostile import NAMES, ROOT, STEERING

from propagation.base import strict_toml
from propagation.base.text import in_json, one_line, shown, text_cell, visible_name
from propagation.station import friends
from tui import cli
from tui.app import paths

Run = Callable[..., Any]
SUN = ("--ssn", "80")


def clean(text: str) -> bool:
    """Whether a text may go to a terminal."""
    return not set(text) & set(STEERING)


@pytest.fixture
def crowd(home: Path) -> None:
    """Friends, a station and settings with names an attacker would choose."""
    people = tuple(friends.Friend(name, "GF25", note=name, words="") for name in NAMES)
    friends.save(people, paths.friends_file())
    text = f'name = {strict_toml.written(NAMES[0] + NAMES[4])}\n[site]\nlocator = "KG40"\n'
    paths.station_file().write_text(text, encoding="utf-8")


@pytest.mark.parametrize(
    "command",
    [
        ("friends", "list"), ("friends", "list", "--plain"), ("friends", "list", "--json"),
        ("station", "show"),
        ("station", "show", "--json"), ("friends", "remove", "\x1b[2J"), ("sky", "--at", "\x9b2J\u202eX"),
        ("friends", "add", "H\x1b[5n", "GF25"), ("station", "check", "no\x1b[31msuch\nfile"),
        ("advise", "--to", NAMES[0], "--date", "2026-03-20", *SUN, "--plain"), ("review", "\x9d0;T\x07"),
        ("path", "--from", "KG40", "--to", "\u2066\x1b]0;T\x07"), ("\x1b[31m",), ("sky", "--\x1b[31m"),
        ("conditions", "fetch", "--mirror", "https://a\x1b[31mb/"),
        ("conditions", "heard", "--from", "\x1b[1m"),
    ],
    ids=repr,
)  # fmt: skip
@pytest.mark.promise
def test_no_control_character_reaches_the_terminal(bandwhen: Run, crowd: None, command: Any) -> None:
    answer = bandwhen(*command)
    assert answer.code in (0, 2, 3)
    assert clean(answer.out), answer.out
    assert clean(answer.err), answer.err


def test_json_loses_nothing_that_is_seen(bandwhen: Run, crowd: None) -> None:
    """Names come whole but for signs without width, which would make two friends look alike."""
    kept = [visible_name(name) for name in NAMES]
    assert kept != list(NAMES)
    assert [one["name"] for one in bandwhen("friends", "list", "--json").json["friends"]] == kept
    assert in_json('"\x9b\u202e"') == '"\\u009b\\u202e"'


def test_every_steering_character_has_a_sign_in_its_place() -> None:
    for sign in STEERING:
        assert shown(f"a{sign}b") == "a·b"
    assert shown("two\nlines\tand a tab") == "two\nlines\tand a tab"
    assert one_line("two\nlines\tand a tab") == "two lines and a tab"


def test_cells_of_circuits_are_not_run_by_a_spreadsheet(bandwhen: Run, tmp_path: Path) -> None:
    file = tmp_path / "rows.csv"
    notes = ["=1+1|cmd", "+a", "-2+3+cmd|' /C x'!A0", "@sum", "\tx", "fine", "-12.5", "\x1b[31m"]
    with open(file, "w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(["time", "tx", "rx", "frequency_mhz", "power_dbm", "=note"])
        writer.writerows([["2026-03-20T12:00Z", "KG30", "-34.5,-55", "14.1", "43", note] for note in notes])
    rows = list(csv.reader(io.StringIO(bandwhen("circuits", str(file), *SUN).out)))
    assert rows[0][5] == "'=note"
    told = ["'=1+1|cmd", "'+a", "'-2+3+cmd|' /C x'!A0", "'@sum", "'\tx", "fine", "-12.5", "·[31m"]
    assert [row[5] for row in rows[1:]] == told
    assert {row[2] for row in rows[1:]} == {"-34.5,-55"}  # a pair of numbers is none
    assert text_cell("") == ""


def test_calendar_and_run_sheet_are_clean(bandwhen: Run, crowd: None, tmp_path: Path) -> None:
    file = tmp_path / "out.ics"
    answer = bandwhen("sked", "--with", NAMES[0], "--calendar", str(file), *SUN)
    assert answer.code in (0, 3)
    assert clean(answer.out)
    if answer.code == 0:
        assert clean(file.read_text(encoding="utf-8").replace("\r", ""))
    sheet = bandwhen("plan", "--to", NAMES[1], "--hours", "2", "--markdown", *SUN)
    assert sheet.code in (0, 3)
    assert clean(sheet.out)


# -- streams, arguments, folders ----------------------------------------------------------------------------


def process(
    *arguments: str, before: str = "", env: dict[str, str] | None = None
) -> subprocess.CompletedProcess[bytes]:
    """The program in a process of its own; `before`: a redirection of the shell."""
    command = f'exec "$0" -m tui "$@" {before}'
    return subprocess.run(
        ["/bin/sh", "-c", command, sys.executable, *arguments],
        capture_output=True, check=False, cwd=ROOT, env={**os.environ, **(env or {})}, timeout=120,
    )  # fmt: skip


@pytest.mark.skipif(os.name == "nt", reason="redirections of a Unix shell")
@pytest.mark.parametrize(
    ("before", "arguments", "code", "words"),
    [
        (">&-", ("--version",), 0, ""),
        (">&- 2>&-", ("--version",), 0, ""),
        ("2>&-", ("sky", "--at", "nowhere at all"), 2, ""),
        (">/dev/full", ("--version",), 2, "could not be written"),
        (">/dev/full", ("--help",), 2, "could not be written"),
        (">/dev/full", ("sky", "--at", "KG40", *SUN), 2, "could not be written"),
        ("<&-", ("--version",), 0, ""),
        ("<&-", ("circuits", "-"), 2, "Standard input is closed"),
        ("0>/dev/null", ("circuits", "-"), 2, "standard input cannot be read"),
        ("<&- >&- 2>&-", ("circuits", "-"), 2, ""),
    ],
)
def test_streams_that_are_closed_or_full(before: str, arguments: Any, code: int, words: str) -> None:
    if "/dev/full" in before and not Path("/dev/full").exists():
        pytest.skip("no full device here")
    done = process(*arguments, before=before)
    assert done.returncode == code
    assert b"Traceback" not in done.stderr
    assert words in done.stderr.decode()
    assert len(done.stderr.splitlines()) == (1 if words else 0)


def test_a_terminal_of_ascii_only_gets_ascii() -> None:
    ascii_only = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "LC_ALL": "C"}
    done = process("path", "--from", "KG40", "--to", "GF25", *SUN, env=ascii_only)
    assert done.returncode == 0
    assert done.stdout.isascii()
    assert b"deg" in done.stdout
    done = process("station", "show", "--json", env=ascii_only)
    assert done.returncode == 0
    assert done.stdout.isascii()


def test_homes_that_cannot_be() -> None:
    for value, code in (("~nosuchuser/x", 2), ("a\nb", 0)):
        done = process("friends", "list", env={"BANDWHEN_HOME": value})
        assert done.returncode == code, done.stderr
        assert b"Traceback" not in done.stderr
        assert b"failed" not in done.stderr


def _options() -> list[tuple[str, ...]]:
    found = []

    def walk(parser: argparse.ArgumentParser, words: tuple[str, ...]) -> None:
        for action in parser._actions:
            if isinstance(action, argparse._SubParsersAction):
                for name, child in action.choices.items():
                    walk(child, (*words, name))
            elif action.option_strings and action.dest != "help":
                found.append((*words, action.option_strings[-1]))

    walk(cli.build_parser(), ())
    return found


def test_two_dashes_are_no_value_of_any_option(bandwhen: Run) -> None:
    for *words, option in _options():
        for given in ([f"{option}=--"], [option, "--"]):
            answer = bandwhen(*words, *given)
            assert answer.code == 2 or given[-1] == "--", (words, given)
            assert "failed" not in answer.err, (words, given, answer.err)


ABSURD = ("9" * 24, "-1", "1e308", "nan", "9" * 4400, "\x1b[31m", "", " ", "x" * 4000, "é" * 90)


def test_absurd_values_of_any_option_are_one_sentence(bandwhen: Run) -> None:
    """One value for some options, drawn; all of them by hand, with tests/attack.py."""
    chance = random.Random("absurd")
    for *words, option in chance.sample(_options(), 25):
        if option in ("--calendar", "--file", "--forget", "--learn", "--mirror", "--only", "--markdown"):
            continue  # paths and addresses are tried elsewhere
        value = chance.choice(ABSURD)
        answer = bandwhen(*words, f"{option}={value}")
        assert answer.code in (0, 2, 3), (words, option, value[:20])
        assert "failed" not in answer.err, (words, option, value[:20], answer.err[:300])
        assert clean(answer.out + answer.err)


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="users are of Unix")
def test_a_home_that_may_not_be_looked_into_is_one_sentence(tmp_path: Path) -> None:
    home = tmp_path / "closed"
    home.mkdir()
    (home / "config").mkdir()
    home.chmod(0)
    as_anyone: list[str] = []
    if os.geteuid() == 0:  # an administrator may look everywhere: without that right
        if shutil.which("setpriv") is None:
            pytest.skip("run as an ordinary user")
        as_anyone = ["setpriv", "--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-all"]
    commands = (
        ("friends", "list"), ("station", "show"), ("sky", "--at", "KG40"), ("conditions",),
        ("advise", "--to", "Europe", "--date", "2026-03-20", "--hours", "1"), ("review", "--forget"),
        ("conditions", "set", "--flux", "120"), ("friends", "add", "Ana", "GF25"), ("station", "new"),
        ("antenna", "--frequency", "14.1"), ("sked", "--with", "London", "--days", "1"),
    )  # fmt: skip
    try:
        for command in commands:
            done = subprocess.run(
                [*as_anyone, sys.executable, "-m", "tui", *command],
                capture_output=True, text=True, check=False, cwd=ROOT,
                env={**os.environ, "BANDWHEN_HOME": str(home), "PYTHONDONTWRITEBYTECODE": "1"},
            )  # fmt: skip
            assert done.returncode in (0, 2), (command, done.stderr)
            assert "failed" not in done.stderr, (command, done.stderr)
            assert "Traceback" not in done.stderr, (command, done.stderr)
    finally:
        home.chmod(0o700)
