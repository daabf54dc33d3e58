"""Sky: solar and geomagnetic conditions, their age, source and effects; fetching, typing in, and reports."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from textual.binding import Binding, BindingType
from textual.widget import Widget

from propagation.base.errors import BandwhenError
from propagation.spectrum.bands import by_name
from tui.app.app_base import AppBase
from tui.app.choice import Choice
from tui.app.page import LEAF_KEYS, PAGES_STYLE, Page
from tui.app.queries import Cancelled, ChangeOfConditions, Engine, Heard, Query
from tui.app.side_panels import Spread
from tui.app.state import State
from tui.features.sky.view import (
    Histories,
    MeasuredChart,
    fewest_rows,
    outlook_sentences,
    sky_sentences,
    source_line,
)
from tui.kit import words
from tui.kit.input_parsing import fault, labelled
from tui.kit.lists import Notes
from tui.kit.overlays import Reply
from tui.kit.theme import SOFT
from tui.kit.world import natural_rows

if TYPE_CHECKING:
    from propagation.space_weather.sources.hosts import Group
    from tui.features.sky.view import SkyView


NO_MAPS = (
    "No map of today's layer, of absorption or of the aurora is young enough to count. F gets them over the "
    "network, some 3 MB."
)
AROUND, LEAST_EFFECTS = 4, 7  # rows of heading, source and keys; least rows of the sentences
HISTORY_ROWS = 19  # rows of three charts next to the sentences, with the source above them


@dataclass(frozen=True)
class SkyQuery(Query["SkyView"]):
    """Conditions in use, and their effects."""

    sky: int  # counter of the choice
    start: np.datetime64
    station: str
    now: np.datetime64 = field(compare=False)

    group = "sky"
    says = "state of the sky"

    @property
    def basis(self) -> object:
        """Counter of the conditions: those no longer in use are not shown."""
        return self.sky

    def answer(self, engine: Engine, cancelled: Cancelled) -> SkyView:
        """Read the stored conditions."""
        from tui.features.sky import answer as sky

        site = engine.sites.station(self.station).site.position
        return sky.sky_view(self.now, self.start, site)


NO_MAPS_ROWS = 3  # of the sentence in place of the chart, and a blank one (ours)


class SkyPage(Page):
    """Page of the conditions."""

    place = "sky"
    of_choice = False
    panes = ("histories", "measured")
    pane_names = ("histories", "measured")
    CSS_PATH = PAGES_STYLE
    spreads = (
        Spread(112, 36, right=("effects",), share=0.46, below="with-lanes"),
        Spread(150, 46, right=("effects", "with-chart"), share=0.46, below="with-lanes"),
    )
    about = (
        "The sun and the field as the program knows them, how old that is, and what it does to your "
        "bands today."
    )

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f", "fetch", "fetch", tooltip="get the space weather now"),
        Binding("F", "fetch_maps", "maps", tooltip="get the measured maps now, some 3 MB"),
        Binding("tab", "next_pane", "next view", priority=True),
        Binding("k", "type_in", "type in", tooltip="type in flux and K as heard or remembered"),
        Binding("h", "heard", "heard on the air", tooltip="say what you hear, or do not hear"),
        Binding("b", "beacon", "beacons", tooltip="say which beacon on the air now you hear, or do not"),
        Binding("d", "app.date", "date", tooltip="another date"),
        *LEAF_KEYS,
        Binding("up", "scroll_words(-1)", "scroll", show=False),
        Binding("down", "scroll_words(1)", "scroll", show=False),
    ]

    def queries(self, state: State) -> Iterable[Query[object]]:
        """Yield the query for the conditions of the chosen day."""
        choice = state.choice
        if choice is not None:
            yield SkyQuery(choice.sky, choice.start, choice.station, state.now)

    def action_fetch(self) -> None:
        """Fetch the space weather."""

        fetch(self.own_app)

    def action_fetch_maps(self) -> None:
        """Fetch the measured maps."""

        fetch(self.own_app, "maps")

    def action_type_in(self) -> None:
        """Type in flux and K."""

        type_in(self.own_app)

    def action_heard(self) -> None:
        """Report a target as heard or not heard."""

        heard(self.own_app)

    def action_beacon(self) -> None:
        """Report a beacon on the air now as heard or not heard."""

        beacon(self.own_app)

    def body(self) -> Iterable[Widget]:
        """Yield the source, the histories and the effects."""
        yield Notes(id="source", margin=1, ink=SOFT, single=True)
        yield Histories(id="histories")
        yield MeasuredChart(id="measured")
        yield Notes("What it does to your bands", id="effects")

    def main_rows(self, state: State) -> int | None:
        """Rows of the sentences with the chart, or of the histories, whichever are more."""
        if self.spread is None or state.answers.get(SkyQuery) is None:
            return None
        width = self.spread.right_columns(self.size.width)
        told = self.query_one("#effects", Notes).rows_in(width) + 2
        chart = natural_rows(width) if "with-chart" in self.spread.right else 0
        own = natural_rows(self.spread.main_columns(self.size.width)) if self._has_maps(state) else 0
        return max(told + chart, HISTORY_ROWS + own)

    @staticmethod
    def _has_maps(state: State) -> bool:
        sky = state.answers.get(SkyQuery)
        return sky is not None and sky.measured is not None

    def lay_out(self, width: int | None = None, height: int | None = None) -> None:
        """Show the panes. Where all have room, the chart is shown only if it has data."""
        super().lay_out(width, height)
        if not self.compact:
            self.query_one("#measured").display = self._has_maps(self.state)

    def _share_rows(self, sky: SkyView) -> None:
        """Give the sentences the rows that the histories do not need, where one view is shown at a time."""
        fewest = fewest_rows(sky.histories)
        spare = self.compact and self.spread is None and self.size.height - AROUND - fewest > LEAST_EFFECTS
        no_map = self.compact and self.spread is None and sky.measured is None
        self.query_one(Histories).styles.height = fewest if spare else None
        self.query_one(MeasuredChart).styles.height = NO_MAPS_ROWS if no_map else None
        rest = no_map if self.pane else spare
        self.query_one("#effects", Notes).styles.height = "1fr" if rest else None

    def action_next_pane(self) -> None:
        """Show the other view, with its own share of the rows."""
        super().action_next_pane()
        sky = self.state.answers.get(SkyQuery)
        if sky is not None:
            self._share_rows(sky)

    def action_scroll_words(self, rows: int) -> None:
        """Scroll the sentences."""
        self.query_one("#effects", Notes).move(rows)

    def leaf_on(self, by: int) -> None:
        """Do nothing: on this page only sentences are paged."""

    def fill(self, state: State) -> None:
        """Show the conditions in use."""
        sky = state.answers.get(SkyQuery)
        if sky is None:
            self.query_one(Histories).show((), words.WORKING)
            self.query_one(MeasuredChart).show(None, words.WORKING)
            return
        self._share_rows(sky)
        self.query_one("#source", Notes).show([source_line(sky)])
        self.query_one(Histories).show(sky.histories)
        self.query_one(MeasuredChart).show(sky.measured, NO_MAPS)
        if not self.compact:
            self.query_one("#measured").display = self._has_maps(state)
        self.query_one("#effects", Notes).show(
            [
                line
                for line in (
                    sky.index_line,
                    *sky.effects,
                    *outlook_sentences(sky),
                    *sky.heard,
                    sky.beacon,
                )
                if line
            ]
        )

    def sentences(self, state: State) -> list[str]:
        """Return the sky in sentences."""
        sky = state.answers.get(SkyQuery)
        return sky_sentences(sky) if sky is not None else [words.WORKING]


@dataclass(frozen=True)
class Fetch(ChangeOfConditions):
    """Fetch the products of a group over the network."""

    now: np.datetime64
    products: Group = "indices"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Fetch them into the store."""
        from tui.app.ear_reports import store
        from tui.features.sky import fetching

        return fetching.fetch(store(), self.products, self.now, cancelled)


@dataclass(frozen=True)
class TypeIn(ChangeOfConditions):
    """Set conditions by hand; empty entries delete them."""

    entries: Mapping[str, str]
    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Save the values."""
        from tui.features.sky import answer as sky

        return sky.type_in(self.entries, self.now)


@dataclass(frozen=True)
class HeardBeacon(ChangeOfConditions):
    """Report that a beacon was heard, or was not."""

    choice: Choice
    beacon: str
    was_heard: bool
    now: np.datetime64

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Correct the index with the report."""
        from tui.app.ear_reports import keep_beacon_report

        return keep_beacon_report(engine.sites.chosen(self.choice), self.beacon, self.was_heard, self.now)


def fetch(app: AppBase, products: Group = "indices") -> None:
    """Show the source and the size, and then fetch."""
    from tui.features.sky import fetching

    if app.state.choice is None:
        return
    command = Fetch(app.clock(), products)
    try:
        app.say(f"{fetching.request_words(fetching.request_for(products))}; Esc stops it.")
    except BandwhenError as error:
        app.say(error.message, fault=command.group)
        return
    # show the address on the screen before anything is sent
    app.call_after_refresh(app.ask, command, app.conditions_changed)


def type_in(app: AppBase) -> None:
    """Type in flux and K."""
    from tui.features.sky import answer as sky
    from tui.kit.form import Form

    if app.state.choice is None:
        return
    now = app.clock()

    def check(entries: Mapping[str, str]) -> str:
        return sky.check(entries, now)

    def commit(entries: dict[str, str], reply: Reply) -> None:
        app.commit(TypeIn(entries, now), app.conditions_changed, reply)

    note = "Leave an entry empty to go by what is stored."
    title = "The sun and the field, as heard or remembered"
    app.push_screen(Form(title, sky.fields(now), check, note=note, commit=commit))


def heard(app: AppBase) -> None:
    """Report a target as heard or not heard."""
    from tui.kit.form import Form, FormField, Helps

    choice, cursor, opening, now = app.state.choice, app.state.cursor, app.state.opening, app.clock()
    if choice is None or cursor is None or opening is None:
        return
    engine = app.engine
    fields = [
        FormField("band", "Band", cursor.band, choices=opening.bands),
        FormField(
            "from",
            "From",
            choice.target,
            place=True,
            hint="where the stations are that you hear, or should",
        ),
        FormField("heard", "Heard", "yes", choices=("yes", "no")),
    ]

    def check(entries: Mapping[str, str]) -> str:
        if entries["heard"].lower() not in ("yes", "no"):
            return "Heard: yes or no."
        return labelled("Band", fault(lambda: by_name(entries["band"]))) or labelled(
            "From", engine.check_target(entries["from"])
        )

    def commit(entries: dict[str, str], reply: Reply) -> None:
        was_heard = entries["heard"].lower() == "yes"
        command = Heard(choice, by_name(entries["band"]).name, entries["from"], was_heard, now)
        app.commit(command, app.conditions_changed, reply)

    title = "Heard on the air just now"
    app.push_screen(
        Form(title, fields, check, commit=commit, helps=Helps(engine.suggest, meant=engine.meanings))
    )


def beacon(app: AppBase) -> None:
    """Report a beacon on the air now as heard or not heard."""
    from tui.app.ear_reports import beacons_now
    from tui.kit.overlays import Pick

    choice, now = app.state.choice, app.clock()
    if choice is None:
        return
    try:
        turns = beacons_now(now, app.engine.sites.station(choice.station).site.position)
    except BandwhenError as error:  # the station's file is missing or has changed
        app.say(error.message, fault="form")
        return
    options = [(f"heard: {key}", detail) for key, detail in turns]
    options += [(f"silent: {key}", detail) for key, detail in turns]

    def take(answer: str | None) -> None:
        if answer is not None:
            said, _, key = answer.partition(": ")
            app.ask(HeardBeacon(choice, key, said == "heard", now), app.conditions_changed)

    question = "Beacons on the air in this moment (a schedule recalled; check it)"
    app.push_screen(Pick(question, options, ""), take)
