"""The command palette's entries: screens, bands, targets, modes, looks; all that a key can do, by name."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import cast

from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.content import Content

from propagation.wording import quantities as say
from tui.app import hours_form, prompts
from tui.app.app_base import AppBase
from tui.features.antenna import analyser_form, trials_form
from tui.features.sky import conditions_form
from tui.features.stations import form as lists
from tui.kit.glyphs import one_cell
from tui.kit.theme import THEME_NAMES, THEME_SAYS


def _try(app: AppBase) -> None:
    """Ask what to try; what would help is offered where the bench has worked it out."""
    from tui.features.antenna.page import shown

    trials_form.ask(app, shown(app.state))


async def _export(app: AppBase) -> None:
    """The export of the page where it has one, else its words, from which they can be written."""
    if hasattr(app.screen, "action_export"):
        await app.run_action("screen.export")
    else:
        await app.run_action("words")


class Entries(Provider):
    """Everything that can be asked for by name."""

    def _all(self) -> Iterator[tuple[str, str, Callable[[], object]]]:
        app = cast(AppBase, self.app)
        for entry in app.pages:
            yield f"Screen: {entry.label}", "go there", partial(app.run_action, f"go('{entry.place}')")
        opening, day = app.state.opening, app.state.day
        for band in day.bands if day is not None else ():
            yield (
                f"Band: {say.band_title(band)}",
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
            yield f"Look: {name}", THEME_SAYS[name], partial(prompts.set_look, app, name)
        yield "Signs: plain ASCII or full", "for fonts without blocks", partial(app.run_action, "glyphs")
        yield from (
            ("Target ...", "type a place or region", partial(prompts.target, app)),
            ("Date ...", "another day", partial(prompts.date, app)),
            ("Power ...", "power at the rig", partial(prompts.power, app)),
            ("Mode ...", "voice, Morse, FM or narrow digital", partial(prompts.mode, app)),
            ("Hours on air ...", "from when, for how long, for whom", partial(hours_form.ask, app)),
            (
                "Touchstone file ...",
                "from the analyser, for the chosen band",
                partial(analyser_form.touchstone, app),
            ),
            ("Now", "back to the present time", partial(app.run_action, "to_now")),
            ("Words", "this screen in plain sentences", partial(app.run_action, "words")),
            ("Export ...", "print, share, save: what this page shows to a file", partial(_export, app)),
            ("Copy", "share this screen's words through the clipboard", partial(app.run_action, "copy")),
            ("Stop", "cancel what is being worked out", partial(app.run_action, "cancel")),
            ("Help", "what one sees here, and the keys", partial(app.run_action, "help")),
            ("New station ...", "make your own", partial(lists.new_station, app)),
            ("New friend ...", "someone to talk to", partial(lists.new_friend, app)),
            ("Fetch the space weather", "needs a network", partial(conditions_form.fetch, app)),
            ("Type in flux and K ...", "as heard or remembered", partial(conditions_form.type_in, app)),
            ("Heard on the air ...", "correct the forecast by ear", partial(conditions_form.heard, app)),
            ("Beacons ...", "heard or silent", partial(conditions_form.beacon, app)),
            ("Try ...", "a change, another antenna or a power, unsaved", partial(_try, app)),
            ("Two antennas ...", "which to carry today", partial(trials_form.ask_beside, app)),
            ("Keep what is tried", "save it with the station", partial(trials_form.keep, app)),
            ("Drop what is tried", "everything as before", partial(trials_form.end, app)),
            ("Analyser readings ...", "for the chosen band", partial(analyser_form.analyser, app)),
            ("Leave the program", "nothing is lost", app.exit),
        )

    async def discover(self) -> Hits:
        """All entries."""
        for label, says, action in self._all():
            yield DiscoveryHit(_plain(label), action, text=one_cell(label), help=_help(says))

    async def search(self, query: str) -> Hits:
        """Entries that fit what was typed."""
        matcher = self.matcher(query)
        for label, says, action in self._all():
            label = one_cell(label)
            score, places = matcher.fuzzy_search.match(matcher.query, label)
            score = max(score, 0.7 * matcher.match(one_cell(says)))
            if score > 0:
                shown = _plain(label)
                for at in places:
                    if not label[at].isspace():
                        shown = shown.stylize(matcher.match_style, at, at + 1)
                yield Hit(score, shown, action, text=label, help=_help(says))


def _plain(text: str) -> Content:
    """Text as it is: brackets in a name are brackets, and nothing in it steers the terminal."""
    return Content(one_cell(text))


def _help(says: str) -> str:
    """The same for the words beside an entry, which the palette takes as they are if they are content."""
    return cast(str, _plain(says))
