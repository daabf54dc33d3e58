"""`bandwhen friends`, from adding to removing, in its three forms."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

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
