"""One entry to type into: what is put into it from a file or the clipboard cannot steer the terminal."""

from __future__ import annotations

import asyncio
from contextlib import suppress

from textual.widgets import Input

from propagation.base.text import one_line

MOST_SIGNS = 1000  # of an entry; no name, place or file is longer


PATIENCE_S = 2.0  # s, after which an entry that does not answer is not waited for


class Entry(Input):
    """A line of text without control characters."""

    async def taken(self) -> None:
        """Wait until all that was typed before now stands in the entry.

        Keys on their way to it wait in its queue, while a key of the screen is carried out at once: over a
        slow line, where keys come in one piece, Enter would overtake the word before it.
        """
        done = asyncio.Event()
        if self.call_later(done.set):
            with suppress(TimeoutError):
                await asyncio.wait_for(done.wait(), PATIENCE_S)

    def validate_value(self, value: str) -> str:
        """The value as it may be shown."""
        return one_line(value)[:MOST_SIGNS]
