"""Cards to choose from, and sentences that scroll if they do not fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from textual import events
from textual.message import Message

from tui.kit import text_flow
from tui.kit.canvas import Canvas, Drawn
from tui.kit.theme import BASE, CHOSEN, KEY, SOFT, STRONG, TEXT, TITLE, WARN


@dataclass(frozen=True, slots=True)
class Card:
    """One entry; an entry without a key is a heading."""

    key: str
    name: str
    detail: str = ""
    mark: bool = False  # in use now


class Cards(Drawn):
    """Entries under headings, one of them selected."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.cards: tuple[Card, ...] = ()
        self.at = 0
        self._first = 0  # the entry in the topmost row

    class Moved(Message):
        """Message: another entry is selected."""

    def show(self, cards: Sequence[Card]) -> None:
        """Take the entries; the selection stays on its key if that still exists."""
        key = self.chosen.key if self.chosen is not None else None
        self.cards = tuple(cards)
        keys = [card.key for card in self.cards]
        if key in keys:
            self.at = keys.index(key)
        self.at = min(max(self.at, 0), max(len(self.cards) - 1, 0))
        if self.cards and not self.cards[self.at].key:
            self.move(1)
        self.redraw()

    @property
    def chosen(self) -> Card | None:
        """The selected entry."""
        if not self.cards or not self.cards[self.at].key:
            return None
        return self.cards[self.at]

    def move(self, by: int) -> None:
        """Select the next entry up or down, skipping headings."""
        at = self.at + by
        while 0 <= at < len(self.cards) and not self.cards[at].key:
            at += 1 if by > 0 else -1
        if 0 <= at < len(self.cards) and at != self.at:
            self.at = at
            self.post_message(self.Moved())
        self.redraw()

    def on_click(self, event: events.Click) -> None:
        """Select the clicked entry."""
        at = self._first + event.y
        if 0 <= at < len(self.cards) and self.cards[at].key:
            self.move(at - self.at)

    def on_mouse_scroll_down(self) -> None:
        """Select the next entry."""
        self.move(1)

    def on_mouse_scroll_up(self) -> None:
        """Select the entry before."""
        self.move(-1)

    def paint(self, canvas: Canvas) -> None:
        """Draw one row an entry."""
        names = min(
            max((len(card.name) for card in self.cards if card.key), default=0) + 2, max(canvas.width // 2, 8)
        )
        first = min(max(self.at - canvas.height + 2, 0), max(len(self.cards) - canvas.height, 0))
        self._first = first
        for row, card in enumerate(self.cards[first : first + canvas.height]):
            if not card.key:
                canvas.put(1, row, card.name, TITLE)
                continue
            here = first + row == self.at
            if here:
                canvas.paint_ground(0, row, canvas.width, row + 1, CHOSEN)
                canvas.point_at(row)
            canvas.put(2, row, "●" if card.mark else " ", KEY)
            canvas.put(4, row, card.name, STRONG if here else TEXT, room=names)
            canvas.put(5 + names, row, text_flow.in_room(card.detail, canvas.width - 5 - names), SOFT)


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
        self.aside = ""  # text at the right of a single line; the sentences are cut before it

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
        """Take the rows that the sentences need in a width, at most `most`; return their number."""
        rows = min(max(self.rows_in(width), 1), most)
        self.styles.height = rows
        return rows

    def rows_in(self, width: int) -> int:
        """Rows that the whole sentences need."""
        return len(text_flow.wrap_all(self.sentences, max(width - 2 * self.margin, 1)))

    def move(self, rows: int) -> None:
        """Scroll by rows."""
        width = self.content_size.width - 2 * self.margin
        total = len(text_flow.wrap_all(self.sentences, max(width, 1)))
        room = self.content_size.height - (1 if self.title else 0)
        self.first = min(max(self.first + rows, 0), max(total - room, 0))
        self.redraw()

    def on_mouse_scroll_down(self) -> None:
        """Scroll down."""
        self.move(1)

    def on_mouse_scroll_up(self) -> None:
        """Scroll up."""
        self.move(-1)

    def paint(self, canvas: Canvas) -> None:
        """Draw heading and lines; a mark at the right edge shows that there is more."""
        top = 0
        if self.title:
            canvas.put(self.margin, 0, text_flow.in_room(self.title, canvas.width - self.margin), TITLE)
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
