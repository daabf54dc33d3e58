"""Sentences on the screen: wrapped, scrolled by the cursor keys when there are more than fit."""

from __future__ import annotations

from collections.abc import Sequence

from tui.kit import text_flow
from tui.kit.canvas import Canvas
from tui.kit.drawn import Drawn
from tui.kit.theme import BASE, SOFT, TEXT, TITLE, WARN


class Notes(Drawn):
    """A few sentences under an optional heading."""

    def __init__(
        self,
        title: str = "",
        *,
        ink: int = TEXT,
        ground: int = BASE,
        margin: int = 2,
        single: bool = False,
        id: str | None = None,  # noqa: A002
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self.title, self.ink, self.ground, self.margin = title, ink, ground, margin
        self.single = single  # one line, cut with an ellipsis rather than wrapped
        self.sentences: tuple[str, ...] = ()
        self.first = 0
        self.fades = ground == BASE
        self.aside = ""  # at the right of a single line, before which the sentences give way

    def show(self, sentences: Sequence[str], title: str | None = None, aside: str = "") -> None:
        """Take the sentences."""
        self.aside = aside
        if title is not None:
            self.title = title
        if tuple(sentences) != self.sentences:
            self.first = 0
        self.sentences = tuple(sentences)
        self.redraw()

    def fit(self, width: int, most: int) -> int:
        """Take as many rows as the sentences need in a width, at most so many; how many that is."""
        rows = min(max(self.rows_in(width), 1), most)
        self.styles.height = rows
        return rows

    def rows_in(self, width: int) -> int:
        """Rows in which the sentences are whole."""
        return len(text_flow.wrap_all(self.sentences, max(width - 2 * self.margin, 1)))

    def move(self, rows: int) -> None:
        """Scroll by rows."""
        width = self.content_size.width - 2 * self.margin
        total = len(text_flow.wrap_all(self.sentences, max(width, 1)))
        room = self.content_size.height - (1 if self.title else 0)
        self.first = min(max(self.first + rows, 0), max(total - room, 0))
        self.redraw()

    def on_mouse_scroll_down(self) -> None:
        """The wheel scrolls."""
        self.move(1)

    def on_mouse_scroll_up(self) -> None:
        """The wheel scrolls."""
        self.move(-1)

    def paint(self, canvas: Canvas) -> None:
        """Heading and lines; a sign at the right edge says that there is more."""
        top = 0
        if self.title:
            canvas.put(self.margin, 0, self.title, TITLE)
            top = 1
        if self.single:
            room = canvas.width - self.margin
            if self.aside:
                room = canvas.put_right(canvas.width - 1, top, self.aside, WARN) - self.margin - 2
            canvas.put(
                self.margin, top, text_flow.in_room(" ".join(self.sentences), room), self.ink, room=room
            )
            return
        lines = text_flow.wrap_all(self.sentences, max(canvas.width - 2 * self.margin, 1))
        room = canvas.height - top
        first = min(self.first, max(len(lines) - room, 0))
        for row, line in enumerate(lines[first : first + room]):
            canvas.put(self.margin, top + row, line, self.ink)
        if first > 0:
            canvas.put_right(canvas.width, top, "↑", SOFT)
        if first + room < len(lines):
            canvas.put_right(canvas.width, canvas.height - 1, "↓", SOFT)
