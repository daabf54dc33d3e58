"""The pointer at the terms on a page: one word marked where it was read, its meaning beside it."""

from __future__ import annotations

from typing import ClassVar, Final, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from propagation.wording.glossary import spots_in
from tui.kit.canvas import Canvas, Drawn
from tui.kit.glyphs import CHOSEN
from tui.kit.overlays import Overlay
from tui.kit.page_lines import KEY_ROWS, KeyLine, in_order
from tui.kit.text_flow import wrap
from tui.kit.theme import BRIGHT, INVERSE, PANEL, SOFT, STRONG, TEXT

WIDEST: Final = 84  # columns of the meaning at most (ours)
EVERY_TERM: Final = "every term"  # answer: the list is wanted


class Found(NamedTuple):
    """A term on a page: its row, its columns from `start` to before `stop`, and its meaning."""

    row: int
    start: int
    stop: int
    says: str


def terms_on(picture: Canvas) -> list[Found]:
    """The terms on a picture, row by row; the rows of its keys have none."""
    rows = picture.texts()[: picture.height - KEY_ROWS]
    return [Found(y, *spot) for y, row in enumerate(rows) for spot in spots_in(row)]


def nearest(found: list[Found], picture: Canvas) -> int:
    """The number of the first term in the row of the page's cursor or after it, else of the first below the
    heading, else of the first.
    """
    rows = picture.texts()
    cursor = next((y for y, row in enumerate(rows) if row.startswith(CHOSEN)), 1)
    after = (number for least in (cursor, 1) for number, one in enumerate(found) if one.row >= least)
    return next(after, 0)


class TermPicture(Drawn):
    """A page with one of its terms marked, and a box with the meaning where it does not cover the term."""

    fades = False

    def __init__(self, picture: Canvas, found: list[Found], chosen: int) -> None:
        super().__init__(id="term-picture")
        self.picture, self.found, self.chosen = picture, found, chosen

    def choose(self, number: int) -> None:
        """Mark another term."""
        self.chosen = number
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the page in the background, every term in it, and the marked one with its meaning."""
        canvas.blit(self.picture, 0, 0)
        canvas.signs[self.picture.height - KEY_ROWS :] = " "  # the keys of the page do nothing now
        canvas.inks[:] = SOFT
        for one in self.found:
            canvas.inks[one.row, one.start : one.stop] = TEXT
        here = self.found[self.chosen]
        canvas.inks[here.row, here.start : here.stop] = INVERSE
        canvas.paint_ground(here.start, here.row, here.stop, here.row + 1, BRIGHT)
        name, meaning = here.says.split(": ", 1)
        word = self.picture.texts()[here.row][here.start : here.stop]
        width = min(canvas.width, WIDEST)
        lines = wrap(meaning, width - 4)
        height = len(lines) + 3
        below = here.row < canvas.height // 2
        top = min(here.row + 2, canvas.height - height) if below else max(here.row - 1 - height, 0)
        left = max(min(here.start - 2, canvas.width - width), 0)
        box = Canvas(width, height, PANEL)
        box.put(2, 0, name if word in name else f"{word} ({name})", STRONG)
        for y, line in enumerate(lines, 1):
            box.put(2, y, line)
        box.put(2, height - 1, f"{self.chosen + 1} of {len(self.found)} on this page", SOFT)
        canvas.blit(box, left, top)

    def on_click(self, event: events.Click) -> None:
        """Mark the clicked term."""
        for number, one in enumerate(self.found):
            if one.row == event.y and one.start <= event.x < one.stop:
                self.choose(number)


class TermPointer(Overlay):
    """The terms on a page, one marked at a time; answers `EVERY_TERM` where the whole list is wanted."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "step(-1)", "term", tooltip="the term before"),
        Binding("right,tab", "step(1)", "term", tooltip="the next term"),
        Binding("up", "row(-1)", "row", tooltip="the row above that has a term"),
        Binding("down", "row(1)", "row", tooltip="the row below that has a term"),
        Binding("enter", "every", "all the terms here"),
        Binding("escape,G", "close", "close"),
    ]

    def __init__(self, picture: Canvas) -> None:
        """Create the pointer on a picture that holds a term at least."""
        super().__init__()
        self.picture, self.found = picture, terms_on(picture)
        self.chosen = nearest(self.found, picture)

    def compose(self) -> ComposeResult:
        """The page as it was, and the keys."""
        yield TermPicture(self.picture, self.found, self.chosen)
        yield KeyLine(id="sheet-keys")

    def on_mount(self) -> None:
        """Show the keys."""
        self.query_one("#sheet-keys", KeyLine).show(
            in_order(one for one in self.BINDINGS if isinstance(one, Binding))
        )

    def on_resize(self) -> None:
        """Close the pointer when the page is laid out anew: the picture would be that of another size."""
        if self.is_current and self.size and self.size != (self.picture.width, self.picture.height):
            self.dismiss(None)

    @property
    def shown(self) -> TermPicture:
        """The picture with the marked term."""
        return self.query_one(TermPicture)

    def action_step(self, by: int) -> None:
        """Mark the next term, or the one before."""
        self.shown.choose((self.shown.chosen + by) % len(self.found))

    def action_row(self, by: int) -> None:
        """Mark the term that is nearest in the next row, or in the row before."""
        here = self.found[self.shown.chosen]
        beyond = [one for one in self.found if (one.row - here.row) * by > 0]
        if beyond:
            row = min(beyond, key=lambda one: abs(one.row - here.row)).row
            near = min((one for one in beyond if one.row == row), key=lambda one: abs(one.start - here.start))
            self.shown.choose(self.found.index(near))

    def action_every(self) -> None:
        """Ask for the list of all terms on the page."""
        self.dismiss(EVERY_TERM)
