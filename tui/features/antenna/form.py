"""Forms of the antenna: choose, describe, save or end a trial; type in or read analyser readings."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Literal

from propagation.base.errors import BandwhenError
from propagation.wording import quantities as say
from tui.app.app_base import AppBase
from tui.app.choice import Choice, Trial
from tui.app.queries import Cancelled, Command, Engine, Query
from tui.kit.input_parsing import fault, files
from tui.kit.input_parsing import power as power_of
from tui.kit.overlays import Reply

if TYPE_CHECKING:
    from propagation.antennas.improvements import Candidate
    from tui.app.day_forecast import DayForecast
    from tui.features.antenna.view import AntennaView, BesideView, ReadingView

POWER, ANTENNA = "another power", "another antenna"


@dataclass(frozen=True)
class KeepTrial(Command[str]):
    """Write the trial into the station's file. The answer is the file's path."""

    choice: Choice

    group = "stations"
    says = "list of stations"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write the file atomically."""
        from tui.features.antenna.answer import keep_trial

        return keep_trial(engine.sites, self.choice)


@dataclass(frozen=True)
class BesideQuery(Query["BesideView"]):
    """Comparison of this antenna with another for today's target."""

    choice: Choice
    other: Trial
    day: DayForecast | None = field(default=None, compare=False, repr=False)

    group = "beside"
    says = "two antennas"

    def answer(self, engine: Engine, cancelled: Cancelled) -> BesideView:
        """Compute the day with each of the two antennas."""
        from tui.features.antenna.answer import beside_view

        return beside_view(engine.sites, self.choice, self.other, engine.now(), cancelled, self.day)


def ask_trial(app: AppBase, bench: AntennaView | None) -> None:
    """Ask for a trial: an improvement on the chosen band, a power, another station's or a new antenna."""
    from tui.kit.overlays import Pick

    choice, cursor = app.state.choice, app.state.cursor
    if choice is None or cursor is None:
        return
    helps = bench.help if bench is not None and choice.tried is None else ()
    here = {
        one.candidate.change: one for one in helps if one.band == cursor.band and one.candidate.ground is None
    }
    changes = {change: one.figures for change, one in here.items()}
    antennas = _antennas(app, choice, lambda trial: app.try_out(trial))
    told = () if choice.tried is None else (f"Tried now: {choice.tried.name}. A new trial takes its place.",)

    def picked(name: str | None) -> None:
        if name == POWER:
            _ask_power(app, choice)
        elif name is not None and name in here:
            _careful(app, lambda: app.try_out(_change(app, choice, here[name].candidate)))
        elif name is not None:
            _careful(app, antennas[name])

    options = [*changes.items(), (POWER, "watts at the rig"), *((name, "") for name in antennas)]
    app.push_screen(Pick("Try on all pages, without saving it", options, options[0][0], told), picked)


def _change(app: AppBase, choice: Choice, change: Candidate) -> Trial:
    from tui.features.antenna.answer import try_change

    return try_change(app.engine.sites.chosen(choice), change)


def _ask_power(app: AppBase, choice: Choice) -> None:
    from tui.kit.overlays import Ask

    def check(text: str) -> str:
        return fault(lambda: power_of(text))

    def typed(text: str | None) -> None:
        if text:
            app.try_out(Trial(say.watts(power_of(text))), power_of(text))

    app.push_screen(Ask("Power to try, in watts", f"{choice.power_w:g}", check), typed)


def _antennas(app: AppBase, choice: Choice, use: Callable[[Trial], None]) -> dict[str, Callable[[], None]]:
    """Ask for an antenna to try: one of another station on file, or a described one."""
    from tui.features.antenna.answer import try_antenna_of

    def of_station(path: str) -> None:
        use(try_antenna_of(app.engine.sites, path))

    opening = app.state.opening
    cards = opening.stations if opening is not None else ()
    found: dict[str, Callable[[], None]] = {}
    for card in cards:
        if card.path != choice.station:
            name = f"antenna of {card.name}"
            name = name if name not in found else f"{name} ({card.path})"
            found[name] = partial(of_station, card.path)
    found[ANTENNA] = partial(_describe, app, choice, use)
    return found


def _describe(app: AppBase, choice: Choice, use: Callable[[Trial], None]) -> None:
    """Open a form that describes an antenna, filled with the present one."""
    from tui.app import station_form
    from tui.features.antenna.answer import antenna_fields, try_described
    from tui.kit.form import Form

    fields = antenna_fields(app.engine.sites.chosen(choice))

    def check(entries: Mapping[str, str]) -> str:
        return fault(lambda: try_described(entries))

    def take(entries: dict[str, str] | None) -> None:
        if entries is not None:
            use(try_described(entries))

    note = "Nothing of this is saved; it begins with the antenna in use."
    app.push_screen(Form("Another antenna", fields, check, note=note, hides=station_form.hidden), take)


def _careful(app: AppBase, act: Callable[[], None]) -> None:
    """Call `act`; report an error, for example that a file is missing or changed."""
    try:
        act()
    except BandwhenError as error:
        app.say(error.message)


def end_trial(app: AppBase) -> None:
    """End the trial and restore the previous state."""
    choice = app.state.choice
    if choice is None or choice.tried is None:
        app.say("Nothing is tried; h tries something.")
        return
    app.end_trial()
    app.say(f"As before: {choice.tried.name} is dropped.")


def keep_trial(app: AppBase) -> None:
    """Write the trial into the station's file."""
    choice = app.state.choice
    if choice is None or choice.tried is None:
        app.say("Nothing is tried; h tries something.")
        return
    name = choice.tried.name

    def kept(path: str) -> None:
        app.trial_kept(path)
        app.say(f"Kept: {name}. Saved in {path}.", refresh=False)

    app.ask(KeepTrial(choice), kept)


def ask_beside(app: AppBase) -> None:
    """Ask for an antenna to compare with the one in use."""
    from tui.kit.overlays import Pick

    choice = app.state.choice
    if choice is None:
        return
    antennas = _antennas(app, choice, lambda trial: _compare(app, choice, trial))

    def picked(name: str | None) -> None:
        if name is not None:
            _careful(app, antennas[name])

    options = [(name, "") for name in antennas]
    app.push_screen(Pick(f"Which antenna beside this one, for {choice.target}", options, ""), picked)


def _compare(app: AppBase, choice: Choice, other: Trial) -> None:
    def came(view: BesideView) -> None:
        from tui.features.antenna.beside import TRY, BesideSheet

        app.push_screen(BesideSheet(view), lambda wish: app.try_out(other) if wish == TRY else None)

    day = app.state.forecast
    app.ask(BesideQuery(choice, other, None if day is None else day.forecast), came)


@dataclass(frozen=True)
class ReadFile(Command["ReadingView"]):
    """Evaluation of a Touchstone file for a band."""

    choice: Choice
    band: str
    file: str

    group = "reading"
    says = "analyser file"

    def answer(self, engine: Engine, cancelled: Cancelled) -> ReadingView:
        """Read and evaluate the file."""
        from tui.features.antenna.reading import file_reading

        near, own = engine.sites.near(self.choice), engine.sites.chosen(self.choice)
        return file_reading(near, own, self.band, self.file)


@dataclass(frozen=True)
class KeepReading(Command[str]):
    """Save readings with the station. The answer is a sentence."""

    choice: Choice
    band: str
    entries: Mapping[str, str]

    group = "stations"
    says = "list of stations"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write them into the station's file."""
        from tui.features.antenna.reading import keep_reading

        near, own = engine.sites.near(self.choice), engine.sites.station(self.choice.station)
        return keep_reading(near, own, self.band, self.entries, self.choice.station, engine.now())


@dataclass(frozen=True)
class ChangeReading(Command[str]):
    """Delete the readings of a band, or use a set-aside one again. The answer is a sentence."""

    choice: Choice
    band: str
    change: Literal["forget", "bring back"]

    group = "stations"
    says = "list of stations"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Change the station's file."""
        from tui.features.antenna.reading import bring_reading_back, forget_reading

        own = engine.sites.station(self.choice.station)
        act = forget_reading if self.change == "forget" else bring_reading_back
        return act(own, self.band, self.choice.station)


def _refused_while_tried(app: AppBase) -> bool:
    """Report whether a trial is active. Readings belong to the antenna on file, so none is accepted then."""
    choice = app.state.choice
    tried = choice is not None and choice.tried is not None and choice.tried.antenna is not None
    if tried:
        app.say("Another antenna is tried: readings belong to the one on file. Key k keeps it, u drops it.")
    return tried


def change_reading(app: AppBase, what: Literal["forget", "bring back"]) -> None:
    """Delete or bring back the reading of the chosen band."""
    choice, cursor = app.state.choice, app.state.cursor
    if choice is not None and cursor is not None and not _refused_while_tried(app):
        app.ask(ChangeReading(choice, cursor.band, what), app.lists_changed)


def analyser(app: AppBase) -> None:
    """Open the form for the analyser reading of the chosen band. The result is updated while typing."""
    from tui.features.antenna.reading import reading_fields, typed_reading
    from tui.kit.form import Form

    choice, cursor = app.state.choice, app.state.cursor
    if choice is None or cursor is None or _refused_while_tried(app):
        return
    band, sites = cursor.band, app.engine.sites

    def check(entries: Mapping[str, str]) -> str | Sequence[str]:
        try:
            return typed_reading(sites.near(choice), sites.chosen(choice), band, entries).sentences
        except BandwhenError as error:
            return error.message

    def commit(entries: dict[str, str], reply: Reply) -> None:
        app.commit(KeepReading(choice, band, entries), app.lists_changed, reply)

    title = f"Analyser on {say.band_title(band)}: the result follows the typing"
    try:
        fields = reading_fields(sites.chosen(choice), band)
    except BandwhenError as error:  # the station's file is missing or has changed
        app.say(error.message, fault="form")
        return
    app.push_screen(Form(title, fields, check, commit=commit))


def touchstone(app: AppBase) -> None:
    """Open a Touchstone file for the chosen band."""
    from tui.kit.overlays import Ask

    choice, cursor = app.state.choice, app.state.cursor
    if choice is None or cursor is None or _refused_while_tried(app):
        return
    band = cursor.band

    def commit(file: str, reply: Reply) -> None:
        command = ReadFile(choice, band, file)
        app.commit(command, lambda reading: _offer(app, choice, file, reading), reply)

    question = f"Touchstone one-port file (.s1p) for {say.band_title(band)}"
    app.push_screen(Ask(question, "", None, files, commit=commit))


def _offer(app: AppBase, choice: Choice, file: str, reading: ReadingView) -> None:
    """Show the evaluation of a file, and offer to save it."""
    from tui.kit.overlays import Pick

    options = [("keep", "store it with the station"), ("leave", "only look")]

    def take(answer: str | None) -> None:
        if answer == "keep":
            app.ask(KeepReading(choice, reading.band, {"file": file}), app.lists_changed)

    title = f"{say.band_title(reading.band)}, from the file"
    app.push_screen(Pick(title, options, "keep", reading.sentences), take)
