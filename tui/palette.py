"""The command palette's entries: screens, bands, targets, modes, looks; all that a key can do, by name."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING, cast

from textual.command import DiscoveryHit, Hit, Hits, Provider

from tui import words
from tui.theme import THEME_NAMES, THEME_SAYS

if TYPE_CHECKING:
    from tui.app import BandwhenApp


class Entries(Provider):
    """Everything that can be asked for by name."""

    def _all(self) -> Iterator[tuple[str, str, Callable[[], object]]]:
        from tui.screens.page import PLACES

        app = cast("BandwhenApp", self.app)
        for _key, label, mode in PLACES:
            yield f"Screen: {label}", "go there", partial(app.action_go, mode)
        shared = app.shared
        opening = shared.opening
        for band in shared.day.bands if shared.day is not None else ():
            yield (
                f"Band: {words.band_name(band)}",
                "look at this band",
                partial(app.choose_band, band),
            )
        if opening is not None:
            for friend in opening.friends:
                yield (
                    f"Target: {friend.name}",
                    f"friend, {friend.place}",
                    partial(app.set_target, friend.name),
                )
            for target in opening.targets:
                yield f"Target: {target}", "aim there", partial(app.set_target, target)
            for mode in opening.modes:
                yield f"Mode: {mode}", "work out the day for it", partial(app.set_mode, mode)
        for name in THEME_NAMES:
            yield f"Look: {name}", THEME_SAYS[name], partial(app.set_look, name)
        yield "Signs: plain ASCII or full", "for fonts without blocks", app.action_glyphs
        for label, says, action in (
            ("Target ...", "type a place or region", app.action_target),
            ("Date ...", "another day", app.action_date),
            ("Power ...", "power at the rig", app.action_power),
            ("Mode ...", "voice, Morse, FM or narrow digital", app.action_mode),
            ("Hours on air ...", "from when, for how long, for whom", app.action_plan_hours),
            ("Touchstone file ...", "from the analyser, for the chosen band", app.action_touchstone),
            ("Now", "back to the present time", app.action_to_now),
            ("Words", "this screen in plain sentences", app.action_words),
            ("Help", "what one sees here, and the keys", app.action_help),
            ("New station ...", "make your own", app.action_new_station),
            ("New friend ...", "someone to talk to", app.action_new_friend),
            ("Fetch the space weather", "needs a network", app.action_fetch),
            ("Type in flux and K ...", "as heard or remembered", app.action_type_in),
            ("Heard on the air ...", "correct the forecast by ear", app.action_heard),
            ("Beacons ...", "heard or silent", app.action_beacon),
            ("Analyser readings ...", "for the chosen band", app.action_analyser),
            ("Leave the program", "nothing is lost", app.exit),
        ):
            yield label, says, action

    async def discover(self) -> Hits:
        """All entries."""
        for label, says, action in self._all():
            yield DiscoveryHit(label, action, help=says)

    async def search(self, query: str) -> Hits:
        """Entries that fit what was typed."""
        matcher = self.matcher(query)
        for label, says, action in self._all():
            score = matcher.match(label)
            if score > 0:
                yield Hit(score, matcher.highlight(label), action, help=says)
