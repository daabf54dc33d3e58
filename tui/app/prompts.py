"""Prompts for the choice and for the hours on air, and the export of finished views to files."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import BandwhenError
from propagation.spectrum.bands import by_name
from propagation.wording import quantities as say
from tui.app import clock, outing_journal, times_typed
from tui.app.app_base import DAY, LOOK_BACK, AppBase
from tui.app.choice import USUAL_HOURS, Choice, HoursOnAir
from tui.app.queries import Cancelled, Command, Engine
from tui.app.state import State
from tui.kit import words
from tui.kit.input_parsing import fault, grid, hours, labelled
from tui.kit.input_parsing import power as power_of
from tui.kit.looks import THEME_NAMES, THEME_SAYS

if TYPE_CHECKING:
    from tui.kit.export import Exportable
    from tui.kit.overlays import Reply


def target(app: AppBase, taken: Callable[[], None] | None = None) -> None:
    """Prompt for the target. taken: callback before a target is taken."""
    from tui.kit.overlays import Ask

    choice = app.state.choice
    if choice is None:
        return

    def take(text: str | None) -> None:
        if text:
            if taken is not None:
                taken()
            app.set_target(app.engine.sites.spelling(text))

    question = "Whom to reach: a friend, a locator, a town, a country, a continent, within 500 km, anyone"
    app.push_screen(
        Ask(
            question,
            choice.target,
            app.engine.check_target,
            app.engine.suggest,
            app.engine.target_meanings,
            detail=app.engine.about_target,
        ),
        take,
    )


def date(app: AppBase) -> None:
    """Prompt for a date."""
    from tui.kit.overlays import Ask

    choice = app.state.choice
    if choice is None:
        return

    def check(text: str) -> str:
        return fault(lambda: clock.parse_date(text))

    def take(text: str | None) -> None:
        if text:
            app.go_to_day(clock.parse_date(text).astype("datetime64[s]"))

    app.push_screen(
        Ask(
            "Date, as 2026-03-20, saturday, tomorrow or in 3 days (UTC)",
            say.date(choice.start + LOOK_BACK),
            check,
        ),
        take,
    )


def days(app: AppBase, take: Callable[[np.datetime64, int | None], None]) -> None:
    """Prompt for a first day, or for a range of days."""
    from tui.kit.overlays import Ask

    choice = app.state.choice
    if choice is None:
        return

    def check(text: str) -> str:
        return fault(lambda: clock.parse_days(text))

    question = "From which day on, or on which days: this weekend, saturday..sunday, 27 June to 3 July (UTC)"
    app.push_screen(
        Ask(question, say.date(choice.start + LOOK_BACK), check),
        lambda text: take(*clock.parse_days(text)) if text else None,
    )


def mode(app: AppBase) -> None:
    """Pick a mode."""
    from tui.kit.overlays import Pick

    opening, choice = app.state.opening, app.state.choice
    if opening is None or choice is None:
        return
    options = [(name, words.MODE_SAYS.get(name, "")) for name in opening.modes]
    app.push_screen(Pick("Mode", options, choice.mode), lambda name: app.set_mode(name) if name else None)


def power(app: AppBase) -> None:
    """Prompt for the power."""
    from tui.kit.overlays import Ask

    choice = app.state.choice
    if choice is None:
        return

    def check(text: str) -> str:
        return fault(lambda: power_of(text))

    def take(text: str | None) -> None:
        if text:
            app.set_power(power_of(text))

    app.push_screen(Ask("Power at the rig, in watts", f"{choice.power_w:g}", check), take)


def look(app: AppBase) -> None:
    """Pick a theme."""
    from tui.kit.overlays import Pick

    options = [(name, THEME_SAYS[name]) for name in THEME_NAMES]
    app.push_screen(Pick("Look", options, app.theme), lambda name: set_look(app, name) if name else None)


def set_look(app: AppBase, name: str) -> None:
    """Apply a theme."""
    app.theme = name
    app.remember(theme=name)


@dataclass(frozen=True)
class Written:
    """The result of writing a file: a sentence, and the name already used by another program's file."""

    sentence: str
    taken: str = ""


@dataclass(frozen=True)
class Export(Command[Written]):
    """Write a plan or an appointment to files. force: overwrite an existing file."""

    view: Exportable
    force: bool = False
    tried: str = ""  # the trial under way while the view was computed

    group = "saying"
    says = "file"

    def answer(self, engine: Engine, cancelled: Cancelled) -> Written:
        """Write it into the current folder."""
        from propagation.base.files import TakenError
        from tui.kit import export

        try:
            return Written(export.write(self.view, engine.now(), self.force, self.tried))
        except TakenError as error:
            return Written(error.message, error.path)


def not_there_yet(app: AppBase, what: str, key: str) -> None:
    """Say why a key does nothing while its page has no answer. what: the answer, as `the plan`."""
    if app.state.working:
        app.say(f"{what.capitalize()} is still being worked out; press {key} again once it is shown.")
    else:
        app.say(f"{what.capitalize()} was not worked out, so key {key} has nothing to act on.")


def export(app: AppBase, view: Exportable | None, what: str = "the answer") -> None:
    """Write the view of a page; ask before a file of another program is replaced. what: the view in words."""
    if view is None:
        not_there_yet(app, what, "e")
        return

    choice = app.state.choice
    tried = choice.tried.told if choice is not None and choice.tried is not None else ""

    def told(written: Written) -> None:
        from tui.kit.overlays import replacing

        if written.taken:
            app.push_screen(replacing(written.taken), answered)
        else:
            app.say(written.sentence)

    def answered(answer: str | None) -> None:
        from tui.kit.overlays import REPLACE

        if answer == REPLACE:
            app.ask(Export(view, True, tried), told)
        else:
            app.say("Nothing was written.")

    app.ask(Export(view, tried=tried), told)


def hours_proposed(state: State) -> HoursOnAir:
    """The default hours on air: from now, or from the beginning of another day."""
    start = grid(state.now)
    return HoursOnAir(max(start, state.choice.start) if state.choice is not None else start, USUAL_HOURS)


def ask_hours(app: AppBase) -> None:
    """Prompt for the hours on air."""
    from tui.kit.form import Form, FormField, Helps

    choice = app.state.choice
    if choice is None:
        return
    engine = app.engine
    now = app.state.hours or hours_proposed(app.state)
    fields = [
        FormField(
            "start",
            f"From ({say.zone_word()})",
            _moment_words(now.start, choice),
            hint="as 14:00, saturday 09:00-13:00, 10:00 local, tomorrow after sunset, in 2 hours, now",
        ),
        FormField(
            "hours", "For", f"{round(now.hours, 2):g}", "hours", hint="of a span typed above its end counts"
        ),
        FormField(
            "target",
            "Whom",
            now.target,
            place=True,
            hint=f"empty: the target chosen, {choice.target}; often: anyone",
        ),
    ]

    def check(entries: Mapping[str, str]) -> str:
        return labelled(
            "From", fault(lambda: _hours_typed(app, choice, entries["start"], entries["hours"]))
        ) or labelled("Whom", engine.check_target(entries["target"]) if entries["target"] else "")

    def take(entries: dict[str, str] | None) -> None:
        if entries is not None:
            start, length = _hours_typed(app, choice, entries["start"], entries["hours"])
            whom = entries["target"]
            wanted = HoursOnAir(start, length, engine.sites.spelling(whom) if whom else "")
            app.plan_for(outing_journal.carried_over(now, wanted))
            day = start.astype("datetime64[D]")
            if day != app.state.now.astype("datetime64[D]") and wanted.end > choice.start + DAY:
                app.go_to_day(day.astype("datetime64[s]"))  # its lanes are shown

    sheet = Form("Hours on air", fields, check, helps=Helps(engine.suggest, meant=engine.meanings))
    app.push_screen(sheet, take)


def here(app: AppBase) -> Callable[[], times_typed.Here]:
    """The place of the station in use, for the local clock and the sun in typed times."""

    def found() -> times_typed.Here:
        assert app.state.choice is not None
        site = app.engine.sites.station(app.state.choice.station).site
        return times_typed.Here(site.position, site.zone)

    return found


def _moment_words(when: np.datetime64, choice: Choice) -> str:
    """A time as it may be typed: on another day than those shown with its date."""
    near = choice.start <= when < choice.start + DAY
    return say.clock(when) if near else f"{say.day_title(when)[:-5]} {say.clock(when)}"


def _hours_typed(app: AppBase, choice: Choice, start: str, length: str) -> tuple[np.datetime64, float]:
    """Start and length [h] of the hours on air as typed; a time without a day is of the day shown."""
    place, day = here(app), choice.start.astype("datetime64[D]")
    found = times_typed.span(start, place, day)
    if found.start < choice.start:
        found = times_typed.span(start, place, day + np.timedelta64(1, "D"))
    given = times_typed.length_hours(length) if found.hours is None else found.hours
    whole = hours(length if given is None else f"{given:g}")
    return found.start, round(60.0 * whole) / 60.0  # two decimals are shown, the end is a full minute


def plan_for_chosen_target(app: AppBase) -> None:
    """Plan for the target chosen on the other screens from now on."""
    planned = app.state.hours
    if planned is not None and planned.target:
        app.plan_for(replace(planned, target=""))


def keep_plan_target(app: AppBase) -> None:
    """Keep the target of a plan for it, before another one is chosen for something else."""
    planned, choice = app.state.hours, app.state.choice
    if planned is not None and choice is not None and not planned.target:
        app.plan_for(replace(planned, target=choice.target), noted=False)


def ask_date_of_plan(app: AppBase) -> None:
    """Prompt for a date, and plan the same hours on it."""
    from tui.kit.overlays import Ask

    planned = app.state.hours or hours_proposed(app.state)

    def take(text: str | None) -> None:
        if text:
            day = clock.parse_date(text).astype("datetime64[s]")
            time_of_day = planned.start - planned.start.astype("datetime64[D]").astype("datetime64[s]")
            moved = replace(planned, start=day + time_of_day, dead=(), band="")
            app.plan_for(outing_journal.carried_over(planned, moved))
            app.go_to_day(day)

    def check(text: str) -> str:
        return fault(lambda: clock.parse_date(text))

    question = "Date of the plan, as 2026-03-20, saturday, tomorrow or in 3 days (UTC)"
    app.push_screen(Ask(question, say.date(planned.start), check), take)


def on_band(hours: HoursOnAir, band: str, before: str, now: np.datetime64) -> HoursOnAir:
    """The hours from now on with a band in use by choice, no longer dead. before: the plan's band."""
    left = float((hours.end - now).astype("timedelta64[s]").astype(np.int64)) / 3600.0
    dead = tuple(mark for mark in hours.dead if mark[0] != band)
    return replace(hours, start=now, hours=left, dead=dead, band=band, band_before=before)


def plan_without(app: AppBase, band: str) -> None:
    """Plan again from now on without a band."""
    planned = app.state.hours
    if planned is None:
        return
    now = max(grid(app.clock()), planned.start)
    if now >= planned.end:
        app.say("The hours of this plan are over; h asks for new ones.")
        return
    left = float((planned.end - now).astype(np.int64)) / 3600.0
    told = f"{say.band_title(band)} taken as dead for this outing; planned again from {say.both_clocks(now)}."
    app.say(told, refresh=False)
    others = tuple(mark for mark in planned.dead if mark[0] != band)
    app.plan_for(replace(planned, start=now, hours=left, dead=(*others, (band, now)), band=""))


def dead_bands_line(planned: HoursOnAir | None) -> str:
    """The bands marked as dead, in a sentence; empty if there are none."""
    if planned is None or not planned.dead:
        return ""
    marks = [f"{say.band_title(band)} since {say.both_clocks(found)}" for band, found in planned.dead]
    return f"Taken as dead on this outing: {say.listed(marks)}; u takes a mark back."


def note_mark(app: AppBase, band: str) -> None:
    """Prompt for the mark of a band as the antenna is tuned now; the known or estimated one is filled in."""
    from propagation.antennas.marks import mark_for
    from tui.app.own_marks import NoteMark
    from tui.kit.overlays import Ask

    choice = app.state.choice
    if choice is None or not band:
        return
    if choice.tried is not None and choice.tried.antenna is not None:
        app.say(
            "Another antenna is tried: marks belong to the one on file. Key u on the antenna page drops it."
        )
        return
    try:
        near, station = app.engine.sites.near(choice), app.engine.sites.chosen(choice)
    except BandwhenError as error:  # the station's file is missing or has changed
        app.say(error.message, fault="form")
        return
    antenna = near.antenna
    known = mark_for(antenna, station.centre_mhz(by_name(band), choice.mode)) if antenna is not None else None

    def commit(text: str, reply: Reply) -> None:
        app.commit(NoteMark(choice, band, text), app.lists_changed, reply)

    question = f"Mark on {say.band_title(band)} as it is tuned now, such as 34, or second ring, 3 out"
    app.push_screen(Ask(question, known.text if known is not None else "", commit=commit))
