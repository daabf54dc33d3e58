"""The chosen station or friend in words, and the chart on which all of them stand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from textual.widget import Widget

from tui.app.choice import Opening
from tui.app.queries import Cancelled, Engine, Query
from tui.app.side_panels import SidePanel
from tui.app.state import State
from tui.features.stations.view import EntriesView
from tui.kit import words
from tui.kit.cards import Cards
from tui.kit.input_parsing import grid
from tui.kit.notes import Notes
from tui.kit.world import World, natural_rows


@dataclass(frozen=True)
class EntriesQuery(Query[EntriesView]):
    """Everything on file in words, and where it stands."""

    opening: Opening
    bench: int  # as counted by the choice: files may have changed
    when: np.datetime64

    group = "entries"
    says = "stations and friends"

    @property
    def basis(self) -> object:
        """Entries that are no longer on file are not shown; those of ten minutes ago are."""
        return self.opening, self.bench

    def answer(self, engine: Engine, cancelled: Cancelled) -> EntriesView:
        """Read the files."""
        from tui.features.stations import answer as entries

        return entries.entries_view(engine.sites, self.opening, self.when)


def entries_queries(state: State) -> Iterable[Query[Any]]:
    """What is on file at this time."""
    if state.opening is not None and state.choice is not None:
        yield EntriesQuery(state.opening, state.choice.bench, grid(state.now))


class ChosenEntry(SidePanel):
    """The chosen station or friend in words."""

    of_day = False

    def compose(self) -> Iterable[Widget]:
        """The words."""
        yield Notes("The entry chosen")

    def queries(self, state: State) -> Iterable[Query[Any]]:
        """What is on file."""
        return entries_queries(state)

    def fill(self, state: State) -> None:
        """The words of the chosen entry."""
        found = state.answers.get(EntriesQuery)
        card = self.screen.query_one(Cards).chosen
        notes = self.query_one(Notes)
        if found is None or card is None:
            notes.show([words.WORKING] if found is None else [])
        else:
            notes.show(found.says.get(card.key, ()), card.name)

    def sentences(self, state: State) -> list[str]:
        """Every entry in words."""
        found = state.answers.get(EntriesQuery)
        return [line for says in found.says.values() for line in says] if found is not None else []


class EntriesChart(SidePanel):
    """Where you and your friends are, with day and night."""

    of_day = False

    def compose(self) -> Iterable[Widget]:
        """The chart."""
        yield World()

    def queries(self, state: State) -> Iterable[Query[Any]]:
        """Where they are."""
        return entries_queries(state)

    def fill(self, state: State) -> None:
        """All of them."""
        found = state.answers.get(EntriesQuery)
        self.query_one(World).show(found.chart if found is not None else None)

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """As many as keep the world in proportion."""
        return 8, natural_rows(width)
