"""The sheets over a screen: the sentences, the help, a question with one entry, a list to pick from."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import ClassVar, Final

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input
from textual.worker import WorkType

from propagation.base.errors import BandwhenError
from propagation.base.files import TakenError
from propagation.base.text import one_line, shown
from tui.kit.latest_size import LatestSize
from tui.kit.lists import Card, Cards, Notes
from tui.kit.page_lines import KeyLine, in_order
from tui.kit.theme import PANEL, TEXT, WARN
from tui.kit.worker_threads import in_thread

SEVERAL = "This name has several meanings; the arrow keys choose, Enter takes the marked one."
KEEP, REPLACE = "keep it", "write over it"
GO_ON, DISCARD = "go on with the form", "discard it"
Reply = Callable[[str], None]  # takes an error sentence, or an empty text once the entries are saved
SHEETS_STYLE: Final = Path(__file__).with_name("sheets.tcss")
SHEET_WIDTH = 84  # columns, as in bandwhen.tcss


class Overlay(LatestSize, ModalScreen[str | None]):
    """A sheet over the screen; Esc closes it."""

    about: ClassVar[str] = ""
    question: str = ""  # of a sheet with a question
    CSS_PATH = SHEETS_STYLE

    def show_keys(self) -> None:
        """Show the keys of this sheet."""
        shown = [
            binding
            for kind in reversed(type(self).__mro__)
            for binding in kind.__dict__.get("BINDINGS", ())
            if isinstance(binding, Binding) and kind.__module__ == __name__
        ]
        self.query_one("#sheet-keys", KeyLine).show(in_order(shown))

    def on_resize(self) -> None:
        """Give the question the rows it needs."""
        self._ask()

    def _ask(self) -> None:
        """Show the question, if the sheet has one."""
        for notes in self.query("#question").results(Notes):
            notes.show([self.question])
            notes.fit(min(self.size.width, SHEET_WIDTH) - 2, 3)

    def action_close(self) -> None:
        """Close the sheet without an answer."""
        self.dismiss(None)


class WordsSheet(Overlay):
    """A screen's content as plain sentences."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,w", "close", "close"),
        Binding("y", "copy", "copy"),
        Binding("e", "export", "write to a file"),
        Binding("up", "scroll_words(-1)", "scroll"),
        Binding("down", "scroll_words(1)", "scroll"),
        Binding("pageup", "scroll_words(-10)", "a page", show=False),
        Binding("pagedown", "scroll_words(10)", "a page", show=False),
    ]

    def __init__(self, title: str, sentences: Sequence[str], export: Callable[[str, bool], str]) -> None:
        """Create the sheet. export: writes the text and returns a sentence; True overwrites another program's
        file, else TakenError.
        """
        super().__init__()
        self.heading, self.sentences, self.export = title, tuple(sentences), export

    def compose(self) -> ComposeResult:
        """Sentences and keys."""
        with Vertical(classes="sheet -full"):
            yield Notes(self.heading, id="sheet-words", ground=PANEL)
            yield Notes(id="sheet-said", ink=WARN, ground=PANEL)
            yield KeyLine(id="sheet-keys")

    def on_mount(self) -> None:
        """Show the sentences."""
        self.query_one("#sheet-words", Notes).show(self.sentences)
        self.show_keys()

    def _say(self, text: str) -> None:
        self.query_one("#sheet-said", Notes).show([text])

    def action_copy(self) -> None:
        """Copy the text to the terminal's clipboard."""
        self.app.copy_to_clipboard(shown("\n".join(self.sentences) + "\n"))
        self._say("Handed to the terminal's clipboard; where the terminal does not take it, e writes a file.")

    def action_export(self, force: bool = False) -> None:
        """Write the text to a file."""
        try:
            self._say(self.export("\n".join(self.sentences) + "\n", force))
        except TakenError as error:
            self.app.push_screen(replacing(error.path), self._replace)
        except BandwhenError as error:
            self._say(error.message)

    def _replace(self, answer: str | None) -> None:
        if answer == REPLACE:
            self.action_export(force=True)
        else:
            self._say("Nothing was written.")

    def action_scroll_words(self, rows: int) -> None:
        """Scroll by rows."""
        self.query_one("#sheet-words", Notes).move(rows)


class HelpSheet(WordsSheet):
    """The help of a screen: its content and keys, from its own pictures and bindings."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("question_mark", "close", "close", show=False)]


class TermsSheet(WordsSheet):
    """What the terms on a screen mean."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("G", "close", "close", show=False)]


class Ask(Overlay):
    """One question with one entry, checked while typing, with names to choose from."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "accept", "take it", priority=True),
        Binding("escape", "close", "leave it"),
        Binding("up", "pick(-1)", "choose", priority=True),
        Binding("down", "pick(1)", "choose", priority=True),
    ]

    def __init__(
        self,
        question: str,
        value: str = "",
        check: Callable[[str], str] | None = None,
        suggest: Callable[[str], list[str]] | None = None,
        meant: Callable[[str], Sequence[str]] | None = None,
        *,
        commit: Callable[[str, Reply], None] | None = None,
        preview: Callable[[str], str] | None = None,
        detail: Callable[[str], str] | None = None,
    ) -> None:
        """Create the prompt. preview: how a valid entry is understood, shown while it is typed.

        detail: what a name in the list is, in a few words.

        commit: saves the entry; the prompt stays open until it replies without an error.
        """
        super().__init__()
        self.question, self.value = question, value
        self.commit, self.preview, self.detail = commit, preview, detail
        self.check, self.suggest = check, suggest
        self.meant = meant  # full names of an entry with several meanings
        self.picked = False
        self._sought = ""  # the entry whose names are being looked up
        self._listed: str | None = None  # the entry whose names are in the list
        self._offered = ""  # the entry whose several meanings are in the list

    def compose(self) -> ComposeResult:
        """Question, entry, verdict, names."""
        kind = "" if self.suggest is None else " -list"
        with Vertical(classes=f"sheet{kind}{' -preview' if self.preview is not None else ''}"):
            yield Notes(id="question", ground=PANEL, margin=1)
            yield Entry(self.value, id="entry", compact=True, select_on_focus=True)
            yield Notes(id="verdict", ink=WARN, ground=PANEL, margin=1)
            if self.suggest is not None:
                cards = Cards(id="names")
                cards.ground = PANEL
                yield cards
            yield KeyLine(id="sheet-keys")

    def on_mount(self) -> None:
        """Focus the entry."""
        self._ask()
        self.show_keys()
        self.query_one(Input).focus()
        if self.suggest is not None:
            self._look_up("")

    @on(Input.Changed)
    def _typed(self, event: Input.Changed) -> None:
        self.picked, self._offered = False, ""
        self.query_one("#verdict", Notes).show([])
        if self.suggest is not None and event.value != self.value:
            self._look_up(event.value)
        if self.check is not None and event.value.strip() and self.suggest is None:
            fault = self.check(event.value)
            understood = self.preview(event.value) if self.preview is not None and not fault else ""
            self._tell(fault or understood, WARN if fault else TEXT)

    def _tell(self, sentence: str, ink: int = WARN) -> None:
        verdict = self.query_one("#verdict", Notes)
        verdict.ink = ink
        verdict.show([sentence] if sentence else [])

    def _look_up(self, text: str) -> None:
        suggest = self.suggest
        assert suggest is not None
        self._sought = text

        async def look() -> None:
            cards = await in_thread(lambda: self._cards(suggest(text)))
            if not self._offered and self._listed != text:
                self._list(text, cards)

        work: WorkType[None] = look  # the function: cancelled before its start, it leaves no coroutine
        self.run_worker(work, group="names", exclusive=True)

    def _cards(self, names: Sequence[str]) -> list[Card]:
        """A row for each name, with what it is."""
        return [Card(name, name, self.detail(name) if self.detail is not None else "") for name in names]

    def _list(self, text: str, cards: Sequence[Card]) -> None:
        """Show the names for an entry."""
        self._listed = text
        self.query_one("#names", Cards).show(cards)

    async def action_pick(self, by: int) -> None:
        """Select a name from the list of the present entry, even while typing fast."""
        if self.suggest is None:
            return
        entry = self.query_one(Entry)
        await entry.taken()
        if not self.picked and entry.value != self._sought and entry.value != self.value:
            self._sought = entry.value  # the list does not match this entry yet
        if self._listed != self._sought and not self._offered:
            self._list(self._sought, self._cards(self.suggest(self._sought)))
        cards = self.query_one("#names", Cards)
        if self.picked:
            cards.move(by)
        self.picked = True
        if cards.chosen is not None:
            with self.prevent(Input.Changed):
                entry.value = cards.chosen.key
                entry.cursor_position = len(entry.value)
            self._tell("")

    async def action_accept(self) -> None:
        """Return the entry if it is valid."""
        entry = self.query_one(Entry)
        await entry.taken()
        text = entry.value.strip()
        if not text:
            self._tell("Nothing is entered yet; Esc leaves things as they are.")
            return
        fault = self.check(text) if self.check is not None else ""
        if not fault and (self.picked or not self._several(text)):
            self._take(text)
        elif not self._take_marked(text):
            self._tell(fault)

    def _take(self, text: str) -> None:
        """Return the entry, or save it first."""
        if self.commit is None:
            self.dismiss(text)
            return

        def replied(sentence: str) -> None:
            if self.is_current and not sentence:
                self.dismiss(text)
            elif self.is_current:
                self._tell(sentence)

        self.commit(text, replied)

    def _several(self, text: str) -> bool:
        """Return whether an entry that is understood may mean something else as well."""
        if self.suggest is None or self.meant is None or text == self.value:
            return False
        return bool(self.meant(text))

    def _take_marked(self, text: str) -> bool:
        """Take the selected row, list several meanings, or take the first name, if the typed text is
        incomplete.
        """
        if self.suggest is None:
            return False
        cards = self.query_one("#names", Cards)
        if self._offered == text and cards.chosen is not None:
            self._take(cards.chosen.key)
            return True
        meanings = list(self.meant(text)) if self.meant is not None else []
        if meanings:
            self._offered, self._listed = text, None
            cards.at = 0
            cards.show(self._cards(meanings))
            self._tell(SEVERAL)
            return True
        names = self.suggest(text)  # the list may still match an earlier entry
        if names and self.check is not None and not self.check(names[0]):
            self._take(names[0])
            return True
        return False


class Pick(Overlay):
    """A list of a few words to pick from."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "accept", "take it"),
        Binding("escape", "close", "leave it"),
        Binding("up", "pick(-1)", "choose"),
        Binding("down", "pick(1)", "choose"),
    ]

    def __init__(
        self, question: str, options: Sequence[tuple[str, str]], current: str, sentences: Sequence[str] = ()
    ) -> None:
        super().__init__()
        self.question, self.options, self.current = question, tuple(options), current
        self.sentences = tuple(sentences)
        self._typed = ""  # the beginning of a word that was typed

    def compose(self) -> ComposeResult:
        """Question and options."""
        with Vertical(classes="sheet -list"):
            yield Notes(id="question", ground=PANEL, margin=1)
            if self.sentences:
                yield Notes(id="told", ground=PANEL, margin=1)
            cards = Cards(id="names")
            cards.ground = PANEL
            yield cards
            yield KeyLine(id="sheet-keys")

    def on_mount(self) -> None:
        """Select the present one."""
        if self.sentences:
            self.query_one("#told", Notes).show(self.sentences)
        self._ask()
        cards = self.query_one(Cards)
        cards.at = next((n for n, (key, _) in enumerate(self.options) if key == self.current), 0)
        cards.show([Card(key, key, detail, key == self.current) for key, detail in self.options])
        self.show_keys()

    def action_pick(self, by: int) -> None:
        """Move the selection."""
        self._typed = ""
        self.query_one(Cards).move(by)

    def on_key(self, event: events.Key) -> None:
        """Select the first word that begins with what is typed; the same letter again selects the next."""
        letter = (event.character or "").casefold()
        if letter.isalnum():
            event.stop()
            cards = self.query_one(Cards)
            for typed in (self._typed + letter, letter):
                found = [at for at, (key, _) in enumerate(self.options) if _begins(key, typed)]
                if found:
                    on = [at for at in found if at > cards.at] if typed == self._typed == letter else []
                    self._typed = typed
                    cards.move((on or found)[0] - cards.at)
                    return
            self._typed = ""

    def action_accept(self) -> None:
        """Return the selected word."""
        chosen = self.query_one(Cards).chosen
        self.dismiss(chosen.key if chosen is not None else None)


class PickKept(Pick):
    """A list of kept things to pick from; `act` is what to do with the one returned."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("plus", "do('copy')", "copy"),
        Binding("equals_sign", "do('rename')", "rename"),
        Binding("minus,delete", "do('delete')", "delete"),
    ]
    act = ""  # copy, rename or delete; empty: take it

    def action_do(self, act: str) -> None:
        """Return the selected word, for something else than to take it."""
        self.act = act
        self.action_accept()


def _begins(word: str, typed: str) -> bool:
    """Return whether a word begins with what was typed, without regard to blanks."""
    return "".join(word.split()).casefold().startswith(typed)


def replacing(path: str) -> Pick:
    """The question before another program's file is replaced; the answer is KEEP, REPLACE or None."""
    question = f"There is a file {path!r} already, which this program did not write. Write over it?"
    options = ((KEEP, "nothing is written"), (REPLACE, "what stands in it is lost"))
    return Pick(question, options, KEEP)


def discarding() -> Pick:
    """The question before a filled form is closed; the answer is GO_ON, DISCARD or None."""
    options = ((GO_ON, "nothing is lost"), (DISCARD, "nothing is saved"))
    return Pick("Discard what was typed?", options, GO_ON)


def which_of(meanings: Sequence[str]) -> Pick:
    """The question which of several places with one name is meant; the answer is its full name, or None."""
    return Pick(SEVERAL, [(name, "") for name in meanings], "")


MOST_SIGNS = 1000  # characters of an entry; no name, place or file is longer
PATIENCE_S = 2.0  # s of waiting for an entry that does not respond


class Entry(Input):
    """A line of text without control characters."""

    async def taken(self) -> None:
        """Wait until all text typed so far is in the entry.

        Keeps the key order on slow lines: typed characters wait in the entry's queue, but a key of the screen
        acts at once. Without the wait, Enter could act before the text typed before it.
        """
        done = asyncio.Event()
        if self.call_later(done.set):
            with suppress(TimeoutError):
                await asyncio.wait_for(done.wait(), PATIENCE_S)

    def validate_value(self, value: str) -> str:
        """The value without control characters."""
        return one_line(value)[:MOST_SIGNS]
