"""Messages of the screens: work that came to an end, and what a form or list has decided."""

from __future__ import annotations

from dataclasses import dataclass

from textual.message import Message


@dataclass(frozen=True)
class Failure:
    """Work that did not come to an end: one sentence for people."""

    sentence: str
    title: str = "That did not work"


class Done(Message):
    """Work finished in the background: what it was, its request number, and a frozen result or a failure."""

    def __init__(self, what: str, number: int, result: object) -> None:
        super().__init__()
        self.what, self.number, self.result = what, number, result

    @property
    def failure(self) -> Failure | None:
        """The failure, if it is one."""
        return self.result if isinstance(self.result, Failure) else None
