"""Ledger and causes of one band at one hour: drawings and sentences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.units import as_float
from propagation.wording import hops
from propagation.wording import quantities as say
from propagation.wording.causes import short
from tui.kit import words
from tui.kit.canvas import Canvas, Drawn
from tui.kit.day_view import full_lane_per_h
from tui.kit.glyphs import SIGN_OF
from tui.kit.hop import HopView, hop_sentences
from tui.kit.marks import put_bar, ramp_ink
from tui.kit.theme import GAIN, LOSS, RAMP, RULE, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from propagation.advice.cause_weights import Weighted
    from propagation.advice.rates import Prospect
    from propagation.signal.losses.crossing_losses import CrossingLoss


@dataclass(frozen=True)
class LedgerLine:
    """Line of the ledger."""

    name: str
    db: float
    note: str = ""
    base: bool = False  # term of free space alone: power, spreading, noise, the mode's required SNR


@dataclass(frozen=True)
class LedgerView:
    """Ledger of all gains and losses; the terms sum to the margin."""

    terms: tuple[LedgerLine, ...]
    total_name: str = "margin"
    mode: str = ""  # mode and direction to which it applies

    @property
    def total_db(self) -> float:
        """Sum of all terms [dB]."""
        return float(sum(term.db for term in self.terms))


@dataclass(frozen=True)
class WhyView:
    """Data of the screen of causes, besides the day."""

    band: str
    time: np.datetime64
    hop: HopView | None
    ledger: LedgerView
    promise: Prospect
    causes: tuple[Weighted, ...]  # largest first, "open" left out
    changes: tuple[tuple[str, Prospect], ...] = ()  # (what would be different, what the band promises then)
    based: str = ""  # what a region's contacts an hour are based on
    crossings: tuple[CrossingLoss, ...] = ()  # crossings of the D and E layers by the ledger's ray path
    ray_path: str = ""  # name of the ray path
    near_and_far: str = ""  # reason why far stations are heard and near ones are not
    experience: str = ""  # number of measured hours on similar paths, and agreement of the levels
    says: tuple[str, ...] = ()  # answer and ledger in sentences


def why_sentences(view: WhyView) -> list[str]:
    """Describe the whole screen of causes."""
    out = hop_sentences(view.hop) if view.hop is not None else []
    return [*out, *view.says]


NAME = 17
FIGURE = 8


class LedgerBars(Drawn):
    """Bars of signed terms and their sum."""

    about = (
        "Every gain and loss between the rig and the far receiver in decibels. Each bar begins where the "
        "one before ended: solid to the right is gain, shaded to the left is loss. It begins with what "
        "empty space alone would give at this power, distance and noise; the last line is what is left "
        "over what the mode needs."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: LedgerView | None = None

    def show(self, view: LedgerView | None) -> None:
        """Set a ledger."""
        self.view = view
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the terms of free space, then one row per other term, then the sum."""
        x = canvas.put(1, 0, "Ledger, dB", TITLE) + 2
        view = self.view
        if view is None:
            canvas.put(1, 1, words.WORKING, SOFT)
            return
        canvas.put(x, 0, view.mode, SOFT)
        base = [term for term in view.terms if term.base]
        steps = [term for term in view.terms if not term.base]
        y = 1
        if canvas.height >= len(view.terms) + (3 if base else 2):
            for term in base:
                canvas.put(2, y, term.name, SOFT, room=NAME - 1)
                canvas.put_right(NAME + FIGURE, y, say.level_figure(term.db), SOFT)
                canvas.put(NAME + FIGURE + 2, y, term.note, SOFT)
                y += 1
        if base:
            steps.insert(0, LedgerLine("in empty space", sum(term.db for term in base), "nothing lost yet"))
        self._stairs(canvas, steps, y)
        row = min(y + len(steps), canvas.height - 1)
        canvas.put(1, row, view.total_name, TITLE, room=NAME - 1)
        canvas.put_right(NAME + FIGURE, row, say.level_figure(view.total_db), TITLE)

    @staticmethod
    def _stairs(canvas: Canvas, steps: list[LedgerLine], y: int) -> None:
        left = NAME + FIGURE + 2
        note_room = max((len(term.note) for term in steps), default=0) + 2
        bars = canvas.width - left - 1
        notes = bars - note_room >= 24
        if notes:
            bars -= note_room
        levels = [0.0]
        for term in steps:
            levels.append(levels[-1] + term.db)
        low, high = min(levels), max(levels)
        scale = (bars - 1) / max(high - low, 1e-9)

        def column(level: float) -> int:
            return left + round((level - low) * scale)

        for number, term in enumerate(steps):
            row = y + number
            if row >= canvas.height - 1:
                break
            canvas.put(1, row, term.name, TEXT, room=NAME)
            canvas.put_right(NAME + FIGURE, row, say.level_figure(term.db), STRONG)
            if notes:
                canvas.put(left + bars + 1, row, term.note, SOFT)
            if bars < 8:
                continue
            canvas.mark(column(0.0), row, "│", RULE)
            a, b = column(levels[number]), column(levels[number + 1])
            gain = term.db >= 0
            for x in range(min(a, b), max(a, b, min(a, b) + 1)):
                canvas.mark(x, row, "█" if gain else "▒", GAIN if gain else LOSS)
        last = min(y + len(steps), canvas.height - 1)
        if bars >= 8:
            canvas.mark(column(0.0), last, "╵", RULE)
            canvas.mark(column(levels[-1]), last, "▲", TITLE)


FIGURES = 7  # columns of what a change promises: "1 in 3 h", "22/h", "7/10"


class Weights(Drawn):
    """Bars of the causes, each with its own sign; what changes promise."""

    about = (
        "What is missing, shared out over its causes: each row is drawn with the sign the lanes use for it. "
        "Below, what the band would promise if one thing were different: contacts an hour with a region, "
        "days in ten with a place."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: WhyView | None = None

    def show(self, view: WhyView | None) -> None:
        """Set the causes and the changes."""
        self.view = view
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the causes, then the changes."""
        view = self.view
        if view is None:
            canvas.put(1, 0, "What limits the signal", TITLE)
            canvas.put(1, 1, words.WORKING, SOFT)
            return
        longest = max((len(change) for change, _ in view.changes), default=0)
        names = min(max(25, longest + FIGURES + 4), max(canvas.width - 14, 25))
        bars = max(min(canvas.width - names - 2, 50), 4)
        canvas.put(1, 0, "What limits the signal", TITLE)
        canvas.put_right(canvas.width - 1, 0, f"now {say.promised_short(view.promise)}", STRONG)
        y = 1
        causes = view.causes[: max(canvas.height // 2 - 1, 1)]
        for cause in causes:
            canvas.put(1, y, say.percent_figure(cause.weight).rjust(3), STRONG)
            canvas.put(5, y, short(cause.cause), TEXT, room=names - 6)
            count = max(1, round(cause.weight * bars))
            canvas.put(names, y, SIGN_OF.get(cause.cause, "#") * count, TEXT, room=canvas.width - names)
            y += 1
        if not causes:
            canvas.put(1, y, "nothing worth naming", SOFT)
            y += 1
        y += 1
        if y >= canvas.height - 1:
            return
        canvas.put(1, y, "What would change it", TITLE)
        full = max([view.promise.figure, *(promise.figure for _, promise in view.changes)])
        full = 1.0 if view.promise.rate is None else full_lane_per_h(as_float(full))
        now = min(view.promise.figure / full, 1.0)
        for row, (change, promise) in enumerate(view.changes[: canvas.height - y - 1], start=y + 1):
            share = min(promise.figure / full, 1.0)
            canvas.put_right(FIGURES + 1, row, say.promised_short(promise), STRONG)
            canvas.put(FIGURES + 2, row, change, TEXT, room=names - FIGURES - 3)
            put_bar(canvas, names, row, bars, share, ramp_ink(share))
            mark = names + min(int(now * bars), bars - 1)
            canvas.mark(mark, row, "┊" if share < now else "│", RAMP + 8 if share < now else SOFT)
        if not view.changes:
            canvas.put(1, y + 1, "nothing within reach", SOFT)


GAP = 2  # columns between those of the table
LEFT_COLUMNS = 4  # of the table, left-aligned; figures follow
SPARE_COLUMNS = (5, 3)  # columns left out in this order on a narrow screen: foE, place


class HopTable(Drawn):
    """Table with a row for each crossing of the D and E layers."""

    about = (
        "Each hop of the ray path crosses the D and E layers twice: where, how high the sun is there, the "
        "critical frequency of the E layer, and what is absorbed; then the loss of the reflection at the "
        "ground. The sums are those of the ledger."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: WhyView | None = None

    def show(self, view: WhyView | None) -> None:
        """Set the crossings."""
        self.view = view
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the heading, one row per crossing, and the sums; hidden rows are counted above the sums."""
        view = self.view
        if view is None:
            canvas.put(1, 0, "Hop by hop", TITLE)
            canvas.put(1, 1, words.WORKING, SOFT)
            return
        if not view.crossings:
            canvas.put(1, 0, "Hop by hop", TITLE)
            canvas.put(1, 1, hops.without_hops(view.ray_path), SOFT)
            return
        canvas.put(1, 0, hops.heading(view.ray_path), TITLE)
        rows = [[words.on_screen(text) for text in row] for row in hops.table(view.crossings)]
        room = max(canvas.height - 3, 1)  # rows for crossings, between the heading and the sums
        if len(rows) - 2 > room:
            hidden = len(rows) - 1 - room
            more = [f"{hidden} more crossings", *[""] * (len(rows[0]) - 1)]
            rows = [*rows[:room], more, rows[-1]]
        self._columns(canvas, rows)

    @staticmethod
    def _columns(canvas: Canvas, rows: list[list[str]]) -> None:
        named = [row for row in rows if "more" not in row[0]]
        wide = [max(len(row[i]) for row in named) for i in range(len(rows[0]))]
        shown = list(range(len(wide)))
        for spare in SPARE_COLUMNS:
            if sum(wide[i] + GAP for i in shown) > canvas.width - 1:
                shown.remove(spare)
        for y, row in enumerate(rows, start=1):
            ink = SOFT if y == 1 else TITLE if y == len(rows) else TEXT
            x = 1
            for i in shown:
                if i < LEFT_COLUMNS:
                    canvas.put(x, y, row[i], ink)
                else:
                    canvas.put_right(x + wide[i], y, row[i], ink)
                x += wide[i] + GAP
