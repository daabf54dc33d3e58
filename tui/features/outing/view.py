"""Drawing of the present state of an outing: present step, next steps, and learnt estimates."""

from __future__ import annotations

from dataclasses import dataclass

from tui.kit import text_flow, words
from tui.kit.canvas import Canvas, Drawn
from tui.kit.marks import BIG_ROWS, big_width, put_bar, put_big
from tui.kit.plan_view import PlanView
from tui.kit.theme import KEY, QUIET, SOFT, STRONG, TEXT, TITLE

BIG_ROOM = 14  # columns of the large word at least


@dataclass(frozen=True)
class LearntView:
    """Estimates learnt in an outing, and the plan to follow."""

    plan: PlanView | None = None  # the present plan, or a better one from now on; None: nothing was learnt
    better: bool = False  # whether the plan is new
    sentence: str = ""  # what changed, and why; empty if nothing was learnt
    estimate: str = ""  # layer, station and noise with their uncertainty


@dataclass(frozen=True)
class OnAirView:
    """Content of the page."""

    band: str  # band in use; empty: none
    lines: tuple[str, ...]  # next to the large word
    left: float  # remaining share of the stay
    change: str  # next change, in words; empty: none
    then: tuple[str, ...]  # changes after it
    tally: str
    sky: str
    alert: str = ""
    learnt: tuple[str, ...] = ()  # what changed and why; the estimate


class OnAir(Drawn):
    """Present state of the outing."""

    about = (
        "The large word is the band to be on. Under it a bar runs down to the next change, with what to do "
        "at the antenna; then the changes after it, what was learnt on the air, what has been written down, "
        "and the sky in one line."
    )

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.view: OnAirView | None = None

    def show(self, view: OnAirView | None) -> None:
        """Set the state; draw only if it changed."""
        if view != self.view or view is None:
            self.view = view
            self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw, from the top, the present step, the next and the later ones."""
        view = self.view
        if view is None:
            canvas.put(2, min(1, canvas.height - 1), words.WORKING, SOFT)
            return
        airy = 1 if canvas.height >= self.rows_in(canvas.width, airy=True) else 0
        y, x = airy, 2
        big = view.band or "--"
        if canvas.height >= 9 and set(big) <= set("0123456789m-"):
            put_big(canvas, x, y, big, TITLE if view.band else QUIET)
            x += max(big_width(big), BIG_ROOM) + 3
        else:
            x = canvas.put(x, y, big, TITLE) + 2
        beside = text_flow.wrap_all(view.lines, max(canvas.width - x - 1, 10))
        for row, line in enumerate(beside):
            canvas.put(x, y + row, line, STRONG if row == 0 else TEXT)
        y += max(BIG_ROWS, len(beside)) + airy
        if view.change:
            put_bar(canvas, 2, y, canvas.width - 4, view.left, KEY)
            y = self._lines(canvas, y + 1, view.change, STRONG)
        for line in view.then:
            y = self._lines(canvas, y, line, TEXT)
        y += airy
        for row, line in enumerate(view.learnt[: 2 if airy else 1]):
            y = self._lines(canvas, y, line, STRONG if row == 0 else SOFT)
        y = self._lines(canvas, y, view.tally, TEXT)
        self._lines(canvas, y, view.sky, SOFT)

    def rows_in(self, width: int, airy: bool) -> int:
        """Rows of the whole picture in a width. airy: with blank rows between its parts and below it."""
        view = self.view
        if view is None:
            return 2
        room = max(width - 4, 10)
        beside = max(width - 2 - max(big_width(view.band or "--"), BIG_ROOM) - 4, 10)
        learnt = view.learnt[: 2 if airy else 1]
        below = [line for line in (*view.then, *learnt, view.tally, view.sky) if line]
        change = 1 + len(text_flow.wrap(view.change, room)) if view.change else 0
        head = max(BIG_ROWS, len(text_flow.wrap_all(view.lines, beside)))
        return 4 * airy + head + change + len(text_flow.wrap_all(below, room))

    @staticmethod
    def _lines(canvas: Canvas, y: int, text: str, ink: int) -> int:
        for line in text_flow.wrap(text, max(canvas.width - 4, 10)):
            canvas.put(2, y, line, ink)
            y += 1
        return y
