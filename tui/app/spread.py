"""How a page uses a large screen: views that belong to it stand beside it, or below it over its whole width.

A page declares one or more spreads, each from a size of the screen on. A spread names views by their id: the
page's own, which move, and side panels (`panel.py` of a feature), which have a query and a drawing of their
own and are made when they are first shown. On a screen too small for any spread nothing of this is there, nor
imported.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

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
