"""Views that stand with a page where the screen is large. A new one is its file and one line here."""

from __future__ import annotations

from typing import Final

COMPANIONS: Final[dict[str, str]] = {  # id -> "module:class"
    "with-why": "tui.companions.why:Why",
    "with-lanes": "tui.companions.lanes:DayLanes",
}
