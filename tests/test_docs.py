"""The documents keep pace: commands, options, settings and modules stand where a reader looks for them."""

from __future__ import annotations

import argparse
import re
import shlex
import tomllib
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from textual.binding import Binding

from propagation.base.strict_toml import keys_of
from propagation.geo.locator import position_of
from propagation.station import station
from propagation.station.far_ends import WhoAnswers
from tui import cli
from tui.app import clock, help_topics, paths, settings
from tui.app.feature_list import PAGES, load
from tui.features.stations.command import template
from tui.kit.page_lines import key_sign

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def _parsers(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The parser of every command and action, by its words after the program's name."""
    found = {}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, child in action.choices.items():
                found[name] = child
                found |= {f"{name} {below}": deeper for below, deeper in _parsers(child).items()}
    return found


PARSERS = _parsers(cli.build_parser())
COMMANDS_TOPIC = help_topics.topic_lines("commands")
STATION_TOPIC = "\n".join(help_topics.topic_lines("station"))


@pytest.mark.parametrize("words", PARSERS)
def test_every_command_and_action_stands_in_the_help(words: str) -> None:
    command, _, action = words.partition(" ")
    assert any(line.split()[:1] == [command] for line in COMMANDS_TOPIC), f"no line for {command}"
    assert not action or any(re.search(rf"\b{action}\b", line) for line in COMMANDS_TOPIC), words
    own = help_topics.command_help(command)
    assert own[0].startswith(f"usage: bandwhen {command}")
    assert not action or any(line.startswith(f"usage: bandwhen {words}") for line in own), words


def test_every_topic_has_text() -> None:
    for topic in help_topics.TOPICS:
        assert len(help_topics.topic_lines(topic)) > 5, topic


@pytest.mark.parametrize("words", PARSERS)
def test_every_option_explains_itself(words: str) -> None:
    for action in PARSERS[words]._actions:
        if action.option_strings and not isinstance(action, argparse._SubParsersAction):
            assert action.help, f"{words} {action.option_strings} has no help"


def test_common_options_stand_in_the_help() -> None:
    text = "\n".join(COMMANDS_TOPIC)
    several = ("json", "plain", "station", "ssn", "flux", "kp", "snr", "now", "long", "frequency")
    for word in (f"--{name}" for name in several):
        assert word in text, word


def test_every_setting_and_variable_stands_in_the_help() -> None:
    for word in (*(item.name for item in fields(settings.Settings)), paths.HOME_VARIABLE, clock.NOW_VARIABLE):
        assert re.search(rf"\b{word}\b", STATION_TOPIC), word


def test_every_key_of_the_screens_stands_in_the_help() -> None:
    told = {line.strip().partition(":")[0] for line in help_topics.topic_lines("keys")}
    told |= {part for line in told for part in line.split(" or ")}
    for entry in PAGES:
        assert entry.key in told, f"{entry.key}: {entry.label}"
        for binding in load(entry.screen).BINDINGS:
            assert isinstance(binding, Binding)
            assert key_sign(binding.key.split(",")[0]) in told, f"{binding.key}: {binding.description}"


def test_every_table_of_the_station_file_stands_in_the_help() -> None:
    for item in fields(station.Station):
        if item.name != "name":
            assert f"[{item.name}]" in STATION_TOPIC


def test_readme_and_developers_are_short() -> None:
    """A reader sees all of either at once: 6,000 and 9,000 characters."""
    assert len(README) <= 6000
    assert len(DEVELOPERS) <= 9000


def test_the_station_template_is_valid_and_explains_the_usual_keys() -> None:
    text = template("KG40rs")
    read = station.loads(text, "template")
    assert read.site.position == position_of("KG40rs")
    for table, record in (("rig", station.Rig), ("limits", station.LicenceLimits), ("people", WhoAnswers)):
        for key in keys_of(record):
            assert re.search(rf"^#? ?{key} =", text, re.MULTILINE), f"[{table}] {key}"
    for key in ("ground", "noise", "itu_region", "time_zone", "height_m", "horizon_deg", "permittivity"):
        assert re.search(rf"^#? ?{key} =", text, re.MULTILINE), key


def test_a_key_commented_out_in_the_template_is_a_valid_one() -> None:
    """Uncommenting any line gives a file that is still read."""
    lines = template("KG40rs").splitlines()
    tried = 0
    for number, line in enumerate(lines):
        if re.match(r"# \w+ = ", line) and "permittivity" not in line and "conductivity" not in line:
            changed = [*lines[:number], line.removeprefix("# "), *lines[number + 1 :]]
            station.loads("\n".join(changed), f"line {number + 1}")
            tried += 1
    assert tried >= 7


def test_every_dependency_has_its_reason() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for requirement in project["dependencies"]:
        name = re.split(r"[^\w-]", requirement)[0]
        assert f"| {name} |" in DEVELOPERS, requirement


def test_every_data_file_has_its_provenance() -> None:
    folder = ROOT / "propagation" / "data"
    told = "\n".join(file.read_text(encoding="utf-8") for file in folder.glob("*.provenance.md"))
    for file in folder.iterdir():
        if file.suffix in (".npz", ".tsv", ".csv", ".json"):
            assert file.name in told, file.name


def test_every_fixture_has_its_provenance() -> None:
    told = (ROOT / "fixtures" / "README.md").read_text(encoding="utf-8")
    for entry in (ROOT / "fixtures").iterdir():
        if entry.name != "README.md":
            assert f"`{entry.name}" in told, entry.name


def test_the_two_commands_of_the_readme_are_first_and_whole() -> None:
    run, test = re.findall(r"^```\n(.+)\n```", README, re.MULTILINE)[:2]
    assert run.endswith("&& .venv/bin/bandwhen")
    assert test.endswith('&& .venv/bin/python -m pytest -n auto -m "not slow"')
    assert README.index("## Run") < README.index("## Test")


def test_what_the_readmes_test_command_leaves_out_runs_before_a_change_is_kept() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert re.search(r"^\.venv/bin/python -m pytest -n auto -m slow$", script, re.MULTILINE)
    options = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["pytest"]
    assert "-m" not in options["ini_options"]["addopts"].split()


def test_the_three_things_to_try_give_the_answers_shown(bandwhen: Callable[..., Any]) -> None:
    """Each command of README's block, from a fresh home, prints the indented line under it."""
    block = README[README.index("## Three things to try") :].split("```")[1].strip()
    shown = re.findall(r"^(bandwhen .+)\n  (.+)$", block, re.MULTILINE)
    assert len(shown) == 3
    for command, answer in shown:
        found = bandwhen(*shlex.split(command)[1:])
        assert found.code == 0
        assert " ".join(answer.split()) in " ".join(found.out.split()), command
