"""The list of features: commands, pages, side panels, and their entries in the command finder.

The app imports a feature only through this list, and only when it is needed. A location is written
"module:name".
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final, NamedTuple

if TYPE_CHECKING:
    from textual.screen import Screen

# The commands in the order the help lists them: name -> (module, one line of help)
COMMANDS: Final[dict[str, tuple[str, str]]] = {
    "advise": ("tui.features.day.command", "which band, when, to reach a target"),
    "why": ("tui.features.why.command", "why a band is open or quiet at an hour"),
    "plan": ("tui.features.plan.command", "when to switch bands in the time on the air: a run sheet"),
    "sked": ("tui.features.sked.command", "when two stations can meet: an appointment on the air"),
    "season": (
        "tui.features.season.command",
        "the months ahead: the best band, hour by hour",
    ),
    "path": (
        "tui.features.reach.command",
        "the path between two places: modes, MUF, skip, take-off angle",
    ),
    "sky": ("tui.features.sky.command", "the ionosphere over a place"),
    "antenna": (
        "tui.features.antenna.command",
        "what the antenna radiates on each band, and how to set it up",
    ),
    "conditions": (
        "tui.features.sky.conditions_command",
        "the sun and the field: what is used, where it comes from, how old it is",
    ),
    "circuits": ("tui.features.review.circuits_command", "a forecast for every row of a CSV file"),
    "review": (
        "tui.features.review.command",
        "a log against the forecast, and what it teaches about the station",
    ),
    "station": ("tui.features.stations.command", "write, show or check a station file"),
    "completion": ("tui.completion", "a script that lets the shell complete commands and options"),
    "friends": (
        "tui.features.stations.friends_command",
        "the people you want to meet on the air: list, add, remove",
    ),
    "help": ("tui.features.help.command", "the topics of help, or one of them"),
}


def load(place: str) -> Any:
    """Import the object at "module:name"."""
    module, _, name = place.partition(":")
    return getattr(import_module(module), name)


class PageEntry(NamedTuple):
    """One page: its key, its name on the key line, and the location of its screen."""

    key: str
    label: str
    place: str  # name among the pages
    screen: str  # "module:class"

    def make(self) -> Screen[None]:
        """Create its screen; the module is imported when the page is first shown."""
        screen: Screen[None] = load(self.screen)()
        return screen


PAGES: tuple[PageEntry, ...] = (  # in the order of their keys
    PageEntry("1", "day", "day", "tui.features.day.page:DayPage"),
    PageEntry("2", "why", "why", "tui.features.why.page:WhyPage"),
    PageEntry("3", "reach", "reach", "tui.features.reach.page:ReachPage"),
    PageEntry("4", "antenna", "bench", "tui.features.antenna.page:AntennaPage"),
    PageEntry("5", "sky", "sky", "tui.features.sky.page:SkyPage"),
    PageEntry("6", "plan", "plan", "tui.features.plan.page:PlanPage"),
    PageEntry("7", "sked", "sked", "tui.features.sked.page:SkedPage"),
    PageEntry("8", "station", "station", "tui.features.stations.page:StationPage"),
    PageEntry("9", "log", "review", "tui.features.review.page:ReviewPage"),
    PageEntry("0", "air", "onair", "tui.features.outing.page:OnAirPage"),
    # the following pages have letters that neither a page nor the app uses
    PageEntry("j", "year", "season", "tui.features.season.page:SeasonPage"),
)

SIDE_PANELS: Final[dict[str, str]] = {  # by the id that spreads use
    "with-why": "tui.features.why.page:Why",
    "with-lanes": "tui.features.day.page:DayLanes",
    "with-chart": "tui.features.reach.page:Chart",
    "with-gains": "tui.features.antenna.page:GainLanes",
    "with-suns": "tui.features.sked.page:BothSuns",
    "with-settings": "tui.features.plan.page:PlanSettings",
    "with-entry": "tui.features.stations.page:ChosenEntry",
    "with-places": "tui.features.stations.page:EntriesChart",
}

NEW_STATION: Final = "tui.features.stations.form:new_station"
FETCH: Final = "tui.features.sky.page:fetch"

# Further entries of the command finder: label, description, and an action of the app or a
# function of the app, "module:name"
FOUND_BY_NAME: Final[tuple[tuple[str, str, str], ...]] = (
    ("Signs: plain ASCII or full", "for fonts without blocks", "glyphs"),
    ("Clock: UTC or local first", "local time beside UTC, turned over", "clock"),
    ("Target ...", "type a place or region", "tui.app.prompts:target"),
    ("Date ...", "another day", "tui.app.prompts:date"),
    ("Power ...", "power at the rig", "tui.app.prompts:power"),
    ("Mode ...", "voice, Morse, FM or narrow digital", "tui.app.prompts:mode"),
    ("Hours on air ...", "from when, for how long, for whom", "tui.app.prompts:ask_hours"),
    (
        "Touchstone file ...",
        "from the analyser, for the chosen band",
        "tui.features.antenna.form:touchstone",
    ),
    ("Now", "back to the present time", "to_now"),
    ("Words", "this screen in plain sentences", "words"),
    ("Terms", "what MUF, 1F2, sfu, Q and the like mean: a glossary", "terms"),
    (
        "Export ...",
        "print, share, save: what this page shows to a file",
        "tui.app.command_finder:export_page",
    ),
    ("Copy", "share this screen's words through the clipboard", "copy"),
    ("Stop", "cancel what is being worked out", "cancel"),
    ("Help", "what one sees here, and the keys", "help"),
    ("New station ...", "make your own", NEW_STATION),
    ("New friend ...", "someone to talk to", "tui.features.stations.form:new_friend"),
    ("Fetch the space weather", "needs a network", FETCH),
    ("Type in flux and K ...", "as heard or remembered", "tui.features.sky.page:type_in"),
    ("Heard on the air ...", "correct the forecast by ear", "tui.features.sky.page:heard"),
    ("Beacons ...", "heard or silent", "tui.features.sky.page:beacon"),
    ("Try ...", "a change, another antenna or a power, unsaved", "tui.features.antenna.page:ask_what_to_try"),
    ("Two antennas ...", "which to carry today", "tui.features.antenna.form:ask_beside"),
    ("Keep what is tried", "save it with the station", "tui.features.antenna.form:keep_trial"),
    ("Drop what is tried", "everything as before", "tui.features.antenna.form:end_trial"),
    ("Analyser readings ...", "for the chosen band", "tui.features.antenna.form:analyser"),
    ("Leave the program", "nothing is lost", "quit"),
)
