"""A form in two steps: the first asks what decides most, the second all else."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, ClassVar

from textual.binding import Binding, BindingType

from tui.kit.form import Entries, Form, FormField
from tui.kit.overlays import DISCARD, discarding


class FirstStep(Form):
    """A form with an optional second step, which opens over it; leaving that one leads back here.

    second: makes the second step from the entries of the first, and those that it was left with before.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        *Form.BINDINGS,
        Binding("ctrl+n", "more", "all else", priority=True, tooltip="a second step with all the rest"),
    ]

    def __init__(
        self,
        title: str,
        fields: Sequence[FormField],
        check: Callable[[Mapping[str, str]], str | Sequence[str]],
        second: Callable[[Entries, Entries], Form],
        **more: Any,
    ) -> None:
        super().__init__(title, fields, check, **more)
        self.second = second
        self.rest: Entries = {}  # entries of the second step

    def result(self) -> Entries:
        """The entries of both steps."""
        return {**self.rest, **super().result()}

    async def action_more(self) -> None:
        """Open the second step."""
        await self._taken()
        self._more()

    def _more(self) -> None:
        if not self._ready(self._more):
            return
        sheet = self.second(super().result(), self.rest)

        def back(entries: Entries | None) -> None:
            if entries is not None:
                self.dismiss(entries)
            elif sheet.left != {field.key: field.value for field in sheet.fields} or self.rest:
                self.rest = sheet.left
                self._judge()

        self.app.push_screen(sheet, back)

    def action_leave(self) -> None:
        """Close the form without saving; ask before what was typed is lost."""
        if self.changed or self.rest:
            self.app.push_screen(discarding(), lambda answer: self._leave() if answer == DISCARD else None)
        else:
            self._leave()
