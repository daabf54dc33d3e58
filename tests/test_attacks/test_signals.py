"""The program in a real terminal: signals and a terminal that goes away end it within a second."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hostile import ROOT

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals and terminals of Unix")
if os.name != "nt":
    from attack_terminals import SIZES, Found, session
    from terminals import Terminal, terminal

WITHIN_S = 2.0  # a second is promised on a quiet machine; tests share theirs with each other


def on_air(made: Terminal) -> None:
    """A contact and a mark, each with the key that makes it; nothing is waited for."""
    made.type("0")
    made.rest()
    made.type("v")
    made.rest(0.2)
    made.type("c")
    made.rest(0.2)
    made.type("Q0TEST 599 579\r")


def saved(home: Path) -> bool:
    """Return whether that contact and that mark are on file."""
    (log,) = home.rglob("*.adi")
    journal = (home / "state" / "outing.toml").read_text(encoding="utf-8")
    return b"<CALL:6>Q0TEST" in log.read_bytes() and 'kind = "in vain"' in journal and str(log) in journal


WRITTEN = b"the last Q0TEST on"  # of the contacts on file; one sentence may cover another
NOTED = b"noted."  # the end of what it says of a mark


@pytest.mark.promise
def test_a_contact_is_on_disk_before_it_is_shown_as_written(tmp_path: Path) -> None:
    with terminal(home=tmp_path) as made:
        made.type("0")
        made.rest()
        made.type("c")
        made.rest(0.2)
        made.type("Q0TEST 599 579\r")
        made.wait_for(WRITTEN)
        made.program.kill()
    (log,) = tmp_path.rglob("*.adi")
    assert log.read_bytes().endswith(b"<EOR>\n")
    assert b"<CALL:6>Q0TEST" in log.read_bytes()


@pytest.mark.promise
def test_marks_and_plans_of_an_outing_are_on_disk_before_they_are_shown(tmp_path: Path) -> None:
    with terminal(home=tmp_path) as made:
        made.type("0")
        made.rest()
        made.type("v")
        made.wait_for(NOTED)
        made.program.kill()
    journal = (tmp_path / "state" / "outing.toml").read_text(encoding="utf-8")
    assert 'kind = "in vain"' in journal
    assert "hours = " in journal


@pytest.mark.promise
def test_an_unfinished_form_is_lost_with_the_screens(tmp_path: Path) -> None:
    """Nothing half typed is taken for an entry."""
    with terminal(home=tmp_path) as made:
        made.type("0")
        made.rest()
        made.type("c")
        made.rest(0.2)
        made.type("Q0TEST 599 5")
        made.rest(0.2)
        made.program.send_signal(signal.SIGTERM)
        made.ended()
    assert not any(b"Q0TEST" in file.read_bytes() for file in tmp_path.rglob("*") if file.is_file())


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGQUIT", "SIGINT"])
@pytest.mark.promise
def test_a_signal_ends_the_screens_within_a_second(name: str, tmp_path: Path) -> None:
    number = getattr(signal, name)
    with terminal(home=tmp_path) as made:
        on_air(made)
        made.rest(0.2)
        made.program.send_signal(number)
        code, took = made.ended()
        assert (code, made.is_as_before()) == (128 + number, True)
    assert took < WITHIN_S
    assert saved(tmp_path)


@pytest.mark.parametrize("controlling", [True, False])
@pytest.mark.promise
def test_a_terminal_that_goes_away_ends_the_program(controlling: bool, tmp_path: Path) -> None:
    """With the signal that a session's leader gets, and without one."""
    with terminal(home=tmp_path, controlling=controlling) as made:
        on_air(made)
        made.rest(0.2)
        made.hang_up()
        code, took = made.ended()
    assert (code, took < WITHIN_S) == (129, True)
    assert saved(tmp_path)
    assert not list(tmp_path.rglob("faults.log"))


def test_a_terminal_that_went_away_before_the_screens_ends_the_program() -> None:
    """Found by the long attack: between the look at the terminal and the first page."""
    master, slave = os.openpty()
    os.close(master)
    code = "import time\nfrom tui.app import termination\nwith termination.watched(int): time.sleep(20)"
    done = subprocess.run([sys.executable, "-c", code], stdin=slave, cwd=ROOT, check=False, timeout=60)
    os.close(slave)
    assert done.returncode == 129


def test_a_terminal_that_takes_nothing_more_does_not_hold_the_program(tmp_path: Path) -> None:
    import termios

    with terminal(home=tmp_path, ready=False) as made:
        made.deaf.set()
        for width in range(81, 111):  # each draws the page anew, until the terminal's own memory is full
            made.resize(width, 24)
            time.sleep(0.02)
        made.program.send_signal(signal.SIGTERM)
        code, took = made.ended()
        assert termios.tcgetattr(made.slave) == made.before
    assert (code, took < WITHIN_S) == (128 + signal.SIGTERM, True)


def test_a_program_that_is_stopped_ends_when_it_goes_on(tmp_path: Path) -> None:
    with terminal(home=tmp_path, ready=False) as made:
        made.program.send_signal(signal.SIGTSTP)
        made.wait_for(b"\x1b[?1049l")
        time.sleep(0.2)
        made.program.send_signal(signal.SIGTERM)
        made.program.send_signal(signal.SIGCONT)
        code, took = made.ended()
        assert (code, made.is_as_before()) == (128 + signal.SIGTERM, True)
    assert took < WITHIN_S


def test_key_q_restores_the_terminal_too(tmp_path: Path) -> None:
    with terminal(home=tmp_path, ready=False) as made:
        made.rest()
        made.type("q")
        assert (made.ended()[0], made.is_as_before()) == (0, True)


RECORD = b"<CALL:6>Q0TEST<QSO_DATE:8>20260320<TIME_ON:4>1200<BAND:3>20m<MODE:3>SSB<GRIDSQUARE:4>GF25<EOR>\n"


@pytest.mark.slow
def test_random_keys_and_bursts_in_a_terminal_and_every_contact_is_on_file() -> None:
    """A sample; ten thousand by hand, with tests/attack.py."""
    broken: list[str] = []
    found = Found()
    for number in range(2):
        chance = random.Random(f"sample {number}")
        session(chance, SIZES[number], 60, lambda kept, what: None if kept else broken.append(what), found)
    assert broken == []
    assert found.keys > 60
    assert found.contacts >= 1


@pytest.mark.slow
@pytest.mark.promise
def test_long_work_shows_its_progress_and_stops_at_ctrl_c(tmp_path: Path) -> None:
    log = tmp_path / "long.adi"
    log.write_bytes(RECORD * 300_000)
    with terminal("review", str(log), home=tmp_path) as made:
        made.wait_for(b"Reading long.adi: ")
        made.wait_for(b"s left; Ctrl-C stops it.")
        made.type("\x03")
        code, took = made.ended()
        assert (code, took < WITHIN_S) == (130, True)
        last = bytes(made.written).split(b"\r")
        assert b"Stopped by Ctrl-C before the answer was complete." in last[-2]
