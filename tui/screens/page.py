"""What all screens have in common: the heading, the notice, the keys, and one view at a time where it is
small.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widget import Widget

from propagation.wording import quantities as say
from tui.engine import Question
from tui.forecast import DayQuestion
from tui.host import Host
from tui.state import State
from tui.theme import PANEL, WARN
from tui.widgets.drawn import Drawn
from tui.widgets.heading import Heading
from tui.widgets.key_line import KeyLine, in_order
from tui.widgets.notes import Notes

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


LEAF_KEYS: list[BindingType] = [
    Binding("pageup", "leaf(-1)", "words back", show=False, tooltip="a page of words back, where ↑ stands"),
    Binding("pagedown", "leaf(1)", "words on", show=False, tooltip="a page of words on, where ↓ stands"),
]
LEAP_KEYS: list[BindingType] = [
    *LEAF_KEYS,
    Binding("home", "leap(-1)", "first", show=False, tooltip="the beginning: of the day, or of the list"),
    Binding("end", "leap(1)", "last", show=False, tooltip="the end: of the day, or of the list"),
]
NEXT_VIEW = "next view"  # shown on the key line by the name of that view


class Page(Screen[None]):
    """A page: what it asks, and how it draws the answers.

    The first paint, every change of the choice or the cursor, and every answer go through `take`, which fills
    the widgets from the state. Answers stand in `state.answers` under the kind of their question.
    """

    place: ClassVar[str] = ""
    panes: ClassVar[tuple[str, ...]] = ()  # ids shown one at a time where all do not fit
    pane_names: ClassVar[tuple[str, ...]] = ()
    roomy: ClassVar[tuple[int, int]] = (120, 36)  # size from which all panes are shown together
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

    @property
    def host(self) -> Host:
        """The app, typed."""
        return cast(Host, self.app)

    @property
    def state(self) -> State:
        """The latest of everything."""
        return self.host.state

    # -- asking ---------------------------------------------------------------------------------

    def questions(self, state: State) -> Iterable[Question[Any]]:
        """What this page needs to know of the choice and the cursor; what goes on from an answer is asked
        once that answer is there. Called whenever something changed: equal questions are put once.
        """
        return ()

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
        entries = self.host.pages
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
        for question in self.questions(state):
            state.answers.drop_worthless(question)
        heading = self.query_one("#heading", Heading)
        opening, choice, day = state.opening, state.choice, state.day
        site = opening.station.name if opening is not None else "bandwhen"
        target = self.whom(state)
        detail = far = ""
        if choice is not None and state.cursor is not None:
            if day is not None and day.target == choice.target == target and not day.region:
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
        open_still = self.host.jobs.is_open(DayQuestion(choice))
        then = "the new one is being worked out" if open_still else "the new one was not worked out"
        return (
            f"Dimmed: still {day.site} to {day.target}, {when}, {day.mode} {say.watts(day.power_w)}; {then}."
        )

    def key_entries(self) -> list[tuple[str, str]]:
        """The keys to show, from the bindings."""
        shown = [binding for binding in self.BINDINGS if isinstance(binding, Binding)]
        views = len(self.panes) if self.compact else 1
        entries = []
        for key, label in in_order(shown):
            if label != NEXT_VIEW:
                entries.append((key, label))
            elif views > 1:
                entries.append((key, self.pane_names[(self.pane + 1) % views]))
        return [*entries, ("w", "words"), ("?", "help"), ("q", "quit")]

    @property
    def compact(self) -> bool:
        """Whether only one pane has room."""
        return self.size.width < self.roomy[0] or self.size.height < self.roomy[1]

    def lay_out(self, width: int | None = None, height: int | None = None) -> None:
        """Show all panes, or the chosen one."""
        width = self.size.width if width is None else width
        height = self.size.height if height is None else height
        compact = width < self.roomy[0] or height < self.roomy[1]
        self.set_class(compact, "-one")
        for number, name in enumerate(self.panes):
            self.query_one(f"#{name}").display = not compact or number == self.pane

    def action_next_pane(self) -> None:
        """The next view, where one at a time is shown."""
        if self.panes:
            self.pane = (self.pane + 1) % len(self.panes)
            self.lay_out()
            self.query_one("#keys", KeyLine).show(self.key_entries())

    def action_leaf(self, by: int) -> None:
        """Scroll whatever words do not fit, by a page."""
        for notes in self.query(Notes):
            if notes.display and notes.id != "notice":
                notes.move(by * max(notes.content_size.height - 2, 1))

    def action_leap(self, to: int) -> None:
        """The beginning or the end of the day."""
        self.host.step_minutes(to * 24 * 60)

    def drawn(self) -> list[Drawn]:
        """The pictures of this screen, for the help."""
        shown = (widget for widget in self.query(Drawn) if widget.display or widget.id in self.panes)
        return [widget for widget in shown if widget.about]
