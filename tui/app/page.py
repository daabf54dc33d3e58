"""What all screens have in common: the heading, the notice, the keys; one view at a time where it is small,
and side panels where it is large.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Final, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.layout import Layout
from textual.screen import Screen
from textual.widget import Widget

from propagation.wording import quantities as say
from tui.app.app_base import AppBase
from tui.app.queries import DayQuery, Query
from tui.app.side_panels import DIVIDER, Spread, fitting
from tui.app.state import State
from tui.kit.canvas import Drawn
from tui.kit.lists import Notes
from tui.kit.page_lines import Heading, KeyLine, in_order
from tui.kit.theme import PANEL, WARN

if TYPE_CHECKING:
    from tui.app.side_panels import SidePanel
    from tui.kit.canvas import BandPointed
    from tui.kit.lanes import Lanes

PAGES_STYLE: Final = Path(__file__).with_name("pages.tcss")
HOUR_KEYS: list[BindingType] = [
    Binding("left", "app.step(-30)", "hour", tooltip="half an hour back"),
    Binding("right", "app.step(30)", "hour", tooltip="half an hour on"),
    Binding("comma", "app.step(-10)", "ten minutes back", show=False),
    Binding("full_stop", "app.step(10)", "ten minutes on", show=False),
    Binding("n", "app.to_now", "now", tooltip="back to the present time"),
    Binding("left_square_bracket", "app.day(-1)", "the day before", show=False),
    Binding("right_square_bracket", "app.day(1)", "the day after", show=False),
]
BAND_KEYS: list[BindingType] = [
    Binding("up", "app.band(-1)", "band", tooltip="the band above"),
    Binding("down", "app.band(1)", "band", tooltip="the band below"),
]
CHOICE_KEYS: list[BindingType] = [
    Binding("t", "app.target", "target", tooltip="whom to reach"),
    Binding("d", "app.date", "date", tooltip="another date"),
    Binding("m", "app.mode", "mode", tooltip="voice, Morse, FM or narrow digital"),
    Binding("p", "app.power", "power", tooltip="power at the rig"),
]


OF_WHAT = ": of words where an arrow stands beside them, else of hours or rows"
LEAF_KEYS: list[BindingType] = [
    Binding("pageup", "leaf(-1)", "a page back", show=False, tooltip=f"a page back{OF_WHAT}"),
    Binding("pagedown", "leaf(1)", "a page on", show=False, tooltip=f"a page on{OF_WHAT}"),
]
LEAP_KEYS: list[BindingType] = [
    *LEAF_KEYS,
    Binding("home", "leap(-1)", "first", show=False, tooltip="the beginning: of the day, or of the list"),
    Binding("end", "leap(1)", "last", show=False, tooltip="the end: of the day, or of the list"),
]
LEAF_MINUTES = 180  # of a page of the day (ours)
LEAF_ROWS = 5  # of a page of a list (ours)
NEXT_VIEW = "next view"  # shown on the key line by the name of that view


class Page(Screen[None]):
    """A page: what it asks, and how it draws the answers.

    The first paint, every change of the choice or the cursor, and every answer go through `take`, which fills
    the widgets from the state. Answers stand in `state.answers` under the kind of their query.
    """

    place: ClassVar[str] = ""
    panes: ClassVar[tuple[str, ...]] = ()  # ids shown one at a time where all do not fit
    pane_names: ClassVar[tuple[str, ...]] = ()
    roomy: ClassVar[tuple[int, int]] = (120, 36)  # size from which all panes are shown together
    spreads: ClassVar[tuple[Spread, ...]] = ()  # how large screens are used, the larger ones last
    about: ClassVar[str] = ""
    of_choice: ClassVar[bool] = True  # shows what the day of the choice gives

    HORIZONTAL_BREAKPOINTS = [  # noqa: RUF012 - as Textual declares it
        (0, "-narrow"),
        (60, "-usual"),
        (112, "-wide"),
        (180, "-vast"),
    ]
    VERTICAL_BREAKPOINTS = [  # noqa: RUF012 - as Textual declares it
        (0, "-tiny"),
        (14, "-low"),
        (30, "-middle"),
        (36, "-tall"),
        (56, "-high"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.pane = 0
        self.spread: Spread | None = None
        self._spread_layout: Layout | None = None  # once there is a spread
        self._room = self._below = 0  # rows above the keys, and those of the side panel under the page

    @property
    def own_app(self) -> AppBase:
        """The app, typed."""
        return cast(AppBase, self.app)

    @property
    def state(self) -> State:
        """The latest of everything."""
        return self.own_app.state

    # -- asking ---------------------------------------------------------------------------------

    def queries(self, state: State) -> Iterable[Query[object]]:
        """What this page needs to know of the choice and the cursor; what goes on from an answer is asked
        once that answer is there. Called whenever something changed: equal queries are put once.
        """
        return ()

    def all_queries(self, state: State) -> Iterable[Query[object]]:
        """The queries of the page, then those of the side panels now shown."""
        yield from self.queries(state)
        for panel in self.panels():
            yield from panel.queries(state)

    # -- parts ----------------------------------------------------------------------------------

    def body(self) -> Iterable[Widget]:
        """The widgets between heading and keys."""
        raise NotImplementedError

    def compose(self) -> ComposeResult:
        """Heading, body, notice, two lines of keys."""
        yield Heading(id="heading")
        yield from self.body()
        yield Notes(id="notice", ink=WARN, ground=PANEL, margin=1)
        yield KeyLine(id="keys")
        yield KeyLine(id="places")

    def whom(self, state: State) -> str:
        """The target this screen speaks of."""
        return state.choice.target if state.choice is not None else ""

    def fill(self, state: State) -> None:
        """Hand the latest results to the widgets of the body."""
        raise NotImplementedError

    def sentences(self, state: State) -> list[str]:
        """Everything on this screen in words."""
        raise NotImplementedError

    # -- upkeep ---------------------------------------------------------------------------------

    def on_mount(self) -> None:
        """Show what there is at once."""
        entries = self.own_app.pages
        here = next((entry.label for entry in entries if entry.place == self.place), "")
        self.query_one("#places", KeyLine).show([(entry.key, entry.label) for entry in entries], here)
        self.lay_out()
        self.take(self.state)

    def on_screen_resume(self) -> None:
        """Catch up with what changed while another screen was on."""
        if self.is_mounted:
            self.take(self.state)

    def on_resize(self, event: events.Resize) -> None:
        """Fewer panes where it is small."""
        self.lay_out(event.size.width, event.size.height)

    def take(self, state: State) -> None:
        """Show the latest."""
        for query in self.all_queries(state):
            state.answers.drop_worthless(query)
        heading = self.query_one("#heading", Heading)
        opening, choice, day = state.opening, state.choice, state.day
        site = opening.station.name if opening is not None else "bandwhen"
        target = self.whom(state)
        detail = far = ""
        if choice is not None and state.cursor is not None:
            if day is not None and day.target == choice.target == target and not day.wanted:
                far = f"{say.kilometres(day.distance_km)} at {say.bearing_figure(day.bearing_deg)} deg"
            detail = f"{say.day_title(state.cursor.time)}  {choice.mode} {say.watts(choice.power_w)}"
        demo = opening is not None and opening.station.demo
        heading.show(
            site,
            target,
            far,
            detail,
            state.now,
            demo=demo,
            busy=state.working,
            tried=choice.tried.name if choice is not None and choice.tried is not None else "",
        )
        self.set_class(self.stale(state), "-stale")
        told = state.notice or (self._stale_words(state) if self.has_class("-stale") else "")
        notice = self.query_one("#notice", Notes)
        notice.show([told] if told else [])
        notice.set_class(bool(told), "-shown")
        rows = notice.fit(self.size.width, 3)
        # a note stands in the rows of the keys, so that it covers no answer; a fault stays, and has its own
        note = bool(told) and not state.fault
        self.set_class(note, "-noted")
        self.set_class(note and rows > 1, "-noted-long")
        self.query_one("#keys", KeyLine).show(self.key_entries())
        self.fill(state)
        self.fill_panels()

    def stale(self, state: State) -> bool:
        """Whether what is shown answers an earlier choice; it is then dimmed until the new answer is here."""
        day = state.forecast
        return self.of_choice and day is not None and state.choice is not None and day.choice != state.choice

    def _stale_words(self, state: State) -> str:
        """Whose answer is still shown."""
        day, choice = state.day, state.choice
        if day is None or choice is None:
            return ""
        when = say.date(day.times[0])
        open_still = self.own_app.jobs.is_open(DayQuery(choice))
        then = "the new one is being worked out" if open_still else "the new one was not worked out"
        return (
            f"Dimmed: still {day.site} to {day.target}, {when}, {day.mode} {say.watts(day.power_w)}; {then}."
        )

    def key_entries(self) -> list[tuple[str, str]]:
        """The keys to show, from the bindings."""
        shown = [binding for binding in self.BINDINGS if isinstance(binding, Binding)]
        steps = self.panes_by_tab()
        entries = []
        for key, label in in_order(shown):
            if label != NEXT_VIEW:
                entries.append((key, label))
            elif steps:
                entries.append((key, self.pane_names[self._next_pane(steps)]))
        return [*entries, ("w", "words"), ("?", "help"), ("q", "quit")]

    def panes_by_tab(self) -> tuple[int, ...]:
        """Numbers of the panes that Tab steps through; empty where all are shown together."""
        return tuple(range(len(self.panes))) if self.compact else ()

    def _next_pane(self, steps: tuple[int, ...]) -> int:
        return steps[(steps.index(self.pane) + 1) % len(steps)] if self.pane in steps else steps[-1]

    @property
    def compact(self) -> bool:
        """Whether only one pane has room."""
        return self.size.width < self.roomy[0] or self.size.height < self.roomy[1]

    def lay_out(self, width: int | None = None, height: int | None = None) -> None:
        """Show all panes, or the chosen one."""
        width = self.size.width if width is None else width
        height = self.size.height if height is None else height
        self._spread_out(width, height)
        compact = width < self.roomy[0] or height < self.roomy[1]
        self.set_class(compact, "-one")
        for number, name in enumerate(self.panes):
            self.query_one(f"#{name}").display = not compact or number == self.pane

    # -- large screens ---------------------------------------------------------------------------

    @property
    def layout(self) -> Layout:
        """One view below the other, or as the spread says."""
        if self.spread is None or self._spread_layout is None:
            return super().layout
        return self._spread_layout

    @property
    def main_width(self) -> int:
        """Columns that the page has beside its side panels."""
        return self.spread.main_columns(self.size.width) if self.spread is not None else self.size.width

    def spreads_now(self) -> tuple[Spread, ...]:
        """How large screens are used at present; a page may use them otherwise while it is empty."""
        return self.spreads

    def panels(self) -> list[SidePanel]:
        """The side panels now shown."""
        if self.spread is None:
            return []
        from tui.app.side_panels import SidePanel

        return [one for one in self.children if isinstance(one, SidePanel) and one.display and one.is_mounted]

    def fill_panels(self) -> None:
        """Hand the latest to the side panels, in the rows they have."""
        spread = self.spread
        if spread is None:
            return
        width = spread.right_columns(self.size.width)
        for panel in self.panels():
            panel.fill(self.state)
            if panel.id in spread.right:
                most = panel.rows(self.state, width)[1]
                panel.styles.height = most if most < self.size.height else "1fr"
        if spread.below and self._shared(self._room) != self._below:
            self.query_one("#notice").refresh(layout=True)  # of a child: the layout is then worked out anew

    def main_rows(self, state: State) -> int | None:
        """Rows that the page can use above a side panel; None: as many as there are."""
        return None

    def rows_below(self, room: int) -> int:
        """Rows of the side panel under the page, of so many; the layout asks."""
        self._room = room
        self._below = self._shared(room)
        return self._below

    def _shared(self, room: int) -> int:
        """What the page leaves of so many rows, if that is enough for the side panel; else a third."""
        below = [one for one in self.panels() if self.spread is not None and one.id == self.spread.below]
        if not below:
            return 0
        fewest, most = below[0].rows(self.state, self.size.width)
        wanted = self.main_rows(self.state)
        left = max(room // 3, fewest) if wanted is None else room - wanted
        return below[0].best_rows(self.state, self.size.width, min(left, most, room)) if left >= fewest else 0

    def _spread_out(self, width: int, height: int) -> None:
        """Take the spread of the size: show its side panels, put those of another away."""
        spread = fitting(self.spreads_now(), width, height)
        if spread == self.spread:
            return
        from tui.app.side_panels import SidePanel, SpreadLayout

        self._spread_layout = self._spread_layout or SpreadLayout()
        before = self.spread.right if self.spread is not None else ()
        self.spread = spread
        self.set_class(spread is not None, "-spread")
        self.set_class(bool(spread and spread.right), "-beside")
        views = spread.views if spread is not None else ()
        for widget in self.children:
            if isinstance(widget, SidePanel):
                widget.display = widget.id in views
            elif widget.id in before and widget.id not in views:
                widget.styles.height = None
            elif widget.id in views:
                widget.styles.height = "1fr"
            elif widget.id == DIVIDER:
                widget.display = bool(spread and spread.right)
        if views:
            self.call_after_refresh(self._make_panels)

    async def _make_panels(self) -> None:
        """Make what the spread wants and is not there yet; the page itself has been painted before."""
        if self.spread is None:
            return
        from tui.app.feature_list import SIDE_PANELS, load
        from tui.app.side_panels import Divider

        there = {widget.id for widget in self.children}
        new: list[Widget] = []
        for name in self.spread.views:
            if name not in there and name in SIDE_PANELS:
                panel: SidePanel = load(SIDE_PANELS[name])()
                panel.id = name
                new.append(panel)
        if self.spread.right and DIVIDER not in there:
            new.append(Divider(id=DIVIDER))
        if new:
            await self.mount(*new, before="#notice")
            self.own_app.want()
            self.take(self.state)

    def on_lanes_pointed(self, message: Lanes.Pointed) -> None:
        """Look where the pointer was, on whatever page the lanes stand."""
        cursor = self.state.cursor
        if cursor is not None:
            self.own_app.following = False
            self.own_app.look_at(replace(cursor, time=message.when, band=message.band))

    def on_band_pointed(self, message: BandPointed) -> None:
        """Look at the band that was pointed at."""
        self.own_app.choose_band(message.band)

    def action_next_pane(self) -> None:
        """The next view, where one at a time is shown."""
        steps = self.panes_by_tab()
        if steps:
            self.pane = self._next_pane(steps)
            self.lay_out()
            self.query_one("#keys", KeyLine).show(self.key_entries())

    def action_leaf(self, by: int) -> None:
        """Scroll whatever words do not fit, by a page; where all do, what the page lists."""
        moved = False
        for notes in self.query(Notes):
            shown = all(one.display for one in notes.ancestors_with_self if isinstance(one, Widget))
            if shown and not notes.single and notes.id != "notice":
                before = notes.first
                notes.move(by * max(notes.content_size.height - 2, 1))
                moved = moved or notes.first != before
        if not moved:
            self.leaf_on(by)

    def leaf_on(self, by: int) -> None:
        """A page of the day: a few hours."""
        self.own_app.step_minutes(by * LEAF_MINUTES)

    def action_leap(self, to: int) -> None:
        """The beginning or the end of the day."""
        self.own_app.step_minutes(to * 24 * 60)

    def drawn(self) -> list[Drawn]:
        """The pictures of this screen, for the help."""
        shown = (widget for widget in self.query(Drawn) if widget.display or widget.id in self.panes)
        return [widget for widget in shown if widget.about]
