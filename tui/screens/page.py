"""What all screens have in common: the heading, the notice, the keys, and one view at a time where it is
small.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widget import Widget

from tui import words
from tui.state import Shared
from tui.theme import PANEL, WARN
from tui.widgets.drawn import Drawn
from tui.widgets.heading import Heading
from tui.widgets.key_line import KeyLine, in_order
from tui.widgets.notes import Notes

if TYPE_CHECKING:
    from tui.app import BandwhenApp

PLACES: list[tuple[str, str, str]] = [
    ("1", "day", "day"),
    ("2", "why", "why"),
    ("3", "reach", "reach"),
    ("4", "antenna", "bench"),
    ("5", "sky", "sky"),
    ("6", "plan", "plan"),
    ("7", "sked", "sked"),
    ("8", "station", "station"),
    ("9", "log", "review"),
]

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


NEXT_VIEW = "next view"  # shown on the key line by the name of that view


class Page(Screen[None]):
    """One of the eight screens."""

    place: ClassVar[str] = ""
    panes: ClassVar[tuple[str, ...]] = ()  # ids shown one at a time where all do not fit
    pane_names: ClassVar[tuple[str, ...]] = ()
    roomy: ClassVar[tuple[int, int]] = (120, 36)  # size from which all panes are shown together
    about: ClassVar[str] = ""

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
    def desk_app(self) -> BandwhenApp:
        """The app, typed."""
        return cast("BandwhenApp", self.app)

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

    def whom(self, shared: Shared) -> str:
        """The target this screen speaks of."""
        return shared.choice.target if shared.choice is not None else ""

    def fill(self, shared: Shared) -> None:
        """Hand the latest results to the widgets of the body."""
        raise NotImplementedError

    def sentences(self, shared: Shared) -> list[str]:
        """Everything on this screen in words."""
        raise NotImplementedError

    # -- upkeep ---------------------------------------------------------------------------------

    def on_mount(self) -> None:
        """Show what there is at once."""
        self.query_one("#places", KeyLine).show([(key, label) for key, label, _ in PLACES], self._label())
        self.lay_out()
        self.take(self.desk_app.shared)

    def on_screen_resume(self) -> None:
        """Catch up with what changed while another screen was on."""
        if self.is_mounted:
            self.take(self.desk_app.shared)

    def on_resize(self, event: events.Resize) -> None:
        """Fewer panes where it is small."""
        self.lay_out(event.size.width, event.size.height)

    def _label(self) -> str:
        return next((label for _, label, mode in PLACES if mode == self.place), "")

    def take(self, shared: Shared) -> None:
        """Show the latest."""
        heading = self.query_one("#heading", Heading)
        opening, choice, day = shared.opening, shared.choice, shared.day
        site = opening.station.name if opening is not None else "bandwhen"
        target = self.whom(shared)
        detail = far = ""
        if choice is not None and shared.cursor is not None:
            if day is not None and day.target == choice.target == target and not day.region:
                far = f"{words.kilometres(day.distance_km)} at {words.bearing(day.bearing_deg)} deg"
            detail = f"{words.day_title(shared.cursor.time)}  {choice.mode} {words.watts(choice.power_w)}"
        demo = opening is not None and opening.station.demo
        heading.show(
            site,
            target,
            far,
            detail,
            shared.now,
            demo=demo,
            busy=words.JOB_NAMES.get(next(iter(sorted(shared.busy)), ""), ""),
        )
        notice = self.query_one("#notice", Notes)
        notice.show([shared.notice] if shared.notice else [])
        notice.set_class(bool(shared.notice), "-shown")
        notice.fit(self.size.width, 3)
        self.query_one("#keys", KeyLine).show(self.key_entries())
        self.fill(shared)

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

    def drawn(self) -> list[Drawn]:
        """The pictures of this screen, for the help."""
        return [widget for widget in self.query(Drawn) if widget.about]
