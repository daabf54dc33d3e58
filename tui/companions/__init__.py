"""Views that stand with a page where the screen is large. A new one is its file and one line here."""

from __future__ import annotations

from typing import Final

COMPANIONS: Final[dict[str, str]] = {  # id -> "module:class"
    "with-why": "tui.companions.why:Why",
    "with-lanes": "tui.companions.lanes:DayLanes",
    "with-chart": "tui.companions.chart:Chart",
    "with-gains": "tui.companions.gains:GainLanes",
    "with-suns": "tui.companions.suns:BothSuns",
    "with-settings": "tui.companions.settings:PlanSettings",
    "with-entry": "tui.companions.entries:ChosenEntry",
    "with-places": "tui.companions.entries:EntriesChart",
}
