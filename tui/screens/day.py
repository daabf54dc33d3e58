"""The opening screen: the answer in words, and the day of every band."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui import words
from tui.screens.page import BAND_KEYS, CHOICE_KEYS, HOUR_KEYS, Page
from tui.state import Shared
from tui.theme import SOFT, TEXT
from tui.widgets.answer import AnswerBoard
from tui.widgets.hop import HopPicture
from tui.widgets.lanes import Lanes
from tui.widgets.notes import Notes


class DayPage(Page):
    """Which band now, until when, what next."""

    place = "day"
    about = "The answer for the time under the cursor, and the whole day on every band you can use."

    BINDINGS: ClassVar[list[BindingType]] = [
        *HOUR_KEYS,
        *BAND_KEYS,
        *CHOICE_KEYS,
        Binding("enter", "app.go('why')", "why", show=False, tooltip="why this band is as it is"),
    ]

    def body(self) -> Iterable[Widget]:
        """Answer, lanes, antenna and sky; the hop picture where there is room."""
        yield AnswerBoard(id="answer")
        yield Lanes(id="lanes")
        yield HopPicture(id="day-hop")
        yield Notes(id="antenna-line", ink=TEXT, margin=1, single=True)
        yield Notes(id="sky-line", ink=SOFT, margin=1, single=True)

    def fill(self, shared: Shared) -> None:
        """The day at the cursor."""
        day, index, band = shared.planned_day, shared.time_index, shared.band_index
        self.query_one(AnswerBoard).show(day, index)
        self.query_one(Lanes).show(day, index, band, shared.now)
        self.query_one(HopPicture).show(shared.hop)
        if day is None:
            return
        self.query_one("#antenna-line", Notes).show([words.antenna_line(day, band)])
        self.query_one("#sky-line", Notes).show([day.sky_line], aside=words.DEMO_SHORT if day.demo else "")

    def sentences(self, shared: Shared) -> list[str]:
        """The day in words."""
        return (
            words.day_sentences(shared.day, shared.time_index) if shared.day is not None else [words.WORKING]
        )
