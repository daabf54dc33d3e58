"""Command finder: its entries (screens, bands, targets, modes, looks; all that a key can do, by name), and
the toolkit's sheet for them, which closes once.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import partial
from inspect import isawaitable
from typing import cast

from textual import events
from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.command import CommandList, CommandPalette, DiscoveryHit, Hit, Hits, Provider
from textual.content import Content
from textual.message import Message
from textual.widgets import Button, Input, OptionList

from propagation.wording import quantities as say
from tui.app import prompts
from tui.app.app_base import AppBase
from tui.app.feature_list import FOUND_BY_NAME, load
from tui.kit.glyphs import one_cell
from tui.kit.latest_size import LatestSize
from tui.kit.looks import THEME_NAMES, THEME_SAYS


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
            yield f"Look: {name}", f"theme {THEME_SAYS[name]}", partial(prompts.set_look, app, name)
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
            fuzzy, places = matcher.fuzzy_search.match(matcher.query, label)
            score = rank(query, label, one_cell(says), fuzzy)
            if score > 0:
                shown = _plain(label)
                for at in places:
                    if not label[at].isspace():
                        shown = shown.stylize(matcher.match_style, at, at + 1)
                yield Hit(score, shown, action, text=label, help=_help(says))


def rank(query: str, label: str, says: str, fuzzy: float) -> float:
    """Rank of an entry for typed text, 0 to 1: what its name begins with before what it only mentions.

    fuzzy: score of the letters of the text, in order, anywhere in the name; it counts least.
    """
    typed, name, about = query.lower().split(), label.lower(), f"{label} {says}".lower()
    if not typed:
        return 0.0
    in_name, in_both = _beginnings(typed, name), _beginnings(typed, about)
    if in_name:
        return 1.0 if name.startswith(query.lower().strip()) else 0.9
    if in_both:
        return 0.7
    if query.lower().strip() in name:
        return 0.6
    return 0.3 * fuzzy / (1.0 + fuzzy)


def _beginnings(typed: list[str], text: str) -> bool:
    """Return whether every typed word begins a word of a text."""
    words = re.findall(r"[^\W_]+", text)
    return all(any(word.startswith(one) for word in words) for one in typed)


def _plain(text: str) -> Content:
    """Text as literal content: brackets are not markup, and control characters are removed."""
    return Content(one_cell(text))


def _help(says: str) -> str:
    """The same for the help next to an entry, which the palette takes unchanged if it is content."""
    return cast(str, _plain(says))


class EntryList(CommandList):
    """List of entries for which keys and clicks may come before it is drawn."""

    def action_page_up(self) -> None:
        """Move up one page; to the first entry where the rows are not laid out."""
        try:
            super().action_page_up()  # type: ignore[no-untyped-call]
        except LookupError:  # the toolkit counts rows, which exist only once they are drawn
            self.action_first()

    def action_page_down(self) -> None:
        """Move down one page; to the last entry where the rows are not laid out."""
        try:
            super().action_page_down()  # type: ignore[no-untyped-call]
        except LookupError:
            self.action_last()

    async def _on_click(self, event: events.Click) -> None:
        """Ignore a click on an entry that is drawn still but not in the list any more."""
        clicked = event.style.meta.get("option")
        if clicked is not None and clicked >= self.option_count:
            event.prevent_default()  # the toolkit's own handler is not called


class CommandFinder(LatestSize, CommandPalette):
    """The toolkit's palette, closed at most once and running one entry at most.

    What was typed or clicked before it closed may reach it afterwards; the toolkit would then close the page
    below, or run the entry again.
    """

    closed = False

    def compose(self) -> ComposeResult:
        """Compose the palette with a list of its own."""
        for widget in super().compose():
            yield EntryList() if isinstance(widget, CommandList) else widget

    def dismiss(self, result: None = None) -> AwaitComplete:
        """Close the finder; nothing happens where it is closed already."""
        if self.closed:
            return AwaitComplete()
        self.closed = True
        self._cancel_gather_commands()
        return super().dismiss(result)

    def _watch__list_visible(self) -> None:
        """Show or hide the list, unless it is gone: a search may end after the finder has been closed."""
        if self.query("CommandList"):
            super()._watch__list_visible()

    async def _watch__show_busy(self) -> None:
        """Show that a search is under way, unless its signs are gone."""
        if self.query("CommandList") and self.query("LoadingIndicator"):
            await super()._watch__show_busy()

    async def _on_message(self, message: Message) -> None:
        """Handle a message, unless it would search or choose when an entry is chosen already."""
        chooses = (Input.Changed, Input.Submitted, Button.Pressed, OptionList.OptionSelected, events.Click)
        if self.closed and isinstance(message, chooses):
            message.stop()
            return
        await super()._on_message(message)
