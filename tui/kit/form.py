"""A form: one entry a line with its unit, checked while typing.

One rule for all forms: a bad value is named in one sentence, and the form stays open with everything typed,
until its entries are saved or the operator leaves it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.suggester import Suggester, SuggestFromList
from textual.widgets import Input

from propagation.base.text import one_line
from tui.kit.canvas import Drawn
from tui.kit.lists import Notes
from tui.kit.overlays import SHEETS_STYLE, Entry, Reply, which_of
from tui.kit.page_lines import KeyLine, in_order
from tui.kit.theme import PANEL, SOFT, TEXT, TITLE, WARN
from tui.kit.worker_threads import in_thread

Entries = dict[str, str]
FORM_WIDTH = 110  # columns, as in sheets.tcss
LEAST_VERDICT = 4  # rows of the sentences below the entries; more where they need them
MANY_WORDS = 12  # number of valid words above which the hint does not list them (ours)


class PlaceSuggester(Suggester):
    """Completion of place names, in the background."""

    def __init__(self, suggest: Callable[[str], list[str]]) -> None:
        super().__init__(case_sensitive=True)
        self.suggest = suggest

    async def get_suggestion(self, value: str) -> str | None:
        """The first name that begins with the typed text."""
        names = await in_thread(lambda: self.suggest(value))
        return next(
            (
                name
                for name in map(one_line, names)
                if name.lower().startswith(value.lower()) and name != value
            ),
            None,
        )


@dataclass(frozen=True)
class Helps:
    """What helps while typing: names of places, values used for empty entries by key, and the full names of a
    place with several meanings.
    """

    suggest: Callable[[str], list[str]] | None = None
    guess: Callable[[Mapping[str, str]], Mapping[str, str]] | None = None
    meant: Callable[[str], Sequence[str]] | None = None


class Beside(Drawn):
    """A drawing beside the entries that follows them."""

    ground = PANEL
    fades = False

    def follow(self, entries: Mapping[str, str]) -> None:
        """Draw the entries, if they are valid; else leave the drawing as it is."""
        raise NotImplementedError


class Form(ModalScreen[Entries | None]):
    """Several entries; the verdict below is updated while typing.

    check: returns a sentence on the first bad entry, which begins with its label, else an empty text; or
    several sentences on entries that are valid. commit: saves the entries; the form stays open until it
    replies without an error. Without it the form returns the entries.
    """

    CSS_PATH = SHEETS_STYLE

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "onward", "next, at the end save", priority=True),
        Binding("up", "move(-1)", "entry", priority=True),
        Binding("down", "move(1)", "entry", priority=True),
        Binding(
            "pageup", "choice(-1)", "next word", priority=True, tooltip="the word before, of those valid"
        ),
        Binding("pagedown", "choice(1)", "next word", priority=True, tooltip="the next of the valid words"),
        Binding("ctrl+s", "save", "save", priority=True),
        Binding("escape", "leave", "leave it"),
    ]

    def __init__(
        self,
        title: str,
        fields: Sequence[FormField],
        check: Callable[[Mapping[str, str]], str | Sequence[str]],
        *,
        note: str = "",
        commit: Callable[[Entries, Reply], None] | None = None,
        helps: Helps | None = None,
        hides: Callable[[Mapping[str, str]], Collection[str] | None] | None = None,
        beside: Beside | None = None,
    ) -> None:
        super().__init__()
        self.heading, self.fields, self.check, self.note = title, tuple(fields), check, note
        self.helps = helps or Helps()
        self.commit = commit
        self.hides = hides  # keys of entries that do not apply; None: as before
        self.hidden: frozenset[str] = frozenset()
        self.beside = beside  # a drawing that follows the entries
        self.left: Entries = {}  # the entries when the form was left without saving
        self._saving = False

    def compose(self) -> ComposeResult:
        """Title, entries, hint, verdict, keys."""
        with Vertical(classes="sheet -full"):
            yield Notes(id="form-title", ink=TITLE, ground=PANEL, margin=1)
            with Horizontal(id="form-body", classes="" if self.beside is None else "-beside"):
                with VerticalScroll(id="form-fields", can_focus=False):
                    for number, field in enumerate(self.fields):
                        yield self._row(number, field)
                if self.beside is not None:
                    yield self.beside
            yield Notes(id="form-hint", ink=SOFT, ground=PANEL, margin=1)
            yield Notes(id="form-verdict", ink=WARN, ground=PANEL, margin=1)
            yield KeyLine(id="sheet-keys")

    def _row(self, number: int, field: FormField) -> Horizontal:
        label = Notes(ink=TEXT, ground=PANEL, margin=1, id=f"label-{number}", classes="form-label")
        label.sentences = (field.label,)
        unit = Notes(ink=SOFT, ground=PANEL, margin=1, classes="form-unit" if field.unit else "form-no-unit")
        unit.sentences = (field.unit,)
        suggester = self._suggester(field)
        entry = Entry(
            field.value, id=f"field-{number}", compact=True, suggester=suggester, select_on_focus=True
        )
        return Horizontal(label, entry, unit, id=f"row-{number}", classes="form-row")

    def _suggester(self, field: FormField) -> Suggester | None:
        if field.choices:
            return SuggestFromList(field.choices, case_sensitive=False)
        suggest = self.helps.suggest
        return PlaceSuggester(suggest) if field.place and suggest is not None else None

    def on_mount(self) -> None:
        """Focus the first entry."""
        self.query_one("#form-title", Notes).show([self.heading])
        shown = [binding for binding in self.BINDINGS if isinstance(binding, Binding)]
        self.query_one("#sheet-keys", KeyLine).show(in_order(shown))
        self.query_one("#field-0", Input).focus()
        self._judge()

    # -- reading --------------------------------------------------------------------------------

    def entries(self) -> Entries:
        """The entries of the form, by key."""
        return {
            field.key: self.query_one(f"#field-{n}", Input).value.strip()
            for n, field in enumerate(self.fields)
        }

    def on_click(self, event: events.Click) -> None:
        """Focus the entry of the clicked line."""
        row = event.widget.parent if event.widget is not None else None
        if isinstance(row, Horizontal) and row.has_class("form-row"):
            row.query_one(Input).focus()

    @on(Input.Changed)
    def _typed(self) -> None:
        self._judge()

    def _judge(self) -> bool:
        self._hide()
        self._show_guesses()
        if self.beside is not None:
            self.beside.follow(self.result())
        verdict = self.check(self.result())
        lines = [verdict] if isinstance(verdict, str) else list(verdict)
        fault = verdict if isinstance(verdict, str) else ""
        self._tell([line for line in lines if line] or [self.note], fault)
        return not fault

    def _hide(self) -> None:
        """Hide the entries that do not apply."""
        found = self.hides(self.entries()) if self.hides is not None else None
        if found is None or self.hidden == frozenset(found):
            return
        self.hidden = frozenset(found)
        for number, field in enumerate(self.fields):
            self.query_one(f"#row-{number}").display = field.key not in self.hidden

    def _tell(self, sentences: Sequence[str], fault: str) -> None:
        """Show sentences, and mark the entry that an error sentence is about."""
        verdict = self.query_one("#form-verdict", Notes)
        verdict.show(sentences)
        rows = verdict.rows_in(min(self.size.width, FORM_WIDTH))
        verdict.styles.height = min(max(rows, LEAST_VERDICT), max(self.size.height // 2 - 2, LEAST_VERDICT))
        at = self._fault_at(fault)
        for number, field in enumerate(self.fields):
            label = self.query_one(f"#label-{number}", Notes)
            wrong = number == at
            if wrong != (label.ink == WARN):
                label.ink = WARN if wrong else TEXT
                label.show([f"! {field.label}" if wrong else field.label])

    def _fault_at(self, fault: str) -> int | None:
        """The number of the entry whose label begins an error sentence."""
        fits = [number for number, field in enumerate(self.fields) if fault.startswith(field.label)]
        return max(fits, key=lambda number: len(self.fields[number].label), default=None) if fault else None

    def _refused(self) -> None:
        """Focus the entry that the shown error is about."""
        wrong = [number for number, _ in enumerate(self.fields) if self._marked(number)]
        if wrong:
            self.set_focus(self.query_one(f"#field-{wrong[0]}", Input))

    def _marked(self, number: int) -> bool:
        return self.query_one(f"#label-{number}", Notes).ink == WARN

    def result(self) -> Entries:
        """The entries to check and to save: those that apply."""
        return {key: text for key, text in self.entries().items() if key not in self.hidden}

    @property
    def changed(self) -> bool:
        """Whether an entry differs from its first value."""
        return any(field.value.strip() != self.entries()[field.key] for field in self.fields)

    def _show_guesses(self) -> None:
        """Show in each empty entry the value that will be used; typing replaces it."""
        if self.helps.guess is None:
            return
        found = self.helps.guess(self.entries())
        for number, field in enumerate(self.fields):
            text = f"{one_line(found[field.key])}, a guess" if field.key in found else ""
            self.query_one(f"#field-{number}", Input).placeholder = text

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """Show the hint of the focused entry."""
        number = self._number()
        if number is None:
            return
        field = self.fields[number]
        hint = field.hint
        if len(field.choices) > MANY_WORDS:
            hint = f"PgDn for the next of {len(field.choices)} words, or type the first letters; {field.hint}"
        elif field.choices:
            hint = f"PgDn for the next of: {', '.join(field.choices)}"
        if field.place:
            hint = hint or "a locator, a town, or lat,lon; the right arrow takes the name proposed"
        self.query_one("#form-hint", Notes).show([hint] if hint else [])

    def _number(self) -> int | None:
        focused = self.focused
        return int(focused.id[6:]) if isinstance(focused, Input) and focused.id is not None else None

    # -- moving and leaving ---------------------------------------------------------------------

    async def _taken(self) -> None:
        """Wait until all text typed so far is in its entry."""
        if isinstance(self.focused, Entry):
            await self.focused.taken()

    async def action_move(self, by: int) -> None:
        """Focus the entry above or below."""
        await self._taken()
        self._move(by)

    def _move(self, by: int) -> None:
        shown = self._shown()
        number = self._number() or 0
        at = min(max(shown.index(number) + by, 0), len(shown) - 1) if number in shown else 0
        # at once: the text typed next belongs to the new entry
        self.set_focus(self.query_one(f"#field-{shown[at]}", Input))

    def _shown(self) -> list[int]:
        """The numbers of the entries that apply."""
        return [number for number, field in enumerate(self.fields) if field.key not in self.hidden]

    async def action_choice(self, by: int) -> None:
        """Select the next valid word of this entry."""
        await self._taken()
        number = self._number()
        if number is None or not self.fields[number].choices:
            return
        entry, choices = self.query_one(f"#field-{number}", Input), self.fields[number].choices
        here = choices.index(entry.value) if entry.value in choices else (-1 if by > 0 else 0)
        entry.value = choices[(here + by) % len(choices)]
        entry.cursor_position = len(entry.value)

    async def action_onward(self) -> None:
        """Focus the next entry; after the last, save."""
        await self._taken()
        self._onward()

    def _onward(self) -> None:
        number = self._number()
        if number is None or number == self._shown()[-1]:
            self._save()
        elif not self._offered([number], self._onward):
            self._move(1)

    def _offered(self, numbers: Iterable[int], then: Callable[[], None]) -> bool:
        """List the meanings of the first ambiguous place among these entries; return whether there is one."""
        for number in numbers:
            entry = self.query_one(f"#field-{number}", Input)
            meanings = self._meanings(number, entry.value.strip())
            if meanings:
                self.app.push_screen(which_of(meanings), partial(self._chosen, entry, then))
                return True
        return False

    def _meanings(self, number: int, text: str) -> Sequence[str]:
        field = self.fields[number]
        meant = self.helps.meant
        return meant(text) if field.place and text and meant is not None else ()

    def _chosen(self, entry: Input, then: Callable[[], None], meaning: str | None) -> None:
        """Continue with the selected meaning; without one, leave everything unchanged."""
        if meaning is not None:
            entry.value = meaning
            entry.cursor_position = len(meaning)
            then()

    async def action_save(self) -> None:
        """Return the entries if they are valid."""
        await self._taken()
        self._save()

    def _ready(self, then: Callable[[], None]) -> bool:
        """Whether the entries are valid; else list the meanings of a place, or go to the bad entry."""
        if self._saving or self._offered(range(len(self.fields)), then):
            return False
        if not self._judge():
            self._refused()
            return False
        return True

    def _save(self) -> None:
        if not self._ready(self._save):
            return
        entries = self.result()
        if self.commit is None:
            self.dismiss(entries)
            return

        def replied(sentence: str) -> None:
            self._saving = False
            if self.is_current and not sentence:
                self.dismiss(entries)
            elif self.is_current:
                self._tell([sentence], sentence)
                self._refused()

        self._saving = True
        self.commit(entries, replied)

    def action_leave(self) -> None:
        """Close the form without saving."""
        self._leave()

    def _leave(self) -> None:
        self.left = self.entries()
        self.dismiss(None)


@dataclass(frozen=True)
class FormField:
    """One line of a form."""

    key: str  # the key of its entry in the result
    label: str
    value: str = ""
    unit: str = ""
    choices: tuple[str, ...] = ()  # valid words, if only some are valid
    hint: str = ""
    place: bool = False  # the entry is a place: names are completed
