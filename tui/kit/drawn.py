"""The root of everything drawn: paint once on a canvas when something changes, hand out finished strips
after that.
"""

from __future__ import annotations

from textual import events
from textual.geometry import Region, Size
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
