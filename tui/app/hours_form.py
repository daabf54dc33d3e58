"""The hours on air of the plan: asked for, and asked for again without a band that is dead."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from propagation.wording import quantities as say
from tui.app import clock, outing_journal
from tui.app.app_base import DAY, AppBase
from tui.app.choice import USUAL_HOURS, HoursOnAir
from tui.app.state import State
from tui.kit.input_parsing import fault, grid, hours


def proposed(state: State) -> HoursOnAir:
    """The hours while none have been typed in: from now, or from the beginning of another day."""
    start = grid(state.now)
    return HoursOnAir(max(start, state.choice.start) if state.choice is not None else start, USUAL_HOURS)


def ask(app: AppBase) -> None:
    """Ask for the hours on air."""
    from tui.kit.form import Form, FormField

    choice = app.state.choice
    if choice is None:
        return
    engine = app.engine
    now = app.state.hours or proposed(app.state)
    fields = [
        FormField("start", "From (UTC)", say.clock(now.start), "HH:MM"),
        FormField("hours", "For", f"{now.hours:g}", "hours"),
        FormField(
            "target",
            "Whom",
            now.target,
            place=True,
            hint=f"empty: the target chosen, {choice.target}; often: anyone",
        ),
    ]

    def check(entries: Mapping[str, str]) -> str:
        wrong = fault(lambda: clock.parse_hour(entries["start"])) or fault(lambda: hours(entries["hours"]))
        return wrong or (engine.check_target(entries["target"]) if entries["target"] else "")

    def take(entries: dict[str, str] | None) -> None:
        if entries is not None:
            midnight = choice.start.astype("datetime64[D]").astype("datetime64[s]")
            start = midnight + clock.parse_hour(entries["start"])
            start = start + DAY if start < choice.start else start
            wanted = HoursOnAir(start, hours(entries["hours"]), entries["target"])
            app.plan_for(outing_journal.carried_over(now, wanted))

    sheet = Form("Hours on air", fields, check, suggest=engine.suggest, meant=engine.meanings)
    app.push_screen(sheet, take)


def same_target(app: AppBase) -> None:
    """From now on plan for the target chosen on the other screens."""
    planned = app.state.hours
    if planned is not None and planned.target:
        app.plan_for(replace(planned, target=""))


def ask_date(app: AppBase) -> None:
    """Ask for a date, and plan the same hours on it."""
    from tui.kit.overlays import Ask

    planned = app.state.hours or proposed(app.state)

    def take(text: str | None) -> None:
        if text:
            day = clock.parse_date(text).astype("datetime64[s]")
            time_of_day = planned.start - planned.start.astype("datetime64[D]").astype("datetime64[s]")
            moved = replace(planned, start=day + time_of_day, dead=())
            app.plan_for(outing_journal.carried_over(planned, moved))
            app.go_to_day(day)

    def check(text: str) -> str:
        return fault(lambda: clock.parse_date(text))

    question = "Date of the plan, as 2026-03-20, today or tomorrow (UTC)"
    app.push_screen(Ask(question, say.date(planned.start), check), take)


def without(app: AppBase, band: str) -> None:
    """Plan again from now without a band."""
    planned = app.state.hours
    if planned is None:
        return
    now = max(grid(app.clock()), planned.start)
    if now >= planned.end:
        app.say("The hours of this plan are over; h asks for new ones.")
        return
    left = float((planned.end - now).astype(np.int64)) / 3600.0
    told = f"{say.band_title(band)} taken as dead for this outing; planned again from {say.clock(now)}."
    app.say(told, refresh=False)
    others = tuple(mark for mark in planned.dead if mark[0] != band)
    app.plan_for(replace(planned, start=now, hours=left, dead=(*others, (band, now))))


def lift(app: AppBase) -> None:
    """Take a dead mark back; with several, ask which."""
    from tui.kit.overlays import Pick

    planned = app.state.hours
    if planned is None or not planned.dead:
        app.say("No band is taken as dead.")
        return
    if len(planned.dead) == 1:
        _alive(app, planned.dead[0][0])
        return
    options = [(say.band_title(band), f"dead since {say.clock(found)}") for band, found in planned.dead]
    of_title = {say.band_title(band): band for band, _ in planned.dead}
    app.push_screen(
        Pick("Which band is alive again", options, options[-1][0]),
        lambda title: _alive(app, of_title[title]) if title else None,
    )


def _alive(app: AppBase, band: str) -> None:
    planned = app.state.hours
    if planned is not None:
        app.say(f"{say.band_title(band)} is no longer taken as dead; planned again.", refresh=False)
        app.plan_for(replace(planned, dead=tuple(mark for mark in planned.dead if mark[0] != band)))


def dead_line(planned: HoursOnAir | None) -> str:
    """The bands taken as dead, in a sentence; empty where there are none."""
    if planned is None or not planned.dead:
        return ""
    marks = say.listed([f"{say.band_title(band)} since {say.clock(found)}" for band, found in planned.dead])
    return f"Taken as dead on this outing: {marks}; u takes a mark back."
