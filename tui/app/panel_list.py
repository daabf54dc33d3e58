"""Views that stand with a page where the screen is large. A new one is its file and one line here."""

from __future__ import annotations

from typing import Final

SIDE_PANELS: Final[dict[str, str]] = {  # id -> "module:class"
    "with-why": "tui.features.why.panel:Why",
    "with-lanes": "tui.features.day.panel:DayLanes",
    "with-chart": "tui.features.reach.panel:Chart",
    "with-gains": "tui.features.antenna.panel:GainLanes",
    "with-suns": "tui.features.sked.panel:BothSuns",
    "with-settings": "tui.features.plan.panel:PlanSettings",
    "with-entry": "tui.features.stations.panel:ChosenEntry",
    "with-places": "tui.features.stations.panel:EntriesChart",
}
