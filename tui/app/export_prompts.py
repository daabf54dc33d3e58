"""Finished plans and appointments, written to files."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tui.app.app_base import AppBase
from tui.app.queries import Cancelled, Command, Engine

if TYPE_CHECKING:
    from tui.kit.export import Exportable


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
