"""A list to choose from by the cursor keys: a name, and a few words beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from textual import events
from textual.message import Message

from tui.kit.canvas import Canvas
from tui.kit.drawn import Drawn
from tui.kit.theme import CHOSEN, KEY, SOFT, STRONG, TEXT, TITLE


@dataclass(frozen=True, slots=True)
class Card:
    """One entry; an entry without a key is a heading."""

    key: str
    name: str
    detail: str = ""
    mark: bool = False  # in use now


class Cards(Drawn):
    """Entries under headings, one of them chosen."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.cards: tuple[Card, ...] = ()
        self.at = 0
        self._first = 0  # the entry in the topmost row

    class Moved(Message):
        """Another entry is chosen."""

    def show(self, cards: Sequence[Card]) -> None:
        """Take the entries; the choice stays on its key if that is still there."""
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
        """The chosen entry."""
        if not self.cards or not self.cards[self.at].key:
            return None
        return self.cards[self.at]

    def move(self, by: int) -> None:
        """Choose the next entry up or down, over headings."""
        at = self.at + by
        while 0 <= at < len(self.cards) and not self.cards[at].key:
            at += 1 if by > 0 else -1
        if 0 <= at < len(self.cards) and at != self.at:
            self.at = at
            self.post_message(self.Moved())
        self.redraw()

    def on_click(self, event: events.Click) -> None:
        """A click chooses the entry."""
        at = self._first + event.y
        if 0 <= at < len(self.cards) and self.cards[at].key:
            self.move(at - self.at)

    def on_mouse_scroll_down(self) -> None:
        """The wheel chooses the next entry."""
        self.move(1)

    def on_mouse_scroll_up(self) -> None:
        """The wheel chooses the entry before."""
        self.move(-1)

    def paint(self, canvas: Canvas) -> None:
        """One row an entry."""
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
                canvas.put(0, row, "▸", KEY)
            canvas.put(2, row, "●" if card.mark else " ", KEY)
            canvas.put(4, row, card.name, STRONG if here else TEXT, room=names)
            canvas.put(5 + names, row, card.detail, SOFT)
