"""The list of pages, in the order of their keys. A new page is its screen's file and one line here."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import Any, cast

from textual.screen import Screen


@dataclass(frozen=True)
class PageEntry:
    """One page: the key that opens it, its name on the key line, and where its screen stands."""

    key: str
    label: str
    place: str  # name among the pages
    screen: str = ""  # "module:class"; empty: the class named after the place, in tui.features.PLACE.page

    def make(self) -> Screen[Any]:
        """Its screen; imported when it is first shown."""
        module, _, name = (
            self.screen or f"tui.features.{self.place}.page:{self.place.capitalize()}Page"
        ).partition(":")
        return cast("Screen[Any]", getattr(import_module(module), name)())


PAGES: tuple[PageEntry, ...] = (
    PageEntry("1", "day", "day"),
    PageEntry("2", "why", "why"),
    PageEntry("3", "reach", "reach"),
    PageEntry("4", "antenna", "bench", "tui.features.antenna.page:BenchPage"),
    PageEntry("5", "sky", "sky"),
    PageEntry("6", "plan", "plan"),
    PageEntry("7", "sked", "sked"),
    PageEntry("8", "station", "station", "tui.features.stations.page:StationPage"),
    PageEntry("9", "log", "review"),
    PageEntry("0", "air", "onair", "tui.features.outing.page:OnAirPage"),
    PageEntry("j", "year", "season"),  # the next ones have letters that no page and not the app uses
)
