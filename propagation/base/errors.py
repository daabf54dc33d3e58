"""Errors shown to a user: each has one clear sentence and a short title."""

from __future__ import annotations


class BandwhenError(Exception):
    """Base class of the errors shown to a user; `str(error)` is one sentence, `title` a heading for it."""

    title = "Something went wrong"

    def __init__(self, message: str, title: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        if title is not None:
            self.title = title


class InputError(BandwhenError):
    """Input that cannot be used; the sentence says what, where and what to do. Exit code 2."""

    title = "Please check what was entered"


class NothingToAdvise(BandwhenError):  # noqa: N818 - it is a result, not an error
    """Result that no band is usable; the sentence says why. Exit code 3."""

    title = "Nothing to advise"
