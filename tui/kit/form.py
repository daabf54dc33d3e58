"""A form: one entry a line with its unit, checked while typing, saved only when it is valid."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
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
from tui.kit.lists import Notes
from tui.kit.overlays import SHEETS_STYLE, Entry, which_of
from tui.kit.page_lines import KeyLine, in_order
from tui.kit.theme import PANEL, SOFT, TEXT, TITLE, WARN
from tui.kit.worker_threads import in_thread

Entries = dict[str, str]
MORE_WANTED = ""  # key in the result of a first step if the second one is requested
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


class Form(ModalScreen[Entries | None]):
    """Several entries; the verdict below is updated while typing."""

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
        suggest: Callable[[str], list[str]] | None = None,
        judge_only: bool = False,
        guess: Callable[[Mapping[str, str]], Mapping[str, str]] | None = None,
        meant: Callable[[str], Sequence[str]] | None = None,
    ) -> None:
        super().__init__()
        self.heading, self.fields, self.check, self.note = title, tuple(fields), check, note
        self.suggest = suggest
        self.guess = guess  # values used for empty entries, by key
        self.meant = meant  # full names of a place with several meanings
        self.judge_only = judge_only  # the check returns a result, not an error

    def compose(self) -> ComposeResult:
        """Title, entries, hint, verdict, keys."""
        with Vertical(classes="sheet -full"):
            yield Notes(id="form-title", ink=TITLE, ground=PANEL, margin=1)
            with VerticalScroll(id="form-fields", can_focus=False):
                for number, field in enumerate(self.fields):
                    with Horizontal(classes="form-row"):
                        label = Notes(ink=TEXT, ground=PANEL, margin=1, classes="form-label")
                        label.sentences = (field.label,)
                        unit = Notes(ink=SOFT, ground=PANEL, margin=1, classes="form-unit")
                        unit.sentences = (field.unit,)
                        yield label
                        yield Entry(
                            field.value,
                            id=f"field-{number}",
                            compact=True,
                            suggester=self._suggester(field),
                            select_on_focus=True,
                        )
                        yield unit
            yield Notes(id="form-hint", ink=SOFT, ground=PANEL, margin=1)
            yield Notes(id="form-verdict", ink=WARN, ground=PANEL, margin=1)
            yield KeyLine(id="sheet-keys")

    def _suggester(self, field: FormField) -> Suggester | None:
        if field.choices:
            return SuggestFromList(field.choices, case_sensitive=False)
        return PlaceSuggester(self.suggest) if field.place and self.suggest is not None else None

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
        self._show_guesses()
        verdict = self.check(self.entries())
        lines = [verdict] if isinstance(verdict, str) else list(verdict)
        self.query_one("#form-verdict", Notes).show([line for line in lines if line] or [self.note])
        return self.judge_only or not any(lines)

    def _show_guesses(self) -> None:
        """Show in each empty entry the value that will be used; typing replaces it."""
        if self.guess is None:
            return
        found = self.guess(self.entries())
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
        number = self._number() or 0
        # at once: the text typed next belongs to the new entry
        self.set_focus(self.query_one(f"#field-{min(max(number + by, 0), len(self.fields) - 1)}", Input))

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
        if number is None or number == len(self.fields) - 1:
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
        return self.meant(text) if field.place and text and self.meant is not None else ()

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

    def _save(self) -> None:
        if not self._offered(range(len(self.fields)), self._save) and self._judge():
            self.dismiss(self.entries())

    def action_leave(self) -> None:
        """Close the form without changes."""
        self.dismiss(None)


class FirstStep(Form):
    """A form with an optional second step."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *Form.BINDINGS,
        Binding("ctrl+n", "more", "all else", priority=True, tooltip="a second step with all the rest"),
    ]

    async def action_more(self) -> None:
        """Return the entries, and request the second step."""
        await self._taken()
        self._more()

    def _more(self) -> None:
        if not self._offered(range(len(self.fields)), self._more) and self._judge():
            self.dismiss({**self.entries(), MORE_WANTED: "yes"})


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
