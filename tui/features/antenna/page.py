"""Antenna on every band: power shares, setup card, analyser readings and possible improvements."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widget import Widget

from propagation.wording import quantities as say
from tui.app.app_base import AppBase
from tui.app.choice import Choice, Trial
from tui.app.page import BAND_KEYS, LEAF_KEYS, PAGES_STYLE, Page
from tui.app.queries import Cancelled, Day, Engine, Query
from tui.app.side_panels import SidePanel, Spread
from tui.app.state import State
from tui.features.antenna.view import (
    AROUND_BARS,
    TALLEST,
    TALLEST_BAR,
    Gains,
    PowerShares,
    antenna_sentences,
    card_sentences,
    help_sentences,
    help_title,
    no_card,
)
from tui.kit import words
from tui.kit.lists import Notes
from tui.kit.theme import SOFT

if TYPE_CHECKING:
    from tui.features.antenna.view import AntennaView


LESSON_LEFT_OUT = "What your log has taught holds for the antenna on file; the one tried is computed without."


@dataclass(frozen=True)
class AntennaQuery(Query["AntennaView"]):
    """Antenna on every band, and what the log teaches about it."""

    station: str
    bench: int  # counter of the choice
    mode: str
    power_w: float
    tried: Trial | None
    choice: Choice = field(compare=False)

    group = "bench"
    says = "antenna bench"

    @property
    def basis(self) -> object:
        """Whole query: the data applies to this antenna, mode and power only."""
        return self

    def answer(self, engine: Engine, cancelled: Cancelled) -> AntennaView:
        """Compute every band."""
        from tui.app import learnt_store
        from tui.features.antenna import answer as bench

        own = engine.sites.chosen(self.choice)
        view = bench.antenna_view(engine.sites.near(self.choice), own, self.mode)
        said = learnt_store.remarks(own, engine.sites.lesson_file(self.choice))
        if engine.sites.leaves_lesson_out(self.choice):
            said = [*said, LESSON_LEFT_OUT]
        return replace(view, cautions=(*said, *view.cautions))


@dataclass(frozen=True)
class HelpsQuery(Query["AntennaView"]):
    """Gains of single changes on one more band, for the target of a day; takes half a second."""

    of: AntennaQuery
    view: AntennaView = field(repr=False)
    band: str
    aim: Choice | None = None  # of the day, if it has been computed
    day: Day | None = field(default=None, compare=False, repr=False)

    group = "helps"
    says = "list of improvements"

    def answer(self, engine: Engine, cancelled: Cancelled) -> AntennaView:
        """Compute every change on the band."""
        from tui.features.antenna import answer as bench

        own, day = engine.sites.chosen(self.of.choice), None if self.day is None else self.day.forecast
        return bench.with_helps(self.view, own, self.band, day)


def antenna_query(choice: Choice) -> AntennaQuery:
    """Return the antenna query of a choice."""
    return AntennaQuery(choice.station, choice.bench, choice.mode, choice.power_w, choice.tried, choice)


def day_of(state: State) -> Day | None:
    """Return the day of the present choice, if it has been computed."""
    day = state.forecast
    return day if day is not None and day.choice == state.choice else None


def shown(state: State) -> AntennaView | None:
    """Return the antenna data computed so far."""
    query, bench = state.answers.query(AntennaQuery), state.answers.get(AntennaQuery)
    if not isinstance(query, AntennaQuery) or bench is None:
        return bench
    helped = state.answers.query(HelpsQuery)
    aim = day_of(state)
    known = isinstance(helped, HelpsQuery) and (helped.of, helped.aim) == (query, aim and aim.choice)
    return state.answers.get(HelpsQuery) if known else bench


def next_helps(state: State, query: AntennaQuery, bench: AntennaView) -> HelpsQuery | None:
    """Query for the next band without computed improvements; the cursor's band comes first."""
    missing = [row.band for row in bench.bands if row.band not in bench.helped]
    if not missing:
        return None
    at, day = state.cursor.band if state.cursor is not None else "", day_of(state)
    aim = None if day is None else day.choice
    return HelpsQuery(query, bench, at if at in missing else missing[0], aim, day)


def ask_what_to_try(app: AppBase) -> None:
    """Ask for a trial. Improvements are offered if they have been computed."""
    from tui.features.antenna import form

    form.ask_trial(app, shown(app.state))


class AntennaPage(Page):
    """Antenna, band by band."""

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
        Binding("i", "note_mark", "mark", tooltip="note the coil's or whip's mark as the band is tuned now"),
        Binding("tab", "next_pane", "next view", priority=True),
        Binding("f", "touchstone", "Touchstone", tooltip="open a one-port Touchstone file"),
        Binding("p", "app.power", "power"),
        Binding("m", "app.mode", "mode"),
        Binding("x", "forget", "forget reading", tooltip="forget what the analyser showed on the band"),
        Binding("b", "bring_back", "bring back", tooltip="use a reading that was set aside after all"),
        *LEAF_KEYS,
    ]

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Yield the antenna query, then the query for improvements."""
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
        """Type in analyser readings."""
        from tui.features.antenna.form import analyser

        analyser(self.own_app)

    def action_note_mark(self) -> None:
        """Note the operator's own mark of the band."""
        from tui.app.prompts import note_mark

        note_mark(self.own_app, self.state.cursor.band if self.state.cursor is not None else "")

    def action_touchstone(self) -> None:
        """Open a Touchstone file."""
        from tui.features.antenna.form import touchstone

        touchstone(self.own_app)

    def action_forget(self) -> None:
        """Delete the band's reading."""
        from tui.features.antenna.form import change_reading

        change_reading(self.own_app, "forget")

    def action_bring_back(self) -> None:
        """Use a set-aside reading again."""
        from tui.features.antenna.form import change_reading

        change_reading(self.own_app, "bring back")

    def action_try_out(self) -> None:
        """Try a change, another antenna or another power, without saving it."""
        ask_what_to_try(self.own_app)

    def action_keep_trial(self) -> None:
        """Write the trial into the station's file."""
        from tui.features.antenna import form

        form.keep_trial(self.own_app)

    def action_end_trial(self) -> None:
        """End the trial and restore the previous state."""
        from tui.features.antenna import form

        form.end_trial(self.own_app)

    def action_beside(self) -> None:
        """Compare another antenna with the one in use."""
        from tui.features.antenna import form

        form.ask_beside(self.own_app)

    def key_entries(self) -> list[tuple[str, str]]:
        """Return the key entries. During a trial, the keys that save and end it come first."""
        choice = self.state.choice
        trial = [("k", "keep it"), ("u", "as before")] if choice is not None and choice.tried else []
        return [*trial, *super().key_entries()]

    def body(self) -> Iterable[Widget]:
        """Yield the description, the bars, the band's card and the improvements."""
        yield Notes(id="bench-line", margin=1, ink=SOFT)
        yield PowerShares(id="shares")
        yield Horizontal(
            Notes("Setup card", id="card"), Notes("What would help", id="helps"), id="bench-below"
        )

    def leaf_on(self, by: int) -> None:
        """Do nothing: on this page only sentences are paged."""

    def fill(self, state: State) -> None:
        """Show the antenna data and the chosen band."""
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
        self.query_one("#helps", Notes).show(help_sentences(bench, band), help_title(bench))

    def main_rows(self, state: State) -> int | None:
        """Rows of the tallest bars that leave the side panel enough rows."""
        bench = shown(state)
        if bench is None or not bench.bands:
            return None
        count = len(bench.bands)
        sizes = (AROUND_BARS + each * count for each in range(TALLEST_BAR, 0, -1))
        return next((rows for rows in sizes if rows + count + 2 <= self._room), AROUND_BARS + 2 * count)

    def sentences(self, state: State) -> list[str]:
        """Return the antenna data in sentences."""
        bench = shown(state)
        return antenna_sentences(bench) if bench is not None else [words.WORKING]


AROUND = 2  # rows of the title and the angles


class GainLanes(SidePanel):
    """Gain lanes, one per band; the page's own queries supply all data."""

    def compose(self) -> Iterable[Widget]:
        """Yield the lanes."""
        yield Gains()

    def fill(self, state: State) -> None:
        """Show the antenna data."""
        self.query_one(Gains).show(shown(state), state.cursor.band if state.cursor is not None else "")

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """Return the smallest and the largest useful number of rows: one to four for each band."""
        bench = shown(state)
        count = len(bench.bands) if bench is not None else 10
        return AROUND + count, AROUND + TALLEST * count

    def best_rows(self, state: State, width: int, room: int) -> int:
        """Return the rows for lanes of equal height."""
        bench = shown(state)
        count = max(len(bench.bands), 1) if bench is not None else 10
        return AROUND + min(max((room - AROUND) // count, 1), TALLEST) * count
