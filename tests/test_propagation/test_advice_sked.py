"""Appointments: two clocks with daylight saving and the date line, two licences, and the calendar file.

Changes of clock are those of the IANA time zone database: Europe 2026-03-29 and 2026-10-25 at 01:00 UTC,
United States 2026-03-08 and 2026-11-01 at 02:00 local, New Zealand 2026-04-05 and 2026-09-27.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.advice.calendar import CalendarEntry, calendar_text
from propagation.advice.common_bands import common_bands
from propagation.advice.sked import (
    LEAST_CHANCE,
    Party,
    Sked,
    SkedRow,
    SkedSlot,
    first_rows,
    in_order,
    party_of_friend,
    party_of_station,
    sked,
)
from propagation.base.errors import InputError
from propagation.base.units import TimeArray
from propagation.geo.locator import Position
from propagation.geo.regions import point
from propagation.signal.chances.forecast import forecast
from propagation.signal.chances.request import Request
from propagation.space_weather.state import conditions
from propagation.spectrum.bands import BANDS, segment_mhz
from propagation.spectrum.modes import by_name as mode_by_name
from propagation.station import station
from propagation.station.friends import Friend
from propagation.station.terminals import Terminal, Terminals
from propagation.wording.quantities import band_title
from propagation.wording.sked import (
    events,
    fallback_words,
    gets_up_sentence,
    local_clock,
    none_sentence,
    row_days,
    row_sentence,
    slot_sentence,
)

QUARTER = np.timedelta64(900, "s")
START = np.datetime64("2026-03-27T10:07:00", "s")
HERE = """
name = "home"
[site]
locator = "KG40"
time_zone = "Africa/Johannesburg"
[rig]
power_w = 100
mode = "CW"
[antenna]
kind = "dipole"
height_m = 10
"""
STATE = conditions.typed_in(ssn=120, kp=2)


@pytest.fixture(scope="module")
def near(terminals: Terminals) -> Terminal:
    return terminals.near


@pytest.fixture(scope="module")
def their_end(terminals: Terminals) -> Terminal:
    return terminals.far


def london() -> Party:
    return Party("friend", Position(51.5, -0.1), ZoneInfo("Europe/London"))


def asked(own: station.Station, far: Party, near: Terminal, their_end: Terminal, days: int = 7) -> Request:
    """The request for some days from START on."""
    times = np.array([START, START + np.timedelta64(days, "D")])
    return Request(own, point(far.name, far.position), times, STATE, near=near, far=their_end)


@pytest.fixture(scope="module")
def found(own: station.Station, near: Terminal, their_end: Terminal) -> Sked:
    """A week across the change of clocks in Europe, none in South Africa."""
    home = party_of_station(own, "06:00-22:00", "17:00-21:00")
    return sked(asked(own, london(), near, their_end), home, london())


# --- clocks ----------------------------------------------------------------------------------------------


def quarters(first: str, days: int) -> TimeArray:
    return np.datetime64(first, "s") + np.arange(days * 96) * QUARTER


def plainly_awake(zone: str, times: TimeArray, start: str, end: str) -> list[bool]:
    """By datetime and zoneinfo alone, time by time."""
    low, high = (int(text[:2]) * 60 + int(text[3:]) for text in (start, end))
    answer = []
    for time in times.tolist():
        local = time.replace(tzinfo=UTC).astimezone(ZoneInfo(zone))
        minute = local.hour * 60 + local.minute
        answer.append(low <= minute < high if low < high else minute >= low or minute < high)
    return answer


@pytest.mark.parametrize(
    ("zone", "first"),
    [
        ("Europe/London", "2026-03-27T00:00:00"),
        ("Europe/London", "2026-10-23T00:00:00"),
        ("America/New_York", "2026-03-06T00:00:00"),
        ("America/New_York", "2026-10-30T00:00:00"),
        ("Pacific/Auckland", "2026-04-03T00:00:00"),
        ("Pacific/Chatham", "2026-09-25T00:00:00"),  # a zone of a quarter of an hour
        ("Asia/Kathmandu", "2026-06-01T00:00:00"),
        ("Pacific/Kiritimati", "2026-06-01T00:00:00"),
        ("Australia/Lord_Howe", "2026-04-03T00:00:00"),  # changes by half an hour
        ("Africa/Johannesburg", "2026-03-27T00:00:00"),
    ],
)
@pytest.mark.parametrize("span", ["07:00-23:00", "22:00-06:30"])
def test_who_is_awake_follows_the_local_clock_through_its_changes(zone: str, first: str, span: str) -> None:
    times = quarters(first, 5)
    party = Party("x", Position(0.0, 0.0), ZoneInfo(zone), span)
    assert party.suits(times).tolist() == plainly_awake(zone, times, *span.split("-"))


def test_awake_and_free_must_both_hold() -> None:
    times = quarters("2026-06-01T00:00:00", 1)
    party = Party("x", Position(0.0, 0.0), ZoneInfo("UTC"), "06:00-22:00", "05:00-07:00,21:00-23:00")
    hours = (times - times[0]) / np.timedelta64(3600, "s")
    expected = ((hours >= 6) & (hours < 7)) | ((hours >= 21) & (hours < 22))
    np.testing.assert_array_equal(party.suits(times), expected)


def test_a_friends_own_hours_are_the_lists(own: station.Station) -> None:
    friend = Friend("Ana", "GF25", time_zone="America/Montevideo", awake="08:00-12:00,15:00-01:00")
    party = party_of_friend(friend)
    times = quarters("2026-03-27T00:00:00", 2)
    zone, awake = "America/Montevideo", ("08:00-12:00", "15:00-01:00")
    either = np.any([plainly_awake(zone, times, *span.split("-")) for span in awake], axis=0)
    np.testing.assert_array_equal(party.suits(times), either)


def test_slots_suit_both_clocks_before_and_after_the_change(found: Sked) -> None:
    assert found.slots
    days = set()
    for slot in found.slots:
        start = slot.start.tolist().replace(tzinfo=UTC)
        last = slot.end.tolist().replace(tzinfo=UTC) - timedelta(minutes=1)
        home = [moment.astimezone(ZoneInfo("Africa/Johannesburg")) for moment in (start, last)]
        far = [moment.astimezone(ZoneInfo("Europe/London")) for moment in (start, last)]
        assert all(17 <= moment.hour < 21 for moment in home)
        assert all(7 <= moment.hour < 23 for moment in far)
        assert f"{home[0]:%H:%M}" in local_clock(found.home, slot.start)
        assert f"{far[0]:%H:%M}" in local_clock(found.far, slot.start)
        days.add(start.date())
        shift = 2 if start < datetime(2026, 3, 29, 1, tzinfo=UTC) else 1
        assert home[0].utcoffset() - far[0].utcoffset() == timedelta(hours=shift)  # type: ignore[operator]
    assert min(days) < datetime(2026, 3, 29).date() < max(days)


def test_the_date_line_gives_two_dates(own: station.Station, near: Terminal, their_end: Terminal) -> None:
    far = Party("down under", Position(-36.8, 174.8), ZoneInfo("Pacific/Auckland"), "00:00-24:00")
    home = Party("west", Position(21.3, -157.9), ZoneInfo("Pacific/Honolulu"), "00:00-24:00")
    moved = replace(own, site=replace(own.site, position=home.position))
    found = sked(asked(moved, far, near, their_end, 2), home, far)
    assert found.slots
    for slot in found.slots:
        here, there = home.local(slot.start), far.local(slot.start)
        assert (there.date() - here.date()).days in (0, 1)
        assert here.utcoffset() == timedelta(hours=-10)
        assert there.utcoffset() == timedelta(hours=13)
        assert f"{here.day} {here:%b}" in local_clock(found.home, slot.start)
        assert f"{there.day} {there:%b}" in local_clock(found.far, slot.start)
    assert any(home.local(slot.start).date() != far.local(slot.start).date() for slot in found.slots)


def test_people_who_are_never_awake_together_are_told_so(
    own: station.Station, near: Terminal, their_end: Terminal
) -> None:
    home = party_of_station(own, "08:00-12:00")
    far = Party("night owl", Position(51.5, -0.1), ZoneInfo("Europe/London"), "20:00-02:00")
    found = sked(asked(own, far, near, their_end, 2), home, far)
    assert found.slots == ()
    assert "never awake" in none_sentence(found)


# --- bands and slots -------------------------------------------------------------------------------------


def test_the_frequency_lies_inside_both_licences(own: station.Station) -> None:
    """40 m voice: 7.060-7.200 here, 7.125-7.300 in the United States (from memory of both)."""
    american = station.loads(HERE.replace("KG40", "FN31") + '[limits]\nnational = "USA"\n')
    mode = mode_by_name("SSB")
    rows = {row.band.name: row for row in common_bands(own, american, american.site.position, mode)}
    assert (rows["40m"].low_mhz, rows["40m"].high_mhz) == (7.125, 7.2)
    assert rows["30m"].refused
    for row in rows.values():
        if not row.refused:
            for limits, region in ((own.limits.country, 1), (american.limits.country, 2)):
                span = segment_mhz(row.band, region, mode, limits)
                assert span is not None
                assert span[0] <= row.frequency_mhz <= span[1]


def test_a_band_one_of_them_has_left_out_is_refused(own: station.Station) -> None:
    narrow = station.loads(HERE + '[limits]\nbands = ["20m"]\n')
    rows = common_bands(own, narrow, narrow.site.position, mode_by_name("CW"))
    assert [row.band.name for row in rows if not row.refused] == ["20m"]
    assert len(rows) == len(BANDS)


def test_slots_are_ranked_by_the_chance_the_forecast_gives(
    own: station.Station, near: Terminal, their_end: Terminal, found: Sked
) -> None:
    chances = [slot.chance for slot in found.slots]
    # ranked by the chance to a thousandth, earlier slots first among equals
    assert all(round(one, 3) >= round(other, 3) for one, other in pairwise(chances))
    assert [slot.rank for slot in found.slots] == list(range(1, len(chances) + 1))
    for slot in found.slots[:3]:
        band = next(row.band for row in found.candidates if row.band.name == slot.band)
        times = slot.start + np.arange(3) * QUARTER
        again = forecast(
            Request(
                own,
                point("x", london().position),
                times,
                STATE,
                mode="CW",
                bands=[band],
                near=near,
                far=their_end,
            )
        )
        row = again.region_chance[:, 0]
        np.testing.assert_allclose(slot.chance, np.mean(0.5 * (row[1:] + row[:-1])), atol=1e-6)


def test_the_best_half_hour_of_all_is_proposed_first(found: Sked) -> None:
    """Against a scan of every quarter hour and band."""
    best = -1.0
    for i in range(found.times.size - 2):
        block = found.chance[i : i + 3]
        for b in range(block.shape[1]):
            if np.all(np.isfinite(block[:, b])):
                best = max(best, float(np.mean(0.5 * (block[1:, b] + block[:-1, b]))))
    np.testing.assert_allclose(found.slots[0].chance, best, atol=0.0006)


def test_at_most_two_slots_a_day_and_not_close_together(found: Sked) -> None:
    days: dict[str, int] = {}
    for slot in found.slots:
        day = f"{found.home.local(slot.start):%Y-%m-%d}"
        days[day] = days.get(day, 0) + 1
        for other in found.slots:
            if other is not slot:
                assert abs(other.start - slot.start) >= np.timedelta64(2 * 3600, "s")
    assert max(days.values()) <= 2


def test_the_fallback_is_another_band_now_or_next(found: Sked) -> None:
    seen = 0
    for slot in found.slots:
        back = slot.fallback
        if back is not None:
            seen += 1
            assert back.band != slot.band
            assert back.start in (slot.start, slot.end)
            assert back.chance >= LEAST_CHANCE
            later = f" at {found.home.local(back.start):%H:%M} " if back.start > slot.start else ""
            told = fallback_words(slot, found)
            assert told.startswith(f"if it is dead, {band_title(back.band)}{later or ', '}")
            assert (f" here ({str(back.start)[11:16]} UTC), " in told) == bool(later)
    assert seen


@pytest.mark.parametrize(("minutes", "days"), [(20, 7), (0, 7), (300, 7), (30, 0), (30, 100)])
def test_lengths_that_make_no_sense_are_refused(
    own: station.Station, near: Terminal, their_end: Terminal, minutes: int, days: int
) -> None:
    with pytest.raises(InputError):
        sked(asked(own, london(), near, their_end, days), party_of_station(own), london(), minutes=minutes)


# --- the calendar ----------------------------------------------------------------------------------------


def test_the_calendar_is_read_back_by_an_independent_reader(found: Sked, tmp_path: Path) -> None:
    written = np.datetime64("2026-03-27T10:00:00", "s")
    file = tmp_path / "sked.ics"
    file.write_bytes(calendar_text(events(found), written, "home and friend").encode())
    calendar = icalendar.Calendar.from_ical(file.read_bytes())
    assert calendar["VERSION"] == "2.0"
    entries = calendar.walk("VEVENT")
    assert len(entries) == len(found.slots)
    for entry, slot in zip(entries, found.slots, strict=True):
        assert entry["DTSTART"].dt == slot.start.tolist().replace(tzinfo=UTC)
        assert entry["DTEND"].dt == slot.end.tolist().replace(tzinfo=UTC)
        assert entry["DTSTAMP"].dt == datetime(2026, 3, 27, 10, tzinfo=UTC)
        assert slot.band.removesuffix("m") in str(entry["SUMMARY"])
        assert slot_sentence(slot, found) in str(entry["DESCRIPTION"])
        before = [slot.start - other.start for other in found.slots if other.start < slot.start]
        rung = any(gap < np.timedelta64(3, "h") for gap in before)  # an alarm that still holds
        assert len(entry.walk("VALARM")) == (0 if rung else 1)
    assert len({str(entry["UID"]) for entry in entries}) == len(entries)


TEXTS = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]) | st.sampled_from("\n\t,;\\:\"'é漢🙂"),
    min_size=1,
    max_size=200,
)


@settings(max_examples=80, deadline=None)
@given(TEXTS, TEXTS)
def test_any_text_comes_back_as_it_went(summary: str, description: str) -> None:
    event = CalendarEntry(START, START + QUARTER, summary, description)
    text = calendar_text([event], START)
    for line in text.split("\r\n"):
        assert len(line.encode()) <= 75
    read = icalendar.Calendar.from_ical(text).walk("VEVENT")[0]
    assert str(read["SUMMARY"]) == summary
    assert str(read["DESCRIPTION"]) == description


def test_lines_end_as_the_standard_wants_and_the_same_event_keeps_its_uid() -> None:
    event = CalendarEntry(START, START + QUARTER, "20 m with a friend")
    text = calendar_text([event], START)
    assert text.startswith("BEGIN:VCALENDAR\r\n")
    assert text.endswith("END:VCALENDAR\r\n")
    assert text.count("\n") == text.count("\r\n")
    again = calendar_text([event], START + QUARTER)
    uid = next(line for line in text.splitlines() if line.startswith("UID:"))
    assert uid in again
    assert replace(event, start=START + QUARTER).uid != event.uid


# --- rows, and the hour for which one gets up --------------------------------------------------------------


def test_days_that_repeat_are_one_row_and_nothing_is_lost(found: Sked) -> None:
    rows = found.rows
    assert sorted(slot.rank for row in rows for slot in row.slots) == [slot.rank for slot in found.slots]
    assert max(len(row.slots) for row in rows) >= 5  # of a week: the hours of people are those of every day
    for row in rows:
        assert len({(str(slot.start)[11:], slot.band) for slot in row.slots}) == 1
        assert [slot.start for slot in row.slots] == sorted(slot.start for slot in row.slots)
        assert min(slot.chance for slot in row.slots) <= row.chance <= row.best.chance
    assert [row.slots[0].start for row in in_order(rows, "day")] == sorted(row.slots[0].start for row in rows)
    kept = first_rows(found, 1)
    assert kept.rows[0] == replace(rows[0], slots=kept.rows[0].slots)
    assert [slot.rank for slot in kept.slots] == list(range(1, len(rows[0].slots) + 1))


def test_a_change_of_clocks_is_told_in_the_row_that_spans_it(found: Sked) -> None:
    row = max(found.rows, key=lambda one: len(one.slots))
    assert "from Sun 29 Mar at" in row_sentence(row, found)  # clocks change in Europe, not in South Africa
    assert "here: clocks change" not in row_sentence(row, found)
    early = SkedRow(tuple(slot for slot in row.slots if slot.start < np.datetime64("2026-03-29")))
    assert "clocks change" not in row_sentence(early, found)


@pytest.mark.parametrize(
    ("dates", "words"),
    [
        (("2026-03-20",), "Fri 20 Mar"),
        (("2026-03-20", "2026-03-21"), "Fri 20 to Sat 21 Mar"),
        (("2026-03-30", "2026-03-31", "2026-04-01"), "Mon 30 Mar to Wed 1 Apr, every day"),
        (("2026-03-20", "2026-03-22", "2026-03-24"), "Fri 20, Sun 22 and Tue 24 Mar"),
        (
            ("2026-03-20", "2026-03-22", "2026-03-23", "2026-03-24", "2026-03-26"),
            "5 days from Fri 20 Mar to Thu 26 Mar",
        ),
    ],
)
def test_the_days_of_a_row(dates: tuple[str, ...], words: str) -> None:
    slots = tuple(
        SkedSlot(
            1,
            np.datetime64(f"{date}T17:00", "s"),
            np.datetime64(f"{date}T17:30", "s"),
            "20m",
            14.0,
            0.5,
            None,
        )
        for date in dates
    )
    assert row_days(SkedRow(slots)).startswith(words)


def test_the_better_hour_for_which_one_gets_up(
    own: station.Station, near: Terminal, their_end: Terminal
) -> None:
    """Against a scan: hours in which the home end alone suits, or the far end alone."""
    home = party_of_station(own, "22:00-04:00")  # at night, when the bands to London are poor
    far = Party("friend", Position(51.5, -0.1), ZoneInfo("Europe/London"), "07:00-23:00")
    request = asked(own, far, near, their_end, 1)
    found = sked(request, home, far)
    one = found.gets_up
    assert one is not None
    assert (one.who, one.asleep) == ("home", True)
    assert one.chance > found.slots[0].chance
    times = one.start + np.arange(3) * QUARTER
    assert np.all(far.suits(times[:-1]))
    assert not np.any(home.suits(times[:-1]))
    bands = [row.band for row in found.candidates if row.band.name == one.band]
    row = forecast(replace(request, times=times, bands=bands)).region_chance[:, 0]
    np.testing.assert_allclose(one.chance, np.mean(0.5 * (row[1:] + row[:-1])), atol=1e-6)
    local = home.local(one.start)
    assert f"at {str(one.start)[11:16]} UTC, {local:%H:%M} here" in gets_up_sentence(found)
    awake = sked(request, party_of_station(own, "00:00-24:00"), replace(far, awake="00:00-24:00"))
    assert awake.gets_up is None  # nobody has to get up
    assert gets_up_sentence(awake) == ""
