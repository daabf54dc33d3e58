"""Reception reports as CSV, in the archive's column order and with named columns."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.logbook import files, reports

LOGS = Path(__file__).resolve().parents[2] / "fixtures" / "logs"


def test_archive_order() -> None:
    data = (LOGS / "reports_archive.csv").read_bytes()
    found, problems = reports.read(data)
    assert found.reporter == ("ZS6TEST", "G4TEST", "CX4TEST", "DL1TEST")
    assert set(found.call) == {"ZS5TEST"}
    # 1774010400 s is 2026-03-20 12:40 UTC: 20532 days and 45600 s (by hand)
    assert str(found.time[0]) == "2026-03-20T12:40:00"
    np.testing.assert_allclose(found.snr_db, [-17, -24, -21, -25])
    np.testing.assert_allclose(found.power_dbm, 43)
    np.testing.assert_allclose(found.frequency_mhz[0], 14.0971)
    np.testing.assert_allclose([found.lat_deg[0], found.lon_deg[0]], [-29.5, 31.0])
    np.testing.assert_allclose(
        [found.reporter_lat_deg[1], found.reporter_lon_deg[1]], [51.52, -0.125], atol=0.01
    )
    assert found.reporter_uncertainty_km[3] > 100.0  # no locator: the spread of Germany
    lost = {data[: problem.offset].count(b"\n") + 1: problem.reason for problem in problems if problem.lost}
    assert {row: reason.split()[-1] for row, reason in lost.items()} == {
        3: "time", 6: "ratio", 7: "given", 8: "here",
    }  # fmt: skip


def test_named_columns() -> None:
    data = (LOGS / "reports_named.csv").read_bytes()
    found, problems = reports.read(data)
    assert found.reporter == ("ZS6TEST", "G4TEST", "CX4TEST")
    np.testing.assert_allclose(found.frequency_mhz, 14.0971)  # kilohertz understood
    np.testing.assert_allclose(found.power_dbm, 43.01, atol=0.01)  # 20 W
    assert found.band == ("20m",) * 3
    assert [problem.lost for problem in problems] == [True, True]
    assert [data[problem.offset :].startswith(b"2026-03-") for problem in problems] == [True, True]


def test_headings_that_will_not_do_are_told() -> None:
    for text, word in (
        ("call,snr,mhz\nZS5TEST,-3,14.1\n", "time"),
        ("time,snr,mhz\n2026-03-20 14:00,-3,14.1\n", "call"),
        ("time,call,snr\n2026-03-20 14:00,ZS5TEST,-3\n", "band"),
        ("a,b,c\n1,2,3\n", "neither"),
        ("\n\n", "empty"),
        ("time,call,band\n", "no reports"),
    ):
        found, problems = reports.read(text.encode())
        assert found.size == 0
        assert word in problems[0].reason


def test_date_and_clock_in_two_columns() -> None:
    found, problems = reports.read(b"date,hour,call,band,snr\n20260320,1405,ZS5TEST,20m,\n")
    assert problems == ()
    assert str(found.time[0]) == "2026-03-20T14:05:00"
    assert np.isnan(found.snr_db[0])
    assert found.band == ("20m",)


@given(st.text(max_size=200))
@settings(max_examples=150, deadline=None)
def test_any_text_is_read_or_told(text: str) -> None:
    found, problems = reports.read(text.encode("utf-8", errors="replace"))
    assert found.size or problems


def test_every_row_is_read_or_told() -> None:
    for name in ("reports_archive.csv", "reports_named.csv"):
        loaded = files.load(LOGS / name)
        assert loaded.reports is not None
        rows = len((LOGS / name).read_text(encoding="utf-8").splitlines()) - (name == "reports_named.csv")
        assert loaded.reports.size + loaded.lost == rows
