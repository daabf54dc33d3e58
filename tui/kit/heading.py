"""The top line: from where to whom, the date, the mode and the clock."""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.wording import quantities as say
from tui.kit.canvas import Canvas
from tui.kit.drawn import Drawn
from tui.kit.glyphs import SITE, TARGET, one_cell
from tui.kit.text_flow import without_middle
from tui.kit.theme import GAIN, PANEL, SOFT, STRONG, TEXT, WARN

TRIED: Final = "TRIED: "


class Heading(Drawn):
    """Station, target, day, mode and power, the time now."""

    DEFAULT_CSS = "Heading { height: 1; dock: top; }"
    ground = PANEL
    fades = False
    about = (
        "The top line names your site, the target, the day, mode and power in use, and the time now in UTC. "
        "While something is tried it stands in place of the site, after TRIED: nothing of it is saved."
    )

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.site = self.target = self.range = self.detail = ""
        self.demo = False
        self.busy = self.tried = ""
        self.now: np.datetime64 | None = None

    def show(
        self,
        site: str,
        target: str,
        far: str,
        detail: str,
        now: np.datetime64 | None,
        *,
        demo: bool,
        busy: str,
        tried: str = "",
    ) -> None:
        """Take what the line says."""
        self.site, self.target, self.range, self.detail = site, target, far, detail
        self.now, self.demo, self.busy, self.tried = now, demo, busy, tried
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """One line; the right end is kept, the names give way."""
        clock = f"{say.clock(self.now)} UTC" if self.now is not None else ""
        right = canvas.put_right(canvas.width - 1, 0, clock, STRONG) - 2
        if self.busy:
            right = canvas.put_right(right, 0, f"working: {self.busy} ...", WARN) - 2
        if len(self.detail) < right - 30:
            right = canvas.put_right(right, 0, self.detail, SOFT) - 2
        x = canvas.put(1, 0, SITE, GAIN) + 1
        if self.tried:  # in place of the site: whatever is shown is not the station on file
            for_target = len(one_cell(self.target)) + 5  # its sign and the blanks round it
            room = max((right - 8) * 2 // 3, right - x - for_target, 12)
            name = without_middle(one_cell(self.tried), room - len(TRIED))
            x = canvas.put(x, 0, f"{TRIED}{name}", WARN, room=room) + 1
        else:
            x = canvas.put(x, 0, self.site, TEXT, room=max((right - 8) // 2, 4)) + 1
        if not self.tried and self.demo and x + 12 < right:
            x = canvas.put(x, 0, "DEMO", WARN) + 1
        x += 1
        if x < right - 4:
            x = canvas.put(x, 0, TARGET, GAIN) + 1
            x = canvas.put(x, 0, self.target, STRONG, room=right - x) + 2
            if x + len(self.range) <= right:
                canvas.put(x, 0, self.range, TEXT)
