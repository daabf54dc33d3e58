"""Choices that outlive the session: kept whole, read with patience."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as options
from hypothesis import strategies as st

from propagation.base.errors import InputError
from tui.app import settings
from tui.app.settings import Settings


def test_nothing_saved_is_the_usual(home: Path) -> None:
    assert settings.load() == (Settings(), "")


@options(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40)
@given(st.text(max_size=30), st.floats(0, 3000), st.booleans())
def test_what_is_saved_is_read_back(tmp_path: Path, target: str, power: float, fetch: bool) -> None:
    made = Settings("night", "ascii", target.replace("\x00", ""), "", "CW", power, fetch)
    settings.save(made, tmp_path / "settings.toml")
    read, note = settings.load(tmp_path / "settings.toml")
    assert note == ""
    assert read == made


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("theme = ", "cannot be read"),
        ("\x00\x01", "cannot be read"),
        ('theme = "mauve"\n', "theme"),
        ("power_w = -5.0\n", "power_w"),
        ('colour = "red"\nglyphs = "ascii"\n', "colour"),
        ("target = 7\n", "target"),
    ],
)
def test_a_damaged_file_never_keeps_the_program_from_opening(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "settings.toml"
    file.write_text(text, encoding="utf-8")
    read, note = settings.load(file)
    assert said in note
    assert read.theme == "dark"
    assert read.glyphs == ("ascii" if "ascii" in text else "full")


def test_a_folder_that_cannot_be_written_is_a_sentence(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(InputError, match=r"cannot be saved|cannot be written|settings"):
        settings.save(Settings(), blocked / "settings.toml")


TYPO = '# my own words\ntarget = "Ana"\npower_w = 5.0\nfetch_on_start = fals\n'


@pytest.mark.promise
def test_a_file_with_a_typo_is_never_written_over(tmp_path: Path) -> None:
    file = tmp_path / "settings.toml"
    file.write_text(TYPO, encoding="utf-8")
    for _ in range(2):
        with pytest.raises(settings.UnreadableError, match="no choice is kept until the file is repaired"):
            settings.change({"glyphs": "ascii"}, file)
    assert [(one.name, one.read_text(encoding="utf-8")) for one in tmp_path.iterdir()] == [(file.name, TYPO)]
    mended = TYPO.replace("fals", "false")
    file.write_text(mended, encoding="utf-8")
    settings.change({"glyphs": "ascii"}, file)
    assert settings.load(file) == (Settings(target="Ana", power_w=5.0, glyphs="ascii"), "")


def test_the_file_is_copied_before_the_first_change_of_a_run(tmp_path: Path) -> None:
    file, copy = tmp_path / "settings.toml", tmp_path / "settings.toml.bak"
    before = TYPO.replace("fals", "false")
    file.write_text(before, encoding="utf-8")
    for mode in ("CW", "SSB"):
        settings.change({"mode": mode}, file)
        assert copy.read_text(encoding="utf-8") == before
    assert settings.load(file)[0].mode == "SSB"


def test_a_file_that_cannot_be_copied_is_not_changed(tmp_path: Path) -> None:
    file = tmp_path / "settings.toml"
    file.write_text('target = "Ana"\n', encoding="utf-8")
    (tmp_path / "settings.toml.bak").mkdir()
    with pytest.raises(InputError, match="no copy of them can be kept"):
        settings.change({"mode": "CW"}, file)
    assert file.read_text(encoding="utf-8") == 'target = "Ana"\n'
