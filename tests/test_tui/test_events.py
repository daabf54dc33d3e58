"""A stored flare or proton event on `advise`, on `why` and on the day's page: the cause first, then what to
do, and chances that hold it for as long as it lasts.

The path is 1460 km from mid France to Hungary, at noon at the equinox, in full daylight; the polar one runs
from Iceland over the cap to Alaska.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import synthetic

from tui.kit import words

Run = Callable[..., Any]
SUNLIT = ("--from", "45.0,2.0", "--to", "48.0,20.0", "--mode", "SSB")
POLAR = ("--from", "64.1,-21.9", "--to", "64.8,-147.7", "--power", "100", "--mode", "DIGITAL")
DARK = ("--from", "-37.0,175.0", "--to", "-33.0,151.0", "--mode", "SSB")
AT = "2026-03-20T12:00Z"


@pytest.fixture
def flare(bandwhen: Run) -> Run:
    """The program, with a class X1 flare typed in for now."""
    assert bandwhen("conditions", "set", "--flux", "150", "--k", "2", "--flare", "X1").code == 0
    return bandwhen


@pytest.fixture
def protons(bandwhen: Run) -> Run:
    """The program, with an S3 proton event typed in for now."""
    assert bandwhen("conditions", "set", "--flux", "150", "--k", "2", "--protons", "1000").code == 0
    return bandwhen


def chances(answer: Any, band: str) -> tuple[list[str], list[float]]:
    """Limits and chances of a band over the times."""
    row = next(one for one in answer.json["bands"] if one["band"] == band)
    return row["limit"], row["chance"]


def test_why_names_the_flare_before_the_chance(flare: Run) -> None:
    """X1 is R3 of the public scale, a wide-area blackout for about an hour: 20 m is lost to voice."""
    why = flare("why", *SUNLIT, "--band", "20m", "--at", AT, "--json").json
    assert why["limit"] == "flare"
    assert why["chance"] < 0.5
    event = why["event"]
    assert (event["kind"], event["size"]) == ("flare", "X1.0")
    assert "20m" in event["taken"]
    assert 12.0 < event["cost_db"]["20m"] < 25.0
    until = np.datetime64(event["until"].rstrip("Z")) - np.datetime64(AT.rstrip("Z"))
    assert np.timedelta64(20, "m") <= until <= np.timedelta64(100, "m")
    text = flare("why", *SUNLIT, "--band", "20m", "--at", AT, "--plain").out
    verdict = next(line for line in text.splitlines() if line.startswith("20 m to 48.0,20.0 at"))
    assert verdict.index("solar flare (class X1.0)") < verdict.index("meanwhile")
    assert "nearly every day" not in verdict
    said = next(line for line in text.splitlines() if line.startswith("A solar flare (class X1.0) blocks"))
    assert "wait until about 1" in said
    assert "paths on the night side are not affected" in said
    assert text.index(said) < text.index(verdict)
    assert "absorption by the solar flare: -" in text


def test_advise_holds_the_flare_for_an_hour_and_says_so_first(flare: Run) -> None:
    asked = ("advise", *SUNLIT, "--start", "11:30", "--hours", "4")
    answer = flare(*asked, "--json")
    limit, chance = chances(answer, "20m")
    at_noon, before, later = 3, 2, 15  # 12:00, 11:50, 14:00
    assert limit[at_noon] == "flare"
    assert chance[at_noon] < chance[before] - 0.3
    assert chance[later] > chance[at_noon] + 0.3
    assert "flare" not in limit[later:]
    assert answer.json["event"]["kind"] == "flare"
    heading, _, rest = flare(*asked).out.partition(" local)\n")
    assert "11:30 to 15:30 UTC (12:30\nto 16:30" in heading
    assert rest.startswith("A solar flare (class X1.0) blocks")


def test_a_flare_leaves_the_night_side_and_its_time_alone(flare: Run, bandwhen: Run) -> None:
    assert flare("why", *DARK, "--band", "40m", "--at", AT, "--json").json["event"] is None
    late = flare("why", *SUNLIT, "--band", "20m", "--at", "2026-03-20T15:30Z", "--json").json
    assert late["event"] is None
    assert late["limit"] == "open"


def test_a_band_that_stays_open_is_told_its_cost(flare: Run) -> None:
    why = flare("why", *SUNLIT, "--mode", "DIGITAL", "--band", "17m", "--at", AT, "--plain").out
    verdict = next(line for line in why.splitlines() if line.startswith("17 m to 48.0,20.0 at"))
    assert "dB of the signal until about" in verdict
    assert "open despite it" in verdict


def test_protons_take_the_polar_path(protons: Run) -> None:
    """S3 lasts for hours to days and takes the bands over the cap; there is no hour to wait for."""
    answer = protons("advise", *POLAR, "--start", "12:00", "--hours", "12", "--json")
    event = answer.json["event"]
    assert (event["kind"], event["size"], event["until"]) == ("polar cap", "S3", None)
    limit, chance = chances(answer, "20m")
    assert "polar cap" in limit
    assert max(chance) < 0.05
    text = protons("advise", *POLAR, "--start", "12:00", "--hours", "12").out.replace("\n", " ")
    assert "Solar protons (S3) over the polar cap block" in text
    assert "they last for hours to days" in text
    assert "paths away from the poles are not affected" in text


def test_why_names_the_protons(protons: Run) -> None:
    at = protons("advise", *POLAR, "--start", "12:00", "--hours", "12", "--json").json["event"]
    band = at["taken"][-1]
    asked = ("why", *POLAR, "--band", band, "--at", at["time"])
    why = protons(*asked, "--json").json
    assert why["limit"] == "polar cap"
    assert why["causes"][0]["cause"] == "polar cap"
    text = protons(*asked, "--plain").out
    assert "solar protons (S3) over the polar cap absorb all of the signal for hours to days" in text
    assert "no solar protons" in text


def test_protons_leave_the_middle_latitudes(protons: Run) -> None:
    assert protons("why", *SUNLIT, "--band", "20m", "--at", AT, "--json").json["event"] is None


def test_the_day_page_says_the_cause_first(flare: Run) -> None:
    lines = flare("--plain").out.splitlines()
    event = next(i for i, line in enumerate(lines) if line.startswith("A solar flare (class X1.0)"))
    answer = next(i for i, line in enumerate(lines) if line.startswith("At 12:00 UTC (14:00 local):"))
    assert event == answer - 1
    assert "wait until about" in lines[event]


def test_a_quiet_day_says_nothing_of_events(bandwhen: Run) -> None:
    assert bandwhen("advise", *SUNLIT, "--start", "11:30", "--hours", "1", "--json").json["event"] is None
    for told in (bandwhen("--plain").out, bandwhen("why", *SUNLIT, "--band", "20m", "--at", AT).out):
        assert "flare" not in told
        assert "protons" not in told


def test_the_headline_begins_with_the_event() -> None:
    """The page's three lines: the event, then the band; without one, the band as ever."""
    day = synthetic.day_view()
    plain = words.answer(day, 10)
    short = "Flare X1.0 blocks 80 to 20 m until about 13:10"
    on = replace(day, events=((short, f"{short}."),) * day.times.size)
    found = words.answer(on, 10)
    assert found.lines == (short, *plain.lines)
    assert found.band == plain.band
    told = words.day_sentences(on, 10)
    calm = words.day_sentences(day, 10)
    at = told.index(f"{short}.")
    assert told[at + 1].startswith("At ")
    assert [*told[:at], *told[at + 1 :]] == calm


def test_the_cell_at_the_cursor_names_the_event_before_its_chance() -> None:
    from propagation.signal.rays.causes import CODE

    day = synthetic.day_view()
    cause = day.cause.copy()
    cause[3, 10] = CODE["flare"]
    said = words.band_state(replace(day, cause=cause), 3, 10)
    assert said.index("a solar flare absorbs the signal") < said.index("meanwhile")
