"""A screen that ignores a size which another has replaced.

Textual (8.2) lays a screen out at every `Resize`, and posts it another `Resize` where its size changed by
that. Two sizes in its queue, with other messages between them, would follow each other without end.
"""

from __future__ import annotations

from textual import events
from textual.message_pump import MessagePump


class LatestSize(MessagePump):
    """Mixin of a screen: sizes that are not the terminal's any more are left out."""

    async def on_event(self, event: events.Event) -> None:
        """Leave out a size that another has replaced."""
        if isinstance(event, events.Resize) and event.size != self.app.size:
            return
        await super().on_event(event)
