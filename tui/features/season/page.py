"""Season: every hour of the coming months, and the best slots."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget

from propagation.geo.places import named_place
from tui.app.choice import Choice
from tui.app.page import CHOICE_KEYS, LEAP_KEYS, PAGES_STYLE, Page
from tui.app.prompts import export
from tui.app.queries import Cancelled, Engine, Query
from tui.app.state import State
from tui.features.season.view import Months
from tui.kit import words
from tui.kit.input_parsing import fault
from tui.kit.lists import Notes

if TYPE_CHECKING:
    from tui.features.season.view import SeasonView

POLL_S = 0.5  # s between two updates of the progress
LEAF_MONTHS = 3
ELSEWHERE = "this station somewhere else"
ALONE = "nothing beside it"


@dataclass
class Done:
    """Progress of the computation; written by the worker, read by the page."""

    parts: int = 0
    of: int = 0

    def tell(self, parts: int, of: int) -> None:
        """Set the number of finished parts and their total."""
        self.parts, self.of = parts, of


@dataclass(frozen=True)
class SeasonQuery(Query["SeasonView"]):
    """Forecast of the coming months for the present choice.

    beside: path of another station, or None. elsewhere: another place for the same station, or None.
    """

    choice: Choice
    beside: str | None = None
    elsewhere: str | None = None
    done: Done = field(default_factory=Done, compare=False)

    group = "season"
    says = "season ahead"

    @property
    def basis(self) -> object:
        """Target: another target's season is not shown."""
        return self.choice.target

    def answer(self, engine: Engine, cancelled: Cancelled) -> SeasonView:
        """Compute month by month."""
        from tui.features.season import answer as season

        return season.season_view(
            engine.sites, self.choice, self.beside, self.elsewhere, engine.now(), self.done.tell, cancelled
        )


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

    def on_mount(self) -> None:
        """Start the regular progress update."""
        super().on_mount()
        self.set_interval(POLL_S, self._poll)

    def _poll(self) -> None:
        if self.is_current and "season" in self.own_app.jobs.busy:
            self.fill(self.state)

    # -- queries --------------------------------------------------------------------------------

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Yield the season of the choice."""
        if state.choice is not None:
            yield self._query(state.choice)

    def _query(self, choice: Choice) -> SeasonQuery:
        month = choice.start.astype("datetime64[M]").astype("datetime64[s]")  # the day has no effect
        return SeasonQuery(replace(choice, start=month), self.beside, self.elsewhere)

    def stale(self, state: State) -> bool:
        """Report whether an earlier choice's season is shown, which is dimmed until the new one comes."""
        answered = state.answers.query(SeasonQuery)
        return answered is not None and state.choice is not None and answered != self._query(state.choice)

    # -- keys -----------------------------------------------------------------------------------

    def action_hour(self, by: int) -> None:
        """Move to another hour, wrapping around the day."""
        self.hour = (self.hour + by) % 24
        self.fill(self.state)

    def action_month(self, by: int) -> None:
        """Move to another month."""
        view = self.state.answers.get(SeasonQuery)
        if view is not None:
            self.month = min(max(self.month + by, 0), len(view.months) - 1)
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
        options = [*rows, (ELSEWHERE, self.elsewhere or "a town, a locator"), (ALONE, "")]
        self.own_app.push_screen(Pick("Beside it", options, current), chosen)

    def _ask_elsewhere(self) -> None:
        from tui.kit.overlays import Ask

        def check(text: str) -> str:
            return fault(lambda: named_place(text))

        engine = self.own_app.engine
        question = "Where else: a town, a locator, or latitude,longitude"
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
        export(self.own_app, self.state.answers.get(SeasonQuery))

    def on_months_pointed(self, message: Months.Pointed) -> None:
        """Choose a cell that was clicked."""
        self.hour = message.hour
        if not self.opened:
            self.action_month(message.row - self.month)
        self.fill(self.state)

    # -- parts ----------------------------------------------------------------------------------

    def body(self) -> Iterable[Widget]:
        """Yield the table, the chosen cell and the slots."""
        yield Months(id="months")
        yield Notes(id="season-cell")
        yield Notes("The best of them", id="season-slots")

    def fill(self, state: State) -> None:
        """Show the latest season."""
        view = state.answers.get(SeasonQuery)
        if view is not None:
            self.month = min(self.month, len(view.months) - 1)
        self.query_one(Months).show(view, self.month, self.hour, self.opened, self._how_far(state))
        cell = [view.cells[self.month][self.hour]] if view is not None else []
        about = self.query_one("#season-cell", Notes)
        about.show(cell)
        about.fit(self.size.width, 2)
        slots = [f"{i}. {slot}" for i, slot in enumerate(view.slots, 1)] if view is not None else []
        says = [*view.says] if view is not None else []
        self.query_one("#season-slots", Notes).show([*says, *slots])

    def _how_far(self, state: State) -> str:
        asked = self.own_app.jobs.open_query("season")
        if isinstance(asked, SeasonQuery) and asked.done.of:
            return f"{words.WORKING} {asked.done.parts} of {asked.done.of} parts; Esc stops it."
        return words.WORKING

    def sentences(self, state: State) -> list[str]:
        """Return the season in sentences."""
        view = state.answers.get(SeasonQuery)
        if view is None:
            return [self._how_far(state)]
        cell = view.cells[self.month][self.hour]
        return [cell, *view.best, *view.says, *(f"{i}. {slot}" for i, slot in enumerate(view.slots, 1))]
