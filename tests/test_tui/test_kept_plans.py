"""Plans kept under a name: kept, listed, copied to another day, given away, and opened on the page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
import synthetic
from screen_text import go, run, settle, text_of
from textual.pilot import Pilot

from propagation.base.errors import InputError
from propagation.base.files import TakenError
from tui.app import kept_plans, outing_journal, paths
from tui.app.app import BandwhenApp
from tui.app.choice import HoursOnAir
from tui.app.kept_plans import KeptPlan

Run = Callable[..., Any]
ASKED: Final = ("--ssn", "120", "--kp", "2")
RIDGE: Final = KeptPlan(
    'Ridge in "March"', "2026-03-20T06:00:00Z", 5.0, ("Europe", "Asia"), "ridge", "KG40rs", ("20m",),
    "CW", 5.0,
)  # fmt: skip


def test_a_plan_is_kept_for_its_owner_and_read_back() -> None:
    file = kept_plans.keep(RIDGE, "Run sheet\n06:00 20 m")
    assert kept_plans.read(file) == RIDGE
    assert file.stat().st_mode & 0o077 == 0
    assert "# 06:00 20 m" in file.read_text(encoding="utf-8")
    assert kept_plans.find('ridge in "march"') == RIDGE
    other = replace(RIDGE, hours=2.0)
    with pytest.raises(TakenError):
        kept_plans.keep(other)
    assert kept_plans.read(file) == RIDGE
    kept_plans.keep(other, force=True)
    assert kept_plans.all_kept() == ((other,), ())


def test_a_plan_that_is_over_moves_to_its_next_time_of_day() -> None:
    after = np.datetime64("2026-05-03T06:30:00")
    assert RIDGE.ahead(np.datetime64("2026-03-20T10:59:00")) == RIDGE.begin
    assert RIDGE.ahead(after) == np.datetime64("2026-05-04T06:00:00")
    assert RIDGE.ahead(after - np.timedelta64(3600, "s")) == np.datetime64("2026-05-03T06:00:00")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('name = "x"\nhours = 4.0', "missing"),
        ('name = "x"\nstart = "2026-03-20T06:00Z"\nhours = 40.0', "24"),
        ('name = "x"\nstart = "2026-03-20T06:00Z"\nhours = 4\npeple = ["Europe"]', "'people'"),
        ('name = "x"\nstart = "2026-03-20T06:00Z"\nhours = 4\nbands = ["21m"]', "21m"),
        ('name = "x"\nstart = "some day"\nhours = 4', "some day"),
        ('name = "..."\nstart = "2026-03-20T06:00Z"\nhours = 4', "letter"),
        ('name = "x\\u001b[2J"\nstart = "2026-03-20T06:00Z"\nhours = 4', "no name for a plan"),
        ("name = ", "TOML"),
    ],
)
def test_a_file_that_is_no_plan_is_told_and_the_others_are_listed(text: str, words: str) -> None:
    kept_plans.keep(RIDGE)
    file = paths.plans_dir() / "other.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        kept_plans.read(file)
    plans, faults = kept_plans.all_kept()
    assert plans == (RIDGE,)
    assert len(faults) == 1
    assert str(file) in faults[0]


def test_the_command_keeps_lists_copies_and_opens(bandwhen: Run) -> None:
    first = bandwhen(
        "plan", "--to", "anyone", "--start", "2026-03-20T06:00Z", "--hours", "5", "--bands", "20m,15m",
        "--power", "40", *ASKED, "--keep", "Ridge", "--json",
    )  # fmt: skip
    assert first.code == 0, first.err
    assert str(kept_plans.file_of("Ridge")) in first.err
    assert {step["band"] for step in first.json["steps"]} <= {"20m", "15m"}
    again = bandwhen("plan", "--open", "ridge", *ASKED, "--json").json
    for key in ("start", "end", "targets", "power_w", "mode"):
        assert again[key] == first.json[key]
    for step, before in zip(again["steps"], first.json["steps"], strict=True):
        for key in ("start", "end", "band", "setup"):
            assert step[key] == before[key]
        assert step["contacts"] == pytest.approx(
            before["contacts"], rel=1e-6
        )  # antennas kept on file: rounded
    moved = bandwhen(
        "plan", "--open", "ridge", "--date", "2026-03-27", "--hours", "3", *ASKED, "--keep", "Next", "--json"
    )
    assert moved.json["start"] == "2026-03-27T06:00:00Z"
    assert moved.json["end"] == "2026-03-27T09:00:00Z"
    spanned = bandwhen("plan", "--open", "ridge", "--date", "2026-03-27 07:00-09:00", *ASKED, "--json").json
    assert (spanned["start"], spanned["end"]) == ("2026-03-27T07:00:00Z", "2026-03-27T09:00:00Z")
    listed = bandwhen("plan", "--list", "--json").json["plans"]
    assert [(row["name"], row["hours"], row["bands"]) for row in listed] == [
        ("Ridge", 5.0, ["20m", "15m"]),
        ("Next", 3.0, ["20m", "15m"]),
    ]
    text = bandwhen("plan", "--list")
    assert "Ridge: Fri 20 Mar 2026 06:00 to 11:00 UTC (08:00 to 13:00 local)" in text.out
    assert str(paths.plans_dir()) in text.out


def test_a_plan_given_to_somebody_is_made_at_its_place(bandwhen: Run, tmp_path: Path) -> None:
    given = kept_plans.keep(replace(RIDGE, locator="JN48aa")).rename(tmp_path / "from a friend.toml")
    found = bandwhen("plan", "--open", str(given), *ASKED, "--json")
    assert found.code == 0, found.err
    assert "JN48aa" in found.err
    assert found.json["site"]["lat_deg"] == pytest.approx(48.02, abs=0.03)  # within the square
    assert found.json["targets"] == ["Europe", "Asia"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--open", "ridgy"], ["ridgy", "--list"]),
        (["--open", "nowhere/plan.toml"], ["nowhere/plan.toml"]),
        (["--keep", "..."], ["...", "letter"]),
        (["--bands", "21m"], ["21m"]),
        (["--bands", "160m"], ["160m", "antenna"]),
    ],
)
def test_what_cannot_be_opened_or_kept_is_a_sentence(
    bandwhen: Run, arguments: list[str], words: list[str]
) -> None:
    answer = bandwhen("plan", "--to", "JO40", "--start", "2026-03-20T06:00Z", *ASKED, *arguments)
    assert answer.code == 2
    assert answer.out == ""
    for word in words:
        assert word in answer.err


def test_the_journal_of_the_outing_remembers_the_plan() -> None:
    hours = HoursOnAir(synthetic.NOW, 4.0, "Europe", bands=("20m", "15m"), plan="Ridge")
    outing_journal.save(hours)
    found, note = outing_journal.load(synthetic.NOW)
    assert (found, note) == (hours, "")
    assert found is not None
    assert found.plan == "Ridge"


def test_the_page_keeps_a_plan_and_starts_from_one() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "plan")
        await settle(app, pilot)
        await pilot.press("o")
        await settle(app, pilot)
        assert "No plan is kept yet" in text_of(app)
        await pilot.press("escape", "k")
        await settle(app, pilot)
        await pilot.press("enter")
        await settle(app, pilot)
        ((kept,), _) = kept_plans.all_kept()
        assert app.state.hours is not None
        assert kept.begin == app.state.hours.start
        assert kept.people == ("Uruguay",)
        assert f"Plan {kept.name!r}." in " ".join(text_of(app).split())
        older = replace(RIDGE, name="Ridge", mode="CW", power_w=5.0, start="2026-03-01T06:00:00Z")
        kept_plans.keep(older)
        await pilot.press("k")
        await settle(app, pilot)
        await pilot.press("enter")  # the same name again: kept unless replaced
        await settle(app, pilot)
        assert "Replace it?" in text_of(app)
        await pilot.press("enter")
        await pilot.press("o", "up", "enter")
        await settle(app, pilot)
        assert app.state.choice is not None
        assert (app.state.choice.mode, app.state.choice.power_w) == ("CW", 5.0)
        assert app.state.hours.start == np.datetime64("2026-03-15T06:00:00")
        assert app.state.hours.bands == ("20m",)
        assert app.state.hours.target == "Europe"
        told = " ".join(text_of(app).split())
        assert "moved to 2026-03-15" in told
        assert "Plan 'Ridge' on 20 m alone" in told

    run(scenario)


def test_a_plan_is_copied_renamed_and_deleted_with_its_run_sheet() -> None:
    file = kept_plans.keep(RIDGE, "Run sheet\n06:00 20 m")
    assert kept_plans.copy("ridge in march", "Again") == replace(RIDGE, name="Again")
    with pytest.raises(TakenError):
        kept_plans.copy("Again", RIDGE.name)
    again = kept_plans.file_of("Again")
    assert "# 06:00 20 m" in again.read_text(encoding="utf-8")
    assert kept_plans.rename("again", "AGAIN").name == "AGAIN"  # the same file
    assert kept_plans.rename("again", "Summit") == replace(RIDGE, name="Summit")
    assert not again.exists()
    assert "# 06:00 20 m" in kept_plans.file_of("summit").read_text(encoding="utf-8")
    removed = kept_plans.delete("ridge in march")
    assert (removed.name, removed.file) == (RIDGE.name, file)
    assert [plan.name for plan in kept_plans.all_kept()[0]] == ["Summit"]
    kept_plans.put_back(removed)
    assert kept_plans.read(file) == RIDGE
    with pytest.raises(InputError, match="nothing was changed"):
        kept_plans.put_back(removed)


def test_a_damaged_plan_and_one_under_another_file_name_can_be_deleted() -> None:
    kept_plans.keep(RIDGE).rename(paths.plans_dir() / "from a friend.toml")
    assert kept_plans.find(RIDGE.name) == RIDGE
    assert kept_plans.delete(RIDGE.name).name == RIDGE.name
    (paths.plans_dir() / "half.toml").write_text("name = ", encoding="utf-8")
    assert kept_plans.delete("half").name == "half"
    assert kept_plans.all_kept() == ((), ())


def test_the_command_deletes_copies_and_renames(bandwhen: Run) -> None:
    kept_plans.keep(RIDGE)
    copied = bandwhen("plan", "--copy", "ridge in march", "Next", "--json")
    assert copied.json == {"done": "copied", "name": "Next", "file": str(kept_plans.file_of("Next"))}
    taken = bandwhen("plan", "--copy", "ridge in march", "Next")
    assert taken.code == 2
    assert "--force" in taken.err
    assert bandwhen("plan", "--rename", "next", "Summit").code == 0
    deleted = bandwhen("plan", "--delete", "summit")
    assert (deleted.code, deleted.out) == (0, "The plan 'Summit' is deleted.\n")
    for arguments in (["--delete", "summit"], ["--copy", "nothing", "x"], ["--rename", RIDGE.name, "..."]):
        answer = bandwhen("plan", *arguments)
        assert (answer.code, answer.out) == (2, "")
    assert bandwhen("plan", "--delete", "x", "--list").code == 2
    assert [plan.name for plan in kept_plans.all_kept()[0]] == [RIDGE.name]


@pytest.mark.parametrize(
    ("content", "words"),
    [(None, "There is no file"), (b"\xff\xfe", "UTF-8"), (b"name = 'x'\n", "missing"), (b"<p>", "TOML")],
)
def test_a_given_file_that_holds_no_plan_is_told_in_a_sentence(
    bandwhen: Run, tmp_path: Path, content: bytes | None, words: str
) -> None:
    file = tmp_path / "given.toml"
    if content is not None:
        file.write_bytes(content)
    answer = bandwhen("plan", "--open", str(file))
    assert (answer.code, answer.out) == (2, "")
    told = answer.err.strip().splitlines()[-1]
    assert words in told
    assert str(file) in told
    assert told.endswith(".")


async def _named(pilot: Pilot[None], app: BandwhenApp, name: str) -> None:
    """Type a name in place of the one offered."""
    await settle(app, pilot)
    await pilot.press(*name, "enter")
    await settle(app, pilot)


def test_the_list_of_kept_plans_copies_renames_and_deletes_and_u_takes_it_back() -> None:
    def names() -> list[str]:
        return sorted(plan.name for plan in kept_plans.all_kept()[0])

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        kept_plans.keep(replace(RIDGE, name="Ridge"), "Run sheet")
        kept_plans.keep(replace(RIDGE, name="Valley"))
        await go(app, pilot, "plan")
        await pilot.press("o", "r", "plus")
        await _named(pilot, app, "Copy")
        assert names() == ["Copy", "Ridge", "Valley"]
        assert "copied to 'Copy'" in app.state.notice
        await pilot.press("o", "c", "equals_sign")
        await _named(pilot, app, "Summit")
        assert names() == ["Ridge", "Summit", "Valley"]
        await pilot.press("o", "v", "minus")
        await settle(app, pilot)
        assert names() == ["Ridge", "Summit"]
        assert app.state.notice == "The plan 'Valley' is deleted. u brings it back."
        await pilot.press("u")
        assert names() == ["Ridge", "Summit", "Valley"]
        assert app.state.notice == "Taken back: the plan 'Valley', deleted."
        await pilot.press("u")
        assert names() == ["Copy", "Ridge", "Valley"]
        await pilot.press("u")
        assert names() == ["Ridge", "Valley"]
        await pilot.press("o", "v", "equals_sign")
        await _named(pilot, app, "Ridge")  # taken
        assert "Replace it?" in text_of(app)
        await pilot.press("w", "enter")
        await settle(app, pilot)
        assert names() == ["Ridge"]
        await pilot.press("u")
        assert names() == ["Ridge", "Valley"]
        assert "Run sheet" in kept_plans.file_of("Ridge").read_text(encoding="utf-8")

    run(scenario)


def test_u_takes_back_that_a_plan_was_kept() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "plan")
        await pilot.press("k")
        await _named(pilot, app, "Ridge")
        assert app.state.hours is not None
        assert app.state.hours.plan == "Ridge"
        await pilot.press("u")
        assert kept_plans.all_kept() == ((), ())
        assert app.state.hours.plan == ""
        assert app.state.notice == "Taken back: the plan 'Ridge', kept."

    run(scenario)


def test_the_page_opens_a_file_that_somebody_gave(tmp_path: Path) -> None:
    given = kept_plans.keep(replace(RIDGE, start="2026-03-20T06:00:00Z")).rename(tmp_path / "given.toml")
    (tmp_path / "broken.toml").write_text("name = ", encoding="utf-8")

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "plan")
        await pilot.press("o", "enter")  # nothing is kept: the one entry
        await _named(pilot, app, str(tmp_path / "broken.toml"))
        assert "not complete TOML" in " ".join(text_of(app).split())
        await pilot.press(*["backspace"] * 200)
        await _named(pilot, app, str(given))
        assert app.state.hours is not None
        assert app.state.hours.plan == RIDGE.name
        assert app.state.hours.start == RIDGE.begin

    run(scenario)
