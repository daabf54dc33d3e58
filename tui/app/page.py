"""The base of all screens: the heading, the notice, the keys; one view at a time on small screens, and side
panels on large ones.
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
from tui.kit.latest_size import LatestSize
from tui.kit.lists import Notes
from tui.kit.page_lines import KEY_ROWS, Heading, KeyLine, in_order
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
LEAF_MINUTES = 180  # of one step through the day (ours)
LEAF_ROWS = 5  # of one step through a list (ours)
NEXT_VIEW = "next view"  # shown on the key line before the name of that view


class Page(LatestSize, Screen[None]):
    """A page: its queries, and the drawing of the answers.

    The first paint, every change of the choice or the cursor, and every answer go through `take`, which fills
    the widgets from the state. Answers are in `state.answers`, by the kind of their query.
    """

    place: ClassVar[str] = ""
    panes: ClassVar[tuple[str, ...]] = ()  # ids shown one at a time if not all fit
    pane_names: ClassVar[tuple[str, ...]] = ()
    roomy: ClassVar[tuple[int, int]] = (120, 36)  # size from which all panes are shown together
    spreads: ClassVar[tuple[Spread, ...]] = ()  # layouts of large screens, the larger ones last
    about: ClassVar[str] = ""
    of_choice: ClassVar[bool] = True  # shows results of the day's forecast of the choice

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
        self._spread_layout: Layout | None = None  # set once there is a spread
        self.foot_rows = KEY_ROWS  # rows of the keys and the notes
        self._room = self._below = 0  # rows above the keys, and rows of the side panel below the page

    @property
    def own_app(self) -> AppBase:
        """The app, typed."""
        return cast(AppBase, self.app)

    @property
    def state(self) -> State:
        """The latest state."""
        return self.own_app.state

    # -- queries --------------------------------------------------------------------------------

    def queries(self, state: State) -> Iterable[Query[object]]:
        """The queries of this page on the choice and the cursor. A query that depends on an answer is added
        once that answer exists. Called after every change: equal queries are put once.
        """
        return ()

    def all_queries(self, state: State) -> Iterable[Query[object]]:
        """The queries of the page, then those of the side panels on screen."""
        yield from self.queries(state)
        for panel in self.panels():
            yield from panel.queries(state)

    def leave(self) -> None:
        """Prepare for another page; its queries go on, unless a page ends them here."""

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
        """The target of this screen."""
        return state.choice.target if state.choice is not None else ""

    def setting(self, state: State) -> str:
        """Day, mode and power of this screen."""
        choice = state.choice
        if choice is None or state.cursor is None:
            return ""
        return f"{say.day_title(state.cursor.time)}  {choice.mode} {say.watts(choice.power_w)}"

    def fill(self, state: State) -> None:
        """Fill the widgets of the body with the latest results."""
        raise NotImplementedError

    def sentences(self, state: State) -> list[str]:
        """The content of this screen in sentences."""
        raise NotImplementedError

    # -- upkeep ---------------------------------------------------------------------------------

    def on_mount(self) -> None:
        """Show the present state at once."""
        entries = self.own_app.pages
        here = next((entry.label for entry in entries if entry.place == self.place), "")
        self.query_one("#places", KeyLine).show([(entry.key, entry.label) for entry in entries], here)
        self.lay_out()
        self.take(self.state)

    def on_screen_resume(self) -> None:
        """Apply the changes made while another screen was shown."""
        if self.is_mounted:
            self.take(self.state)

    def on_resize(self, event: events.Resize) -> None:
        """Show fewer panes on a small screen."""
        self.lay_out(event.size.width, event.size.height)

    def take(self, state: State) -> None:
        """Show the latest state."""
        for query in self.all_queries(state):
            state.answers.drop_worthless(query)
        heading = self.query_one("#heading", Heading)
        opening, choice, day = state.opening, state.choice, state.day
        site = opening.station.name if opening is not None else "bandwhen"
        target, detail = self.whom(state), self.setting(state)
        far = ""
        place = day if day is not None and not day.wanted and state.cursor is not None else None
        if place is not None and choice is not None and place.target == choice.target == target:
            far = f"{say.kilometres(place.distance_km)} at {say.bearing_figure(place.bearing_deg)} deg"
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
        told = [sentence for sentence, _ in state.notices]
        if not told and self.has_class("-stale"):
            told = [one for one in (self._stale_words(state),) if one]
        notice = self.query_one("#notice", Notes)
        notice.show(told)
        notice.set_class(bool(told), "-shown")
        rows = notice.fit(self.size.width, 3 if len(told) < 2 else 5)
        # a note is shown in the rows of the keys, so that it covers no answer; a fault stays, in its own row
        note = bool(told) and not any(fault for _, fault in state.notices)
        self.foot_rows = rows * bool(told) + (KEY_ROWS - min(rows, KEY_ROWS) if note else KEY_ROWS)
        self.set_class(note, "-noted")
        self.set_class(note and rows > 1, "-noted-long")
        self.query_one("#keys", KeyLine).show(self.key_entries())
        self.fill(state)
        self.fill_panels()

    def stale(self, state: State) -> bool:
        """Return whether the content belongs to an earlier choice; it is then dimmed until the new answer."""
        day = state.forecast
        return self.of_choice and day is not None and state.choice is not None and day.choice != state.choice

    def _stale_words(self, state: State) -> str:
        """The choice whose answer is still shown."""
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
        """Numbers of the panes that Tab steps through; empty if all are shown together."""
        return tuple(range(len(self.panes))) if self.compact else ()

    def _next_pane(self, steps: tuple[int, ...]) -> int:
        return steps[(steps.index(self.pane) + 1) % len(steps)] if self.pane in steps else steps[-1]

    @property
    def compact(self) -> bool:
        """Return whether only one pane fits."""
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
        """The layout: one view below the other, or the layout of the spread."""
        if self.spread is None or self._spread_layout is None:
            return super().layout
        return self._spread_layout

    @property
    def main_width(self) -> int:
        """Columns of the page without its side panels."""
        return self.spread.main_columns(self.size.width) if self.spread is not None else self.size.width

    def spreads_now(self) -> tuple[Spread, ...]:
        """The layouts of large screens at present; an empty page may use others."""
        return self.spreads

    def panels(self) -> list[SidePanel]:
        """The side panels on screen."""
        if self.spread is None:
            return []
        from tui.app.side_panels import SidePanel

        return [one for one in self.children if isinstance(one, SidePanel) and one.display and one.is_mounted]

    def fill_panels(self) -> None:
        """Fill the side panels with the latest state, in the rows they have."""
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
            self.query_one("#notice").refresh(layout=True)  # layout of a child: the page is arranged again

    def main_rows(self, state: State) -> int | None:
        """Rows that the page can use above a side panel; None: all rows."""
        return None

    def rows_below(self, room: int) -> int:
        """Rows of the side panel below the page, out of `room`; called by the layout."""
        self._room = room
        self._below = self._shared(room)
        return self._below

    def _shared(self, room: int) -> int:
        """Rows that the page leaves out of `room`, if they are enough for the side panel; else a third."""
        below = [one for one in self.panels() if self.spread is not None and one.id == self.spread.below]
        if not below:
            return 0
        fewest, most = below[0].rows(self.state, self.size.width)
        wanted = self.main_rows(self.state)
        left = max(room // 3, fewest) if wanted is None else room - wanted
        return below[0].best_rows(self.state, self.size.width, min(left, most, room)) if left >= fewest else 0

    def _spread_out(self, width: int, height: int) -> None:
        """Apply the spread for this size: show its side panels, hide those of others."""
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
        """Create the spread's missing side panels; runs after the first paint of the page."""
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
        """Move the cursor to the clicked time, on any page with lanes."""
        cursor = self.state.cursor
        if cursor is not None:
            self.own_app.following = False
            self.own_app.look_at(replace(cursor, time=message.when, band=message.band))

    def on_band_pointed(self, message: BandPointed) -> None:
        """Move the cursor to the clicked band."""
        self.own_app.choose_band(message.band)

    def action_next_pane(self) -> None:
        """Show the next view, if views are shown one at a time."""
        steps = self.panes_by_tab()
        if steps:
            self.pane = self._next_pane(steps)
            self.lay_out()
            self.query_one("#keys", KeyLine).show(self.key_entries())

    def action_leaf(self, by: int) -> None:
        """Scroll text that does not fit by a page; if all text fits, scroll the page's list."""
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
        """Step through the day by a few hours."""
        self.own_app.step_minutes(by * LEAF_MINUTES)

    def action_leap(self, to: int) -> None:
        """Go to the beginning or the end of the day."""
        self.own_app.step_minutes(to * 24 * 60)

    def drawn(self) -> list[Drawn]:
        """The pictures of this screen, for the help."""
        shown = (widget for widget in self.query(Drawn) if widget.display or widget.id in self.panes)
        return [widget for widget in shown if widget.about]
