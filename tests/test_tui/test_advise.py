"""`bandwhen advise` and `bandwhen --plain`: the promised JSON, its sense, and the same in words.

The sanity checks are common practice of the trade, no source: 40 m local by day and far by night, 10 m only
by day and at high sun.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from propagation.logbook import kept_offset
from propagation.signal.rays.causes import CAUSES
from propagation.spectrum.bands import BAND_NAMES
from propagation.station.station import load
from tui.app import forecast_options, learnt_store, paths

Run = Callable[..., Any]
STATION = """
[site]
locator = "KG40"
[rig]
power_w = 100
mode = "CW"
[antenna]
kind = "dipole"
height_m = 10
"""
FAR = ("--to", "GF25", "--date", "2026-03-20", "--ssn", "120", "--kp", "2")


@pytest.fixture
def station(tmp_path: Path) -> str:
    file = tmp_path / "station.toml"
    file.write_text(STATION, encoding="utf-8")
    return str(file)


@pytest.fixture
def advice(bandwhen: Run, station: str) -> Run:
    """The JSON answer for a station with a dipole and 100 W of Morse."""

    def run(*arguments: str) -> Any:
        answer = bandwhen("advise", "--station", station, "--json", *arguments)
        assert answer.code in (0, 3), answer.err
        return answer.json

    return run


def test_the_promised_keys(advice: Run) -> None:
    found = advice(*FAR)
    assert {"site", "target", "conditions", "bands", "windows"} <= set(found)
    assert [row["band"] for row in found["bands"]] == list(BAND_NAMES)
    for row in found["bands"]:
        assert len(row["times"]) == len(row["chance"]) == len(row["limit"]) == 145
        assert row["times"][0] == "2026-03-20T00:00:00Z"
        assert row["times"][-1] == "2026-03-21T00:00:00Z"
        assert all(0.0 <= value <= 1.0 for value in row["chance"])
        assert set(row["limit"]) <= set(CAUSES)
    assert found["windows"]
    for number, window in enumerate(found["windows"], start=1):
        assert window["rank"] == number
        assert {"band", "start", "end", "chance", "route", "elevation_deg", "reason", "setup"} <= set(window)
        assert window["start"] < window["end"]
        assert window["route"] in ("short", "long")
        assert 0.0 < window["chance"] <= 1.0


def test_open_is_said_where_and_only_where_the_chance_is_half(advice: Run) -> None:
    for row in advice(*FAR)["bands"]:
        if row["usable"]:
            for chance, limit in zip(row["chance"], row["limit"], strict=True):
                assert (limit == "open") == (chance >= 0.5)


def test_windows_lie_where_the_lanes_are_full(advice: Run) -> None:
    found = advice(*FAR)
    lanes = {row["band"]: row for row in found["bands"]}
    for window in found["windows"]:
        lane = lanes[window["band"]]
        inside = [
            chance
            for time, chance in zip(lane["times"], lane["chance"], strict=True)
            if window["start"] <= time <= window["end"]
        ]
        assert max(inside) >= 0.9 * window["chance"]


def test_a_part_of_the_day(advice: Run) -> None:
    found = advice(*FAR, "--start", "16:30", "--hours", "3.5")
    times = found["bands"][0]["times"]
    assert (times[0], times[-1]) == ("2026-03-20T16:30:00Z", "2026-03-20T20:00:00Z")
    whole = advice(*FAR)["bands"][5]
    part = dict(zip(times, found["bands"][5]["chance"], strict=True))
    for time, chance in zip(whole["times"], whole["chance"], strict=True):
        if time in part:
            np.testing.assert_allclose(part[time], chance, atol=1e-9)


def test_mode_and_power_matter_in_the_right_direction(advice: Run) -> None:
    def total(*more: str) -> float:
        return float(np.sum([row["chance"] for row in advice(*FAR, *more)["bands"]]))

    assert total("--mode", "SSB") < total("--mode", "CW") < total("--mode", "DIGITAL")
    assert total("--power", "5") < total("--power", "100") < total("--power", "400")


def test_from_another_place(advice: Run) -> None:
    found = advice(*FAR, "--from", "Lisbon")
    assert abs(found["site"]["lat_deg"] - 38.7) < 0.3  # degrees
    np.testing.assert_allclose(found["target"]["distance_km"], 9550.0, atol=150.0)


@pytest.mark.parametrize("target", ["Europe", "anyone", "within 500 km", "Uruguay", "KG"])
def test_regions_have_a_share_in_reach(advice: Run, target: str) -> None:
    found = advice("--to", target, "--date", "2026-03-20", "--start", "12:00", "--hours", "2")
    assert found["target"]["points"] > 1
    assert max(max(row["chance"]) for row in found["bands"]) > 0.1


def test_fewer_contacts_are_likelier_and_told_so(advice: Run) -> None:
    """The chance with a region is of as many contacts as are asked for, in JSON as in words."""
    asked = ("--to", "Germany", "--date", "2026-03-20", "--start", "12:00", "--hours", "2")
    chances = []
    for wanted in ("1", "4", "12"):
        found = advice(*asked, "--contacts", wanted)
        assert found["contacts"] == int(wanted)
        chances.append(np.array([band["contacts_chance"] for band in found["bands"]]))
    rounding = 1e-12  # of 1 - (1 - p) where next to nobody is in reach
    assert np.all(chances[0] >= chances[1] - rounding)
    assert np.all(chances[1] >= chances[2] - rounding)
    assert np.max(chances[0] - chances[2]) > 0.1


@pytest.mark.slow
def test_a_region_of_large_stations_is_the_easier_one(advice: Run, tmp_path: Path) -> None:
    """The mixture of the station file is the one that counts."""
    totals = []
    for small, large in ((1.0, 0.0), (0.35, 0.10), (0.0, 1.0)):
        file = tmp_path / f"{large:.2f}.toml"
        shares = f"small = {small}\nordinary = {1.0 - small - large:.2f}\nlarge = {large}\n"
        file.write_text(f'[site]\nlocator = "KG40"\n[rig]\npower_w = 5\n[people]\n{shares}', encoding="utf-8")
        found = advice("--to", "Germany", "--date", "2026-03-20", "--start", "12:00", "--hours", "2",
                       "--station", str(file))  # fmt: skip
        totals.append(float(np.sum([band["stations"] for band in found["bands"]])))
    assert totals[0] < 0.8 * totals[1] < 0.8 * totals[2]


def test_40_m_is_local_by_day_and_far_by_night(advice: Run) -> None:
    near = advice("--to", "KG43", "--date", "2026-03-20", "--ssn", "60")
    far = advice("--to", "KI88", "--date", "2026-03-20", "--ssn", "60")

    def mean(found: Any, start: str, end: str) -> float:
        row = found["bands"][3]
        assert row["band"] == "40m"
        inside = [c for t, c in zip(row["times"], row["chance"], strict=True) if start <= t[11:16] <= end]
        return float(np.mean(inside))

    assert mean(near, "08:00", "14:00") > 0.5 > mean(far, "08:00", "14:00")
    assert mean(far, "19:00", "23:00") > 0.5


def test_10_m_opens_by_day_at_high_sun_only(advice: Run) -> None:
    quiet, active = (advice("--to", "GF25", "--date", "2026-03-20", "--ssn", ssn) for ssn in ("5", "180"))
    low, high = (np.array(found["bands"][9]["chance"]) for found in (quiet, active))
    assert quiet["bands"][9]["band"] == "10m"
    assert low.max() < 0.3 < high.max()
    assert high[:16].max() < 0.1  # 00 to 04 UT: night over the South Atlantic


def test_nothing_to_advise_is_exit_3_and_says_why(bandwhen: Run, station: str) -> None:
    answer = bandwhen("advise", "--station", station, "--to", "JO22", "--mode", "FM", "--ssn", "10", "--json")
    assert answer.code == 3
    assert answer.json["windows"] == []
    assert len(answer.err.strip().splitlines()) == 1
    assert answer.err.startswith("Nothing to advise")


def test_the_same_in_words(bandwhen: Run, advice: Run, station: str) -> None:
    first = advice(*FAR)["windows"][0]
    text = bandwhen("advise", "--station", station, *FAR)
    plain = bandwhen("advise", "--station", station, *FAR, "--plain")
    assert text.code == plain.code == 0
    start = first["start"][11:16]
    for form in (text.out, plain.out):
        assert start in form
        assert "sunspot number 120" in form
        assert first["reason"] in " ".join(form.split())  # whole, in every form
    assert f"1. {first['band'].removesuffix('m')} m" in text.out
    assert all(len(line) <= 100 for line in text.out.splitlines())
    assert not set(plain.out) & set("▁▂▃▄▅▆▇█·─│")


def test_a_window_is_one_sentence_in_every_form(bandwhen: Run, advice: Run, station: str) -> None:
    """Text, plain text and the reason in JSON; the screen's is held by its own test."""
    windows = advice(*FAR)["windows"]
    flat = " ".join(bandwhen("advise", "--station", station, *FAR).out.split())
    plain = bandwhen("advise", "--station", station, *FAR, "--plain").out.splitlines()
    for window in windows[:12]:  # text tells so many
        (line,) = [line for line in plain if line.startswith(f"{window['rank']}. ")]
        assert line in flat
        assert line.endswith(window["reason"])
        assert window["start"][11:16] in line


def test_a_friends_own_station_is_the_far_end(bandwhen: Run, advice: Run) -> None:
    assert (
        bandwhen("friends", "add", "Loud One", "GF25", "--words", "1 kW, yagi at 20 m, quiet rural").code == 0
    )
    assert bandwhen("friends", "add", "Weak One", "GF25", "--words", "1 W, dipole at 3 m, city").code == 0
    strong, weak = (
        np.sum([row["chance"] for row in advice("--to", who, *FAR[2:])["bands"]])
        for who in ("loud one", "Weak One")
    )
    assert strong > 2.0 * weak


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], ["--to"]),
        (["--to", "nowhere at all"], ["'nowhere at all'"]),
        (["--to", "GF25", "--date", "soon"], ["'soon'"]),
        (["--to", "GF25", "--date", "1066-10-14"], ["1066", "1900"]),
        (["--to", "GF25", "--date", "2035-06-01"], ["2034"]),
        (["--to", "GF25", "--start", "25:00"], ["'25:00'"]),
        (["--to", "GF25", "--hours", "0"], ["--hours", "0.25"]),
        (["--to", "GF25", "--hours", "1000"], ["--hours", "72"]),
        (["--to", "GF25", "--mode", "SBB"], ["'SBB'", "SSB"]),
        (["--to", "GF25", "--power", "0"], ["--power", "0 W"]),
        (["--to", "GF25", "--power", "lots"], ["--power", "'lots'"]),
        (["--to", "GF25", "--station", "none.toml"], ["'none.toml'"]),
        (["--to", "GF25", "--from", "Europe"], ["'Europe'"]),
        (["--to", "GF25", "--ssn", "-1"], ["-1"]),
    ],
    ids=lambda value: " ".join(value) if value and value[0].startswith("--") else "",
)
def test_bad_input_is_one_sentence(bandwhen: Run, arguments: list[str], words: list[str]) -> None:
    answer = bandwhen("advise", *arguments)
    assert (answer.code, answer.out) == (2, "")
    last = answer.err.strip().splitlines()[-1]
    for word in words:
        assert word in last


def test_a_damaged_saved_station_is_told_and_not_replaced(bandwhen: Run) -> None:
    paths.station_file().parent.mkdir(parents=True)
    paths.station_file().write_text('[site]\nlocator = "KG', encoding="utf-8")
    answer = bandwhen("advise", "--to", "GF25")
    assert answer.code == 2
    assert str(paths.station_file()) in answer.err


def test_without_a_screen_the_opening_answer_comes_in_sentences(bandwhen: Run) -> None:
    answer = bandwhen("--plain")
    assert answer.code == 0
    assert "demo" in answer.err
    assert "At 12:00 UTC" in answer.out
    assert "20 March" in answer.out or "20 Mar" in answer.out
    missing = bandwhen("--station", "none.toml", "--plain")
    assert (missing.code, missing.out) == (2, "")


def test_what_a_log_has_taught_is_used_and_said(bandwhen: Run, station: str) -> None:
    """An offset of -10 dB lowers every chance; the answer says that it is in use, and elsewhere it is not."""
    mark = kept_offset.setup_mark(load(station))
    lesson = kept_offset.Learnt(bands=(kept_offset.LearntBand("15m", -10.0, 1.0),), setup=mark)
    options = ("advise", "--station", station, *FAR)
    before = bandwhen(*options, "--json").json
    kept_offset.save(lesson, learnt_store.learnt_file(station))
    after = bandwhen(*options, "--json").json
    assert (before["learnt"], after["learnt"]) == (False, True)
    lane = next(i for i, row in enumerate(before["bands"]) if row["band"] == "15m")
    # the weaker direction loses the whole offset, or, receiving, less where noise falls with the signal
    drop = np.max(before["bands"][lane]["margin_db"]) - np.max(after["bands"][lane]["margin_db"])
    assert 3.0 < drop < 10.1
    for form in ((), ("--plain",)):
        assert forecast_options.LEARNT in bandwhen(*options, *form).out
    assert not bandwhen(*options, "--from", "Lisbon", "--json").json["learnt"]
