"""`bandwhen circuits`: rows in, the same rows out with what to expect; bad rows are told by number."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from propagation.signal.rays.causes import CAUSES

HEAD = "time,tx,rx,frequency_mhz,power_dbm\n"
GOOD = "2026-03-20T12:00Z,KG40,KH54,14.1,37\n"
Run = Callable[..., Any]


@pytest.fixture
def circuits(bandwhen: Run, tmp_path: Path) -> Run:
    """The command on a file of the given text."""

    def run(text: str | bytes, *arguments: str) -> Any:
        file = tmp_path / "rows.csv"
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return bandwhen("circuits", str(file), "--ssn", "90", *arguments)

    return run


def rows_of(answer: Any) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(answer.out)))


def test_the_same_rows_with_five_columns_more(circuits: Run) -> None:
    answer = circuits(HEAD + GOOD + '2026-03-20 22:00,"-34.5,-55",KG40,7.04,50\n')
    assert (answer.code, answer.err) == (0, "")
    first, second = rows_of(answer)
    assert list(first) == [
        "time",
        "tx",
        "rx",
        "frequency_mhz",
        "power_dbm",
        "snr_db",
        "chance",
        "muf_mhz",
        "field_dbuv",
        "limit",
    ]
    assert (second["time"], second["tx"], second["power_dbm"]) == ("2026-03-20 22:00", "-34.5,-55", "50")
    for row in (first, second):
        assert 0.0 <= float(row["chance"]) <= 1.0
        assert np.isfinite(float(row["snr_db"]))
        assert float(row["muf_mhz"]) > 1.0
        assert -100.0 < float(row["field_dbuv"]) < 100.0
        assert row["limit"] in CAUSES


def test_columns_in_any_order_with_others_between(circuits: Run) -> None:
    plain = rows_of(circuits(HEAD + GOOD))[0]
    text = "note,Power_dBm,rx,TX, time ,frequency_mhz,snr_db\nhello,37,KH54,KG40,2026-03-20T12:00Z,14.1,-99\n"
    mixed = rows_of(circuits(text))[0]
    assert mixed["note"] == "hello"
    assert {key: mixed[key] for key in ("snr_db", "chance", "muf_mhz", "limit")} == {
        key: plain[key] for key in ("snr_db", "chance", "muf_mhz", "limit")
    }


def test_ten_decibels_more_power_are_ten_decibels_more_signal(circuits: Run) -> None:
    weak, strong = rows_of(circuits(HEAD + GOOD + GOOD.replace(",37", ",47")))
    np.testing.assert_allclose(
        float(strong["snr_db"]) - float(weak["snr_db"]), 10.0, atol=0.11
    )  # printed to 0.1
    assert float(strong["chance"]) >= float(weak["chance"])


def test_ten_decibels_more_power_are_ten_decibels_more_field(circuits: Run) -> None:
    weak, strong = rows_of(circuits(HEAD + GOOD + GOOD.replace(",37", ",47")))
    np.testing.assert_allclose(
        float(strong["field_dbuv"]) - float(weak["field_dbuv"]), 10.0, atol=0.11
    )  # printed to 0.1


def test_next_door_the_field_is_below_that_of_free_space(circuits: Run) -> None:
    """1 kW over 1 km: sqrt(30 W x 1000) / 1000 m = 0.173 V/m, 104.8 dB over 1 uV/m in free space (P.525).

    50 MHz is above every layer. Ground that reflects can at most double the field, 6 dB.
    """
    found = rows_of(circuits(HEAD + '2026-03-20T12:00Z,"0,20","0.009,20",50,60\n'))[0]
    assert 60.0 < float(found["field_dbuv"]) <= 104.8 + 6.0


WITH_R12 = HEAD[:-1] + ",r12\n"
WITH_ROUTE = HEAD[:-1] + ",route\n"


def test_the_activity_of_a_row_stands_instead_of_the_files(circuits: Run) -> None:
    lines = [GOOD[:-1] + f",{r12}\n" for r12 in ("5", "150", "")]
    low, high, none = rows_of(circuits(WITH_R12 + "".join(lines)))
    assert float(low["muf_mhz"]) < float(none["muf_mhz"]) < float(high["muf_mhz"])
    assert {name: none[name] for name in none if name != "r12"} == rows_of(circuits(HEAD + GOOD))[0]
    alone = rows_of(circuits(WITH_R12 + lines[1], "--ssn", "10"))[0]
    assert alone == high


@pytest.mark.parametrize(("far_end", "both_ways"), [("KG40", False), ("QF56", True)])  # 8900 and 16,300 km
def test_a_row_can_ask_for_one_way_round(circuits: Run, far_end: str, both_ways: bool) -> None:
    """An empty cell: the short way, or beyond 10,000 km the stronger signal and the sum of both fields.

    At that hour the two ways to QF56 differ by 3 dB, the sum from either by 2 dB and more.
    """
    line = f"2026-03-20T10:00Z,JO60,{far_end},14.1,37"
    lines = [f"{line},{way}\n" for way in ("short", "Long", "")]
    short, long, either = rows_of(circuits(WITH_ROUTE + "".join(lines)))
    assert short["field_dbuv"] != long["field_dbuv"]
    snr = [float(way["snr_db"]) for way in (short, long)]
    power = [10.0 ** (0.1 * float(way["field_dbuv"])) for way in (short, long)]
    assert float(either["snr_db"]) == (max(snr) if both_ways else snr[0])
    expected = 10.0 * np.log10(sum(power) if both_ways else power[0])
    np.testing.assert_allclose(float(either["field_dbuv"]), expected, atol=0.11)  # printed to 0.1


@pytest.mark.parametrize(
    ("head", "cell", "words"),
    [
        (WITH_R12, "high", ["r12", "'high'", "number"]),
        (WITH_R12, "nan", ["r12", "'nan'"]),
        (WITH_R12, "-1", ["r12", "-1", "0 to 300"]),
        (WITH_R12, "301", ["r12", "301", "0 to 300"]),
        (WITH_ROUTE, "both", ["route", "'both'", "short or long"]),
    ],
)
def test_a_wrong_activity_or_route_is_told_by_number(
    circuits: Run, head: str, cell: str, words: list[str]
) -> None:
    answer = circuits(f"{head}{GOOD[:-1]},\n{GOOD[:-1]},{cell}\n")
    assert (answer.code, len(rows_of(answer))) == (2, 1)
    assert answer.err.startswith("Row 2 (line 3): ")
    for word in words:
        assert word in answer.err


def test_an_optional_column_twice_is_refused(circuits: Run) -> None:
    answer = circuits(HEAD[:-1] + ",r12,R12\n" + GOOD[:-1] + ",1,2\n")
    assert (answer.code, answer.err.count("r12")) == (2, 1)


def test_a_higher_demand_is_met_less_often(circuits: Run) -> None:
    chances = [
        float(rows_of(circuits(HEAD + GOOD, "--snr", str(level)))[0]["chance"])
        for level in (-40, -10, 10, 40)
    ]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.5 > chances[-1]


def test_rows_are_independent_of_their_neighbours_and_their_order(circuits: Run) -> None:
    rng = np.random.default_rng(7)
    lines = [
        f"2026-{rng.integers(1, 13):02}-10T{rng.integers(0, 24):02}:00Z,KG{rng.integers(10, 99)},"
        f"{letters}{rng.integers(10, 99)},{frequency},30\n"
        for letters in ("JO", "GF", "PM", "KH")
        for frequency in (3.6, 14.1, 28.1)
    ]
    together = rows_of(circuits(HEAD + "".join(lines)))
    backwards = rows_of(circuits(HEAD + "".join(reversed(lines))))
    alone = [rows_of(circuits(HEAD + line))[0] for line in lines]
    assert together == backwards[::-1] == alone


BAD_ROWS = [
    ("2026-03-20T12:00Z,KG4,KH54,14.1,37", ["tx", "'KG4'"]),
    ("2026-03-20T12:00Z,KG40,nowhere,14.1,37", ["rx", "'nowhere'"]),
    ("2026-03-20T12:00Z,KG40,\"91,0\",14.1,37", ["rx", "91"]),
    ("2026-02-30T12:00Z,KG40,KH54,14.1,37", ["'2026-02-30T12:00Z'"]),
    ("noon,KG40,KH54,14.1,37", ["'noon'"]),
    ("now,KG40,KH54,14.1,37", ["'now'"]),
    (",KG40,KH54,14.1,37", ["''"]),
    ("1850-02-20T12:00Z,KG40,KH54,14.1,37", ["1850", "1900"]),
    ("2026-03-20T12:00Z,KG40,KH54,20m,37", ["frequency_mhz", "'20m'"]),
    ("2026-03-20T12:00Z,KG40,KH54,14100,37", ["frequency_mhz", "14100", "MHz"]),
    ("2026-03-20T12:00Z,KG40,KH54,-7,37", ["frequency_mhz", "-7"]),
    ("2026-03-20T12:00Z,KG40,KH54,nan,37", ["frequency_mhz", "'nan'"]),
    ("2026-03-20T12:00Z,KG40,KH54,14.1,5000", ["power_dbm", "5000"]),
    ("2026-03-20T12:00Z,KG40,KH54,14.1,", ["power_dbm", "''"]),
    ("2026-03-20T12:00Z,KG40,KH54", ["3 fields", "5"]),
    ("2026-03-20T12:00Z,KG40,KH54,14.1,37,extra", ["6 fields", "5"]),
]  # fmt: skip


@pytest.mark.parametrize(("line", "words"), BAD_ROWS, ids=[line for line, _ in BAD_ROWS])
def test_a_bad_row_is_told_by_number_and_the_others_are_answered(
    circuits: Run, line: str, words: list[str]
) -> None:
    answer = circuits(f"{HEAD}{GOOD}{line}\n{GOOD}")
    assert answer.code == 2
    assert len(rows_of(answer)) == 2
    reports = answer.err.splitlines()
    assert len(reports) == 1
    assert reports[0].startswith("Row 2 (line 3): ")
    for word in words:
        assert word in reports[0]


def test_blank_lines_do_not_count_and_quoted_line_ends_do(circuits: Run) -> None:
    answer = circuits(
        f'{HEAD[:-1]},note\n{GOOD[:-1]},"two\nlines"\n\n{GOOD[:-1]},x\nbad,KG40,KH54,14.1,37,y\n'
    )
    assert answer.code == 2
    assert [row["note"] for row in rows_of(answer)] == ["two\nlines", "x"]
    assert answer.err.startswith("Row 3 (line 6): ")


def test_only_bad_rows_leave_only_the_heading(circuits: Run) -> None:
    answer = circuits(HEAD + "x,y,z,1,2\n")
    assert (answer.code, len(answer.out.splitlines())) == (2, 1)


def test_no_rows_are_no_fault(circuits: Run) -> None:
    assert circuits(HEAD).code == 0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"", ["empty", "time, tx, rx"]),
        (b"\n\n", ["empty"]),
        (b"time,tx,rx,power_dbm\n", ["frequency_mhz"]),
        (b"a,b\n1,2\n", ["time, tx, rx, frequency_mhz, power_dbm"]),
        (b"time,tx,rx,frequency_mhz,power_dbm,tx\n", ["tx", "twice"]),
        (HEAD.encode() + b"2026-03-20T12:00Z,KG40,\xff\xfe,14.1,37\n", ["UTF-8"]),
    ],
)
def test_a_file_that_is_no_such_table_is_one_sentence(circuits: Run, text: bytes, words: list[str]) -> None:
    answer = circuits(text)
    assert answer.code == 2
    assert len(answer.err.splitlines()) == 1
    for word in words:
        assert word in answer.err


def test_files_that_are_not_there(bandwhen: Run, tmp_path: Path) -> None:
    assert "no file" in bandwhen("circuits", str(tmp_path / "none.csv")).err
    assert bandwhen("circuits", str(tmp_path)).code == 2
    assert "--snr" in bandwhen("circuits", str(tmp_path / "none.csv"), "--snr", "1000").err


def test_standard_input_and_a_byte_order_mark(
    bandwhen: Run, circuits: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = rows_of(circuits(HEAD + GOOD))
    assert rows_of(circuits(b"\xef\xbb\xbf" + (HEAD + GOOD).encode())) == plain
    monkeypatch.setattr("sys.stdin", io.StringIO(HEAD + GOOD))
    assert rows_of(bandwhen("circuits", "-", "--ssn", "90")) == plain


def test_the_station_changes_the_signal(circuits: Run, tmp_path: Path) -> None:
    file = tmp_path / "station.toml"
    text = '[site]\nlocator = "KG40"\n[antenna]\nkind = "loaded vertical"\n[far_end]\nantenna = "isotropic"\n'
    file.write_text(text, encoding="utf-8")
    plain = float(rows_of(circuits(HEAD + GOOD))[0]["snr_db"])
    short = float(rows_of(circuits(HEAD + GOOD, "--station", str(file)))[0]["snr_db"])
    assert short < plain  # a short loaded vertical is worse than 0 dBi at every angle


def test_the_field_is_that_of_an_isotropic_antenna_with_any_station(circuits: Run, tmp_path: Path) -> None:
    file = tmp_path / "station.toml"
    text = '[site]\nlocator = "KG40"\n[antenna]\nkind = "loaded vertical"\n[far_end]\nantenna = "dipole"\n'
    file.write_text(text, encoding="utf-8")
    plain, own = (rows_of(circuits(HEAD + GOOD, *more))[0] for more in ((), ("--station", str(file))))
    assert own["field_dbuv"] == plain["field_dbuv"]
    assert own["snr_db"] != plain["snr_db"]


def test_thousands_of_rows_in_several_blocks(circuits: Run) -> None:
    lines = [GOOD.replace("12:00", f"{i % 24:02}:{i % 60:02}") for i in range(4500)]
    answer = circuits(HEAD + "".join(lines))
    found = rows_of(answer)
    assert (answer.code, len(found)) == (0, 4500)
    assert [row["time"] for row in found] == [line.split(",")[0] for line in lines]
    again = rows_of(circuits(HEAD + lines[4321]))[0]
    assert found[4321] == again


def test_bad_rows_of_every_kind_are_told_in_order(circuits: Run) -> None:
    """A date that is not in the calendar is found later than other faults, and still told in its place."""
    lines = [
        GOOD,
        "2026-02-30T12:00Z,KG40,KH54,14.1,37\n",
        GOOD,
        "x\n",
        "1850-02-20T12:00Z,KG40,KH54,14.1,37\n",
    ]
    answer = circuits(HEAD + "".join([*lines, GOOD]))
    assert [report.split(" ")[1] for report in answer.err.splitlines()] == ["2", "4", "5"]
    assert [row["time"] for row in rows_of(answer)] == ["2026-03-20T12:00Z"] * 3
