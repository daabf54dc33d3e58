"""Entries of the command finder: screens, bands, targets, modes, themes; every key's action, by name."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from inspect import isawaitable
from typing import cast

from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.content import Content

from propagation.wording import quantities as say
from tui.app import prompts
from tui.app.app_base import AppBase
from tui.app.feature_list import FOUND_BY_NAME, load
from tui.kit.glyphs import one_cell
from tui.kit.theme import THEME_NAMES, THEME_SAYS


async def _do(app: AppBase, what: str) -> None:
    """Run an action of the app, or a function from the list of features."""
    if ":" in what:
        done = load(what)(app)
        if isawaitable(done):
            await done
    else:
        await app.run_action(what)


async def export_page(app: AppBase) -> None:
    """Run the export of the page if it has one, else show its sentences, which can be exported from there."""
    await app.run_action("screen.export" if hasattr(app.screen, "action_export") else "words")


class Entries(Provider):
    """All entries of the command finder."""

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
        for label, says, what in FOUND_BY_NAME:
            yield label, says, partial(_do, app, what)

    async def discover(self) -> Hits:
        """List all entries."""
        for label, says, action in self._all():
            yield DiscoveryHit(_plain(label), action, text=one_cell(label), help=_help(says))

    async def search(self, query: str) -> Hits:
        """List the entries that match the typed text."""
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
    """Text as literal content: brackets are not markup, and control characters are removed."""
    return Content(one_cell(text))


def _help(says: str) -> str:
    """The same for the help next to an entry, which the palette takes unchanged if it is content."""
    return cast(str, _plain(says))
