"""The conditions corrected: fetched, typed in, or by what was heard on the air."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from propagation.base.errors import BandwhenError
from tui.app.app_base import AppBase
from tui.app.choice import Choice
from tui.app.queries import Cancelled, ChangeOfConditions, Engine, Heard


@dataclass(frozen=True)
class Fetch(ChangeOfConditions):
    """Get the space weather from the network."""

    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Fetch what is due."""
        from tui.features.sky import answer as sky

        return sky.fetch(self.now, cancelled)


@dataclass(frozen=True)
class FetchMeasured(ChangeOfConditions):
    """Get the measured maps from the network."""

    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Fetch them all."""
        from tui.features.sky import answer as sky

        return sky.fetch_measured(self.now, cancelled)


@dataclass(frozen=True)
class TypeIn(ChangeOfConditions):
    """Set conditions by hand; empty entries give them up again."""

    entries: Mapping[str, str]
    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write them down."""
        from tui.features.sky import answer as sky

        return sky.type_in(self.entries, self.now)


@dataclass(frozen=True)
class HeardBeacon(ChangeOfConditions):
    """A beacon was heard, or was not."""

    choice: Choice
    beacon: str
    was_heard: bool
    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Correct the index by it."""
        from tui.app.ear_reports import keep_beacon_report

        return keep_beacon_report(engine.sites.chosen(self.choice), self.beacon, self.was_heard, self.now)


def fetch(app: AppBase) -> None:
    """Get the space weather."""
    from tui.features.sky import answer as sky

    _fetch(app, lambda: f"Fetching from {sky.source_words()} ...; Esc stops it.", Fetch(app.clock()))


def fetch_measured(app: AppBase) -> None:
    """Get the measured maps."""
    from tui.features.sky import answer as sky

    command = FetchMeasured(app.clock())
    _fetch(app, lambda: f"Fetching maps from {sky.measured_words()}; Esc stops it.", command)


def _fetch(app: AppBase, told: Callable[[], str], command: ChangeOfConditions) -> None:
    """Tell from where and how much, and then get it."""
    if app.state.choice is None:
        return
    try:
        app.say(told())
    except BandwhenError as error:
        app.say(error.message, fault=command.group)
        return
    # the address is on the screen before anything is sent
    app.call_after_refresh(app.ask, command, app.conditions_changed)


def type_in(app: AppBase) -> None:
    """Type in flux and K."""
    from tui.features.sky import answer as sky
    from tui.kit.form import Form

    if app.state.choice is None:
        return
    now = app.clock()

    def check(entries: Mapping[str, str]) -> str:
        return sky.check(entries, now)

    def take(entries: dict[str, str] | None) -> None:
        if entries is not None:
            app.ask(TypeIn(entries, now), app.conditions_changed)

    note = "Leave an entry empty to go by what is stored."
    title = "The sun and the field, as heard or remembered"
    app.push_screen(Form(title, sky.fields(now), check, note=note), take)


def heard(app: AppBase) -> None:
    """Say what is heard, or not."""
    from tui.kit.form import Form, FormField

    choice, cursor, opening, now = app.state.choice, app.state.cursor, app.state.opening, app.clock()
    if choice is None or cursor is None or opening is None:
        return
    engine = app.engine
    fields = [
        FormField("band", "Band", cursor.band, choices=opening.bands),
        FormField(
            "from",
            "From",
            choice.target,
            place=True,
            hint="where the stations are that you hear, or should",
        ),
        FormField("heard", "Heard", "yes", choices=("yes", "no")),
    ]

    def check(entries: Mapping[str, str]) -> str:
        if entries["heard"].lower() not in ("yes", "no"):
            return "Heard: yes or no."
        return engine.check_target(entries["from"])

    def take(entries: dict[str, str] | None) -> None:
        if entries is not None:
            was_heard = entries["heard"].lower() == "yes"
            command = Heard(choice, entries["band"], entries["from"], was_heard, now)
            app.ask(command, app.conditions_changed)

    sheet = Form("Heard on the air just now", fields, check, suggest=engine.suggest, meant=engine.meanings)
    app.push_screen(sheet, take)


def beacon(app: AppBase) -> None:
    """Say which beacon on the air now is heard, or is not."""
    from tui.app.ear_reports import beacons_now
    from tui.kit.overlays import Pick

    choice, now = app.state.choice, app.clock()
    if choice is None:
        return
    try:
        turns = beacons_now(now, app.engine.sites.station(choice.station).site.position)
    except BandwhenError as error:  # the station's file has gone or changed since
        app.say(error.message, fault="form")
        return
    options = [(f"heard: {key}", detail) for key, detail in turns]
    options += [(f"silent: {key}", detail) for key, detail in turns]

    def take(answer: str | None) -> None:
        if answer is not None:
            said, _, key = answer.partition(": ")
            app.ask(HeardBeacon(choice, key, said == "heard", now), app.conditions_changed)

    question = "Beacons on the air in this moment (a schedule recalled; check it)"
    app.push_screen(Pick(question, options, ""), take)
