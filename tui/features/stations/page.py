"""Stations and friends: list of all on file, each edited in a form."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui.app.choice import Opening
from tui.app.page import LEAF_ROWS, LEAP_KEYS, PAGES_STYLE, Page
from tui.app.queries import Cancelled, Engine, Query
from tui.app.side_panels import SidePanel, Spread
from tui.app.state import State
from tui.features.stations import form as lists
from tui.features.stations.answer import EntriesView
from tui.kit import words
from tui.kit.input_parsing import grid
from tui.kit.lists import Card, Cards, Notes
from tui.kit.theme import SOFT
from tui.kit.world import World, natural_rows

ENTRY_ROWS = 18  # rows for the sentences of the chosen entry, next to the list


class StationPage(Page):
    """List of your stations and friends."""

    place = "station"
    of_choice = False
    CSS_PATH = PAGES_STYLE
    spreads = (
        Spread(60, 20, below="with-entry"),
        Spread(112, 36, right=("with-entry",), share=0.5, below="with-places"),
    )
    about = (
        "Your stations and friends. Enter takes one into use, e opens its form; everything is saved "
        "whole or not at all."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "pick(-1)", "choose", tooltip="the entry above"),
        Binding("down", "pick(1)", "choose", tooltip="the entry below"),
        Binding("enter", "use", "use", tooltip="take the station, or aim at the friend"),
        Binding("e", "edit", "edit", tooltip="open the form"),
        Binding("f", "new_friend", "new friend"),
        *LEAP_KEYS,
        Binding("delete,x", "forget", "forget friend", show=False),
    ]

    def body(self) -> Iterable[Widget]:
        """Yield the list."""
        yield Cards(id="cards")
        yield Notes(id="station-foot", ink=SOFT, margin=1)

    def on_cards_moved(self) -> None:
        """Show the newly chosen entry."""
        self.fill_panels()

    def main_rows(self, state: State) -> int | None:
        """Rows of the list, and the line below it; beside the entry's sentences as many as these need."""
        rows = len(self.query_one(Cards).cards) + 3
        return max(rows, ENTRY_ROWS) if self.spread is not None and self.spread.right else rows

    def action_pick(self, by: int) -> None:
        """Choose an entry."""
        self.query_one(Cards).move(by)

    def action_leap(self, to: int) -> None:
        """Choose the first or the last entry."""
        cards = self.query_one(Cards)
        for _ in cards.cards:
            cards.move(to)

    def leaf_on(self, by: int) -> None:
        """Move by a page of entries."""
        for _ in range(LEAF_ROWS):
            self.query_one(Cards).move(by)

    def _chosen(self) -> tuple[str, str]:
        card = self.query_one(Cards).chosen
        kind, _, key = card.key.partition(":") if card is not None else ("", "", "")
        return kind, key

    def action_use(self) -> None:
        """Use the station, or make the friend the target."""
        kind, key = self._chosen()
        if kind == "station":
            self.own_app.use_station(key)
        elif kind == "friend":
            self.own_app.set_target(key)

    def action_edit(self) -> None:
        """Open the form of the entry."""
        kind, key = self._chosen()
        if kind == "station":
            lists.edit_station(self.own_app, key)
        elif kind == "friend":
            lists.edit_friend(self.own_app, key)

    def action_new_friend(self) -> None:
        """Add a friend."""
        lists.new_friend(self.own_app)

    def action_forget(self) -> None:
        """Remove a friend from the list."""
        kind, key = self._chosen()
        if kind == "friend":
            lists.forget_friend(self.own_app, key)

    def fill(self, state: State) -> None:
        """Show the lists."""
        opening = state.opening
        if opening is None:
            return
        cards = [Card("", "Stations")]
        for card in opening.stations:
            note = "the demo, invented" if card.demo else card.path
            cards.append(
                Card(
                    f"station:{card.path}",
                    card.name,
                    f"{card.place}  {note}",
                    card.path == opening.station.path,
                )
            )
        cards.append(Card("", "Friends"))
        aimed = state.choice.target if state.choice is not None else ""
        cards += [
            Card(
                f"friend:{friend.name}",
                friend.name,
                f"{friend.place}  {friend.zone}  {friend.note}".strip(),
                friend.name == aimed,
            )
            for friend in opening.friends
        ]
        if not opening.friends:
            cards.append(Card("none:", "nobody yet", "f adds a friend"))
        self.query_one(Cards).show(cards)
        foot = words.DEMO_LONG if opening.station.demo else opening.note
        notes = self.query_one("#station-foot", Notes)
        notes.show([foot] if foot else [])
        if self.spread is not None:
            notes.fit(self.main_width, 4)

    def sentences(self, state: State) -> list[str]:
        """Return the lists in sentences."""
        opening = state.opening
        if opening is None:
            return [words.WORKING]
        out = [f"In use: {opening.station.name}, {opening.station.place}."]
        if opening.station.demo:
            out.append(words.DEMO_LONG)
        out += [
            f"Station on file: {card.name}, {card.place}{', ' + card.path if card.path else ''}."
            for card in opening.stations
        ]
        out += [
            f"Friend: {friend.name}, {friend.place} {friend.zone}".rstrip() + "."
            for friend in opening.friends
        ]
        return out


@dataclass(frozen=True)
class EntriesQuery(Query[EntriesView]):
    """Stations and friends on file in sentences, with their places."""

    opening: Opening
    bench: int  # counter of the choice: files may have changed
    when: np.datetime64

    group = "entries"
    says = "stations and friends"

    @property
    def basis(self) -> object:
        """Key of the entries: removed ones are not shown; those of ten minutes ago are."""
        return self.opening, self.bench

    def answer(self, engine: Engine, cancelled: Cancelled) -> EntriesView:
        """Read the files."""
        from tui.features.stations import answer as entries

        return entries.entries_view(engine.sites, self.opening, self.when)


def entries_queries(state: State) -> Iterable[Query[object]]:
    """Yield the query for the entries on file at this time."""
    if state.opening is not None and state.choice is not None:
        yield EntriesQuery(state.opening, state.choice.bench, grid(state.now))


class ChosenEntry(SidePanel):
    """Sentences on the chosen station or friend."""

    def compose(self) -> Iterable[Widget]:
        """Yield the sentences."""
        yield Notes("The entry chosen")

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Return the query for the entries on file."""
        return entries_queries(state)

    def fill(self, state: State) -> None:
        """Show the sentences on the chosen entry."""
        found = state.answers.get(EntriesQuery)
        card = self.screen.query_one(Cards).chosen
        notes = self.query_one(Notes)
        if found is None or card is None:
            notes.show([words.WORKING] if found is None else [])
        else:
            notes.show(found.says.get(card.key, ()), card.name)

    def sentences(self, state: State) -> list[str]:
        """Return the sentences on every entry."""
        found = state.answers.get(EntriesQuery)
        return [line for says in found.says.values() for line in says] if found is not None else []


class EntriesChart(SidePanel):
    """Chart of your and your friends' places, with day and night."""

    def compose(self) -> Iterable[Widget]:
        """Yield the chart."""
        yield World()

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Return the query for the places."""
        return entries_queries(state)

    def fill(self, state: State) -> None:
        """Show all places."""
        found = state.answers.get(EntriesQuery)
        self.query_one(World).show(found.chart if found is not None else None)

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """Return the rows that keep the world in proportion."""
        return 8, natural_rows(width)
