"""Times and spans as people type them: in options, in fields of forms, and in what is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from fake_engine import FakeEngine
from numpy.testing import assert_allclose
from screen_text import go, run, settle
from textual.pilot import Pilot
from textual.widgets import Input

from propagation.base.errors import InputError
from propagation.geo.locator import Position
from propagation.station.station import awake_minutes
from propagation.wording import quantities as say
from tui.app import clock, times_typed
from tui.app.app import BandwhenApp
from tui.app.queries import PlanQuery

# the clock of the tests is at noon UTC of Friday, 20 March 2026: 14:00 on the ridge, where the sun sets at
# 16:13 UTC and rises on Saturday at 04:06 UTC (astral, as `tests/test_propagation/test_sun.py` holds it)
RIDGE = times_typed.Here(Position(-29.5, 29.5), ZoneInfo("Africa/Johannesburg"))
TWO_MINUTES = np.timedelta64(120, "s")


def at(text: str) -> np.datetime64:
    return np.datetime64(text, "s")


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("now", "2026-03-20T12:00"),
        ("14:00", "2026-03-20T14:00"),
        ("9.30", "2026-03-20T09:30"),
        ("1400", "2026-03-20T14:00"),
        ("1400z", "2026-03-20T14:00"),
        ("14:00 UTC", "2026-03-20T14:00"),
        ("10:00 local", "2026-03-20T08:00"),
        ("10:00 SAST", "2026-03-20T08:00"),
        ("noon", "2026-03-20T12:00"),
        ("9pm", "2026-03-20T21:00"),
        ("12 am", "2026-03-20T00:00"),
        ("Saturday 09:00", "2026-03-21T09:00"),
        ("sat at 9", "2026-03-21T09:00"),
        ("09:00 saturday", "2026-03-21T09:00"),
        ("Sat 21 Mar 09:00", "2026-03-21T09:00"),
        ("next saturday 8:00", "2026-03-28T08:00"),
        ("27 June 1400", "2026-06-27T14:00"),
        ("27 June 2026", "2026-06-27T00:00"),  # a year, no time of day
        ("in 3 days 10:00", "2026-03-23T10:00"),
        ("in 2 hours", "2026-03-20T14:00"),
        ("in half an hour", "2026-03-20T12:30"),
        ("+90 min", "2026-03-20T13:30"),
        ("2026-03-20 12:00 local", "2026-03-20T10:00"),
        ("2026-03-20T14:00+02:00", "2026-03-20T12:00"),
    ],
)
def test_times(text: str, time: str) -> None:
    assert times_typed.moment(text, lambda: RIDGE) == at(time)


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("sunset", "2026-03-20T16:13"),
        ("tonight", "2026-03-20T16:13"),
        ("tomorrow after sunset", "2026-03-21T16:12"),
        ("saturday evening", "2026-03-21T16:12"),
        ("2 hours after sunset", "2026-03-20T18:13"),
        ("sunrise", "2026-03-21T04:06"),  # today's is over: the next one
        ("30 min before sunrise", "2026-03-21T03:36"),
    ],
)
def test_times_by_the_sun(text: str, time: str) -> None:
    assert abs(times_typed.moment(text, lambda: RIDGE) - at(time)) <= TWO_MINUTES


@pytest.mark.parametrize(
    ("text", "start", "hours"),
    [
        ("saturday 09:00-13:00", "2026-03-21T09:00", 4.0),
        ("sat 9-13", "2026-03-21T09:00", 4.0),
        ("9 to 13 on saturday", "2026-03-21T09:00", 4.0),
        ("10:00 to 12:00 local", "2026-03-20T08:00", 2.0),
        ("10:00 local until 14:00z", "2026-03-20T08:00", 6.0),
        ("0800-1000z", "2026-03-20T08:00", 2.0),
        ("22:00-02:00", "2026-03-20T22:00", 4.0),
        ("sat 22:00 to sun 02:00", "2026-03-21T22:00", 4.0),
        ("2026-03-21 09:00-13:00", "2026-03-21T09:00", 4.0),
        ("now for 3 hours", "2026-03-20T12:00", 3.0),
        ("sunday morning", "2026-03-22T04:00", 6.0),  # of the place: 06:00 to 12:00
        ("tomorrow in the afternoon", "2026-03-21T10:00", 6.0),
        ("this morning", "2026-03-20T04:00", 6.0),
        ("afternoon", "2026-03-20T10:00", 6.0),
        ("for 90 min", "2026-03-20T12:00", 1.5),
        ("today 20:00-24:00", "2026-03-20T20:00", 4.0),
        ("tomorrow 09:00", "2026-03-21T09:00", None),
    ],
)
def test_spans(text: str, start: str, hours: float | None) -> None:
    assert times_typed.span(text, lambda: RIDGE) == times_typed.Span(at(start), hours)


def test_a_span_from_or_to_an_event_of_the_sun() -> None:
    found = times_typed.span("sunset to sunrise", lambda: RIDGE)
    assert abs(found.start - at("2026-03-20T16:13")) <= TWO_MINUTES
    assert found.hours is not None
    assert_allclose(found.hours, 11.88, atol=0.07)  # to two minutes at both ends
    assert times_typed.span("tomorrow after sunset", lambda: RIDGE).hours is None


@pytest.mark.parametrize(
    "text", ["", "12", "soon", "25:00", "07:60", "13 pm", "sunset sunset", "31 June 10:00", "mo 9", "x" * 500]
)
def test_what_is_no_time_is_one_sentence(text: str) -> None:
    with pytest.raises(InputError) as caught:
        times_typed.moment(text, lambda: RIDGE)
    assert repr(text[:100]) in caught.value.message
    assert caught.value.message.count(". ") == 0


@pytest.mark.parametrize("text", ["9-", "-", "x-y", "noon to", "for ever", "sat 9-9-9"])
def test_what_is_no_span_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="not a time or a span"):
        times_typed.span(text, lambda: RIDGE)


def test_no_sunset_by_polar_day_is_said() -> None:
    north = times_typed.Here(Position(78.2, 15.6), ZoneInfo("Arctic/Longyearbyen"))
    with pytest.raises(InputError, match=r"no sunset here on 2026-06-21 \(the sun is up all day"):
        times_typed.moment("21 June after sunset", lambda: north)
    with pytest.raises(InputError, match="sunset needs a place"):
        times_typed.moment("sunset")


def test_the_day_given_is_that_of_a_time_without_one() -> None:
    day = np.datetime64("2026-04-02")
    assert times_typed.moment("09:00", lambda: RIDGE, day) == at("2026-04-02T09:00")
    assert times_typed.moment("09:00 local", lambda: RIDGE, day) == at("2026-04-02T07:00")
    assert times_typed.moment("saturday 09:00", lambda: RIDGE, day) == at("2026-03-21T09:00")


def test_an_hour_that_the_change_of_clocks_repeats_or_skips() -> None:
    berlin = times_typed.Here(Position(52.5, 13.4), ZoneInfo("Europe/Berlin"))
    twice = times_typed.span("25 October 2026 01:00 to 04:00 local", lambda: berlin)
    assert twice == times_typed.Span(at("2026-10-24T23:00"), 4.0)  # the clock shows three hours
    assert times_typed.moment("29 March 2026 02:30 local", lambda: berlin) == at("2026-03-29T01:30")


def test_times_are_local_where_local_time_is_told_first() -> None:
    clock.set_now(at("2026-03-20T23:00"))  # Saturday, 01:00 on the ridge
    say.set_clock_face(say.ClockFace(RIDGE.zone, local=True))
    assert times_typed.moment("09:00", lambda: RIDGE) == at("2026-03-21T07:00")
    assert times_typed.moment("today 09:00", lambda: RIDGE) == at("2026-03-21T07:00")
    assert times_typed.moment("0900z", lambda: RIDGE) == at("2026-03-20T09:00")


@pytest.mark.parametrize(
    ("text", "spans"),
    [
        ("07:00-23:00", [(420, 1380)]),
        ("7-23", [(420, 1380)]),
        ("7am to 11pm", [(420, 1380)]),
        ("from 18 until 22, 0700-0830", [(1080, 1320), (420, 510)]),
    ],
)
def test_hours_awake(text: str, spans: list[tuple[int, int]]) -> None:
    assert awake_minutes(text) == spans


@pytest.mark.parametrize("text", ["13pm-14", "7", "7-25", "07:70-08", "7-7"])
def test_hours_awake_that_are_none(text: str) -> None:
    with pytest.raises(InputError):
        awake_minutes(text)


HERE = """[site]
locator = "KG40rs"
time_zone = "Africa/Johannesburg"
"""


@pytest.mark.parametrize(
    ("options", "start", "count"),
    [
        (["--start", "saturday 09:00-11:00"], "2026-03-21T09:00:00Z", 13),
        (["--start", "10:00 local", "--hours", "2"], "2026-03-20T08:00:00Z", 13),
        (["--hours", "9-11", "--date", "saturday"], "2026-03-21T09:00:00Z", 13),
        (["--date", "saturday 9-11"], "2026-03-21T09:00:00Z", 13),
        (["--date", "saturday", "--start", "saturday 1:00-3:00 local"], "2026-03-20T23:00:00Z", 13),
        (["--date", "saturday", "--start", "09:00 local", "--hours", "90 min"], "2026-03-21T07:00:00Z", 10),
    ],
)
def test_the_options_of_a_time_on_air(
    bandwhen: Callable[..., Any], tmp_path: Any, options: list[str], start: str, count: int
) -> None:
    file = tmp_path / "own.toml"
    file.write_text(HERE)
    asked = ["advise", "--to", "GF25", "--station", str(file), "--json", *options]
    times = bandwhen(*asked).json["bands"][0]["times"]
    assert (times[0], len(times)) == (start, count)  # ten minutes apart, both ends


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--start", "someday"], "'someday' is not a time or a span"),
        (["--start", "9-13", "--hours", "2"], "ends after 4 hours and --hours says 2"),
        (["--start", "9:00", "--hours", "9-13"], "both name a start"),
        (["--hours", "many"], "'many' is no length"),
        (["--date", "saturday", "--start", "sunday 09:00"], "is not on --date 'saturday'"),
        (["--date", "saturday 9-13", "--start", "10:00"], "names a start already"),
        (["--date", "whenever"], "is not a date"),
    ],
)
def test_times_that_contradict_are_one_sentence(
    bandwhen: Callable[..., Any], options: list[str], words: str
) -> None:
    answer = bandwhen("advise", "--to", "GF25", *options)
    assert (answer.code, answer.out) == (2, "")
    assert words in answer.err


@pytest.mark.parametrize(
    ("arguments", "time"),
    [
        (["sky", "--place", "KG40", "--time", "saturday 14:00 local"], "2026-03-21T12:00:00Z"),
        (["path", "--from", "KG40", "--to", "GF25", "--time", "in 2 hours"], "2026-03-20T14:00:00Z"),
        (["--now", "saturday 09:00", "sky", "--place", "KG40"], "2026-03-21T09:00:00Z"),
    ],
)
def test_the_options_of_one_time(bandwhen: Callable[..., Any], arguments: list[str], time: str) -> None:
    assert bandwhen(*arguments, "--json").json["time"] == time


@pytest.mark.parametrize(
    ("typed", "start", "hours"),
    [
        ("saturday 09:00-13:00", "2026-03-14T09:00", 4.0),
        ("10:00", "2026-03-14T10:00", 2.0),
        ("9:00", "2026-03-15T09:00", 2.0),  # before the day shown begins: on the next
        ("now for 3 hours", "2026-03-14T12:20", 3.0),
    ],
)
def test_the_hours_on_air_are_typed_so(typed: str, start: str, hours: float) -> None:
    engine = FakeEngine()
    clock.set_now(at("2026-03-14T12:20"))  # a Saturday

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "plan")
        await pilot.press("h")
        await settle(app, pilot)
        app.screen.query_one("#field-0", Input).value = typed
        app.screen.query_one("#field-1", Input).value = "2 h"
        await pilot.press("ctrl+s")
        await settle(app, pilot)
        assert engine.last(PlanQuery).hours.start == at(start)
        assert engine.last(PlanQuery).hours.hours == hours

    run(scenario, engine=engine)
