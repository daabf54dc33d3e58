"""Files that are written: nothing lost between two programs, torn by a kill, or taken from others."""

from __future__ import annotations

import math
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hostile import ROOT

from propagation.base.errors import InputError
from propagation.base.files import LockedError, append, create_file, export, locked, replace_file, sweep
from propagation.base.store import Store
from propagation.logbook import kept_offset
from propagation.space_weather.state import hand_entry
from propagation.station import friends
from tui.app import fault_log, outing_journal, paths, settings, station_form
from tui.app.choice import HoursOnAir

Run = Callable[..., Any]
ROUNDS = 12  # of each of two writers; two hundred by hand, with tests/attack.py
KILLS = 8  # a thousand by hand
unix = pytest.mark.skipif(os.name == "nt", reason="signals and links of Unix")

ADDER = """
import sys
from pathlib import Path
from propagation.station import friends
name, rounds = sys.argv[2], int(sys.argv[3])
print("ready", flush=True)
sys.stdin.readline()
for number in range(rounds):
    friend = friends.Friend(f"{name} {number}", "GF25")
    friends.change(Path(sys.argv[1]), lambda known: friends.add(known, friend))
"""
TYPER = """
import sys
from pathlib import Path
import numpy as np
from propagation.base.store import Store
from propagation.space_weather.state.hand_entry import HandEntry, add_entry
print("ready", flush=True)
sys.stdin.readline()
start = np.datetime64("2026-03-20", "s") + np.timedelta64(int(sys.argv[2]), "s")
for number in range(int(sys.argv[3])):
    add_entry(Store(Path(sys.argv[1])), HandEntry(start + np.timedelta64(60 * number, "s"), flux_sfu=150.0))
"""


CHOOSER = """
import sys
from pathlib import Path
from propagation.logbook import kept_offset
from tui.app import settings
folder, key = Path(sys.argv[1]), sys.argv[2]
print("ready", flush=True)
sys.stdin.readline()
for number in range(int(sys.argv[3])):
    settings.change({key: str(number)}, folder / "settings.toml")
    kept_offset.switch(folder / "own.learnt")
"""


def started(code: str, *arguments: str) -> subprocess.Popen[bytes]:
    """A program that is ready to begin."""
    made = subprocess.Popen(
        [sys.executable, "-c", code, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT
    )
    assert made.stdout is not None
    assert made.stdout.readline() == b"ready\n"
    return made


def together(*writers: subprocess.Popen[bytes]) -> None:
    """All begin at once and are waited for."""
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write(b"\n")
        writer.stdin.flush()
    for writer in writers:
        assert writer.wait(timeout=120) == 0
        writer.communicate()


@pytest.mark.promise
def test_two_programs_that_change_one_file_lose_nothing(tmp_path: Path) -> None:
    file = tmp_path / "friends.toml"
    together(*(started(ADDER, str(file), name, str(ROUNDS)) for name in ("Ana", "Bea")))
    names = {friend.name for friend in friends.load(file)}
    assert names == {f"{name} {number}" for name in ("Ana", "Bea") for number in range(ROUNDS)}
    assert os.listdir(tmp_path) == ["friends.toml"]


def test_two_programs_that_type_in_conditions_lose_none(tmp_path: Path) -> None:
    together(*(started(TYPER, str(tmp_path), str(second), str(ROUNDS)) for second in (0, 1)))
    assert len(hand_entry.entries_of(Store(tmp_path))) == 2 * ROUNDS


def test_two_programs_that_choose_and_learn_lose_none(tmp_path: Path) -> None:
    """Each changes settings of its own, again and again, and switches what was learnt."""
    lesson = kept_offset.Learnt(bands=(kept_offset.LearntBand("20m", -3.0, 1.5, 4),))
    kept_offset.save(lesson, tmp_path / "own.learnt")
    together(*(started(CHOOSER, str(tmp_path), key, str(ROUNDS)) for key in ("target", "mode")))
    there, note = settings.load(tmp_path / "settings.toml")
    assert (there.target, there.mode, note) == (f"{ROUNDS - 1}", f"{ROUNDS - 1}", "")
    kept = kept_offset.load(tmp_path / "own.learnt")
    assert kept is not None
    assert kept.on, "switched an even number of times"
    assert sorted(os.listdir(tmp_path)) == ["own.learnt", "settings.toml", "settings.toml.bak"]


def test_new_stations_of_one_name_are_files_of_their_own(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    entries = {"site.locator": "KG40rs", "name": f"Ridge {'x' * 300}"}
    files = {station_form.save(entries, "") for _ in range(3)}
    assert len(files) == 3
    monkeypatch.setattr(station_form, "locked", lambda file: locked(file, 0.05))
    with locked(paths.station_file()), pytest.raises(LockedError):
        station_form.save({**entries, "name": "other"}, str(paths.station_file()))


@pytest.mark.promise
@unix
def test_a_kill_leaves_the_old_file_or_the_new_one(tmp_path: Path) -> None:
    file, chance = tmp_path / "friends.toml", random.Random(7)
    friends.save((friends.Friend("Old", "KG40"),), file)
    before = 1
    for number in range(KILLS):
        writer = started(ADDER, str(file), f"N{number}", "100000")
        assert writer.stdin is not None
        writer.stdin.write(b"\n")
        writer.stdin.flush()
        time.sleep(chance.uniform(0.0, 0.08))
        writer.send_signal(signal.SIGKILL)
        writer.communicate()
        count = len(friends.load(file))  # InputError if it were torn
        assert count >= before
        before = count
    sweep(tmp_path, math.inf)
    friends.change(
        file, lambda known: friends.add(known, friends.Friend("Last", "GF25"))
    )  # and its lock goes
    assert os.listdir(tmp_path) == ["friends.toml"]


def test_a_lock_that_is_held_is_one_sentence_and_one_left_over_is_none(tmp_path: Path) -> None:
    file = tmp_path / "friends.toml"
    with locked(file), pytest.raises(LockedError, match="another program"), locked(file, 0.05):
        raise AssertionError("two have the lock")
    (tmp_path / ".friends.toml.lock").write_bytes(b"")
    if os.name != "nt":
        with locked(file, 0.05):
            pass
    assert os.listdir(tmp_path) == []


def test_leftovers_go_at_the_next_start_and_nothing_else(bandwhen: Run, home: Path) -> None:
    config, stations, state = paths.config_dir(), paths.stations_dir(), paths.state_dir()
    left = [
        config / ".friends.toml.bandwhen-4711-0123456789.new",
        stations / ".ridge.toml.bandwhen-1-abcdef0123.new",
        paths.conditions_dir() / ".flux.stored.bandwhen-99999-abcdef0123.new",
        paths.outings_dir() / ".outing.adi.bandwhen-12-abcdef0123.new",
        state / ".outing.toml.bandwhen-4711-abcdef0123.new",
    ]
    young = state / ".outing.toml.bandwhen-4712-abcdef0123.new"
    kept = [
        *(config / name for name in ("notes.new", ".profile", ".mine.lock", ".draft.x.new", ".draft.x.part")),
        *(stations / name for name in ("tmp_holiday", "bandwhen-12-abcdef0123.new")),
        paths.data_dir() / "tmpab12cd3_",
    ]
    for file in (*left, young, *kept):
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("x")
        if file != young:
            os.utime(file, (0.0, time.time() - 3700.0))
    assert bandwhen("friends", "list").code == 0
    assert not [file for file in left if file.exists()]
    assert [file for file in (young, *kept) if not file.exists()] == []


@unix
def test_what_a_kill_leaves_is_known_by_its_name(tmp_path: Path) -> None:
    file = tmp_path / (
        "\N{PERSON WITH BALL}" * 60
    )  # 240 bytes: the name of the new file has room for its mark
    code = (
        "import os, sys\nfrom pathlib import Path\nfrom propagation.base import files\n"
        "print('ready', flush=True)\n"
        "files._put(Path(sys.argv[1]), b'half', lambda new, target: os.kill(os.getpid(), 9), 0o600)"
    )
    writer = started(code, str(file))
    writer.communicate()
    (name,) = os.listdir(tmp_path)
    assert f".bandwhen-{writer.pid}-" in name
    assert sweep(tmp_path, time.time() - 3600.0) == 0
    assert sweep(tmp_path, math.inf) == 1


def test_what_is_being_written_is_not_swept(tmp_path: Path) -> None:
    swept = []
    from propagation.base import files

    def look(temporary: Path, target: Path) -> None:
        swept.append(sweep(tmp_path, math.inf))
        os.replace(temporary, target)

    files._put(tmp_path / "a", b"content", look, 0o600)
    assert swept == [0]
    assert (tmp_path / "a").read_bytes() == b"content"


@pytest.mark.promise
def test_an_export_replaces_only_a_file_of_this_program(tmp_path: Path) -> None:
    file, mark = tmp_path / "out.ics", (b"PRODID:ours",)
    export(file, b"PRODID:ours 1", mark)
    export(file, b"PRODID:ours 2", mark)
    assert file.read_bytes() == b"PRODID:ours 2"
    file.write_bytes(b"somebody's letter")
    with pytest.raises(InputError, match="already; it was not changed; try another"):
        export(file, b"PRODID:ours 3", mark, remedy="try another")
    assert file.read_bytes() == b"somebody's letter"
    export(file, b"PRODID:ours 4", mark, force=True)
    assert file.read_bytes() == b"PRODID:ours 4"
    with pytest.raises(InputError, match="no folder"):
        export(tmp_path / "none" / "out.ics", b"")
    with pytest.raises(InputError, match="folder"):
        export(tmp_path, b"", force=True)
    assert os.listdir(tmp_path) == ["out.ics"]


@pytest.mark.promise
@unix
def test_no_link_is_followed_on_writing(tmp_path: Path) -> None:
    outside, inside = tmp_path / "outside.txt", tmp_path / "in"
    outside.write_bytes(b"PRODID:ours, elsewhere")
    inside.mkdir()
    link = inside / "out.ics"
    link.symlink_to(outside)
    with pytest.raises(InputError, match="already"):
        export(link, b"new", (b"PRODID:ours",))
    export(link, b"new", force=True)
    assert (link.is_symlink(), link.read_bytes()) == (False, b"new")
    link.unlink()
    link.symlink_to(tmp_path / "not there")
    with pytest.raises(FileExistsError):
        create_file(link, b"new")
    replace_file(link, b"own")
    assert not (tmp_path / "not there").exists()
    assert outside.read_bytes() == b"PRODID:ours, elsewhere"


@unix
def test_rights_of_a_file_stay(tmp_path: Path) -> None:
    file = tmp_path / "friends.toml"
    replace_file(file, b"a")
    assert file.stat().st_mode & 0o777 == 0o600
    file.chmod(0o640)
    replace_file(file, b"b")
    assert file.stat().st_mode & 0o777 == 0o640


@pytest.mark.promise
@unix
def test_files_and_folders_are_for_their_owner_alone(bandwhen: Run, home: Path) -> None:
    before = os.umask(0)
    try:
        assert bandwhen("station", "new", "--at", "KG40rs").code == 0
        fault_log.record("made to fail", "details")
        append(paths.outings_dir() / "outing.adi", b"a\n")
        settings.change({"mode": "CW"})
        replace_file(home / "further" / "down" / "file", b"a")
    finally:
        os.umask(before)
    rights = {place: place.stat().st_mode & 0o777 for place in home.rglob("*")}
    assert {paths.station_file(), paths.fault_file(), paths.settings_file()} < set(rights)
    assert rights == {place: 0o700 if place.is_dir() else 0o600 for place in rights}


@unix
def test_no_link_is_followed_by_what_is_added_to(home: Path, tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_bytes(b"a letter\n")
    paths.state_dir().mkdir(parents=True)
    paths.fault_file().symlink_to(letter)
    assert "could not be written" in fault_log.record("made to fail", "details")
    assert (letter.read_bytes(), paths.fault_file().is_symlink()) == (b"a letter\n", True)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(OSError, match="no ordinary file"):
        append(pipe, b"a\n")


@pytest.mark.promise
@unix
def test_contacts_go_to_no_file_outside_the_folder_of_logs(home: Path, tmp_path: Path) -> None:
    letter, start = tmp_path / "letter.txt", np.datetime64("2026-03-20T12:00", "s")
    letter.write_bytes(b"a letter\n")
    inside = paths.outings_dir() / "own.adi"
    inside.parent.mkdir(parents=True)
    (paths.outings_dir() / "link.adi").symlink_to(letter)
    further = paths.outings_dir() / ".." / "letter.adi"
    for log in (letter, paths.outings_dir() / "link.adi", further, Path("letter.adi")):
        outing_journal.save(HoursOnAir(start, 3.0, log=str(log)))
        hours, told = outing_journal.load(start)
        assert hours is not None
        assert (hours.log, "outside" in told) == ("", True)
    outing_journal.save(HoursOnAir(start, 3.0, log=str(inside)))
    hours, told = outing_journal.load(start)
    assert hours is not None
    assert (hours.log, told) == (str(inside), "")


def test_a_calendar_over_a_letter_needs_a_word(bandwhen: Run, tmp_path: Path) -> None:
    file = tmp_path / "letter.ics"
    file.write_text("a letter")
    ask = ("sked", "--with", "London", "--days", "1", "--calendar", str(file), "--ssn", "100")
    refused = bandwhen(*ask)
    assert (refused.code, file.read_text()) == (2, "a letter")
    assert "--force" in refused.err
    for more in (("--force",), ()):  # and then it is this program's own
        assert bandwhen(*ask, *more).code == 0
        assert file.read_bytes().startswith(b"BEGIN:VCALENDAR")
