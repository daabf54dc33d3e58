"""Sked: two stations, two clocks, and the hours that suit both."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from textual.binding import Binding, BindingType
from textual.widget import Widget

from propagation.wording import quantities as say
from tui.app import prompts
from tui.app.choice import Choice
from tui.app.page import CHOICE_KEYS, LEAF_ROWS, LEAP_KEYS, PAGES_STYLE, Page
from tui.app.prompts import export
from tui.app.queries import Cancelled, Engine, Query
from tui.app.side_panels import SidePanel, Spread
from tui.app.state import State
from tui.features.sked.view import (
    CLOCK_ROWS,
    Clocks,
    Suns,
    SunsView,
    in_order,
    sked_sentences,
    suns_sentences,
)
from tui.kit import words
from tui.kit.canvas import EntryPointed

if TYPE_CHECKING:
    from tui.features.sked.view import SkedView, Slot


DAYS = 7  # default number of days searched, as in the command
ORDERS = ("chance", "time", "day")
ORDER_WORDS = {"chance": "their chance", "time": "the time of day", "day": "their date"}


@dataclass(frozen=True)
class SkedQuery(Query["SkedView"]):
    """Skeds with the target."""

    choice: Choice
    days: int = DAYS
    local: bool = field(default_factory=say.local_first, kw_only=True)

    group = "sked"
    says = "appointment"

    @property
    def basis(self) -> object:
        """Target: a sked with another station is not shown."""
        return self.choice.target

    def answer(self, engine: Engine, cancelled: Cancelled) -> SkedView:
        """Find the hours that suit both ends."""
        from tui.features.sked import answer as sked

        return sked.sked_view(engine.sites, self.choice, engine.now(), self.days)


class SkedPage(Page):
    """Sked with the target."""

    place = "sked"
    CSS_PATH = PAGES_STYLE
    spreads = (Spread(112, 36, right=("with-suns",), below="with-lanes"),)
    about = (
        "Hours in the coming days at which both ends are awake and a band is open between them, best first."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "slot(-1)", "slot", tooltip="the slot before"),
        Binding("down", "slot(1)", "slot", tooltip="the slot after"),
        Binding("t", "app.target", "with whom", tooltip="the other station"),
        Binding("d", "days", "which days", tooltip="from which day on, or on which days: this weekend"),
        Binding("o", "order", "order", tooltip="by chance, by the time of day, or by date"),
        Binding("b", "only", "band", tooltip="the slots on one band, or all again"),
        Binding("enter", "meet", "meet", show=False, tooltip="of a region: the friend chosen"),
        Binding("e", "export", "export", tooltip="write the slot chosen to a calendar file"),
        Binding("E", "export_all", "export all", show=False, tooltip="write all slots to a calendar file"),
        *CHOICE_KEYS[2:],
        *LEAP_KEYS,
    ]

    def __init__(self) -> None:
        super().__init__()
        self.slot = 0
        self.days = DAYS  # days searched, from the first day of the choice on
        self.sort, self.band = ORDERS[0], ""  # order of the slots, and the band they are on; empty: any

    def _sked(self) -> SkedView | None:
        """The answer with its slots in order, on the band chosen."""
        sked = self.state.answers.get(SkedQuery)
        return None if sked is None else replace(sked, slots=in_order(sked.slots, self.sort, self.band))

    def action_order(self) -> None:
        """Sort by the next order."""
        self.sort = ORDERS[(ORDERS.index(self.sort) + 1) % len(ORDERS)]
        self.slot = 0
        self.own_app.say(f"The slots are in order of {ORDER_WORDS[self.sort]}.")

    def action_only(self) -> None:
        """Show the slots on the next band, after the last those on all."""
        sked = self.state.answers.get(SkedQuery)
        bands = ["", *dict.fromkeys(slot.band for slot in sked.slots)] if sked is not None else [""]
        at = bands.index(self.band) if self.band in bands else 0
        self.band, self.slot = bands[(at + 1) % len(bands)], 0
        which = f"on {say.band_title(self.band)}" if self.band else "on every band"
        self.own_app.say(f"The slots {which}.")

    def action_meet(self) -> None:
        """Take the chosen friend of a region as the target."""
        sked = self.state.answers.get(SkedQuery)
        if sked is not None and sked.friends:
            name = sked.friends[min(self.slot, len(sked.friends) - 1)][0]
            self.slot = 0
            self.own_app.set_target(name)

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Yield the coming days of the choice."""
        if state.choice is not None:
            yield self._query(state.choice)

    def _query(self, choice: Choice) -> SkedQuery:
        return SkedQuery(choice, self.days)

    def stale(self, state: State) -> bool:
        """Report whether slots of another day, mode or power are shown, which are then dimmed."""
        answered = state.answers.query(SkedQuery)
        return answered is not None and state.choice is not None and answered != self._query(state.choice)

    def action_days(self) -> None:
        """Ask for the days to search."""
        prompts.days(self.own_app, self.look_on)

    def look_on(self, first: np.datetime64, count: int | None) -> None:
        """Search `count` days from a first one; None means the default number."""
        self.slot, self.days = 0, DAYS if count is None else count
        self.own_app.go_to_day(first.astype("datetime64[s]"))
        self.own_app.want()
        self.own_app.refresh_page()

    @property
    def chosen_slot(self) -> Slot | None:
        """Return the chosen slot."""
        sked = self._sked()
        return sked.slots[min(self.slot, len(sked.slots) - 1)] if sked is not None and sked.slots else None

    def main_rows(self, state: State) -> int | None:
        """Rows of the clocks, and two rows per slot."""
        sked = state.answers.get(SkedQuery)
        return CLOCK_ROWS + 2 * len(sked.slots) if sked is not None else None

    def leaf_on(self, by: int) -> None:
        """Move by a page of slots."""
        self.action_slot(by * LEAF_ROWS)

    def action_export(self) -> None:
        """Write the chosen slot to a calendar file."""
        sked = self._sked()
        if sked is not None and sked.slots:
            slot = sked.slots[min(self.slot, len(sked.slots) - 1)]
            sked = replace(sked, slots=(slot,), calendar=slot.calendar, paper=f"{slot.says}\n")
        export(self.own_app, sked)

    def action_export_all(self) -> None:
        """Write all slots to a calendar file."""
        export(self.own_app, self.state.answers.get(SkedQuery))

    def body(self) -> Iterable[Widget]:
        """Yield the clocks."""
        yield Clocks(id="clocks")

    def action_slot(self, by: int) -> None:
        """Choose a slot."""
        sked = self._sked()
        count = len(sked.slots or sked.friends) if sked is not None else 0
        if count:
            self.slot = min(max(self.slot + by, 0), count - 1)
            self.fill(self.state)
            self.fill_panels()

    def on_entry_pointed(self, message: EntryPointed) -> None:
        """Choose a slot that was clicked or reached with the wheel."""
        self.action_slot(message.number - self.slot)

    def action_leap(self, to: int) -> None:
        """Choose the first or the last slot."""
        sked = self._sked()
        self.action_slot(to * len(sked.slots or sked.friends) if sked is not None else 0)

    def fill(self, state: State) -> None:
        """Show the sked."""
        self.query_one(Clocks).show(self._sked(), self.slot)

    def sentences(self, state: State) -> list[str]:
        """Return the slots in sentences."""
        sked = self._sked()
        return sked_sentences(sked) if sked is not None else [words.WORKING]


@dataclass(frozen=True)
class SunsQuery(Query[SunsView]):
    """Sun at both ends on one day; fast."""

    station: str
    bench: int  # counter of the choice: the site may have moved
    target: str
    day: np.datetime64
    choice: Choice = field(compare=False)

    group = "suns"
    says = "sun at both ends"

    @property
    def basis(self) -> object:
        """Station, bench and target: the sun at another place is not shown."""
        return self.station, self.bench, self.target

    def answer(self, engine: Engine, cancelled: Cancelled) -> SunsView:
        """Compute the elevation of the sun."""
        from tui.features.sked import answer as sked

        return sked.suns_view(engine.sites, self.choice, self.day)


class BothSuns(SidePanel):
    """Sun at both ends on the day of the chosen slot."""

    def compose(self) -> Iterable[Widget]:
        """Yield the picture."""
        yield Suns()

    def _slot(self) -> Slot | None:
        page = self.screen
        return page.chosen_slot if isinstance(page, SkedPage) else None

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Yield the query for the day of the slot, else for the day of the choice."""
        choice, slot = state.choice, self._slot()
        if choice is not None:
            day = (slot.start if slot is not None else choice.start).astype("datetime64[D]")
            yield SunsQuery(choice.station, choice.bench, choice.target, day, choice)

    def fill(self, state: State) -> None:
        """Show the sun at both ends, with the slot marked."""
        self.query_one(Suns).show(state.answers.get(SunsQuery), self._slot())

    def sentences(self, state: State) -> list[str]:
        """Return day and night at both ends in sentences."""
        suns = state.answers.get(SunsQuery)
        return suns_sentences(suns) if suns is not None else []
