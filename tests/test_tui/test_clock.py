"""The clock: set, unset, and what it makes of dates and times as people write them."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from propagation.base.errors import InputError
from tui.app import clock


def at(text: str) -> np.datetime64:
    return np.datetime64(text, "s")


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("2026-03-20T12:00Z", "2026-03-20T12:00:00"),
        ("2026-03-20T12:00:30Z", "2026-03-20T12:00:30"),
        ("2026-03-20T12:00:30.75Z", "2026-03-20T12:00:30"),
        ("2026-03-20 07:05", "2026-03-20T07:05:00"),
        ("2026-03-20T12:00+00:00", "2026-03-20T12:00:00"),
        ("2026-03-20T12:00 UTC", "2026-03-20T12:00:00"),
        ("2026-03-20", "2026-03-20T00:00:00"),
        ("2024-02-29T23:59Z", "2024-02-29T23:59:00"),
        ("now", "2026-03-20T12:00:00"),
        ("7:30", "2026-03-20T07:30:00"),
    ],
)
def test_times_as_written(text: str, time: str) -> None:
    assert clock.parse_time(text) == at(time)


@pytest.mark.parametrize(
    "text",
    ["", "noon", "2026-02-29T00:00Z", "2026-13-01T00:00Z", "2026-03-20T25:00Z", "2026-03-20T12:00+25:00",
     "20/3/2026", "1850-01-01", "2099-01-01T00:00Z", "nan", "2026-03-20T12Z"],
)  # fmt: skip
def test_what_is_no_time_is_one_sentence(text: str) -> None:
    with pytest.raises(InputError) as caught:
        clock.parse_time(text)
    assert repr(text) in caught.value.message


def test_dates() -> None:
    assert clock.parse_date("today") == np.datetime64("2026-03-20")
    assert clock.parse_date("Tomorrow") == np.datetime64("2026-03-21")
    assert clock.parse_date("2026-12-31") == np.datetime64("2026-12-31")
    for text in ("2026-02-30", "31.12.2026", "1850-06-01", ""):
        with pytest.raises(InputError):
            clock.parse_date(text)


def test_hours() -> None:
    assert clock.parse_hour("07:30") == np.timedelta64(27000, "s")
    assert clock.parse_hour("24:00") == np.timedelta64(86400, "s")
    for text in ("7", "24:01", "12:60", "-1:00", "x"):
        with pytest.raises(InputError):
            clock.parse_hour(text)


def test_the_clock_can_be_held_and_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    assert clock.now() == at("2026-03-20T12:00")
    clock.set_now(at("2030-01-02T03:04:05"))
    assert clock.now() == at("2030-01-02T03:04:05")
    assert clock.today() == np.datetime64("2030-01-02")
    clock.set_now(None)
    monkeypatch.delenv("BANDWHEN_NOW")
    real = np.datetime64(datetime.now(UTC).replace(tzinfo=None), "s")
    assert abs(clock.now() - real) <= np.timedelta64(5, "s")
    monkeypatch.setenv("BANDWHEN_NOW", "soon")
    with pytest.raises(InputError, match="'soon'"):
        clock.now()
