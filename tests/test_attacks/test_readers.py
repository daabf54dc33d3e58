"""Files that are damaged, hostile or made to cost: a result or one sentence, in time proportional to size."""

from __future__ import annotations

import io
import os
import random
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hostile import LOG_SHAPES, ROOT, STEERING, TOML_SHAPES, mutated
from readers import READERS, seeds

from propagation.base.errors import BandwhenError, InputError
from propagation.base.files import open_binary
from propagation.base.text import one_line
from propagation.logbook import adif, files
from propagation.station import friends, station
from tui.app import settings
from tui.features.review import circuits_command

SAMPLE = 60  # inputs a reader; ten thousand by hand, with tests/attack.py


@pytest.mark.parametrize("name", READERS)
def test_a_mutated_file_is_read_or_refused_in_one_sentence(name: str, tmp_path: Path) -> None:
    chance, refusals = random.Random(f"sample {name}"), []
    for _ in range(SAMPLE):
        data = mutated(chance.choice(seeds(name)), chance)
        try:
            READERS[name](data, tmp_path)
        except BandwhenError as error:
            refusals.append(one_line(error.message))
    assert all(sentence.strip() for sentence in refusals)
    assert not set("".join(refusals)) & set(STEERING)
    assert len(refusals) < SAMPLE


LINEAR = """
import resource, sys
sys.path[:0] = [{here!r}, {root!r}]
resource.setrlimit(resource.RLIMIT_CPU, ({limit}, {limit}))  # a reader that is not linear needs minutes
from hostile import LOG_SHAPES, TOML_SHAPES
from propagation.base.errors import InputError
from propagation.base import strict_toml
from propagation.logbook import files
from propagation.station import friends
for shape in LOG_SHAPES.values():
    files.read(shape({n}))
for shape in TOML_SHAPES.values():
    try:
        strict_toml.parse(shape({n}), "the text")
    except InputError:
        pass
for words in ("1" * 10 * {n}, "1." * {n}, " " * {n}, "at " * {n}):
    try:
        friends.Friend("Ana", "GF25", words=words)
    except InputError:
        pass
friends.find((friends.Friend("Ana", "GF25"),), "Ana")
print("done")
"""


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="limits of processor time are of Unix")
def test_no_shape_of_some_hundred_kilobytes_takes_minutes() -> None:
    """A guard against hanging, not a measurement: linear readers need a tenth of the limit."""
    here = str(Path(__file__).resolve().parent)
    code = LINEAR.format(here=here, root=str(ROOT), limit=40, n=40_000)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.stdout == "done\n", done.stderr[-500:]


def test_the_work_of_reading_wrong_lengths_grows_with_the_file() -> None:
    """Counted, not timed: the calls that Python makes while reading twice the file are twice as many."""
    calls = 0

    def count(frame: object, event: str, argument: object) -> None:
        nonlocal calls
        calls += 1

    counts = []
    for n in (2000, 4000):
        calls = 0
        data = LOG_SHAPES["ADIF, wrong lengths"](n)
        sys.setprofile(count)
        try:
            adif.read(data)
        finally:
            sys.setprofile(None)
        counts.append(calls)
    assert counts[1] <= 2.5 * counts[0], counts


def test_a_field_given_twice_in_other_letters_costs_no_neighbour() -> None:
    record = "<CALL:6>Q0TEST<QSO_DATE:8>20260320<TIME_ON:4>1200<BAND:3>20m<MODE:3>SSB"
    whole = f"{record}<EOR>\n{record}<COMMENT:3>one<COMMENT:3>€<EOR>\n{record}<EOR>\n".encode()
    found = files.read(whole)
    assert found.contacts is not None
    assert found.contacts.call == ("Q0TEST",) * 3
    assert any("'€'" in problem.reason for problem in found.problems)


@pytest.mark.parametrize("size", [700, 1500, 4000])
def test_blocks_of_any_size_give_the_same_log(size: int) -> None:
    for kind in ("ADIF", "ADX", "reports"):
        for data in seeds(kind):
            whole, parts = files.read(data), files.read(data, size)
            for one, other in ((whole.contacts, parts.contacts), (whole.reports, parts.reports)):
                assert (one is None) == (other is None)
                if one is not None and other is not None:
                    assert (one.size, one.call) == (other.size, other.call)
            assert [p.offset for p in whole.problems] == [p.offset for p in parts.problems]


def test_a_line_or_a_record_without_end_is_told() -> None:
    found = files.read(b"time,call,band\n" + b"x" * 2_000_000 + b"\n2026-03-20T12:00,Q0TEST,20m\n")
    assert found.reports is not None
    assert found.reports.call == ("Q0TEST",)
    assert any("longer than 1 MB" in problem.reason for problem in found.problems)


@pytest.mark.promise
def test_of_a_longer_log_the_last_100_000_contacts_are_used(monkeypatch: pytest.MonkeyPatch) -> None:
    assert files.MOST_CONTACTS == 100_000
    monkeypatch.setattr(files, "MOST_CONTACTS", 10)
    monkeypatch.setattr(files, "MOST_PROBLEMS", 5)
    record = b"<CALL:%d>Q%dTEST<QSO_DATE:8>20260320<TIME_ON:4>1200<BAND:3>20m<MODE:3>XYZ<EOR>\n"
    data = b"".join(record % (len(f"Q{n}TEST"), n) for n in range(100))
    found = files.read(data, 500)
    assert found.contacts is not None
    assert 10 <= found.contacts.size < 25
    assert found.contacts.call[-1] == "Q99TEST"
    assert "very long" in found.problems[-1].reason
    assert any("more problems" in problem.reason for problem in found.problems)


@pytest.mark.promise
def test_a_log_of_more_than_500_mb_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "large.adi"
    with file.open("wb") as made:
        made.truncate(500_000_001)  # a hole in the file system, not on the disk
    with pytest.raises(InputError, match=r"larger than 500 MB; it is not a log\.$"):
        files.load(file)


@pytest.mark.promise
def test_a_table_of_more_than_250_000_circuits_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    assert circuits_command.MOST_ROWS == 250_000
    monkeypatch.setattr(circuits_command, "MOST_ROWS", 3)
    row = "2026-03-20T12:00Z,KG40,GF25,14.1,50\n"
    heading = "time,tx,rx,frequency_mhz,power_dbm\n"
    assert len(circuits_command.read(io.StringIO(heading + 3 * row), "it").rows()) == 3
    with pytest.raises(InputError, match="it has more than 3 rows; cut it into several files"):
        circuits_command.read(io.StringIO(heading + 4 * row), "it")


@pytest.mark.promise
def test_a_file_of_settings_a_station_or_friends_has_at_most_1_mb(tmp_path: Path) -> None:
    file = tmp_path / "large.toml"
    file.write_bytes(b"#" + b" " * 1_000_000 + b"\n")
    for load in (station.load, friends.load):
        with pytest.raises(InputError, match="larger than 1000 kB; it is not the file meant"):
            load(file)
    found, note = settings.load(file)
    assert (found, "larger than 1000 kB" in note) == (settings.Settings(), True)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names are of Unix")
def test_what_is_no_file_is_refused_at_once(tmp_path: Path, bandwhen: Callable[..., object]) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero"), tmp_path, tmp_path / "none", Path("a\0b")):
        with pytest.raises(InputError):
            open_binary(path)
    commands = (
        ("review", str(pipe)), ("circuits", str(pipe)), ("station", "check", str(pipe)),
        ("sky", "--at", "KG40", "--station", str(pipe)), ("station", "new", "a\0b"),
        ("friends", "add", "Ana", "GF25", "--file", str(pipe)), ("station", "check", "a\0b"),
        ("antenna", "measure", "--file", str(pipe)), ("review", "a\0b"), ("circuits", "a\0b"),
    )  # fmt: skip
    for command in commands:
        answer = bandwhen(*command)
        assert answer.code == 2, command  # type: ignore[attr-defined]
        assert len(answer.err.splitlines()) <= 2, command  # type: ignore[attr-defined]


def test_texts_of_a_friend_have_a_length() -> None:
    for key in ("words", "awake", "note", "time_zone", "station"):
        with pytest.raises(InputError, match=r"longer than|not both"):
            friends.Friend("Ana", "GF25", **{key: "1" * 60_000})


@pytest.mark.parametrize("name", TOML_SHAPES)
def test_settings_that_are_a_bomb_leave_the_usual_ones(name: str, home: Path) -> None:
    file = home / "config" / "settings.toml"
    file.parent.mkdir(parents=True)
    file.write_text(TOML_SHAPES[name](6000), encoding="utf-8")
    found, note = settings.load()
    assert found == settings.Settings()
    assert note or name == "many tables"
