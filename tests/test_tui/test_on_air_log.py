"""Log of an outing on the screen: a line typed, corrections, removals, undo, and what a crash leaves."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import synthetic
from screen_text import go, run, settle, text_of
from test_on_air_page import engine_with, write
from textual.pilot import Pilot
from textual.widgets import Input

from propagation.logbook import adif
from propagation.logbook.journal import Made, Worked
from propagation.wording import quantities as say
from tui.app import outing_journal
from tui.app import outing_log as on_air
from tui.app.app import BandwhenApp
from tui.app.choice import HoursOnAir
from tui.features.outing.entry import ContactLine

ROOT = Path(__file__).resolve().parents[2]
MINUTE = np.timedelta64(60, "s")


def until_killed(command: list[str], lines: int) -> list[str]:
    """All that a program says until it is killed after so many lines."""
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as child:
        assert child.stdout is not None
        told = [child.stdout.readline().strip() for _ in range(lines)]
        os.kill(child.pid, signal.SIGKILL)
        return [*told, *(line.strip() for line in child.stdout.read().splitlines())]


def test_killed_at_any_moment_every_contact_that_was_told_of_is_there(tmp_path: Path) -> None:
    """A child writes contacts and says each when it is written; killed, its log has all it said."""
    program = (
        "import sys; from pathlib import Path; from propagation.base import files\n"
        "from propagation.logbook import journal; import numpy as np\n"
        "file = Path(sys.argv[1])\n"
        "for n in range(100000):\n"
        "    at = np.datetime64('2026-03-20T12:00:00', 's')\n"
        "    one = journal.Worked(f'ZS{n % 10}T{n:05d}', '59', '59', at, '20m', 14.2, 'SSB', 5.0)\n"
        "    files.append(file, journal.record(one), journal.header())\n"
        "    print(one.call, flush=True)\n"
    )
    for turn in range(3):
        file = tmp_path / f"{turn}.adi"
        told = until_killed([sys.executable, "-c", program, str(file)], 5 + 7 * turn)
        log = adif.read(file.read_bytes())
        there = {record.fields["CALL"] for record in log.records}
        whole = [call for call in told if len(call) == 9]
        assert len(whole) >= 5
        assert set(whole) <= there


LOG_AT_WORK = """
import json, sys
from dataclasses import replace
import numpy as np
from propagation.logbook.journal import Worked
from tui.app import outing_log
from tui.app.choice import HoursOnAir
from pathlib import Path

file, at = Path(sys.argv[1]), np.datetime64("2026-03-20T12:00:00", "s")
hours = HoursOnAir(at, 4.0, log=str(file))
record, left = b"", []
for n in range(100000):
    one, made = Worked(f"ZS1T{n}", "59", "59", at, "20m", None, "SSB", 5.0), outing_log.made(hours)
    if n % 5 < 2:
        outing_log.write_contact(hours, one)
    elif n % 5 == 2:
        outing_log.change_contact(file, made[-1], replace(one, call=made[-1].call, note=f"note {n}"))
    elif n % 5 == 3:
        left = [made[0].call, made[0].fields.get("COMMENT", "")]
        record = outing_log.remove_contact(file, made[0])
    else:
        outing_log.put_back(file, record)
    there = [[one.call, one.fields.get("COMMENT", "")] for one in outing_log.made(hours)]
    print(json.dumps([n, there, left]), flush=True)
"""


def after_one_more(n: int, there: list[list[str]], left: list[str]) -> list[list[str]]:
    """The log after the change that follows change `n`."""
    following = (n + 1) % 5
    if following < 2:
        return [*there, [f"ZS1T{n + 1}", ""]]
    if following == 2:
        return [*there[:-1], [there[-1][0], f"note {n + 1}"]]
    return there[1:] if following == 3 else [*there, left]


def test_killed_at_any_moment_every_correction_removal_and_undo_that_was_told_of_is_kept(
    tmp_path: Path,
) -> None:
    """The log of a child that is killed is the one it told of last, or the one after the next change."""
    for turn in range(5):
        file = tmp_path / f"{turn}.adi"
        said = until_killed([sys.executable, "-c", LOG_AT_WORK, str(file)], 5 + turn)
        whole = [line for line in said if line.endswith("]]")]
        n, there, left = json.loads(whole[-1])
        hours = replace(HoursOnAir(synthetic.NOW, 4.0), log=str(file))
        found = [[one.call, one.fields.get("COMMENT", "")] for one in on_air.made(hours)]
        assert found in (there, after_one_more(n, there, left)), (turn, n)
        on_air.write_contact(hours, Worked("ZS9TEST", "59", "59", synthetic.NOW, "20m", None, "SSB", 5.0))
        assert [one.call for one in on_air.made(hours)] == [*(call for call, _ in found), "ZS9TEST"]


def test_the_journal_names_the_log_before_its_first_contact_is_written(monkeypatch: Any) -> None:
    """A crash between the two leaves a contact that the page shows again."""
    named: list[str] = []

    def put_back(file: Path, record: bytes) -> None:
        hours, _ = outing_journal.load(synthetic.NOW)
        named.append(hours.log if hours is not None else "")
        whole(file, record)

    whole = on_air.put_back
    monkeypatch.setattr(on_air, "put_back", put_back)

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await write(app, pilot, "zs1test")
        assert app.state.hours is not None
        assert named == [app.state.hours.log]

    run(scenario, engine=engine_with())


@pytest.mark.parametrize(
    "face", [say.ClockFace(ZoneInfo("Africa/Johannesburg"), local) for local in (False, True)]
)
def test_a_time_over_midnight_is_the_last_one_before_now(face: say.ClockFace) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        say.set_clock_face(face)
        choice, hours = app.state.choice, app.state.hours
        assert choice is not None
        assert hours is not None
        for now, typed, wanted in (
            ("2026-03-14T00:10", "2355z", "2026-03-13T23:55"),
            ("2026-03-14T23:50", "0005z", "2026-03-14T00:05"),
            ("2026-03-14T22:30", "0015 local", "2026-03-14T22:15"),
            ("2026-03-14T21:59", "2350 local", "2026-03-14T21:50"),
            ("2026-03-14T22:01", "2350 local", "2026-03-14T21:50"),
        ):
            app.clock = lambda now=now: np.datetime64(now, "s")  # type: ignore[misc]
            line = ContactLine(app, choice, hours, "20m")
            assert line.worked(f"zs1test {typed}").time == np.datetime64(wanted, "s"), (now, typed)
        old = Made("ZS1TEST", "20m", np.datetime64("2026-03-13T23:50", "s"), "59", "59")
        corrected = ContactLine(app, choice, hours, "20m", old)
        assert corrected.worked("zs1test 0010z").time == np.datetime64("2026-03-14T00:10", "s")
        assert corrected.worked("zs1test 2340z").time == np.datetime64("2026-03-13T23:40", "s")

    run(scenario, engine=engine_with())


def test_the_log_keeps_its_name_when_the_plan_is_made_again() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await write(app, pilot, "zs1test")
        hours = app.state.hours
        assert hours is not None
        moved = replace(hours, start=hours.start + 30 * MINUTE)
        assert on_air.log_file(outing_journal.carried_over(hours, moved)) == Path(hours.log)

    run(scenario, engine=engine_with())


def log_of(app: BandwhenApp) -> list[dict[str, str]]:
    hours = app.state.hours
    assert hours is not None
    log = adif.read(Path(hours.log).read_bytes())
    assert log.problems == () or not log.records
    return [record.fields for record in log.records]


async def type_in(app: BandwhenApp, pilot: Pilot[None], line: str) -> None:
    app.screen.query_one(Input).value = line
    await settle(app, pilot)


def test_one_line_takes_everything_and_says_before_enter_how_it_was_understood() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("c")
        await type_in(app, pilot, "40m zs0abc 0912 599 579 Thandi, zz/ab-001 first one today")
        shown = " ".join(text_of(app).split())
        assert "ZS0ABC on 40 m at 09:12 UTC, sent 599, received 579, name Thandi, ZZ/AB-001, note:" in shown
        assert app.state.hours is None or not app.state.hours.log, "nothing is written before Enter"
        await pilot.press("enter")
        await settle(app, pilot)
        (fields,) = log_of(app)
        assert (fields["BAND"], fields["TIME_ON"], fields["NAME"]) == ("40m", "091200", "Thandi")
        assert (fields["SOTA_REF"], fields["COMMENT"]) == ("ZZ/AB-001", "first one today")
        assert "FREQ" not in fields, "none was typed"
        assert len(fields["MY_GRIDSQUARE"]) == 6
        await pilot.press("c")
        await type_in(app, pilot, "zs0abc 2355")
        assert "at 2026-03-13 23:55 UTC" in " ".join(text_of(app).split()), "later than now: yesterday's"

    run(scenario, engine=engine_with())


def test_contacts_stand_in_a_list_and_are_corrected_taken_out_and_put_back() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        for line in ("zs1aaa 1201", "zs2bbb 1202 40m", "zs1aaa 1203"):
            await pilot.press("c")
            await type_in(app, pilot, line)
            await pilot.press("enter")
            await settle(app, pilot)
        await pilot.press("escape")  # the note
        listed = [line for line in text_of(app).splitlines() if "ZS1AAA" in line or "ZS2BBB" in line]
        assert ["DUPLICATE" in line for line in listed[-3:]] == [True, False, False]
        await pilot.press("down", "enter")
        await type_in(app, pilot, app.screen.query_one(Input).value.replace("ZS2BBB", "ZS2BBC"))
        await pilot.press("enter")
        await settle(app, pilot)
        before = log_of(app)
        assert [fields["CALL"] for fields in before] == ["ZS1AAA", "ZS2BBC", "ZS1AAA"]
        await pilot.press("down", "delete")
        await settle(app, pilot)
        assert [fields["CALL"] for fields in log_of(app)] == ["ZS2BBC", "ZS1AAA"]
        await pilot.press("u")
        taken_back = "Taken back: ZS1AAA on 10 m at 12:01 UTC, taken out of the log"
        assert taken_back in " ".join(text_of(app).split())
        assert sorted(map(str, log_of(app))) == sorted(map(str, before))
        await pilot.press("u", "u")
        await settle(app, pilot)
        assert sorted(fields["CALL"] for fields in log_of(app)) == ["ZS1AAA", "ZS2BBB"]

    run(scenario, engine=engine_with())


def test_u_takes_back_the_last_thing_done_whatever_it_was() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        begun = app.state.hours
        await pilot.press("v", "g", "x")
        await settle(app, pilot)
        await pilot.press("b", "down", "enter")
        await settle(app, pilot)
        assert app.state.hours is not None
        assert app.state.hours.band
        await write(app, pilot, "zs1test")
        for word in ("ZS1TEST", "as the band in use", "taken as dead", "heard one way", "no answer"):
            await pilot.press("u")
            await settle(app, pilot)
            assert word in app.state.notice
            assert app.state.notice.startswith("Taken back: ")
        assert log_of(app) == []
        assert app.state.hours == begun
        assert app.state.hours is not None
        assert app.state.hours.marks == ()
        await pilot.press("u")
        assert "nothing to take back" in app.state.notice

    run(scenario, engine=engine_with())


def test_u_takes_back_another_target_mode_and_power() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        begun = app.state.choice
        assert begun is not None
        app.set_target("GF15")
        app.set_mode("CW")
        app.set_power(5.0)
        app.set_power(5.0)
        for word in ("5 W at the rig", "CW as the mode", "GF15 as the target"):
            await pilot.press("u")
            await settle(app, pilot)
            assert word in app.state.notice
        now = app.state.choice
        assert now is not None
        assert (now.target, now.mode, now.power_w) == (begun.target, begun.mode, begun.power_w)
        assert app.chosen.target == begun.target
        await pilot.press("u")
        assert "nothing to take back" in app.state.notice

    run(scenario, engine=engine_with())


def test_after_a_restart_the_latest_is_taken_back_first() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("v")
        await write(app, pilot, "zs1test 1201")

    async def later(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "onair")
        await pilot.press("u")
        assert "no answer on" in app.state.notice
        await pilot.press("u")
        assert "ZS1TEST" in app.state.notice
        assert log_of(app) == []

    run(scenario, engine=engine_with())
    run(later, engine=engine_with())
