"""What the analyser showed on a band: typed in, or read from a Touchstone file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from propagation.base.errors import BandwhenError
from propagation.wording import quantities as say
from tui.app.app_base import AppBase
from tui.app.choice import Choice
from tui.app.queries import Cancelled, Command, Engine
from tui.kit.input_parsing import files

if TYPE_CHECKING:
    from tui.features.antenna.view import ReadingView


@dataclass(frozen=True)
class ReadFile(Command["ReadingView"]):
    """What a Touchstone file says of a band."""

    choice: Choice
    band: str
    file: str

    group = "reading"
    says = "analyser file"

    def answer(self, engine: Engine, cancelled: Cancelled) -> ReadingView:
        """Read it."""
        from tui.features.antenna import analyser

        near, own = engine.sites.near(self.choice), engine.sites.chosen(self.choice)
        return analyser.from_file(near, own, self.band, self.file)


@dataclass(frozen=True)
class KeepReading(Command[str]):
    """Store readings with the station; a sentence says so."""

    choice: Choice
    band: str
    entries: Mapping[str, str]

    group = "stations"
    says = "list of stations"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write them into the station's file."""
        from tui.features.antenna import analyser

        near, own = engine.sites.near(self.choice), engine.sites.station(self.choice.station)
        return analyser.keep(near, own, self.band, self.entries, self.choice.station, engine.now())


@dataclass(frozen=True)
class ChangeReading(Command[str]):
    """Forget the readings of a band, or bring one back that is set aside; a sentence says so."""

    choice: Choice
    band: str
    change: Literal["forget", "bring back"]

    group = "stations"
    says = "list of stations"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Change the station's file."""
        from tui.features.antenna import analyser

        own = engine.sites.station(self.choice.station)
        act = analyser.forget if self.change == "forget" else analyser.bring_back
        return act(own, self.band, self.choice.station)


def _tried(app: AppBase) -> bool:
    """Whether an antenna is tried: a reading belongs to the one on file, and none is taken meanwhile."""
    choice = app.state.choice
    tried = choice is not None and choice.tried is not None and choice.tried.antenna is not None
    if tried:
        app.say("Another antenna is tried: readings belong to the one on file. Key k keeps it, u drops it.")
    return tried


def change(app: AppBase, what: Literal["forget", "bring back"]) -> None:
    """Forget or bring back the reading of the chosen band."""
    choice, cursor = app.state.choice, app.state.cursor
    if choice is not None and cursor is not None and not _tried(app):
        app.ask(ChangeReading(choice, cursor.band, what), app.lists_changed)


def analyser(app: AppBase) -> None:
    """Type in what the analyser showed on the chosen band; the result follows the typing."""
    from tui.features.antenna import analyser as reader
    from tui.kit.form import Form

    choice, cursor = app.state.choice, app.state.cursor
    if choice is None or cursor is None or _tried(app):
        return
    band, sites = cursor.band, app.engine.sites

    def check(entries: Mapping[str, str]) -> list[str]:
        try:
            return list(reader.reading(sites.near(choice), sites.chosen(choice), band, entries).sentences)
        except BandwhenError as error:
            return [error.message]

    def take(entries: dict[str, str] | None) -> None:
        if entries is not None:
            app.ask(KeepReading(choice, band, entries), app.lists_changed)

    title = f"Analyser on {say.band_title(band)}: the result follows the typing"
    try:
        fields = reader.fields(sites.chosen(choice), band)
    except BandwhenError as error:  # the station's file has gone or changed since
        app.say(error.message, fault="form")
        return
    app.push_screen(Form(title, fields, check, judge_only=True), take)


def touchstone(app: AppBase) -> None:
    """Open a Touchstone file for the chosen band."""
    from tui.kit.overlays import Ask

    choice, cursor = app.state.choice, app.state.cursor
    if choice is None or cursor is None or _tried(app):
        return
    band = cursor.band

    def take(file: str | None) -> None:
        if file:
            app.ask(ReadFile(choice, band, file), lambda reading: _offer(app, choice, file, reading))

    question = f"Touchstone one-port file (.s1p) for {say.band_title(band)}"
    app.push_screen(Ask(question, "", None, files), take)


def _offer(app: AppBase, choice: Choice, file: str, reading: ReadingView) -> None:
    """Show what a file says, and offer to store it."""
    from tui.kit.overlays import Pick

    options = [("keep", "store it with the station"), ("leave", "only look")]

    def take(answer: str | None) -> None:
        if answer == "keep":
            app.ask(KeepReading(choice, reading.band, {"file": file}), app.lists_changed)

    title = f"{say.band_title(reading.band)}, from the file"
    app.push_screen(Pick(title, options, "keep", reading.sentences), take)
