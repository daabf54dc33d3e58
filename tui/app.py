"""The app: its screens by name, the keys that concern all of them, and the way in from the command line."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any, ClassVar

from textual.binding import Binding, BindingType
from textual.screen import Screen

from propagation.base.errors import InputError
from tui import settings
from tui.desk import Desk
from tui.editing import Editing
from tui.palette import Entries
from tui.screens.page import PLACES, Page


def _page(mode: str) -> Page:
    """A screen by its name, imported when it is first shown."""
    page: Page = getattr(import_module(f"tui.screens.{mode}"), f"{mode.capitalize()}Page")()
    return page


class BandwhenApp(Editing):
    """The screens of bandwhen."""

    CSS_PATH = "bandwhen.tcss"
    TITLE = "bandwhen"
    ENABLE_COMMAND_PALETTE = True
    COMMANDS: ClassVar[set[Any]] = {Entries}
    MODES: ClassVar[dict[str, str | Callable[[], Screen[Any]]]] = {
        mode: partial(_page, mode) for _, _, mode in PLACES
    }
    DEFAULT_MODE = "day"

    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(key, f"go('{mode}')", label, show=False) for key, label, mode in PLACES),
        Binding("w", "words", "words", show=False, tooltip="this screen in plain sentences"),
        Binding("y", "copy", "copy", show=False, tooltip="this screen's words to the clipboard"),
        Binding("question_mark", "help", "help", show=False),
        Binding("slash", "command_palette", "find a command", show=False),
        Binding("v", "look", "look", show=False, tooltip="dark, light, sunlight, night, ansi"),
        Binding("g", "glyphs", "signs", show=False, tooltip="plain ASCII signs, or all of them"),
        Binding("s", "new_station", "new station", show=False, tooltip="make a station of your own"),
        Binding("escape", "cancel", "stop", show=False, tooltip="stop what is being worked out"),
        Binding("q", "quit", "quit", show=False, tooltip="leave the program"),
    ]

    def _take_opening(self, opening: Any) -> None:
        """Read the station; get the space weather too, once, where the settings ask for it."""
        first = self.shared.opening is None
        super()._take_opening(opening)
        if first and self.chosen.fetch_on_start:
            self.call_later(self.action_fetch)


def _engine_desk() -> Desk:
    """The engine, imported only when the first picture stands on the screen."""
    from tui.presenter import EngineDesk

    return EngineDesk()


def run_app(station: Path | None = None) -> int:
    """Open the screens; the exit code."""
    chosen, note = settings.load()
    if station is not None and not station.is_file():
        raise InputError(f"There is no station file {str(station)!r}.")
    app = BandwhenApp(
        _engine_desk, station=str(station) if station is not None else "", chosen=chosen, note=note
    )
    app.run()
    return app.return_code or 0
