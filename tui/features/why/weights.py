"""What stands in the way, by weight, and what would change it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.wording import quantities as say
from propagation.wording.causes import short
from tui.kit import words
from tui.kit.canvas import Canvas
from tui.kit.drawn import Drawn
from tui.kit.glyphs import SIGN_OF
from tui.kit.marks import put_bar, ramp_ink
from tui.kit.theme import RAMP, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from tui.features.why.view import CausesView


class Weights(Drawn):
    """Causes as bars of their own sign; changes as chances."""

    about = (
        "What is missing to a sure contact, shared out over its causes: each row is drawn with the sign "
        "the lanes use for it. Below, what the chance would become if one thing were different."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: CausesView | None = None

    def show(self, view: CausesView | None) -> None:
        """Take causes and changes."""
        self.view = view
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Causes first, then changes."""
        view = self.view
        if view is None:
            canvas.put(1, 0, "What stands in the way", TITLE)
            canvas.put(1, 1, words.WORKING, SOFT)
            return
        longest = max((len(change) for change, _ in view.changes), default=0)
        names = min(max(25, longest + 7), max(canvas.width - 14, 25))
        bars = max(min(canvas.width - names - 2, 50), 4)
        canvas.put(1, 0, "What stands in the way", TITLE)
        canvas.put_right(canvas.width - 1, 0, f"now {say.percent(view.chance)}", STRONG)
        y = 1
        causes = view.causes[: max(canvas.height // 2 - 1, 1)]
        for cause, weight in causes:
            canvas.put(1, y, say.percent_figure(weight).rjust(3), STRONG)
            canvas.put(5, y, short(cause), TEXT, room=names - 6)
            count = max(1, round(weight * bars))
            canvas.put(names, y, SIGN_OF.get(cause, "#") * count, TEXT, room=canvas.width - names)
            y += 1
        if not causes:
            canvas.put(1, y, "nothing worth naming", SOFT)
            y += 1
        y += 1
        if y >= canvas.height - 1:
            return
        canvas.put(1, y, "What would change it", TITLE)
        for row, (change, chance) in enumerate(view.changes[: canvas.height - y - 1], start=y + 1):
            canvas.put(1, row, say.percent_figure(chance).rjust(3), STRONG)
            canvas.put(5, row, change, TEXT, room=names - 6)
            put_bar(canvas, names, row, bars, chance, ramp_ink(chance))
            mark = names + min(int(view.chance * bars), bars - 1)
            canvas.mark(
                mark, row, "┊" if chance < view.chance else "│", RAMP + 8 if chance < view.chance else SOFT
            )
        if not view.changes:
            canvas.put(1, y + 1, "nothing within reach", SOFT)
