"""Every key that a page's help names is pressed on that page, and does what the help says of it."""

from __future__ import annotations

import re
import threading
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
import synthetic
from fake_engine import FakeEngine
from screen_text import go, run, settle, text_of
from test_review_screen import made_up
from textual.binding import Binding
from textual.pilot import Pilot

from propagation.logbook.journal import Worked
from tui.app import outing_log
from tui.app.app import BandwhenApp
from tui.app.choice import Cursor, HoursOnAir, Trial
from tui.app.feature_list import PAGES
from tui.app.page import Page
from tui.app.prompts import hours_proposed
from tui.features.antenna.form import ChangeReading, KeepTrial
from tui.features.review.page import ChangeLesson, Lesson, ReviewPage, ReviewQuery
from tui.features.sked.page import SkedQuery
from tui.features.sked.view import SkedView
from tui.features.stations.form import ForgetFriend
from tui.kit.first_step import FirstStep
from tui.kit.form import Form
from tui.kit.input_parsing import grid
from tui.kit.lists import Cards, Notes
from tui.kit.overlays import Ask, Pick, WordsSheet
from tui.kit.page_lines import key_sign

CURSOR = Cursor(synthetic.NOW - np.timedelta64(3600, "s"), "20m")
DAY = np.timedelta64(86400, "s")
GATE = threading.Event()  # closed: the forecast takes its time
ROWS_MOVED = ("step", "slot", "row", "month")  # what a page calls the row chosen in its list


@dataclass(frozen=True)
class Seen:
    """What can be told apart before and after a key."""

    screen: str  # kind of the screen on top, with what it asks or is called
    kinds: tuple[str, ...]  # of the screen on top, with what it is made from
    place: str
    text: str
    cursor: Cursor
    start: np.datetime64
    target: str
    station: str
    hours: HoursOnAir | None
    notice: str
    clipboard: str
    pane: int
    row: int
    scrolled: int
    put: tuple[Any, ...]
    left: bool


Effect = Callable[[Seen, Seen], bool]


def seen(app: BandwhenApp, engine: FakeEngine) -> Seen:
    page, state, top = app.page, app.state, app.screen
    assert page is not None
    assert state.cursor is not None
    assert state.choice is not None
    cards = [one for one in page.query(Cards) if one.display]
    row = next((getattr(page, name) for name in ROWS_MOVED if hasattr(page, name)), 0)
    return Seen(
        screen=f"{type(top).__name__}: {getattr(top, 'question', '') or getattr(top, 'heading', '')}",
        kinds=tuple(kind.__name__ for kind in type(top).__mro__),
        place=app.current_mode,
        text=text_of(app),
        cursor=state.cursor,
        start=state.choice.start,
        target=state.choice.target,
        station=app.station_wish,
        hours=state.hours,
        notice=state.notice,
        clipboard=app.clipboard,
        pane=page.pane,
        row=cards[0].at if cards else row,  # type: ignore[attr-defined]
        scrolled=max((notes.first for notes in page.query(Notes)), default=0),
        put=tuple(engine.put),
        left=app._exit,
    )


# -- what each action does -----------------------------------------------------------------------


def opens(kind: type[Any], words: str) -> Effect:
    """A sheet of a kind is opened that asks or tells this."""
    return lambda before, after: kind.__name__ in after.kinds and words in after.screen


def puts(kind: type[Any], **fields: Any) -> Effect:
    """Something is asked of the engine."""

    def effect(before: Seen, after: Seen) -> bool:
        new = after.put[len(before.put) :]
        return any(
            isinstance(one, kind) and all(getattr(one, key) == value for key, value in fields.items())
            for one in new
        )

    return effect


def moves_time(minutes: int) -> Effect:
    step = np.timedelta64(minutes * 60, "s")
    return lambda before, after: after.cursor.time - before.cursor.time == step


def moves_row(by: int) -> Effect:
    return lambda before, after: (after.row - before.row) * by > 0


def leaps(to: int) -> Effect:
    """To the end of the day, or of the list."""

    def effect(before: Seen, after: Seen) -> bool:
        day_end = after.start if to < 0 else after.start + np.timedelta64(86400 - 600, "s")
        return after.cursor.time == day_end or (after.row - before.row) * to > 0

    return effect


def leafs(by: int) -> Effect:
    """Words, hours or rows."""

    def effect(before: Seen, after: Seen) -> bool:
        hours = (after.cursor.time - before.cursor.time).astype(int)
        words, rows = after.scrolled - before.scrolled, after.row - before.row
        return any(moved * by > 0 for moved in (words, hours, rows))

    return effect


def bands_moved(by: int) -> Effect:
    return lambda before, after: (
        synthetic.BANDS.index(after.cursor.band) - synthetic.BANDS.index(before.cursor.band) == by
    )


def days_moved(by: int) -> Effect:
    return lambda before, after: (
        (after.start.astype("datetime64[D]") - before.start.astype("datetime64[D]"))
        == np.timedelta64(by, "D")
    )


def dead_marks(before: Seen, after: Seen) -> int:
    return len(after.hours.dead if after.hours else ()) - len(before.hours.dead if before.hours else ())


EFFECTS: dict[str, Effect] = {
    **{f"app.step({by})": moves_time(by) for by in (-30, 30, -10, 10)},
    **{f"app.band({by})": bands_moved(by) for by in (-1, 1)},
    **{f"app.day({by})": days_moved(by) for by in (-1, 1)},
    **{f"leap({by})": leaps(by) for by in (-1, 1)},
    **{f"leaf({by})": leafs(by) for by in (-1, 1)},
    **{f"{name}({by})": moves_row(by) for by in (-1, 1) for name in ("step", "slot", "row", "pick", "month")},
    **{
        f"scroll_words({by})": lambda before, after, by=by: (after.scrolled - before.scrolled) * by > 0
        for by in (-1, 1)
    },
    "app.to_now": lambda before, after: after.cursor.time == grid(synthetic.NOW) != before.cursor.time,
    "app.route": lambda before, after: after.cursor.long != before.cursor.long,
    "app.go('why')": lambda before, after: after.place == "why",
    "next_pane": lambda before, after: after.pane != before.pane and after.text != before.text,
    "app.target": opens(Ask, "Whom to reach"),
    "app.date": opens(Ask, "Date"),
    "app.mode": opens(Pick, "Mode"),
    "app.power": opens(Ask, "Power"),
    "plan_target": opens(Ask, "Whom to reach"),
    "plan_date": opens(Ask, "Date of the plan"),
    "plan_hours": opens(Form, "Hours on air"),
    "contact": opens(Ask, "Call sign, reports"),
    "band": opens(Pick, "The band in use now"),
    "change": opens(Ask, "Correct the contact"),
    "take_out": lambda before, after: "taken out" in after.notice,
    "keep": opens(Ask, "Name to keep this plan under"),
    "open_kept": opens(Pick, "Start from which plan"),
    "mark('in vain')": lambda before, after: "noted" in after.notice,
    "mark('one way')": lambda before, after: "heard" in after.notice,
    "undo": lambda before, after: dead_marks(before, after) == -1 and "Taken back" in after.notice,
    "dead": lambda before, after: dead_marks(before, after) == 1,
    "export": lambda before, after: after.notice == "Written.",
    "export_all": lambda before, after: after.notice == "Written.",
    "analyser": opens(Form, "Analyser on 20 m"),
    "touchstone": opens(Ask, "Touchstone"),
    "bring_back": puts(ChangeReading, band="20m", change="bring back"),
    "fetch": lambda before, after: after.notice == "Fetched 5 of 6 products.",
    "type_in": opens(Form, "The sun and the field"),
    "heard": opens(Form, "Heard on the air"),
    "beacon": opens(Pick, "Beacons on the air"),
    "use": lambda before, after: after.station != before.station or after.target != before.target,
    "edit": opens(Form, ""),
    "new_friend": opens(Form, "Friend"),
    "days": opens(Ask, "From which day on"),
    "try_out": opens(Pick, "Try on all pages"),
    "beside": opens(Pick, "Which antenna beside this one"),
    "keep_trial": puts(KeepTrial),
    "end_trial": lambda before, after: after.notice.startswith("As before: 100 W"),
    "open": opens(Ask, "A log (ADIF, Cabrillo)"),
    "words": opens(WordsSheet, "In words"),
    "copy": lambda before, after: after.clipboard != before.clipboard and "clipboard" in after.notice,
    "help": lambda before, after: after.screen == "HelpSheet: Help",
    "command_palette": lambda before, after: after.screen.startswith("CommandFinder"),
    "look": opens(Pick, "Look"),
    "glyphs": lambda before, after: before.text.isascii() != after.text.isascii(),
    "new_station": opens(FirstStep, "Your station"),
    "cancel": lambda before, after: after.notice.startswith("Stopped"),
    "quit": lambda before, after: after.left,
}
OF_PAGE: dict[tuple[str, str], Effect] = {  # where one action of a page means something else on another
    ("bench", "forget"): puts(ChangeReading, band="20m", change="forget"),
    ("station", "forget"): puts(ForgetFriend),
    ("review", "keep"): puts(ChangeLesson, change="keep"),
    ("review", "open_listed"): puts(ReviewQuery),
    ("season", "open"): lambda before, after: before.text != after.text,
    ("season", "beside"): opens(Pick, "Beside it"),
    ("review", "forget"): puts(ChangeLesson, change="forget"),
    ("review", "use"): puts(ChangeLesson, change="use"),
}


def changes_something(before: Seen, after: Seen) -> bool:
    """What is asked at least of a key whose effect is not in the table."""
    return replace(before, text="") != replace(after, text="") or before.text != after.text


# -- what must be so before a key is pressed ------------------------------------------------------

Ready = Callable[[BandwhenApp, Pilot[None]], Awaitable[None]]


async def amid_words(app: BandwhenApp, pilot: Pilot[None]) -> None:
    """Words that do not fit, scrolled a little."""
    page = app.page
    assert page is not None
    for notes in page.query(Notes):
        if notes.id in ("effects", "bench-line"):
            notes.show(["word " * 600])
            notes.move(3)


async def amid_rows(app: BandwhenApp, pilot: Pilot[None]) -> None:
    """A row in the middle of the list."""
    page = app.page
    assert page is not None
    if page.place == "onair":
        await with_contacts(app, pilot)
    for name in ROWS_MOVED:
        if hasattr(page, name):
            setattr(page, name, 1)
    for cards in page.query(Cards):
        cards.at = 2
    page.take(app.state)


async def on_a_friend(app: BandwhenApp, pilot: Pilot[None]) -> None:
    """The first friend of the list."""
    for cards in app.screen.query(Cards):
        cards.at = next(n for n, card in enumerate(cards.cards) if card.key.startswith("friend:"))


async def with_a_dead_band(app: BandwhenApp, pilot: Pilot[None]) -> None:
    """One band is marked."""
    hours = app.state.hours or hours_proposed(app.state)
    app.plan_for(replace(hours, dead=(("20m", synthetic.NOW),)))
    await settle(app, pilot)


async def with_contacts(app: BandwhenApp, pilot: Pilot[None]) -> None:
    """A few contacts are in the log of the outing."""
    hours = app.state.hours
    assert hours is not None
    for number in range(5):
        time = synthetic.NOW + np.timedelta64(number, "m")
        worked = Worked(f"ZS{number}TEST", "59", "59", time, "20m", None, "SSB", 20.0)
        hours, _ = outing_log.write_contact(hours, worked)
    app.plan_for(hours)
    app.screen.query_one("#events", Cards).at = 0
    app.refresh_page()
    await settle(app, pilot)


async def before_a_log(app: BandwhenApp, pilot: Pilot[None]) -> None:
    """No log is open, so that the page lists those that can be."""
    page = app.page
    assert isinstance(page, ReviewPage)
    app.state.answers.drop(ReviewQuery)
    page.lay_out()
    page.take(app.state)
    await settle(app, pilot)
    assert page.query_one("#logs", Cards).display


async def amid_events(app: BandwhenApp, pilot: Pilot[None]) -> None:
    """An event in the middle of the list, on the page that has one."""
    if app.current_mode == "onair":
        await amid_rows(app, pilot)


async def with_a_trial(app: BandwhenApp, pilot: Pilot[None]) -> None:
    """Another power is tried."""
    app.try_out(Trial("100 W"), 100.0)
    await settle(app, pilot)


async def while_working(app: BandwhenApp, pilot: Pilot[None]) -> None:
    """Something is being worked out that takes its time."""
    assert app.state.choice is not None
    GATE.clear()
    app.choose(replace(app.state.choice, start=app.state.choice.start + 3 * DAY))
    while "day" not in app.jobs.busy:
        await pilot.pause(0.005)


READY: dict[str, Ready] = {
    **{
        f"{name}({by})": amid_rows
        for by in (-1, 1)
        for name in ("step", "slot", "row", "pick", "month", "leap")
    },
    **{f"scroll_words({by})": amid_words for by in (-1, 1)},
    "leaf(-1)": amid_events,
    "undo": with_a_dead_band,
    "change": with_contacts,
    "take_out": with_contacts,
    "cancel": while_working,
    "open_listed": before_a_log,
    "keep_trial": with_a_trial,
    "end_trial": with_a_trial,
}
READY_ON_PAGE: dict[tuple[str, str], Ready] = {
    ("station", "forget"): on_a_friend,
    ("station", "use"): amid_rows,
    ("station", "edit"): on_a_friend,
    **{(place, f"leaf({by})"): amid_words for by in (-1, 1) for place in ("sky", "bench")},
    **{
        (place, f"leaf({by})"): amid_rows
        for by in (-1, 1)
        for place in ("plan", "sked", "station", "review", "season")
    },
}


def many_slots() -> SkedView:
    """An appointment with slots enough to walk along."""
    found = synthetic.sked_view()
    days = [
        np.timedelta64(24 * days, "h") for days in range(3)
    ]  # three a band: key b may leave one band alone
    slots = [replace(one, start=one.start + day, end=one.end + day) for day in days for one in found.slots]
    return replace(found, slots=tuple(slots))


def of_help(place: str) -> list[tuple[str, str]]:
    """(key, action) of a page as its help has them, the key that leaves the program last."""
    entry = next(one for one in PAGES if one.place == place)
    page = entry.make()
    found = []
    for binding in (*page.BINDINGS, *BandwhenApp.BINDINGS):
        assert isinstance(binding, Binding)
        taken = {key for key, _ in found}  # a key of the page goes before the same key of all pages
        found += [(key, binding.action) for key in binding.key.split(",") if key not in taken]
    found += [(one.key, f"go('{one.place}')") for one in PAGES]
    return sorted(found, key=lambda pair: pair[1] == "quit")


async def back(app: BandwhenApp, pilot: Pilot[None], place: str, start: np.datetime64) -> None:
    """To the page, the cursor and the choice from which every key is tried."""
    GATE.set()
    while not isinstance(app.screen, Page):
        app.pop_screen()
        await pilot.pause()
    if app.current_mode != place:
        await app.action_go(place)
    state, page = app.state, app.page
    assert state.choice is not None
    assert page is not None
    if app.plain_glyphs:
        app.action_glyphs()
    app.following = False
    if app.station_wish:
        app.use_station("")
    app.choose(replace(state.choice, start=start, target="Uruguay", station=""))
    app.look_at(CURSOR)
    if page.pane:
        page.pane = 0
        page.lay_out()
    if state.hours is not None and state.hours.dead:
        app.plan_for(replace(state.hours, dead=()))
    if place == "review" and not page.view:  # type: ignore[attr-defined]
        page.open_log("log.adi")  # type: ignore[attr-defined]
    await settle(app, pilot)
    app.say("")


async def wrong_letters(sheet: Pick, pilot: Pilot[None]) -> list[str]:
    """The first letters of a chooser's entries that do not select the first entry that begins with them."""
    failed = []
    cards = sheet.query_one(Cards)
    letters = dict.fromkeys(key[0].casefold() for key, _ in sheet.options if key[:1].isalnum())
    for letter in letters:
        first = next(key for key, _ in sheet.options if key.casefold().startswith(letter))
        sheet.action_pick(-len(sheet.options))  # what was typed before is forgotten
        await pilot.press(letter)
        if not sheet.is_current or cards.chosen is None:
            return [*failed, f"{sheet.question}: {letter} left the list"]
        if cards.chosen.key != first:
            failed.append(f"{sheet.question}: {letter} selects {cards.chosen.key}, not {first}")
    return failed if letters else [f"{sheet.question}: no entry begins with a letter"]


def test_no_chooser_has_a_letter_as_a_key() -> None:
    kinds = [Pick]
    for kind in kinds:
        kinds += kind.__subclasses__()
        for binding in kind.BINDINGS:
            assert isinstance(binding, Binding)
            assert not any(len(key) == 1 and key.isalnum() for key in binding.key.split(",")), binding
    assert len(kinds) > 1


def test_letters_select_the_first_entry_that_begins_with_them() -> None:
    options = [(name, "") for name in ("15 m", "20 m", "SSB", "FM", "Sunlight", "SST", "DIGITAL", "form")]

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        taken: list[str | None] = []
        app.push_screen(Pick("Which", options, "20 m"), taken.append)
        await pilot.pause()
        cards = app.screen.query_one(Cards)

        async def after(*keys: str) -> str:
            await pilot.press(*keys)
            assert cards.chosen is not None
            return cards.chosen.key

        assert await after("s") == "SSB"
        assert await after("s") == "SSB"  # ss
        assert await after("t") == "SST"
        assert await after("d") == "DIGITAL"
        assert await after("D") == "DIGITAL"  # the only one
        assert await after("f") == "FM"
        assert await after("f") == "form"  # the next one
        assert await after("f") == "FM"  # and round again
        assert await after("1", "5", "m") == "15 m"  # blanks do not count
        assert await after("y") == "15 m"  # nothing begins with it
        assert await after("s", "u") == "Sunlight"
        assert await after("down") == "SST"
        assert await after("u") == "SST"  # begun anew by an arrow
        await pilot.press("2", "enter")
        await pilot.pause()
        assert taken == ["20 m"]

    run(scenario)


@pytest.mark.slow
@pytest.mark.parametrize("place", [entry.place for entry in PAGES])
def test_every_key_of_the_help_does_what_it_says(place: str) -> None:
    lesson = Lesson("Kept.", "20 m 3 dB worse.")
    GATE.set()
    engine = FakeEngine(
        gate=GATE,
        made_up={
            SkedQuery: lambda query: many_slots(),
            ReviewQuery: lambda query: made_up(),
            ChangeLesson: lambda query: lesson,
            ChangeReading: lambda query: "Changed.",
            ForgetFriend: lambda query: "Forgotten.",
        },
    )
    keys = of_help(place)
    tried: list[str] = []
    failed: list[str] = []

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        assert app.state.choice is not None
        start = app.state.choice.start
        await go(app, pilot, place)
        page = app.page
        assert page is not None
        told = app.help_sentences(page)
        for key, action in keys:
            sign = key_sign(key)
            assert any(re.match(rf"(.* or )?{re.escape(sign)}( or .*)?: ", line) for line in told), key
            await back(app, pilot, place, start)
            ready = READY_ON_PAGE.get((place, action)) or READY.get(action)
            if ready is not None:
                await ready(app, pilot)
            before = seen(app, engine)
            await pilot.press(key)
            if action != "quit":
                await settle(app, pilot)
            after = seen(app, engine)
            goes = re.match(r"(?:app\.)?go\('(\w+)'\)", action)
            effect = OF_PAGE.get((place, action)) or EFFECTS.get(action, changes_something)
            done = after.place == goes[1] if goes else effect(before, after)
            tried.append(key)
            if not done:
                failed.append(f"{key} ({action}): {before.screen} -> {after.screen}, {after.notice!r}")
            if isinstance(app.screen, Pick):
                failed.extend(await wrong_letters(app.screen, pilot))

    run(scenario, engine=engine)
    assert len(tried) == len(keys)
    assert failed == [], "\n".join(failed)


def test_a_key_without_an_effect_would_be_noticed() -> None:
    engine = FakeEngine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        before = seen(app, engine)
        await pilot.press("f9")
        await settle(app, pilot)
        after = seen(app, engine)
        assert not changes_something(before, after)
        assert not any(effect(before, after) for name, effect in EFFECTS.items() if name != "quit")

    run(scenario, engine=engine)


def test_the_made_up_lists_are_long_enough_to_be_walked() -> None:
    assert len(synthetic.plan_view().steps) > 2
    assert len(many_slots().slots) > 2
    assert len(made_up().contacts) > 2
