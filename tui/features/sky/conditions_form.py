"""The conditions corrected: fetched, typed in, or by what was heard on the air."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from propagation.base.errors import BandwhenError
from tui.app.app_base import Host
from tui.app.choice import Choice
from tui.app.queries import Cancelled, Deed, Engine


class ChangeOfConditions(Deed[str]):
    """Changes the conditions; the answer is a sentence."""

    group = "conditions"
    says = "state of the sky"


@dataclass(frozen=True)
class Fetch(ChangeOfConditions):
    """Get the space weather from the network."""

    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Fetch what is due."""
        from tui.features.sky import view as sky

        return sky.fetch(self.now, cancelled)


@dataclass(frozen=True)
class FetchMeasured(ChangeOfConditions):
    """Get the measured maps from the network."""

    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Fetch them all."""
        from tui.features.sky import view as sky

        return sky.fetch_measured(self.now, cancelled)


@dataclass(frozen=True)
class TypeIn(ChangeOfConditions):
    """Set conditions by hand; empty entries give them up again."""

    entries: Mapping[str, str]
    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write them down."""
        from tui.features.sky import view as sky

        return sky.type_in(self.entries, self.now)


@dataclass(frozen=True)
class Heard(ChangeOfConditions):
    """A band was heard from somewhere, or was not."""

    choice: Choice
    band: str
    place: str
    was_heard: bool
    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Correct the index by it."""
        from tui.features.sky import view as sky

        own = engine.sites.chosen(self.choice)
        aimed = engine.sites.target(replace(self.choice, target=self.place))
        return sky.keep_station_report(own, aimed, self.band, self.was_heard, self.now)


@dataclass(frozen=True)
class HeardBeacon(ChangeOfConditions):
    """A beacon was heard, or was not."""

    choice: Choice
    beacon: str
    was_heard: bool
    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Correct the index by it."""
        from tui.features.sky import view as sky

        return sky.keep_beacon_report(engine.sites.chosen(self.choice), self.beacon, self.was_heard, self.now)


def fetch(host: Host) -> None:
    """Get the space weather."""
    from tui.features.sky import view as sky

    _fetch(host, lambda: f"Fetching from {sky.source_words()} ...; Esc stops it.", Fetch(host.clock()))


def fetch_measured(host: Host) -> None:
    """Get the measured maps."""
    from tui.features.sky import view as sky

    deed = FetchMeasured(host.clock())
    _fetch(host, lambda: f"Fetching maps from {sky.measured_words()}; Esc stops it.", deed)


def _fetch(host: Host, told: Callable[[], str], deed: ChangeOfConditions) -> None:
    """Tell from where and how much, and then get it."""
    if host.state.choice is None:
        return
    try:
        host.say(told())
    except BandwhenError as error:
        host.say(error.message, fault=deed.group)
        return
    # the address is on the screen before anything is sent
    host.call_after_refresh(host.ask, deed, host.conditions_changed)


def type_in(host: Host) -> None:
    """Type in flux and K."""
    from tui.features.sky import view as sky
    from tui.kit.form import Form

    if host.state.choice is None:
        return
    now = host.clock()

    def check(entries: Mapping[str, str]) -> str:
        return sky.check(entries, now)

    def take(entries: dict[str, str] | None) -> None:
        if entries is not None:
            host.ask(TypeIn(entries, now), host.conditions_changed)

    note = "Leave an entry empty to go by what is stored."
    title = "The sun and the field, as heard or remembered"
    host.push_screen(Form(title, sky.fields(now), check, note=note), take)


def heard(host: Host) -> None:
    """Say what is heard, or not."""
    from tui.kit.form import Form
    from tui.kit.views import FormField

    choice, cursor, opening, now = host.state.choice, host.state.cursor, host.state.opening, host.clock()
    if choice is None or cursor is None or opening is None:
        return
    engine = host.engine
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
            deed = Heard(choice, entries["band"], entries["from"], was_heard, now)
            host.ask(deed, host.conditions_changed)

    sheet = Form("Heard on the air just now", fields, check, suggest=engine.suggest, meant=engine.meanings)
    host.push_screen(sheet, take)


def beacon(host: Host) -> None:
    """Say which beacon on the air now is heard, or is not."""
    from tui.features.sky import view as sky
    from tui.kit.overlays import Pick

    choice, now = host.state.choice, host.clock()
    if choice is None:
        return
    try:
        turns = sky.beacons_now(now, host.engine.sites.station(choice.station).site.position)
    except BandwhenError as error:  # the station's file has gone or changed since
        host.say(error.message, fault="form")
        return
    options = [(f"heard: {key}", detail) for key, detail in turns]
    options += [(f"silent: {key}", detail) for key, detail in turns]

    def take(answer: str | None) -> None:
        if answer is not None:
            said, _, key = answer.partition(": ")
            host.ask(HeardBeacon(choice, key, said == "heard", now), host.conditions_changed)

    question = "Beacons on the air in this moment (a schedule recalled; check it)"
    host.push_screen(Pick(question, options, ""), take)
