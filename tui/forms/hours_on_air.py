"""The hours on air of the plan: asked for, and asked for again without a band that is dead."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from propagation.wording import quantities as say
from tui import clock
from tui.choice import HoursOnAir
from tui.entries import fault, grid, hours
from tui.host import DAY, Host
from tui.state import State

USUAL_H = 6.0  # h, ours: an afternoon


def proposed(state: State) -> HoursOnAir:
    """The hours while none have been typed in: from now, or from the beginning of another day."""
    start = grid(state.now)
    return HoursOnAir(max(start, state.choice.start) if state.choice is not None else start, USUAL_H)


def ask(host: Host) -> None:
    """Ask for the hours on air."""
    from tui.screens.form import Form
    from tui.views import FormField

    choice = host.state.choice
    if choice is None:
        return
    engine = host.engine
    now = host.state.hours or proposed(host.state)
    fields = [
        FormField("start", "From (UTC)", say.clock(now.start), "HH:MM"),
        FormField("hours", "For", f"{now.hours:g}", "hours"),
        FormField("target", "Whom", now.target, place=True, hint="often: anyone"),
    ]

    def check(entries: Mapping[str, str]) -> str:
        wrong = fault(lambda: clock.parse_hour(entries["start"])) or fault(lambda: hours(entries["hours"]))
        return wrong or engine.check_target(entries["target"])

    def take(entries: dict[str, str] | None) -> None:
        if entries is not None:
            midnight = choice.start.astype("datetime64[D]").astype("datetime64[s]")
            start = midnight + clock.parse_hour(entries["start"])
            start = start + DAY if start < choice.start else start
            host.plan_for(HoursOnAir(start, hours(entries["hours"]), entries["target"]))

    host.push_screen(Form("Hours on air", fields, check, suggest=engine.suggest), take)


def without(host: Host, band: str) -> None:
    """Plan again from now without a band."""
    planned = host.state.hours
    if planned is None:
        return
    now = max(grid(host.clock()), planned.start)
    end = planned.start + np.timedelta64(int(planned.hours * 3600), "s")
    if now >= end:
        host.say("The hours of this plan are over; h asks for new ones.")
        return
    left = float((end - now).astype(np.int64)) / 3600.0
    host.say(f"{say.band_title(band)} taken as dead; planned again from {say.clock(now)}.", refresh=False)
    host.plan_for(HoursOnAir(now, left, planned.target, (*planned.dead, (band, now))))
