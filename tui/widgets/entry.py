"""One entry to type into: what is put into it from a file or the clipboard cannot steer the terminal."""

from __future__ import annotations

from textual.widgets import Input

from propagation.base.plain_text import one_line

MOST_SIGNS = 1000  # of an entry; no name, place or file is longer


class Entry(Input):
    """A line of text without control characters."""

    def validate_value(self, value: str) -> str:
        """The value as it may be shown."""
        return one_line(value)[:MOST_SIGNS]
