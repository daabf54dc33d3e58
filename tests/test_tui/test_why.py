"""`bandwhen why`: the promised JSON, a ledger that sums, weights that sum, and words that agree with both."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from propagation.advice.rates import Prospect, Rate
from propagation.advice.why import _greater
from propagation.wording import quantities as say
from propagation.wording.causes import clause, short

Run = Callable[..., Any]
ASKED = [
    ("GF25", "20m", "2026-03-20T12:00Z"),
    ("GF25", "15m", "2026-03-20T15:00Z"),
    ("Durban", "20m", "2026-03-20T12:00Z"),
    ("Durban", "2m", "2026-03-20T12:00Z"),
    ("Europe", "10m", "2026-06-20T02:00Z"),
    ("GF25", "160m", "2026-03-20T12:00Z"),
    ("Japan", "40m", "2026-12-20T18:00Z"),
]


@pytest.fixture(params=ASKED, ids=lambda asked: " ".join(asked[:2]))
def asked(request: pytest.FixtureRequest) -> tuple[str, ...]:
    to, band, at = request.param
    return ("why", "--to", to, "--band", band, "--at", at, "--ssn", "100", "--kp", "2")


def _prospect(row: dict[str, Any]) -> Prospect:
    rate = row.get("rate_per_hour")
    return Prospect(row["chance"], Rate(**rate) if rate else None, 4 if rate else 0)


ANSWERS: dict[tuple[str, ...], Any] = {}  # every question is answered once: all homes here are empty


@pytest.fixture
def answered(bandwhen: Run) -> Run:
    """The program, with answers remembered."""

    def run(*arguments: str) -> Any:
        if arguments not in ANSWERS:
            ANSWERS[arguments] = bandwhen(*arguments)
        return ANSWERS[arguments]

    return run


def test_the_promised_keys_and_their_sums(answered: Run, asked: tuple[str, ...]) -> None:
    answer = answered(*asked, "--json")
    assert answer.code == 0
    why = answer.json
    assert {"chance", "limit", "ledger", "causes", "changes"} <= set(why)
    assert 0.0 <= why["chance"] <= 1.0
    # the ledger promises 0.01 dB
    np.testing.assert_allclose(sum(row["db"] for row in why["ledger"]), why["margin_db"], atol=0.01)
    np.testing.assert_allclose(sum(row["weight"] for row in why["causes"]), 1.0, atol=1e-6)
    assert [row["weight"] for row in why["causes"]] == sorted(
        (row["weight"] for row in why["causes"]), reverse=True
    )
    for change in why["changes"]:
        assert change["change"]
        assert 0.0 <= change["chance"] <= 1.0


def test_the_words_agree_with_the_numbers(answered: Run, asked: tuple[str, ...]) -> None:
    why = answered(*asked, "--json").json
    text, plain = answered(*asked).out, answered(*asked, "--plain").out
    assert f"{why['margin_db']:+.1f}" in text
    assert f"Margin: {why['margin_db']:+.1f} dB" in plain
    flat = " ".join(text.split())
    experience = why["experience"]
    error = "a guess" if experience["error_db"] is None else f"+-{experience['error_db']:.0f} dB"
    assert f"{why['margin_db']:+.1f} dB, {error}" in " ".join(plain.split())
    for form in (flat, plain):
        assert experience["text"] in form
        assert f"With all {experience['all_hours']:,} measured hours" in form
    for form, said in ((text, short), (plain, clause)):
        assert ("open, " in form.lower()) == (why["limit"] == "open")
        for row in why["ledger"]:
            if abs(row["db"]) >= 0.05:
                assert row["term"] in form
                assert f"{row['db']:+.1f}" in form
        for row in why["causes"]:
            if row["weight"] >= 0.005:
                assert said(row["cause"]) in form
        for row in why["changes"]:
            if not _greater(_prospect(row), _prospect(why)) and form is text:
                assert row["change"] not in say.on_one_clock(form), "what changes nothing is not listed"
                continue
            assert row["change"] in say.on_one_clock(form)  # JSON is of UTC alone
    for sentence in plain.splitlines():
        if sentence.startswith(
            ("The weaker direction", "Levels agree", "What limits it, by weight", "No limiting factor")
        ):
            assert sentence in flat


def test_the_experience_is_of_the_path_and_the_light_at_its_middle(bandwhen: Run) -> None:
    """Uruguay to southern Africa, 8000 km: by day at 12 UTC (09 local in the middle), by night at 00 UTC."""
    options = ("why", "--from", "GF25", "--to", "KG40", "--ssn", "100", "--kp", "2", "--json")
    for hour, light in (("12", "day"), ("00", "night")):
        found = bandwhen(*options, "--band", "20m", "--at", f"2026-03-20T{hour}:00Z").json["experience"]
        assert (found["from_km"], found["to_km"], found["light"]) == (4000.0, 9000.0, light)
        assert found["from_mhz"] <= 14.0 <= found["to_mhz"]
        assert found["standing"] == "many"
        assert found["hours"] >= 100
        assert 5.0 < found["error_db"] < 15.0


def test_where_nothing_was_measured_the_level_is_a_guess(bandwhen: Run) -> None:
    """The bank ends at 25.8 MHz, and holds no field as weak as that of 160 m by day over 8000 km."""
    options = (
        "why",
        "--from",
        "GF25",
        "--to",
        "KG40",
        "--ssn",
        "100",
        "--kp",
        "2",
        "--at",
        "2026-03-20T12:00Z",
    )
    for band, words in (("10m", "No measured path"), ("80m", "Fields this weak were not measured")):
        found = bandwhen(*options, "--band", band, "--json").json["experience"]
        assert (found["standing"], found["hours"], found["error_db"]) == ("none", 0, None)
        assert found["text"].startswith(words)
        assert "dB, a guess" in bandwhen(*options, "--band", band).out


def test_it_agrees_with_advise(bandwhen: Run) -> None:
    options = ("--to", "GF25", "--ssn", "100", "--kp", "2", "--json")
    advice = bandwhen("advise", *options, "--date", "2026-03-20").json
    lane = next(row for row in advice["bands"] if row["band"] == "15m")
    for hour in ("06:00", "12:00", "17:00"):
        why = bandwhen("why", *options, "--band", "15m", "--at", f"2026-03-20T{hour}Z").json
        at = lane["times"].index(f"2026-03-20T{hour}:00Z")
        np.testing.assert_allclose(why["chance"], lane["chance"][at], atol=1e-6)


def test_the_skip_zone_is_named_where_the_trade_expects_it(bandwhen: Run) -> None:
    """The skip zone on 20 m hides neighbours at some 200 km by day (common practice, no source)."""
    why = bandwhen("why", "--to", "Durban", "--band", "20m", "--at", "2026-03-20T12:00Z", "--json").json
    assert why["limit"] == "skip zone"
    assert why["causes"][0]["cause"] == "skip zone"


def test_daylight_on_40_m_is_absorption(bandwhen: Run) -> None:
    """Far stations on 40 m by day are eaten by the daylight layer (common practice, no source)."""
    why = bandwhen("why", "--to", "GF25", "--band", "40m", "--at", "2026-03-20T12:00Z", "--json").json
    assert why["limit"] == "absorption"


def test_by_night_10_m_is_above_the_muf(bandwhen: Run) -> None:
    options = ("--to", "GF25", "--band", "10m", "--at", "2026-06-20T03:00Z", "--ssn", "50", "--json")
    assert bandwhen("why", *options).json["limit"] == "above the MUF"


def test_the_licence_is_named(bandwhen: Run, tmp_path: Any) -> None:
    file = tmp_path / "s.toml"
    file.write_text('[site]\nlocator = "GF25"\n[antenna]\nkind = "dipole"\n', encoding="utf-8")
    options = ("--station", str(file), "--to", "KG40", "--at", "2026-03-20T20:00Z", "--mode", "SSB", "--json")
    why = bandwhen("why", *options, "--band", "30m").json
    assert (why["chance"], why["limit"]) == (0.0, "licence")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--to", "GF25"], ["--band"]),
        (["--to", "GF25", "--band", "21m"], ["'21m'", "20m"]),
        (["--band", "20m"], ["--to"]),
        (["--to", "GF25", "--band", "20m", "--at", "later"], ["'later'"]),
        (["--to", "ZZ99", "--band", "20m"], ["'ZZ99'"]),
    ],
    ids=lambda value: " ".join(value) if value and value[0].startswith("--") else "",
)
def test_bad_input_is_one_sentence(bandwhen: Run, arguments: list[str], words: list[str]) -> None:
    answer = bandwhen("why", *arguments)
    assert (answer.code, answer.out) == (2, "")
    last = answer.err.strip().splitlines()[-1]
    for word in words:
        assert word in last


ON_20_M = ("why", "--to", "GF15", "--band", "20m", "--at", "2026-03-20T15:00Z", "--ssn", "100", "--kp", "2")
HOPS = (*ON_20_M, "--hops")


def test_hops_sum_to_the_ledger(bandwhen: Run) -> None:
    """Rows of --json sum to the ledger's absorption; text and sentences give the same sum."""
    why = bandwhen(*HOPS, "--json").json
    ledger = {row["term"]: -row["db"] for row in why["ledger"]}
    absorbed = sum(row["absorption_db"] for row in why["hops"])
    np.testing.assert_allclose(absorbed, ledger["absorption in the D and E layers"], atol=0.01)
    np.testing.assert_allclose(
        sum(row["ground_reflection_db"] for row in why["hops"]),
        ledger["ground reflections"],
        atol=0.01,
    )
    text, plain = bandwhen(*HOPS).out, bandwhen(*HOPS, "--plain").out
    assert f"Hop by hop from here, by {why['way']}:" in text
    sums = next(line.split() for line in text.splitlines() if line.split()[:1] == ["sum"])
    assert sums[1] == f"{absorbed:.1f}"
    assert f"All hops of {why['way']}: absorption {absorbed:.1f} dB" in plain
    assert plain.count("the horizon, foE") == len(why["hops"])


def test_without_the_option_there_are_no_hops(bandwhen: Run) -> None:
    assert "hops" not in bandwhen(*ON_20_M, "--json").json
    assert "Hop by hop" not in bandwhen(*ON_20_M).out


@pytest.mark.parametrize(("to", "why"), [("Japan", "No single hops"), ("-29.8,29.6", "No hops")])
def test_a_signal_without_hops_is_said_to_have_none(bandwhen: Run, to: str, why: str) -> None:
    options = ("why", "--to", to, "--band", "20m", "--at", "2026-03-20T15:00Z", "--hops")
    assert why in bandwhen(*options).out
    assert bandwhen(*options, "--json").json["hops"] == []
