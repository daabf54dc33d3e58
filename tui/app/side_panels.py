"""Side panels of large screens, and the layout that places them.

A page declares one or more spreads, each from a size of the screen on. A spread names views by their id: the
page's own, which move, and side panels of any feature, which have a query and a drawing of their own and are
made when they are first shown. On a screen too small for any spread there is none.
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
    """A view that belongs to pages: what it asks, what it draws, and how many rows it would like.

    It takes part in the page's upkeep: its queries go to the same runner after the page's, and it is filled
    whenever the page is.
    """

    def queries(self, state: State) -> Iterable[Query[object]]:
        """What it needs to know beyond what the page asks."""
        return ()

    def fill(self, state: State) -> None:
        """Hand the latest results to its widgets."""
        raise NotImplementedError

    def sentences(self, state: State) -> list[str]:
        """What it shows in words, where the page's own words do not say it."""
        return []

    def rows(self, state: State, width: int) -> tuple[int, int]:
        """The fewest rows in which it is whole, and the most it can use."""
        return (8, 1000)

    def best_rows(self, state: State, width: int, room: int) -> int:
        """Of so many rows those that it can fill; the page has the rest."""
        return min(self.rows(state, width)[1], room)


class Divider(Drawn):
    """The upright line between a page and the column beside it."""

    DEFAULT_CSS = "Divider { width: 1; height: 1fr; }"
    fades = False

    def paint(self, canvas: Canvas) -> None:
        """A line from top to bottom."""
        for y in range(canvas.height):
            canvas.mark(0, y, "│", RULE)


class Spreading(Protocol):
    """What the layout needs to know of a page."""

    spread: Spread | None

    def rows_below(self, room: int) -> int:
        """Rows of the view under the page, of so many."""


class SpreadLayout(VerticalLayout):
    """The page and what stands beside and below it, over the lines of keys."""

    name = "spread"

    def arrange(
        self, parent: Widget, children: list[Widget], size: Size, greedy: bool = True
    ) -> ArrangeResult:
        """Share the screen out."""
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
        """Widgets from top to bottom in a part of the screen."""
        if not children:
            return []
        return WidgetPlacement.translate(list(super().arrange(parent, list(children), size, greedy)), at)


FOOT = ("notice", "keys", "places")  # ids of the lines under everything
DIVIDER = "divider"  # id of the upright line before the column at the right


@dataclass(frozen=True, slots=True)
class Spread:
    """What stands where from a size of the screen on."""

    columns: int  # of the screen, from which this holds
    rows: int
    right: tuple[str, ...] = ()  # ids of the views in a column at the right, from top to bottom
    share: float = 0.4  # of the screen's columns for that column
    below: str = ""  # id of the side panel under the page
    across: tuple[str, ...] = ()  # ids of the page's lines that stay over the whole width, above the keys

    @property
    def views(self) -> tuple[str, ...]:
        """All ids, the page's own among them."""
        return (*self.right, self.below) if self.below else self.right

    def right_columns(self, width: int) -> int:
        """Columns of the column at the right, without the line before it."""
        return round(self.share * width) if self.right else 0

    def main_columns(self, width: int) -> int:
        """Columns that are left to the page."""
        right = self.right_columns(width)
        return width - right - 1 if right else width


def fitting(spreads: Iterable[Spread], width: int, height: int) -> Spread | None:
    """The last spread the screen is large enough for."""
    found = [one for one in spreads if width >= one.columns and height >= one.rows]
    return found[-1] if found else None
