"""`bandwhen plan`: the promised keys, the three forms and Markdown, replanning, bad input, exit codes."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from propagation.geo.gazetteer import gazetteer

Run = Callable[..., Any]
STATION = """
name = "test hill"
[site]
locator = "KG40"
[rig]
power_w = 100
mode = "CW"
[antenna]
kind = "dipole"
height_m = 10
[limits]
bands = ["40m", "30m", "20m", "15m", "10m"]
"""
WHEN = ("--start", "2026-03-20T12:00Z", "--hours", "8", "--ssn", "120", "--kp", "2")


@pytest.fixture
def plan(bandwhen: Run, tmp_path: Path) -> Run:
    file = tmp_path / "station.toml"
    file.write_text(STATION, encoding="utf-8")

    def run(*arguments: str) -> Any:
        return bandwhen("plan", "--station", str(file), *arguments)

    return run


def test_the_keys(plan: Run) -> None:
    answer = plan("--to", "KI88", *WHEN, "--json")
    assert answer.code == 0, answer.err
    found = answer.json
    assert {"start", "end", "site", "targets", "mode", "power_w", "conditions", "steps", "gain"} <= set(found)
    assert found["targets"] == ["KI88"]
    steps = found["steps"]
    assert steps[0]["start"] == "2026-03-20T12:00:00Z"
    assert steps[-1]["end"] == "2026-03-20T20:00:00Z"
    for one, other in pairwise(steps):
        assert one["end"] == other["start"]
        assert one["band"] != other["band"]
        assert one["leave"]
    for step in steps:
        assert 0.0 <= step["chance"] <= 1.0
        assert step["contacts"] is None, "a place is one station"
        assert step["setup"]
        assert step["band"] in ("40m", "30m", "20m", "15m", "10m")
    np.testing.assert_allclose(sum(step["reward_minutes"] for step in steps), found["reward_minutes"])
    assert found["gain_minutes"] == pytest.approx(found["reward_minutes"] - found["single"]["reward_minutes"])
    assert {row["band"] for row in found["left_out"]} >= {"80m", "6m"}


def test_the_forms_say_the_same(plan: Run) -> None:
    found = plan("--to", "KI88", *WHEN, "--json").json
    forms = [plan("--to", "KI88", *WHEN, *more) for more in ((), ("--plain",), ("--markdown",))]
    for form in forms:
        assert form.code == 0
        assert "2026-03-20" in form.out
        assert "sunspot number 120" in form.out
        flat = " ".join(form.out.split())
        assert found["gain"] in flat
        for step in found["steps"]:
            assert step["start"][11:16] in form.out
    text, plain, markdown = (form.out for form in forms)
    assert all(len(line) <= 100 for line in text.splitlines())
    assert "|" not in plain
    assert markdown.startswith("# Run sheet")
    assert "Cautions" in text


def test_anyone_is_meant_when_nobody_is_named(plan: Run) -> None:
    found = plan("--start", "2026-03-20T12:00Z", "--hours", "2", "--ssn", "120", "--json").json
    assert found["targets"] == ["anyone"]
    countries = {region.name for region in gazetteer().regions if region.kind == "country"}
    assert all(any(name in step["expect"] for name in countries) for step in found["steps"])
    assert all(0.0 <= share <= 1.0 for step in found["steps"] for share in step["share"])


def test_several_targets_are_planned_for_together(plan: Run) -> None:
    found = plan("--to", "KI88", "--to", "KG43", *WHEN, "--json").json
    assert found["targets"] == ["KI88", "KG43"]
    assert all("KI88" in step["expect"] and "KG43" in step["expect"] for step in found["steps"])


def test_a_dead_band_is_planned_round(plan: Run) -> None:
    first = plan("--to", "KI88", *WHEN, "--json").json["steps"][0]["band"]
    again = plan("--to", "KI88", *WHEN, "--dead", first, "--json").json["steps"]
    assert again[0]["band"] != first
    assert again[0]["lost_minutes"] > 0.0  # the station stands on the dead band and must be changed
    for step in again:
        if step["band"] == first:
            assert step["end"] > "2026-03-20T14:00:00Z"


def test_a_used_band_is_worth_less(plan: Run) -> None:
    plain = plan("--to", "KI88", *WHEN, "--json").json
    used = plan("--to", "KI88", *WHEN, "--used", plain["steps"][0]["band"], "--json").json
    assert used["reward_minutes"] < plain["reward_minutes"]


def test_dear_changes_keep_one_band(plan: Run) -> None:
    found = plan("--to", "KI88", *WHEN, "--change", "240", "--json").json
    assert len(found["steps"]) == 1
    assert found["gain"].startswith("Staying on")


def test_nothing_to_plan_is_exit_3_and_says_why(plan: Run) -> None:
    arguments = (
        "--to",
        "JO22",
        "--mode",
        "SSB",
        "--power",
        "0.1",
        "--start",
        "2026-06-20T10:00Z",
        "--ssn",
        "5",
    )
    answer = plan(*arguments)
    assert answer.code == 3
    assert answer.out == ""
    assert answer.err.strip().splitlines()[-1].startswith("Nothing to plan for")
    as_json = plan(*arguments, "--json")
    assert as_json.code == 3
    assert as_json.json["steps"] == []


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--hours", "0"], ["--hours", "0.5"]),
        (["--hours", "48"], ["--hours", "24"]),
        (["--stay", "-1"], ["--stay"]),
        (["--change", "1000"], ["--change", "240"]),
        (["--dead", "25m"], ["'25m'"]),
        (["--used", "x"], ["'x'"]),
        (["--on", "19m"], ["'19m'"]),
        (["--start", "soon"], ["'soon'"]),
        (["--to", "nowhere at all"], ["'nowhere at all'"]),
        (["--mode", "SBB"], ["'SBB'"]),
        (["--power", "-3"], ["--power"]),
    ],
    ids=lambda value: " ".join(value) if value and value[0].startswith("--") else "",
)
def test_bad_input_is_one_sentence(plan: Run, arguments: list[str], words: list[str]) -> None:
    answer = plan(*arguments)
    assert (answer.code, answer.out) == (2, "")
    last = answer.err.strip().splitlines()[-1]
    for word in words:
        assert word in last


def test_contacts_with_a_region_add_up(plan: Run) -> None:
    found = plan("--to", "Europe", *WHEN, "--json").json
    total, steps = found["contacts"], found["steps"]
    assert 0.0 <= total["low"] <= total["middle"] <= total["high"]
    assert sum(step["contacts"] for step in steps) == pytest.approx(total["middle"])
    for step in steps:
        assert step["contacts"] == step["contacts_range"]["middle"]
        assert step["contacts_range"]["low"] <= step["contacts"] <= step["contacts_range"]["high"]
    assert found["gain_contacts"] == pytest.approx(total["middle"] - found["single"]["contacts"])
    alone = {one["band"]: one["contacts"] for one in found["alternatives"]}
    assert alone[found["single"]["band"]] == pytest.approx(found["single"]["contacts"])
    for changed in steps[1:]:
        assert changed["change_contacts"]["wins"] > changed["change_contacts"]["costs"]
    told = plan("--to", "Europe", *WHEN).out
    assert f"About {round(total['middle'])} contacts (" in told


def test_a_place_has_no_number_of_contacts(plan: Run) -> None:
    found = plan("--to", "KI88", *WHEN, "--json").json
    assert found["contacts"] == {"low": None, "middle": None, "high": None}
    assert found["total"].startswith("KI88: ")
    assert found["alternatives"] == []
