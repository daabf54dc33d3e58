"""`bandwhen review`: text, plain and JSON; learning kept, used, switched and forgotten."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import ROOT, Answer

from propagation.logbook import adif, kept_offset
from propagation.station import station
from tui.app import learnt_store, paths
from tui.features.review import text as review_text

DEMO_LOG = str(ROOT / "fixtures" / "demo" / "ridge_day.adi")
Bandwhen = Callable[..., Answer]


def log_file(folder: Path, *records: dict[str, str]) -> str:
    file = folder / "my [b] log.adi"
    usual = {"QSO_DATE": "20240402", "BAND": "20m", "MODE": "FT8", "GRIDSQUARE": "JF96", "CALL": "ZS1TEST"}
    file.write_bytes(adif.write([usual | record for record in records]))
    return str(file)


@pytest.fixture
def taught(tmp_path: Path) -> str:
    """A log of fifty digital contacts on ten days, every report some 8 dB under what a good day gives.

    The reports follow the power over 20 dB: so they are no crowded channel's, which would be alike.
    """
    rows = [
        {"QSO_DATE": f"202404{1 + i % 10:02d}", "TIME_ON": f"{8 + i // 10:02d}{i % 10:02d}",
         "CALL": f"ZS1T{i:02d}",
         "TX_PWR": ("5", "50", "500")[i % 3], "RST_RCVD": ("-12", "-02", "+08")[i % 3]}
        for i in range(50)
    ]  # fmt: skip
    return log_file(tmp_path, *rows)


@pytest.fixture
def saved() -> Path:
    """A saved station, the demo's ridge."""
    file = paths.station_file()
    station.save(station.load(paths.demo_station_file()), file)
    return file


KEYS = {
    "summary", "station", "target", "files", "records", "days", "counts", "contacts", "surprises", "outings",
    "outing", "station_file", "learnt", "no_lesson", "kept", "learnt_file",
}  # fmt: skip
CONTACT_KEYS = {
    "time", "band", "mode", "call", "country", "direction", "distance_km", "bearing_deg", "chance",
    "chance_low", "chance_high", "margin_db", "snr_out_db", "snr_back_db", "way", "route", "elevation_deg",
    "muf_mhz", "limit", "verdict", "sent", "received", "comment",
}  # fmt: skip


def test_the_demo_log_as_json(bandwhen: Bandwhen) -> None:
    """Every key the command's description names, and figures that agree with each other."""
    data: Any = bandwhen("review", DEMO_LOG, "--json").json
    assert set(data) == KEYS
    assert data["records"] == {"used": len(data["contacts"]), "lost": 0, "problems": []}
    assert sum(data["counts"].values()) == len(data["contacts"])
    for one in data["contacts"]:
        assert set(one) == CONTACT_KEYS
        assert one["time"].endswith("Z")
        assert one["chance_low"] <= one["chance"] <= one["chance_high"]
    outing = data["outing"]
    for band in outing["bands"]:
        assert len(band["share"]) == len(outing["times"])
    assert {one["band"] for one in outing["silences"] if one["told"]} == {"10m", "12m", "40m"}
    assert outing["plan"]["promise"]["rate"]["middle"] > outing["own"]["rate"]["middle"] > 0.0
    rates = {band["band"]: band["rate_per_hour"] for band in outing["bands"]}
    assert all(len(rate) == len(outing["times"]) for rate in rates.values())
    for one in outing["silences"]:
        assert one["best"]["rate"]["middle"] <= max(rates[one["band"]]) + 1e-3
    assert set(data["learnt"]) >= {"bands", "elsewhere_db", "used", "entries", "on"}
    assert data["kept"] is None
    assert data["days"][0]["known"]


def test_the_demo_log_as_text_and_as_plain_lines(bandwhen: Bandwhen) -> None:
    text, plain = (bandwhen("review", DEMO_LOG, *form).out for form in ((), ("--plain",)))
    assert all(len(line) <= 110 for line in text.splitlines())
    assert "UTC    05    06" in text
    assert "\nlocal  07    08" in text
    assert "\nUTC    local " in text
    assert "05:18  07:18 " in text
    for form in (text, plain):
        assert "Station: demo ridge, CW 50 W: the invented demo, as no station is saved." in form
    assert "05:18 UTC (07:18 local), ZS5TEST" in plain
    assert "best  " in text
    for call in ("ZS1TEST", "CX4TEST", "PA3TEST"):
        assert call in text
        assert f"{call} on " in plain
    assert all(line.endswith((".", ":", "!", "?")) for line in plain.splitlines())
    assert not set(plain) & set("▁▂▃▄▅▆▇█")


def test_a_problem_of_the_whole_file_has_no_line() -> None:
    assert review_text.problem_words(adif.Problem(0, "too much")) == "too much"
    assert review_text.problem_words(adif.Problem(7, "no time", line=3)) == "line 3: no time"


def test_a_log_does_no_harm_to_the_terminal(bandwhen: Bandwhen, tmp_path: Path) -> None:
    file = log_file(
        tmp_path,
        {"TIME_ON": "0900", "CALL": "ZS1[/]", "COMMENT": "[red]59[/] \x1b[2J\x07\x9b", "MODE": "SSB\x1b[1m"},
    )
    for form in ((), ("--plain",), ("--json",)):
        answer = bandwhen("review", file, *form)
        assert answer.code == 0
        assert "ZS1[/]" in answer.out
        assert answer.out.replace("\n", "").isprintable()
        assert "\\u001b" not in answer.out


@pytest.mark.slow
def test_what_was_learnt_is_kept_used_switched_and_forgotten(
    bandwhen: Bandwhen, taught: str, saved: Path
) -> None:
    """The whole life of an offset, seen in the forecast."""
    assert bandwhen("review", taught).code == 0
    assert not learnt_store.learnt_file().exists()
    answer = bandwhen("review", taught, "--learn", "--json").json
    file = saved.with_suffix(".learnt")
    assert answer["learnt_file"] == str(file)
    assert answer["kept"] == answer["learnt"]
    offset = kept_offset.load(file).of_band("20m").offset_db  # type: ignore[union-attr]
    assert offset < -3.0

    def snr() -> float:
        from propagation.geo import regions
        from propagation.geo.locator import Position
        from propagation.signal.chances import forecast
        from propagation.signal.chances.request import Request
        from propagation.space_weather.state import conditions

        own = station.load(saved)
        time = np.array(["2024-04-02T09:00"], dtype="datetime64[s]")
        found = forecast.forecast(Request(
            own, regions.point("Cape Town", Position(-33.9, 18.4)), time, conditions.built_in(time),
            near=learnt_store.own_terminal(own),
        ))  # fmt: skip
        return float(found.snr_out_db[0, 0, 0, found.band_index("20m")])

    with_it = snr()
    told = bandwhen("review").out
    assert "from 50 of 50 entries, from 2024-04-01 to 2024-04-10, in use" in told
    assert "20m" in told
    assert "in use" in told
    assert bandwhen("review", "--off").code == 0
    assert "switched off" in bandwhen("review").out
    without = snr()
    np.testing.assert_allclose(with_it - without, offset, atol=0.15)
    assert bandwhen("review", "--on").code == 0
    assert snr() == with_it
    assert "forgotten" in bandwhen("review", "--forget").out
    assert not file.exists()
    assert snr() == without
    assert "Nothing was kept" in bandwhen("review", "--forget").out


def test_one_report_is_no_lesson_and_nothing_is_kept_of_it(
    bandwhen: Bandwhen, tmp_path: Path, saved: Path
) -> None:
    row = {"QSO_DATE": "20240401", "TIME_ON": "0900", "CALL": "ZS1T00", "RST_SENT": "+00", "RST_RCVD": "-20"}
    file = log_file(tmp_path, row)
    told = bandwhen("review", file, "--learn").out
    assert "Nothing is kept. One usable report teaches nothing" in told
    assert "Kept in" not in told
    answer = bandwhen("review", file, "--learn", "--json").json
    assert answer["no_lesson"] == "one report"
    assert answer["kept"] is None
    assert not saved.with_suffix(".learnt").exists()


def test_the_review_itself_is_of_the_bare_model(bandwhen: Bandwhen, taught: str, saved: Path) -> None:
    """What was learnt does not colour the next review, nor is it learnt twice."""
    first = bandwhen("review", taught, "--learn", "--json").json
    second = bandwhen("review", taught, "--learn", "--json").json
    assert first["learnt"]["bands"] == second["learnt"]["bands"]
    assert [one["chance"] for one in first["contacts"]] == [one["chance"] for one in second["contacts"]]


def test_a_damaged_file_never_stops_a_forecast(
    bandwhen: Bandwhen, saved: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    saved.with_suffix(".learnt").write_text("on = maybe\n", encoding="utf-8")
    end = learnt_store.own_terminal(station.load(saved))
    assert end.offset_db is None
    assert "left out" in capsys.readouterr().err
    assert learnt_store.in_force(station.load(saved)) is None
    answer = bandwhen("review")
    assert answer.code == 2
    assert str(saved.with_suffix(".learnt")) in answer.err
    assert len(answer.err.splitlines()) == 1


def test_each_station_has_its_own(tmp_path: Path) -> None:
    assert learnt_store.learnt_file() == paths.data_dir() / "demo.learnt"
    assert learnt_store.learnt_file(tmp_path / "garden.toml") == tmp_path / "garden.learnt"
    assert learnt_store.learnt_file("") == learnt_store.learnt_file(paths.demo_station_file())


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("review", "nothing.adi"), "There is no file 'nothing.adi'"),
        (("review", "--learn"), "Give the log to learn from"),
        (("review", "--on"), "Nothing has been learnt about this station yet"),
        (("review", DEMO_LOG, "--date", "2025-09-21"), "nothing on 2025-09-21"),
        (("review", DEMO_LOG, "--to", "Nowhereatall"), "not a place known here"),
        (("review", DEMO_LOG, "--date", "yesterweek"), "yesterweek"),
        (("review", str(ROOT / "fixtures" / "logs" / "reports_archive.csv")), "name your call with --call"),
        (("review", str(ROOT / "fixtures" / "logs" / "not_a_log.adi")), "No contact or report in the file"),
    ],
)  # fmt: skip
def test_bad_questions_get_one_sentence(bandwhen: Bandwhen, arguments: tuple[str, ...], told: str) -> None:
    answer = bandwhen(*arguments)
    assert answer.code == 2
    assert told in answer.err.splitlines()[-1]


def test_lost_records_and_repairs_are_listed_with_their_place(bandwhen: Bandwhen) -> None:
    file = ROOT / "fixtures" / "logs" / "bad_dates.adi"
    data = bandwhen("review", str(file), "--json").json
    assert data["records"]["lost"] == sum(one["lost"] for one in data["records"]["problems"]) > 0
    text = bandwhen("review", str(file)).out
    for one in data["records"]["problems"]:
        assert f"line {one['line']}: " in text


def test_a_log_and_reception_reports_together(bandwhen: Bandwhen) -> None:
    log, reports = (str(ROOT / "fixtures" / "logs" / name) for name in ("clean.adi", "reports_archive.csv"))
    data = bandwhen("review", log, reports, "--call", "ZS5TEST", "--json").json
    assert {one["direction"] for one in data["contacts"]} == {"both", "out"}
    times = [one["time"] for one in data["contacts"]]
    assert times == sorted(times)


def test_json_holds_no_other_number_than_json_knows(bandwhen: Bandwhen) -> None:
    """Unknown places, no height, no report: null, never NaN."""
    out = bandwhen("review", str(ROOT / "fixtures" / "logs" / "bad_places.adi"), "--json").out
    data = json.loads(out, parse_constant=lambda word: pytest.fail(word))
    unplaced = [one for one in data["contacts"] if one["verdict"] == "no place"]
    assert unplaced
    assert all(one["chance"] is None and one["way"] is None for one in unplaced)


def test_the_bench_tells_what_the_log_says(bandwhen: Bandwhen, saved: Path) -> None:
    """Six decibels worse on 40 m: said by the command and on the screen, and not of another antenna."""
    from tui.app.choice import Choice
    from tui.app.queries import Engine
    from tui.features.antenna.page import antenna_query

    own = station.load(saved)
    kept = kept_offset.Learnt(
        bands=(kept_offset.LearntBand("40m", -6.0, 1.5, 40),),
        setup=kept_offset.setup_mark(own),
        entries=40,
        used=40,
    )
    kept_offset.save(kept, learnt_store.learnt_file())
    choice = Choice(str(saved), "anyone", np.datetime64("2026-03-20T00:00", "s"), "CW", 50.0)
    said = "Your log says 6 dB worse on 40 m than the model (± 2): look at the radials"
    assert said in bandwhen("antenna", "--frequency", "7.1").out
    assert bandwhen("antenna", "--frequency", "7.1", "--json").json["from_the_log"][0].startswith(said)
    bench = Engine().answer(antenna_query(choice), lambda: False)
    assert bench.cautions[0].startswith(said)
    kept_offset.save(kept_offset.Learnt(bands=kept.bands, setup="another"), learnt_store.learnt_file())
    assert said not in bandwhen("antenna", "--frequency", "7.1").out
