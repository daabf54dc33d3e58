"""Prompts for the choice: whom to reach, the date, the mode, the power, the look of the screens."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from propagation.wording import quantities as say
from tui.app import clock
from tui.app.app_base import LOOK_BACK, AppBase
from tui.app.queries import Cancelled, Command, Engine
from tui.kit import words
from tui.kit.input_parsing import fault
from tui.kit.input_parsing import power as power_of
from tui.kit.theme import THEME_NAMES, THEME_SAYS

if TYPE_CHECKING:
    from tui.kit.export import Exportable


def target(app: AppBase, taken: Callable[[], None] | None = None) -> None:
    """Ask whom to reach. taken: called before a target is taken."""
    from tui.kit.overlays import Ask

    choice = app.state.choice
    if choice is None:
        return

    def take(text: str | None) -> None:
        if text:
            if taken is not None:
                taken()
            app.set_target(text)

    question = "Whom to reach: a friend, a locator, a town, a country, a continent, within 500 km, anyone"
    app.push_screen(
        Ask(question, choice.target, app.engine.check_target, app.engine.suggest, app.engine.meanings),
        take,
    )


def date(app: AppBase) -> None:
    """Ask for a date."""
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
        Ask("Date, as 2026-03-20, today or tomorrow (UTC)", say.date(choice.start + LOOK_BACK), check),
        take,
    )


def days(app: AppBase, take: Callable[[np.datetime64, int | None], None]) -> None:
    """Ask for a day to begin with, or for days together."""
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
    """Ask for the power."""
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
    """Pick a look."""
    from tui.kit.overlays import Pick

    options = [(name, THEME_SAYS[name]) for name in THEME_NAMES]
    app.push_screen(Pick("Look", options, app.theme), lambda name: set_look(app, name) if name else None)


def set_look(app: AppBase, name: str) -> None:
    """Take a look into use."""
    app.theme = name
    app.remember(theme=name)


@dataclass(frozen=True)
class Written:
    """What became of a file: a sentence, and the name that is taken by a file of somebody else."""

    sentence: str
    taken: str = ""


@dataclass(frozen=True)
class Export(Command[Written]):
    """Write a plan or an appointment. force: over whatever has the name."""

    view: Exportable
    force: bool = False
    tried: str = ""  # what was tried while it was worked out

    group = "saying"
    says = "file"

    def answer(self, engine: Engine, cancelled: Cancelled) -> Written:
        """Write it into the folder one stands in."""
        from propagation.base.files import TakenError
        from tui.kit import export

        try:
            return Written(export.write(self.view, engine.now(), self.force, self.tried))
        except TakenError as error:
            return Written(error.message, error.path)


def export(app: AppBase, view: Exportable | None) -> None:
    """Write what a page shows; where a file of somebody else has the name, ask before it is replaced."""
    if view is None:
        app.say("There is nothing to write yet.")
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
