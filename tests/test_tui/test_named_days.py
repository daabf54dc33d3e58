"""Days named together: the weekend, a span of days; appointments looked for on them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import icalendar
import numpy as np
import pytest
import synthetic
from fake_engine import FakeEngine
from screen_text import go, run, settle, text_of
from textual.pilot import Pilot

from propagation.base.errors import InputError
from tui.app import clock
from tui.app.app import BandwhenApp
from tui.app.choice import Choice
from tui.app.sites import Sites
from tui.features.sked.answer import sked_view
from tui.features.sked.page import DAYS, SkedQuery

FRIDAY, SATURDAY, SUNDAY = (np.datetime64(f"2026-03-{day}") for day in (20, 21, 22))


@pytest.mark.parametrize(
    ("text", "first", "count"),
    [
        ("weekend", "2026-03-21", 2),  # the clock of the tests: Friday, 20 March 2026
        ("This Weekend", "2026-03-21", 2),
        ("next weekend", "2026-03-28", 2),
        ("saturday..sunday", "2026-03-21", 2),
        ("sat .. sun", "2026-03-21", 2),
        ("saturday to friday", "2026-03-21", 7),  # the Friday after that Saturday, not today
        ("27 June to 3 July", "2026-06-27", 7),
        ("2026-03-20..2026-03-20", "2026-03-20", 1),
        ("today..tomorrow", "2026-03-20", 2),
        ("saturday", "2026-03-21", None),
    ],
)
def test_days_named_together(text: str, first: str, count: int | None) -> None:
    assert clock.parse_days(text) == (np.datetime64(first), count)


def test_on_a_sunday_this_weekend_is_that_day() -> None:
    clock.set_now(np.datetime64("2026-03-22T10:00", "s"))
    assert clock.parse_days("weekend") == (SUNDAY, 1)
    assert clock.parse_days("next weekend") == (np.datetime64("2026-03-28"), 2)
    clock.set_now(np.datetime64("2026-03-21T10:00", "s"))
    assert clock.parse_days("weekend") == (SATURDAY, 2)


@pytest.mark.parametrize("text", ["sunday..", "..", "a..b..c", "3 July to 27 June 2026", "today..1 Dec", ""])
def test_what_names_no_days(text: str) -> None:
    with pytest.raises(InputError):
        clock.parse_days(text)


def test_an_appointment_at_the_weekend(bandwhen: Callable[..., Any], tmp_path: Path) -> None:
    file = tmp_path / "both.ics"
    asked = ("sked", "--with", "London", "--mode", "CW")
    answer = bandwhen(*asked, "--date", "saturday..sunday", "--json", "--calendar", str(file))
    slots = answer.json["slots"]
    days = [slot["start"][:10] for slot in slots]
    assert set(days) == {str(SATURDAY), str(SUNDAY)}  # ranked across both days
    assert all(slot["end"] <= "2026-03-23T00:00:00Z" for slot in slots)
    chances = [round(slot["chance"], 3) for slot in slots]
    assert chances == sorted(chances, reverse=True)
    told = bandwhen(*asked, "--date", "weekend").out
    assert "Sat 21 Mar to Sun 22 Mar 2026" in " ".join(told.split())
    # slots close together ring once: nobody is woken again while still at the radio
    entries = icalendar.Calendar.from_ical(file.read_bytes()).walk("VEVENT")
    ringing = sorted(entry["DTSTART"].dt for entry in entries if entry.walk("VALARM"))
    assert ringing
    starts = sorted(entry["DTSTART"].dt for entry in entries)
    for entry in entries:
        gaps = [(entry["DTSTART"].dt - other).total_seconds() / 3600.0 for other in starts]
        assert bool(entry.walk("VALARM")) == (not any(0.0 < gap < 3.0 for gap in gaps))
    assert len({str(entry["UID"]) for entry in entries}) == len(entries)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--date", "weekend", "--days", "3"], "names its last day already"),
        (["--date", "today..1 December"], "1 to 60"),
        (["--date", "monday..", "--json"], "is not a date"),
    ],
)
def test_days_that_cannot_be_meant(bandwhen: Callable[..., Any], more: list[str], words: str) -> None:
    answer = bandwhen("sked", "--with", "London", *more)
    assert answer.code == 2
    assert words in answer.err


def test_the_screen_looks_on_the_days_named() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "sked")
        assert engine.last(SkedQuery).days == DAYS
        await pilot.press("d", *"weekend", "enter")
        await settle(app, pilot)
        asked = engine.last(SkedQuery)
        assert asked.days == 2
        assert asked.choice.start.astype("datetime64[D]") == clock.parse_days("weekend")[0]
        assert not app.page.has_class("-stale")  # type: ignore[union-attr]

    run(scenario, engine=engine)


def test_the_view_of_a_weekend_ends_with_it() -> None:
    choice = Choice("", "London", SATURDAY.astype("datetime64[s]"), "CW", 20.0)
    view = sked_view(Sites(), choice, np.datetime64("2026-03-20T12:00", "s"), 2)
    assert view.times[0] == SATURDAY
    assert view.times[-1] == SUNDAY + np.timedelta64(1, "D")
    assert view.days == "Sat 21 Mar to Sun 22 Mar 2026"
    assert {str(slot.start)[:10] for slot in view.slots} == {str(SATURDAY), str(SUNDAY)}
    assert view.paper.startswith("Sat 21 Mar to Sun 22 Mar 2026.")
    with pytest.raises(InputError, match="are over"):
        sked_view(Sites(), choice, np.datetime64("2026-03-23T12:00", "s"), 2)


def test_the_friends_of_a_region_are_offered_and_one_is_chosen() -> None:
    choice = Choice("", "South America", SATURDAY.astype("datetime64[s]"), "CW", 20.0)
    view = sked_view(Sites(), choice, np.datetime64("2026-03-20T12:00", "s"), 2)
    assert view.friends[0][0] == "Uruguay friend"
    assert "now Fri 09:00 there" in view.friends[0][1]
    engine = FakeEngine(
        made_up={SkedQuery: lambda q: view if q.choice.target == "Asia" else synthetic.sked_view()}
    )

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        app.set_target("Asia")
        await go(app, pilot, "sked")
        assert "Uruguay friend" in text_of(app)
        await pilot.press("enter")
        await settle(app, pilot)
        assert engine.last(SkedQuery).choice.target == "Uruguay friend"

    run(scenario, engine=engine)


def test_slots_are_sorted_and_filtered_by_key() -> None:
    late, early = synthetic.sked_view().slots[::-1]
    view = replace(
        synthetic.sked_view(), slots=(late, early), gets_up="Best if one of you gets up: 9 days in 10."
    )

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "sked")
        assert text_of(app).index("17:00-18:00 UTC") < text_of(app).index("15:00-16:00 UTC")
        assert "Best if one of you gets up" in text_of(app)
        await pilot.press("o")
        assert text_of(app).index("17:00-18:00 UTC") > text_of(app).index("15:00-16:00 UTC")
        await pilot.press("b")
        assert "15:00-16:00 UTC" not in text_of(app)  # 20 m, of the slot that was first
        await pilot.press("b", "b")
        assert "17:00-18:00 UTC" in text_of(app)
        assert "15:00-16:00 UTC" in text_of(app)

    run(scenario, engine=FakeEngine(made_up={SkedQuery: lambda q: view}))
