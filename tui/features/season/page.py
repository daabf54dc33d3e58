"""Season: every hour of the coming months, and the best slots."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget

from propagation.wording import quantities as say
from tui.app.choice import Choice
from tui.app.page import CHOICE_KEYS, LEAP_KEYS, PAGES_STYLE, Page
from tui.app.prompts import export
from tui.app.queries import Cancelled, Engine, GradualQuery, Query
from tui.app.state import State
from tui.features.season.view import LOW_SCREEN, Months, beginning
from tui.kit.input_parsing import fault
from tui.kit.lists import Notes

if TYPE_CHECKING:
    from tui.features.season.view import SeasonView

LEAF_MONTHS = 3
AROUND = 3  # rows of the heading and the keys
ELSEWHERE = "this station somewhere else"
ALONE = "nothing beside it"
BEST, BEST_SO_FAR = "The best of them", "The best so far"


@dataclass(frozen=True)
class SeasonQuery(GradualQuery["SeasonView"]):
    """Forecast of the coming months for the present choice; its parts are the months finished so far.

    beside: path of another station, or None. elsewhere: another place for the same station, or None.
    """

    choice: Choice
    beside: str | None = None
    elsewhere: str | None = None
    local: bool = field(default_factory=say.local_first, kw_only=True)  # the clock of its sentences

    group = "season"
    says = "season ahead"

    @property
    def basis(self) -> object:
        """Target: another target's season is not shown."""
        return self.choice.target

    def answer(self, engine: Engine, cancelled: Cancelled) -> SeasonView:
        """Compute month by month."""
        from tui.features.season import answer as season

        return season.season_view(engine, self.choice, self.beside, self.elsewhere, self.part, cancelled)


class SeasonPage(Page):
    """Table with months as rows and hours as columns."""

    place = "season"
    CSS_PATH = PAGES_STYLE
    about = (
        "The months ahead towards the target: which band is best at which hour, what it promises, and "
        "the best hours of the year. The sun is predicted; what low and high activity would change is told."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "hour(-1)", "hour", tooltip="an hour back"),
        Binding("right", "hour(1)", "hour", tooltip="an hour on"),
        Binding("up", "month(-1)", "month", tooltip="the month before"),
        Binding("down", "month(1)", "month", tooltip="the month after"),
        Binding("enter", "open", "bands", tooltip="open the month: its bands, or close it again"),
        Binding("b", "beside", "beside", tooltip="set another station or another place beside it"),
        Binding("e", "export", "export", tooltip="write the best slots to a calendar file"),
        *CHOICE_KEYS,
        *LEAP_KEYS,
    ]

    def __init__(self) -> None:
        super().__init__()
        self.month, self.hour, self.opened = 0, 12, False
        self.beside: str | None = None
        self.elsewhere: str | None = None

    # -- queries --------------------------------------------------------------------------------

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Yield the season of the choice."""
        if state.choice is not None:
            yield self._query(state.choice)

    def _query(self, choice: Choice) -> SeasonQuery:
        month = choice.start.astype("datetime64[M]").astype("datetime64[s]")  # the day has no effect
        return SeasonQuery(replace(choice, start=month), self.beside, self.elsewhere)

    def stale(self, state: State) -> bool:
        """Report whether an earlier choice's season is shown, which is dimmed until the new one begins."""
        if state.choice is None or state.answers.part(self._query(state.choice)) is not None:
            return False
        answered = state.answers.query(SeasonQuery)
        return answered is not None and answered != self._query(state.choice)

    def view(self, state: State) -> SeasonView | None:
        """The months finished so far, or else the latest season."""
        part = state.answers.part(self._query(state.choice)) if state.choice is not None else None
        return part if part is not None else state.answers.get(SeasonQuery)

    def leave(self) -> None:
        """End the computation: it takes the processor from the next page."""
        if self.own_app.jobs.open_query(SeasonQuery.group) is not None:
            self.own_app.jobs.stop(SeasonQuery.group)

    # -- keys -----------------------------------------------------------------------------------

    def action_hour(self, by: int) -> None:
        """Move to another hour, wrapping around the day."""
        self.hour = (self.hour + by) % 24
        self.fill(self.state)

    def action_month(self, by: int) -> None:
        """Move to another month."""
        view = self.view(self.state)
        if view is not None:
            self.month = min(max(self._row(view) + by, 0), len(view.months) - 1)
            self.fill(self.state)

    def action_leap(self, to: int) -> None:
        """Choose the first or the last month."""
        self.action_month(to * 100)

    def leaf_on(self, by: int) -> None:
        """Move by a quarter of a year."""
        self.action_month(by * LEAF_MONTHS)

    def action_open(self) -> None:
        """Open the bands of the month, or return to the months."""
        self.opened = not self.opened
        self.fill(self.state)

    def action_beside(self) -> None:
        """Ask for another station on file, or another place, to compare with."""
        from tui.kit.overlays import Pick

        state = self.state
        if state.opening is None or state.choice is None:
            return
        others = [card for card in state.opening.stations if card.path != state.choice.station]

        def chosen(answer: str | None) -> None:
            if answer == ELSEWHERE:
                self._ask_elsewhere()
            elif answer is not None:
                self._set_beside(None if answer == ALONE else answer, None)

        rows = [(card.path, f"{card.name}, {card.place}") for card in others]
        current = self.beside or (ELSEWHERE if self.elsewhere is not None else ALONE)
        options = [*rows, (ELSEWHERE, self.elsewhere or "a town, a friend's place, a locator"), (ALONE, "")]
        self.own_app.push_screen(Pick("Beside it", options, current), chosen)

    def _ask_elsewhere(self) -> None:
        from tui.kit.overlays import Ask

        engine, choice = self.own_app.engine, self.state.choice
        if choice is None:
            return

        def check(text: str) -> str:
            return fault(lambda: engine.sites.named_place(choice, text))

        question = "Where else: a town, a friend's place, a locator, or latitude,longitude"
        self.own_app.push_screen(
            Ask(question, self.elsewhere or "", check, engine.suggest, engine.meanings),
            lambda text: self._set_beside(None, text) if text else None,
        )

    def _set_beside(self, station: str | None, place: str | None) -> None:
        self.beside, self.elsewhere = station, place
        self.own_app.want()
        self.own_app.refresh_page()

    def action_export(self) -> None:
        """Write the best slots to a calendar file."""
        view = self.view(self.state)
        if view is not None and view.awaited:
            self.own_app.say("The months are still being worked out; e writes them when they are complete.")
            return
        export(self.own_app, view)

    def on_months_pointed(self, message: Months.Pointed) -> None:
        """Choose a cell that was clicked."""
        self.hour = message.hour
        if not self.opened:
            view = self.view(self.state)
            self.action_month(message.row - (self._row(view) if view is not None else 0))
        self.fill(self.state)

    # -- parts ----------------------------------------------------------------------------------

    def body(self) -> Iterable[Widget]:
        """Yield the table, the chosen cell and the slots."""
        yield Months(id="months")
        yield Notes(id="season-cell")
        yield Notes(BEST, id="season-slots")

    def _row(self, view: SeasonView) -> int:
        """The chosen month, or the last one finished."""
        return min(self.month, len(view.months) - 1)

    def fill(self, state: State) -> None:
        """Show the latest season."""
        view = self.view(state)
        row = self._row(view) if view is not None else 0
        working = self._open(state)
        self.query_one(Months).show(view, row, self.hour, self.opened, working)
        cell = [view.cells[row][self.hour]] if view is not None else []
        about = self.query_one("#season-cell", Notes)
        about.show(cell)
        rows = about.fit(self.size.width, 3 if self.size.height > AROUND + LOW_SCREEN else 2)
        slots = [f"{i}. {slot}" for i, slot in enumerate(view.slots, 1)] if view is not None else []
        told = [*view.news, *slots, *view.says] if view is not None else []
        notes = self.query_one("#season-slots", Notes)
        notes.show(told, "" if not slots else BEST_SO_FAR if view is not None and view.awaited else BEST)
        room, wanted = self.size.height - AROUND - rows, notes.rows_in(self.size.width) + bool(slots)
        notes.styles.height = self.query_one(Months).rows_of_sentences(room, wanted)

    def _open(self, state: State) -> bool:
        """Return whether the season of the present choice is being worked out."""
        return state.choice is not None and self.own_app.jobs.is_open(self._query(state.choice))

    def sentences(self, state: State) -> list[str]:
        """Return the season in sentences."""
        view = self.view(state)
        if view is None:
            return [beginning(self._open(state))]
        cell = view.cells[self._row(view)][self.hour]
        slots = [f"{i}. {slot}" for i, slot in enumerate(view.slots, 1)]
        return [*view.news, cell, *view.best, *slots, *view.says]
