"""`bandwhen advise --or-from`: the same day from another place beside it, told and in JSON."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from test_advise import FAR, STATION

from propagation.logbook import kept_offset
from propagation.station.station import load
from tui.app import learnt_store

Run = Callable[..., Any]


@pytest.fixture
def station(tmp_path: Path) -> str:
    """A dipole and 100 W of Morse in the south of Africa."""
    file = tmp_path / "station.toml"
    file.write_text(STATION, encoding="utf-8")
    return str(file)


def advice_of(bandwhen: Run, *arguments: str) -> Any:
    answer = bandwhen(*arguments)
    assert answer.code == 0, answer.err
    return answer.json


def test_another_place_stands_beside_the_day_and_nothing_else_of_the_answer_changes(
    bandwhen: Run, station: str
) -> None:
    asked_for = ("advise", "--station", station, "--json")
    alone = advice_of(bandwhen, *asked_for, *FAR)
    both = advice_of(bandwhen, *asked_for, *FAR, "--or-from", "Tokyo")
    there = advice_of(bandwhen, *asked_for, *FAR, "--from", "Tokyo")
    beside = both.pop("beside")
    assert both == alone
    assert beside["name"] == "Tokyo"
    assert (beside["lat_deg"], beside["lon_deg"]) == (there["site"]["lat_deg"], there["site"]["lon_deg"])
    for row, own in zip(beside["bands"], there["bands"], strict=True):
        assert (row["band"], row["usable"], row["times"]) == (own["band"], own["usable"], own["times"])
        assert row["outlook"] == own["chance"]  # of a place the outlook is the share of days
    hours = beside["contact_hours"]
    for side, answer in (("here", alone), ("beside", there)):
        best = np.max([row["chance"] for row in answer["bands"]], axis=0)
        by_hand = float(np.sum((best[1:] + best[:-1]) / 2.0) / 6.0)  # every ten minutes
        assert hours[side] == pytest.approx(by_hand, abs=0.05)
    assert beside["expected_contacts"] == {"here": None, "beside": None}
    more = abs(hours["here"] - hours["beside"])
    assert more > 1.0
    assert beside["better"] == max(hours, key=hours.__getitem__)
    assert f"{more:.1f} hours of contact more than" in beside["words"][0]


def test_the_hours_of_both_places_are_told_side_by_side(bandwhen: Run, station: str) -> None:
    command = ("advise", "--station", station, *FAR, "--or-from", "London")
    found = bandwhen(*command, "--json").json
    text, plain = bandwhen(*command).out.splitlines(), bandwhen(*command, "--plain").out.splitlines()
    head = next(n for n, line in enumerate(text) if line.startswith("UTC") and "20m" in line)
    bands = text[head].split()[1:]
    rows = [line.split() for line in text[head + 1 : head + 25]]
    assert [row[0] for row in rows] == [f"{hour:02d}:00" for hour in range(24)]
    here = {row["band"]: row["chance"] for row in found["bands"]}
    there = {row["band"]: row["outlook"] for row in found["beside"]["bands"]}
    for hour, row in enumerate(rows):
        for band, cell in zip(bands, row[1:], strict=True):
            chances = 10.0 * here[band][6 * hour], 10.0 * there[band][6 * hour]
            for told, tenths in zip(cell.split("/"), chances, strict=True):
                assert tenths < 1.0 if told == "·" else int(told) == pytest.approx(tenths, abs=0.51)
    left_out = set(here) - set(bands)
    assert all(max(*here[band][::4], *there[band][::4]) < 0.1 for band in left_out)
    assert max(len(line) for line in text) <= 100
    assert found["beside"]["words"][0] in plain
    assert any(line.startswith("12:00: ") and " against " in line for line in plain)


@pytest.mark.slow
def test_a_region_is_told_by_its_contacts_and_the_same_place_is_alike(bandwhen: Run, station: str) -> None:
    command = ("advise", "--station", station, "--to", "Europe", "--date", "2026-03-20", "--json")
    same = bandwhen(*command, "--or-from", "KG40").json["beside"]
    assert same["better"] is None
    assert "about equal" in same["words"][0]
    near = bandwhen(*command, "--or-from", "Paris").json["beside"]
    contacts = near["expected_contacts"]
    assert near["better"] == max(contacts, key=contacts.__getitem__)
    assert near["contact_hours"] == {"here": None, "beside": None}
    rates = [row["rate_per_hour"] for row in near["bands"]]
    best = np.max(rates, axis=0)
    by_hand = float(np.sum((best[1:] + best[:-1]) / 2.0) / 6.0)  # every ten minutes
    assert contacts["beside"] == pytest.approx(by_hand, rel=0.01)
    more = round(abs(contacts["here"] - contacts["beside"]))
    assert f"some {more:,} contacts more" in near["words"][0]


def test_what_a_log_taught_is_told_to_be_on_one_side_only(bandwhen: Run, station: str) -> None:
    lesson = kept_offset.Learnt(
        bands=(kept_offset.LearntBand("15m", -10.0, 1.0),), setup=kept_offset.setup_mark(load(station))
    )
    command = ("advise", "--station", station, *FAR, "--or-from", "London", "--plain")
    assert "has taught is in the numbers" not in bandwhen(*command).out
    kept_offset.save(lesson, learnt_store.learnt_file(station))
    told = "What your log has taught is in the numbers of Here alone; it has taught nothing of London."
    assert told in bandwhen(*command).out


def test_a_place_unknown_is_one_sentence(bandwhen: Run, station: str) -> None:
    answer = bandwhen("advise", "--station", station, *FAR, "--or-from", "Atlantis Beach")
    assert (answer.code, answer.out) == (2, "")
    assert "Atlantis Beach" in answer.err
