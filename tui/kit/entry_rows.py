"""What pictures of numbered entries have in common: a click takes the one under it, the wheel the next."""

from __future__ import annotations

from textual import events
from textual.message import Message

from tui.kit.drawn import Drawn


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
