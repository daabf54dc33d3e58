"""Side panels of large screens, and the layout that places them.

A page declares one or more spreads, each with a minimum screen size. A spread names views by their id. They
are the page's own views, which move, and side panels of any feature. A side panel has its own query and
drawing, and is created when it is first shown. A screen too small for any spread has no side panels.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol, cast

from textual.containers import Vertical
from textual.geometry import Offset, Size
from textual.layout import ArrangeResult, WidgetPlacement
from textual.layouts.vertical import VerticalLayout
from textual.widget import Widget

from tui.app.queries import Query
from tui.app.state import State
from tui.kit.canvas import Canvas, Drawn
from tui.kit.theme import RULE


class SidePanel(Vertical):
    """A view added to pages: its queries, its drawing, and its preferred number of rows.

    The page updates it: its queries go to the same runner after the page's, and it is filled whenever the
    page is.
    """

    def queries(self, state: State) -> Iterable[Query[object]]:
        """The queries in addition to those of the page."""
        return ()

    def fill(self, state: State) -> None:
        """Fill its widgets with the latest results."""
        raise NotImplementedError

    def sentences(self, state: State) -> list[str]:
        """The content in sentences, as far as the page's own sentences omit it."""
        return []

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """The fewest rows for the whole content, and the most it can use."""
        return (8, 1000)

    def best_rows(self, state: State, width: int, room: int) -> int:
        """The rows out of `room` that it can fill; the page gets the rest."""
        return min(self.rows(state, width)[1], room)


class Divider(Drawn):
    """The vertical line between a page and the column next to it."""

    DEFAULT_CSS = "Divider { width: 1; height: 1fr; }"
    fades = False

    def paint(self, canvas: Canvas) -> None:
        """Draw a line from top to bottom."""
        for y in range(canvas.height):
            canvas.mark(0, y, "│", RULE)


class Spreading(Protocol):
    """The part of a page that the layout uses."""

    spread: Spread | None

    def rows_below(self, room: int) -> int:
        """Rows of the view below the page, out of `room`."""


class SpreadLayout(VerticalLayout):
    """The layout of the page with the views next to and below it, above the lines of keys."""

    name = "spread"

    def arrange(
        self, parent: Widget, children: list[Widget], size: Size, greedy: bool = True
    ) -> ArrangeResult:
        """Divide the screen."""
        page = cast(Spreading, parent)
        spread = page.spread
        if spread is None:
            return super().arrange(parent, children, size, greedy)
        foot = [one for one in children if one.id in (*spread.across, *FOOT)]
        right = sorted(
            (one for one in children if one.id in spread.right),
            key=lambda one: spread.right.index(str(one.id)),
        )
        below = [one for one in children if one.id == spread.below]
        line = [one for one in children if one.id == DIVIDER]
        apart = {*foot, *right, *below, *line}
        main = [one for one in children if one not in apart]

        width = size.width
        keys = super().arrange(parent, foot, size, greedy) if foot else []
        room = size.height - max((place.region.bottom for place in keys), default=0)
        under = page.rows_below(room) if spread.below else 0
        upper, columns = room - under, spread.main_columns(width)
        out = [*self._stack(parent, main, Size(columns, upper), Offset(0, 0), greedy)]
        if spread.right:
            beside = Offset(columns + 1, 0)
            out += self._stack(parent, right, Size(width - columns - 1, upper), beside, greedy)
            out += self._stack(parent, line, Size(1, upper), Offset(columns, 0), greedy)
        out += self._stack(parent, below, Size(width, under), Offset(0, upper), greedy)
        return [*out, *WidgetPlacement.translate(list(keys), Offset(0, room))]

    def _stack(
        self, parent: Widget, children: Sequence[Widget], size: Size, at: Offset, greedy: bool
    ) -> list[WidgetPlacement]:
        """Place widgets from top to bottom in a part of the screen."""
        if not children:
            return []
        return WidgetPlacement.translate(list(super().arrange(parent, list(children), size, greedy)), at)


FOOT = ("notice", "keys", "places")  # ids of the lines at the bottom
DIVIDER = "divider"  # id of the vertical line before the column at the right


@dataclass(frozen=True, slots=True)
class Spread:
    """The arrangement of views from a screen size on."""

    columns: int  # minimum columns of the screen
    rows: int
    right: tuple[str, ...] = ()  # ids of the views in a column at the right, from top to bottom
    share: float = 0.4  # of the screen's columns for that column
    below: str = ""  # id of the side panel under the page
    across: tuple[str, ...] = ()  # ids of the page's lines that keep the whole width, above the keys

    @property
    def views(self) -> tuple[str, ...]:
        """All ids, including the page's own."""
        return (*self.right, self.below) if self.below else self.right

    def right_columns(self, width: int) -> int:
        """Columns of the column at the right, without the line before it."""
        return round(self.share * width) if self.right else 0

    def main_columns(self, width: int) -> int:
        """Columns of the page."""
        right = self.right_columns(width)
        return width - right - 1 if right else width


def fitting(spreads: Iterable[Spread], width: int, height: int) -> Spread | None:
    """The last spread that fits the screen."""
    found = [one for one in spreads if width >= one.columns and height >= one.rows]
    return found[-1] if found else None
