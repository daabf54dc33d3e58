"""The antenna on every band: where the power goes, the setup card, the analyser, what would help."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widget import Widget

from propagation.wording import quantities as say
from tui.app import paths
from tui.app.app_base import AppBase
from tui.app.choice import Choice, Trial
from tui.app.page import BAND_KEYS, LEAF_KEYS, PAGES_STYLE, Page
from tui.app.queries import Cancelled, Engine, Query
from tui.app.side_panels import SidePanel, Spread
from tui.app.state import State
from tui.features.antenna.view import (
    TALLEST,
    TALLEST_BAR,
    Gains,
    PowerShares,
    antenna_sentences,
    card_sentences,
    help_sentences,
    no_card,
)
from tui.kit import words
from tui.kit.lists import Notes
from tui.kit.theme import SOFT

if TYPE_CHECKING:
    from tui.features.antenna.view import AntennaView


AROUND_BARS = 2 + 1 + 12  # rows of the description, the signs, and the card below the bars
LESSON_LEFT_OUT = "What your log has taught holds for the antenna on file; the one tried is computed without."


@dataclass(frozen=True)
class AntennaQuery(Query["AntennaView"]):
    """The antenna on every band, and what the log says of it."""

    station: str
    bench: int  # as counted by the choice
    mode: str
    power_w: float
    tried: Trial | None
    choice: Choice = field(compare=False)

    group = "bench"
    says = "antenna bench"

    @property
    def basis(self) -> object:
        """The bench is of this antenna, mode and power alone."""
        return self

    def answer(self, engine: Engine, cancelled: Cancelled) -> AntennaView:
        """Work out every band."""
        from tui.app import learnt_store
        from tui.features.antenna import answer as bench

        own = engine.sites.chosen(self.choice)
        view = bench.antenna_view(engine.sites.near(self.choice), own, self.mode)
        file = self.station or paths.demo_station_file()
        said = learnt_store.remarks(own, file)
        saved = engine.sites.chosen(self.choice.untried)
        if own != saved and learnt_store.in_force(saved, file) and not learnt_store.in_force(own, file):
            said = [*said, LESSON_LEFT_OUT]
        return replace(view, cautions=(*said, *view.cautions))


@dataclass(frozen=True)
class HelpsQuery(Query["AntennaView"]):
    """The bench with what single changes would bring on one more band; takes half a second."""

    of: AntennaQuery
    view: AntennaView = field(repr=False)
    band: str

    group = "helps"
    says = "list of improvements"

    def answer(self, engine: Engine, cancelled: Cancelled) -> AntennaView:
        """Try every change on the band."""
        from tui.features.antenna import answer as bench

        return bench.with_helps(self.view, engine.sites.chosen(self.of.choice), self.band)


def antenna_query(choice: Choice) -> AntennaQuery:
    """The bench of a choice."""
    return AntennaQuery(choice.station, choice.bench, choice.mode, choice.power_w, choice.tried, choice)


def shown(state: State) -> AntennaView | None:
    """The bench as far as it is worked out."""
    query, bench = state.answers.query(AntennaQuery), state.answers.get(AntennaQuery)
    if not isinstance(query, AntennaQuery) or bench is None:
        return bench
    helped = state.answers.query(HelpsQuery)
    known = isinstance(helped, HelpsQuery) and helped.of == query
    return state.answers.get(HelpsQuery) if known else bench


def next_helps(state: State, query: AntennaQuery, bench: AntennaView) -> HelpsQuery | None:
    """What would help on the next band of which that is not known: first of the band at the cursor."""
    missing = [row.band for row in bench.bands if row.band not in bench.helped]
    if not missing:
        return None
    at = state.cursor.band if state.cursor is not None else ""
    return HelpsQuery(query, bench, at if at in missing else missing[0])


def ask_what_to_try(app: AppBase) -> None:
    """Ask what to try; what would help is offered where it has been worked out."""
    from tui.features.antenna import form

    form.ask_trial(app, shown(app.state))


class AntennaPage(Page):
    """The antenna, band by band."""

    place = "bench"
    of_choice = False
    CSS_PATH = PAGES_STYLE
    panes = ("shares", "bench-below")
    pane_names = ("shares", "card")
    roomy = (100, 28)
    spreads = (Spread(112, 36, below="with-gains"),)
    about = (
        "What your antenna does with a hundred watts on each band, how to set it up, and what would "
        "help most."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        *BAND_KEYS,
        Binding(
            "h", "try_out", "try", tooltip="try a change, another antenna or a power on all pages, unsaved"
        ),
        Binding(
            "k", "keep_trial", "keep it", show=False, tooltip="write what is tried into the station file"
        ),
        Binding("u", "end_trial", "as before", show=False, tooltip="drop what is tried"),
        Binding("o", "beside", "compare", tooltip="another antenna beside this one: which to carry today"),
        Binding("a", "analyser", "analyser", tooltip="type in what the analyser showed"),
        Binding("f", "touchstone", "Touchstone", tooltip="open a one-port Touchstone file"),
        Binding("tab", "next_pane", "next view", priority=True),
        Binding("p", "app.power", "power"),
        Binding("m", "app.mode", "mode"),
        Binding("x", "forget", "forget reading", tooltip="forget what the analyser showed on the band"),
        Binding("b", "bring_back", "bring back", tooltip="use a reading that was set aside after all"),
        *LEAF_KEYS,
    ]

    def queries(self, state: State) -> Iterable[Query[object]]:
        """The bench, then what would help."""
        if state.choice is None:
            return
        query = antenna_query(state.choice)
        yield query
        bench = shown(state)
        if bench is not None and state.answers.query(AntennaQuery) == query:
            helps = next_helps(state, query, bench)
            if helps is not None:
                yield helps

    def action_analyser(self) -> None:
        """Type in what the analyser showed."""
        from tui.features.antenna.form import analyser

        analyser(self.own_app)

    def action_touchstone(self) -> None:
        """Open a Touchstone file."""
        from tui.features.antenna.form import touchstone

        touchstone(self.own_app)

    def action_forget(self) -> None:
        """Forget the band's reading."""
        from tui.features.antenna.form import change_reading

        change_reading(self.own_app, "forget")

    def action_bring_back(self) -> None:
        """Use a reading that was set aside."""
        from tui.features.antenna.form import change_reading

        change_reading(self.own_app, "bring back")

    def action_try_out(self) -> None:
        """Try a change, another antenna or another power, without saving it."""
        ask_what_to_try(self.own_app)

    def action_keep_trial(self) -> None:
        """Write what is tried into the station's file."""
        from tui.features.antenna import form

        form.keep_trial(self.own_app)

    def action_end_trial(self) -> None:
        """Everything as it was before."""
        from tui.features.antenna import form

        form.end_trial(self.own_app)

    def action_beside(self) -> None:
        """Another antenna beside the one in use."""
        from tui.features.antenna import form

        form.ask_beside(self.own_app)

    def key_entries(self) -> list[tuple[str, str]]:
        """While something is tried, the keys that keep and drop it come first."""
        choice = self.state.choice
        trial = [("k", "keep it"), ("u", "as before")] if choice is not None and choice.tried else []
        return [*trial, *super().key_entries()]

    def body(self) -> Iterable[Widget]:
        """Description, bars, the card of the band and what would help."""
        yield Notes(id="bench-line", margin=1, ink=SOFT)
        yield PowerShares(id="shares")
        yield Horizontal(
            Notes("Setup card", id="card"), Notes("What would help", id="helps"), id="bench-below"
        )

    def leaf_on(self, by: int) -> None:
        """Words are all that is leafed through here."""

    def fill(self, state: State) -> None:
        """The bench and the chosen band."""
        bench, band = shown(state), state.cursor.band if state.cursor is not None else ""
        self.query_one(PowerShares).show(bench, band)
        if bench is None:
            return
        tried = state.choice.tried if state.choice is not None else None
        told = f"{words.tried(tried.told)} " if tried is not None else ""
        self.query_one("#bench-line", Notes).show([f"{told}{bench.antenna}. {bench.ground}."])
        found = next((row for row in bench.bands if row.band == band), None)
        card = card_sentences(found) if found is not None else [no_card(band)]
        self.query_one("#card", Notes).show(card, f"Setup card, {say.band_title(band)}")
        helps = help_sentences(bench, band)
        self.query_one("#helps", Notes).show(helps)

    def main_rows(self, state: State) -> int | None:
        """The tallest bars that leave the side panel its rows."""
        bench = shown(state)
        if bench is None or not bench.bands:
            return None
        count = len(bench.bands)
        sizes = (AROUND_BARS + each * count for each in range(TALLEST_BAR, 0, -1))
        return next((rows for rows in sizes if rows + count + 2 <= self._room), AROUND_BARS + 2 * count)

    def sentences(self, state: State) -> list[str]:
        """The bench in words."""
        bench = shown(state)
        return antenna_sentences(bench) if bench is not None else [words.WORKING]


AROUND = 2  # rows of title and angles


class GainLanes(SidePanel):
    """One lane a band; the page's own queries are all it needs."""

    def compose(self) -> Iterable[Widget]:
        """The lanes."""
        yield Gains()

    def fill(self, state: State) -> None:
        """The bench."""
        self.query_one(Gains).show(shown(state), state.cursor.band if state.cursor is not None else "")

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """One row a band, up to four."""
        bench = shown(state)
        count = len(bench.bands) if bench is not None else 10
        return AROUND + count, AROUND + TALLEST * count

    def best_rows(self, state: State, width: int, room: int) -> int:
        """Lanes of equal height."""
        bench = shown(state)
        count = max(len(bench.bands), 1) if bench is not None else 10
        return AROUND + min(max((room - AROUND) // count, 1), TALLEST) * count
