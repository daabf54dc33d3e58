"""The root of everything drawn: paint once on a canvas when something changes, hand out finished strips
after that.
"""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.geometry import Region, Size
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from tui.kit.canvas import Canvas
from tui.kit.theme import BASE, QUIET, TEXT, Palette, palette_for


class Drawn(Widget):
    """A widget that paints itself on a `Canvas`; only rows that changed are sent to the terminal."""

    DEFAULT_CSS = """
    Drawn { width: 1fr; height: 1fr; }
    """

    ground = BASE
    fades = True  # is dimmed while it shows the answer to an earlier choice
    about = ""  # what one sees here and how to read it: the help screen quotes this

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002 - Textual's word
        super().__init__(id=id, classes=classes)
        self._canvas: Canvas | None = None
        self._strips: list[Strip] = []
        self._look = ("", False)

    @property
    def palette(self) -> Palette:
        """The palette of the theme in use."""
        return palette_for(self.app.theme)

    @property
    def plain(self) -> bool:
        """Whether plain ASCII signs are asked for."""
        return bool(getattr(self.app, "plain_glyphs", False))

    def paint(self, canvas: Canvas) -> None:
        """Draw the present state; the canvas has the size of the widget."""
        raise NotImplementedError

    def redraw(self) -> None:
        """Paint anew and send the rows that changed."""
        if not self.is_attached:
            return
        width, height = self.content_size
        if width <= 0 or height <= 0:
            self._canvas, self._strips = None, []
            return
        canvas = Canvas(width, height, self.ground)
        self.paint(canvas)
        if self.screen.has_class("-stale") and self.fades:
            canvas.inks[:] = QUIET
        palette, plain = self.palette, self.plain
        look = (palette.name, plain)
        before = self._canvas if look == self._look else None
        rows = canvas.changed_rows(before)
        if len(rows) == height:
            self._strips = [canvas.strip(y, palette, plain) for y in range(height)]
            self.refresh()
        else:
            for y in rows:
                self._strips[y] = canvas.strip(y, palette, plain)
            if rows:
                self.refresh(*(Region(0, y, width, 1) for y in rows))
        self._canvas, self._look = canvas, look

    @property
    def content_size(self) -> Size:
        """The cells there are to draw on."""
        return self.scrollable_content_region.size if self.is_scrollable else self.size

    def on_mount(self) -> None:
        """Follow the theme."""
        self.app.theme_changed_signal.subscribe(self, lambda _theme: self.redraw())

    def on_resize(self, event: events.Resize) -> None:
        """Paint for the new size."""
        self.redraw()

    def render_line(self, y: int) -> Strip:
        """The finished strip of a row."""
        if y < len(self._strips):
            return self._strips[y]
        return Strip.blank(self.size.width, self.palette.style(TEXT * 256 + self.ground))


class BandPointed(Message):
    """A band was pointed at."""

    def __init__(self, band: str) -> None:
        super().__init__()
        self.band = band


class BandRows(Drawn):
    """Rows that each belong to a band; `paint` notes where they stand."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.band = ""
        self._bands: tuple[str, ...] = ()
        self._rows = (0, 1, 0, 0)  # top, rows each, the first band in sight, how many are

    def stand(self, bands: Sequence[str], top: int, each: int, first: int, shown: int) -> None:
        """Note where the bands stand."""
        self._bands = tuple(bands)
        self._rows = (top, each, first, min(shown, len(self._bands) - first))

    def on_click(self, event: events.Click) -> None:
        """The band under the pointer."""
        top, each, first, shown = self._rows
        row = (event.y - top) // each
        if 0 <= row < shown:
            self.post_message(BandPointed(self._bands[first + row]))

    def _turn(self, by: int) -> None:
        if self.band in self._bands:
            at = min(max(self._bands.index(self.band) + by, 0), len(self._bands) - 1)
            self.post_message(BandPointed(self._bands[at]))

    def on_mouse_scroll_down(self) -> None:
        """The wheel takes the next band."""
        self._turn(1)

    def on_mouse_scroll_up(self) -> None:
        """The wheel takes the band before."""
        self._turn(-1)


class EntryPointed(Message):
    """An entry was pointed at."""

    def __init__(self, number: int) -> None:
        super().__init__()
        self.number = number


class EntryRows(Drawn):
    """Entries of which one is chosen; `paint` notes where each stands."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self._spots: list[tuple[range, range, int]] = []  # columns, rows, number of the entry
        self._chosen = self._count = 0

    def begin_spots(self, chosen: int, count: int) -> None:
        """Forget where entries stood; say which of how many is chosen."""
        self._spots, self._chosen, self._count = [], chosen, count

    def stands(self, columns: range, rows: range, number: int) -> None:
        """Note where an entry stands; of two at one place the later noted is on top."""
        self._spots.append((columns, rows, number))

    def on_click(self, event: events.Click) -> None:
        """The entry under the pointer."""
        for columns, rows, number in reversed(self._spots):
            if event.x in columns and event.y in rows:
                self.post_message(EntryPointed(number))
                return

    def _turn(self, by: int) -> None:
        if self._count:
            self.post_message(EntryPointed(min(max(self._chosen + by, 0), self._count - 1)))

    def on_mouse_scroll_down(self) -> None:
        """The wheel takes the next entry."""
        self._turn(1)

    def on_mouse_scroll_up(self) -> None:
        """The wheel takes the entry before."""
        self._turn(-1)
