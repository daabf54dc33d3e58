"""`bandwhen friends`, from adding to removing, in its three forms."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tui import cli

ROOT = Path(__file__).resolve().parents[2]


def test_add_list_remove(bandwhen: Callable[..., Any], home: Path) -> None:
    demo = bandwhen("friends", "list")
    assert demo.code == 0
    assert "demo" in demo.err
    added = bandwhen(
        "friends", "add", "Ana [QRP]", "GF25", "--words", "5 W dipole at 6 m", "--awake", "18:00-23:00"
    )
    assert added.code == 0, added.err
    assert "America/Montevideo" in added.out
    listed = bandwhen("friends", "list", "--json").json["friends"]
    assert [friend["name"] for friend in listed] == ["Ana [QRP]"]
    assert listed[0]["station"] is None
    assert "Ana [QRP]: at GF25; 5 W dipole at 6 m" in bandwhen("friends", "list", "--plain").out
    assert "Ana [QRP]" in bandwhen("friends", "list").out
    assert bandwhen("friends", "remove", "ana qrp").code == 0
    assert bandwhen("friends", "list", "--json").json == {"friends": []}
    assert "Nobody" in bandwhen("friends", "list").out


def test_a_station_file_is_checked_and_kept_by_its_full_path(bandwhen: Callable[..., Any]) -> None:
    file = ROOT / "fixtures" / "demo" / "friend.toml"
    assert bandwhen("friends", "add", "Bea", "Durban", "--file", str(file)).code == 0
    assert bandwhen("friends", "list", "--json").json["friends"][0]["station"] == str(file)


@pytest.mark.parametrize(
    ("arguments", "hint"),
    [
        (("add", "Ana", "Nowheria"), "not a place"),
        (("add", "Ana", "KG30", "--file", "missing.toml"), "no file"),
        (("add", "Ana", "KG30", "--time-zone", "Mars"), "time zone"),
        (("remove", "Ana"), "no friend"),
        ((), "--help"),
    ],
)
def test_mistakes_are_one_sentence(
    bandwhen: Callable[..., Any], home: Path, arguments: tuple[str, ...], hint: str
) -> None:
    answer = bandwhen("friends", *arguments)
    assert answer.code == 2
    assert hint in answer.err
    assert not (home / "config" / "friends.toml").exists()


def test_friends_come_before_places_of_their_name(bandwhen: Callable[..., Any]) -> None:
    for name, place in (("Rosebank", "GF25"), ("KG", "IO91")):  # a suburb, and a locator field
        assert bandwhen("friends", "add", name, place).code == 0
    far = bandwhen("path", "--from", "KG40", "--to", "rosebank", "--json").json
    assert far["to"] == "Rosebank, GF25"
    near = bandwhen("path", "--from", "KG", "--to", "GF25", "--json").json
    assert near["from"] == "KG, IO91"
    assert bandwhen("sky", "--place", "KG", "--json").json["place"] == "KG, IO91"
    assert bandwhen("sky", "--at", "KG40", "--json").json["place"] == "KG40"  # the old name of the option
    assert bandwhen("advise", "--to", "KG", "--hours", "1", "--json").json["target"]["name"] == "KG"


SKY = ("--ssn", "60")
AT_NOON = ("--band", "20m", "--at", "12:00", *SKY)
MONTH = ("--months", "1", *SKY)
EVENING = ("--start", "2026-03-20T18:00Z", "--hours", "1", *SKY)
WITH_FRIEND = {  # every option that takes a place or a target, with a friend's name
    ("advise", "--to"): ("--to", "Grandma", *SKY),
    ("advise", "--from"): ("--to", "KG30", "--from", "Grandma", *SKY),
    ("advise", "--or-from"): ("--to", "KG30", "--or-from", "Grandma", *SKY),
    ("why", "--to"): ("--to", "Grandma", *AT_NOON),
    ("why", "--from"): ("--to", "KG30", "--from", "Grandma", *AT_NOON),
    ("season", "--to"): ("--to", "Grandma", *MONTH),
    ("season", "--from"): ("--to", "KG30", "--from", "Grandma", *MONTH),
    ("season", "--or-from"): ("--to", "KG30", "--or-from", "Grandma", *MONTH),
    ("plan", "--to"): ("--to", "Grandma", *EVENING),
    ("plan", "--from"): ("--to", "KG30", "--from", "Grandma", *EVENING),
    ("sked", "--to"): ("--to", "Grandma", *SKY),
    ("sked", "--from"): ("--to", "KG30", "--from", "Grandma", *SKY),
    ("sky", "--place"): ("--at", "Grandma", "--time", "12:00", *SKY),
    ("path", "--from"): ("--from", "Grandma", "--to", "KG30", "--time", "12:00", *SKY),
    ("path", "--to"): ("--from", "KG30", "--to", "Grandma", "--time", "12:00", *SKY),
    ("antenna", "--to"): ("--improve", "--to", "Grandma"),
    ("review", "--to"): ("LOG", "--to", "Grandma"),
    ("conditions heard", "--to"): ("--to", "Grandma", "--band", "20m"),
    ("station new", "--place"): ("FILE", "--place", "Grandma"),
}


def place_options(parser: argparse.ArgumentParser, command: str = "") -> set[tuple[str, str]]:
    """Command and option, wherever the help says PLACE, TARGET or WHO."""
    found = set()
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, one in action.choices.items():
                found |= place_options(one, f"{command} {name}".strip())
        elif action.metavar in ("PLACE", "TARGET", "WHO") and action.option_strings:
            found.add((command, action.option_strings[0]))
    return found


def test_the_table_has_every_option_that_takes_a_place() -> None:
    assert place_options(cli.build_parser()) == set(WITH_FRIEND)


@pytest.mark.parametrize(
    "option",
    [
        pytest.param(one, id=" ".join(one), marks=[pytest.mark.slow] if one[0] == "antenna" else [])
        for one in WITH_FRIEND
    ],
)
def test_every_place_may_be_a_friend_by_name(
    bandwhen: Callable[..., Any], tmp_path: Path, option: tuple[str, str]
) -> None:
    """Grandma is no place: an option that does not know friends refuses her with exit code 2."""
    log = tmp_path / "log.adi"
    log.write_text(
        "<EOH>\n<CALL:7>ZS1TEST<QSO_DATE:8>20260314<TIME_ON:4>1210<BAND:3>20m<MODE:2>CW"
        "<GRIDSQUARE:4>JF96<EOR>\n",
        encoding="utf-8",
    )
    bandwhen("friends", "add", "Grandma", "GF25")
    given = {"LOG": str(log), "FILE": str(tmp_path / "new.toml")}
    command = option[0].split()
    found = bandwhen(*command, *(given.get(one, one) for one in WITH_FRIEND[option]))
    assert found.code in (0, 3), found.err
    assert "Grandma" not in found.err or found.code == 0
