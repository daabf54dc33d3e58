"""The sun at both ends, beside an appointment."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, cast

import numpy as np
from textual.widget import Widget

from tui.app.choice import Choice
from tui.app.queries import Cancelled, Engine, Query
from tui.app.side_panels import SidePanel
from tui.app.state import State
from tui.features.sked.page import SkedPage
from tui.features.sked.suns import Suns
from tui.features.sked.view import SunsView, suns_sentences
from tui.kit.day_view import Stay


@dataclass(frozen=True)
class SunsQuery(Query[SunsView]):
    """The sun over both ends on one day; quick."""

    station: str
    bench: int  # as counted by the choice: the site may have moved
    target: str
    day: np.datetime64
    choice: Choice = field(compare=False)

    group = "suns"
    says = "sun at both ends"

    @property
    def basis(self) -> object:
        """The sun over another place is not shown."""
        return self.station, self.bench, self.target

    def answer(self, engine: Engine, cancelled: Cancelled) -> SunsView:
        """Work out the heights of the sun."""
        from tui.features.sked import answer as sked

        return sked.suns_view(engine.sites, self.choice, self.day)


class BothSuns(SidePanel):
    """The suns of the day of the chosen slot."""

    def compose(self) -> Iterable[Widget]:
        """The picture."""
        yield Suns()

    def _slot(self) -> Stay | None:
        slot = cast(SkedPage, self.screen).chosen_slot
        return Stay(slot.band, slot.start, slot.end) if slot is not None else None

    def queries(self, state: State) -> Iterable[Query[Any]]:
        """The day of the slot, else of the choice."""
        choice, slot = state.choice, self._slot()
        if choice is not None:
            day = (slot.start if slot is not None else choice.start).astype("datetime64[D]")
            yield SunsQuery(choice.station, choice.bench, choice.target, day, choice)

    def fill(self, state: State) -> None:
        """The suns, with the slot marked."""
        self.query_one(Suns).show(state.answers.get(SunsQuery), self._slot())

    def sentences(self, state: State) -> list[str]:
        """Day and night at both ends."""
        suns = state.answers.get(SunsQuery)
        return suns_sentences(suns) if suns is not None else []
