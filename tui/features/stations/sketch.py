"""Side view of the antenna that a form describes, to scale, with the distance that people keep."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from propagation.antennas.outline import Outline, Stroke
from tui.kit import text_flow
from tui.kit.canvas import Canvas
from tui.kit.form import Beside
from tui.kit.marks import Dots
from tui.kit.theme import KEY, LAYER, RULE, SOFT, STRONG, TEXT, TITLE, WARN

PERSON_M = 1.75  # m, height of a person (common practice)
BESIDE_PERSON_M = 0.5  # m left free beyond the person
CELL = 2.0  # height of a cell over its width
LEAST_ROWS = 6  # rows above the ground below which nothing is drawn


@dataclass(frozen=True)
class SketchView:
    """An antenna to draw, the distance to keep from it [m], and sentences below the picture."""

    outline: Outline
    people_m: float
    says: tuple[str, ...]


class Sketch(Beside):
    """The antenna from the side, the ground, the radials, and a person at the distance to keep."""

    about = (
        "The antenna from the side, to scale: the radiator, its coil, the radials, and a person at the "
        "distance to keep at full power without any loss."
    )

    def __init__(self, read: Callable[[Mapping[str, str]], SketchView | None]) -> None:
        super().__init__()
        self.read = read
        self.view: SketchView | None = None

    def follow(self, entries: Mapping[str, str]) -> None:
        """Draw the entries, if they are valid; else leave the drawing as it is."""
        self.view = self.read(entries) or self.view
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw ground, antenna and person, and the sentences below."""
        view = self.view
        if view is None:
            return
        below = text_flow.wrap_all(view.says, canvas.width - 1)
        ground = canvas.height - len(below) - 2  # row of the ground
        if ground < LEAST_ROWS:
            below, ground = [], canvas.height - 2
        for number, line in enumerate(below):
            canvas.put(0, ground + 2 + number, line, TEXT if number == 0 else SOFT)
        if ground < LEAST_ROWS:
            return
        canvas.put(0, 0, "To scale", TITLE)
        frame = Frame.fitting(view, canvas.width, ground)
        for column in range(canvas.width):
            canvas.mark(column, ground, "▔", RULE)
        _draw(canvas, frame, view.outline.radials, LAYER)
        whip = 0 if view.outline.vertical is None else 1
        _draw(canvas, frame, view.outline.radiator[whip:], STRONG)
        _whip(canvas, frame, view.outline)
        _person(canvas, frame, view.people_m)


@dataclass(frozen=True)
class Frame:
    """Metres to cells: `middle` is the column of x = 0, `ground` the row of the ground."""

    middle: float
    ground: int
    row_m: float

    @classmethod
    def fitting(cls, view: SketchView, width: int, ground: int) -> Frame:
        """The largest scale at which antenna and person fit."""
        strokes = np.array((*view.outline.radiator, *view.outline.radials))
        top_m = max(float(strokes[:, [1, 3]].max()), PERSON_M)
        left_m = float(-strokes[:, [0, 2]].min())
        right_m = max(float(strokes[:, [0, 2]].max()), view.people_m + BESIDE_PERSON_M)
        row_m = max(top_m / (ground - 1), CELL * (left_m + right_m) / max(width - 1, 1))
        spare = width - CELL * (left_m + right_m) / row_m
        return cls(CELL * left_m / row_m + spare / 2.0, ground, row_m)

    def column(self, x_m: float) -> float:
        """The column of a place [m] left or right of the feed."""
        return self.middle + CELL * x_m / self.row_m

    def row(self, height_m: float) -> float:
        """The row of a height [m]."""
        return self.ground - height_m / self.row_m


def _draw(canvas: Canvas, frame: Frame, strokes: tuple[Stroke, ...], ink: int) -> None:
    dots = Dots(canvas.width, frame.ground)
    for x0, h0, x1, h1 in strokes:
        rows = [min(frame.row(h), frame.ground - 0.13) for h in (h0, h1)]  # the lowest dots of the last row
        dots.curve(np.array([frame.column(x0), frame.column(x1)]), np.array(rows))
    cells = dots.cells()
    for y, x in zip(*np.nonzero(cells != " "), strict=True):
        canvas.mark(int(x), int(y), str(cells[y, x]), ink)


def _whip(canvas: Canvas, frame: Frame, outline: Outline) -> None:
    """A whip, thick up to the length that stays when it is pushed in, and its coil."""
    if outline.vertical is None:
        return
    column, (feed_m, top_m) = int(frame.column(0.0)), outline.vertical
    for sign, high_m in (("│", top_m), ("┃", outline.pushed_in_m)):
        if high_m is not None:
            for y in range(round(frame.row(high_m)), max(round(frame.row(feed_m)), 1)):
                canvas.mark(column, y, sign, STRONG)
    if outline.coil_m is not None:
        y = min(int(frame.row(outline.coil_m)), frame.ground - 1)
        canvas.mark(column, y, "●", KEY)
        canvas.put_right(column - 1, y, "coil ", SOFT)


def _person(canvas: Canvas, frame: Frame, away_m: float) -> None:
    """A person at the distance to keep, and the distance on the ground."""
    column, near = int(frame.column(away_m)), int(frame.column(0.0))
    rows = max(round(PERSON_M / frame.row_m), 1)
    for y in range(frame.ground - rows, frame.ground):
        canvas.mark(column, y, "o" if y == frame.ground - rows else "│", WARN)
    for x in range(near, column + 1):
        canvas.mark(x, frame.ground + 1, "─", WARN)
    told = f" {away_m:.1f} m "
    if column + 1 + len(told) <= canvas.width:
        canvas.put(column + 1, frame.ground + 1, told, WARN)
    else:
        canvas.put_right(near, frame.ground + 1, told, WARN)
