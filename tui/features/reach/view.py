"""Reach of every band at one hour: drawings and sentences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from propagation.advice.band_now import LIKELY
from propagation.base.units import FloatArray, IntArray
from propagation.wording import quantities as say
from propagation.wording.quantities import (
    band_title,
    bearing,
    both_clocks,
    days,
    kilometres,
    skip_words,
)
from tui.kit import text_flow, words
from tui.kit.canvas import BandRows, Canvas
from tui.kit.glyphs import TARGET
from tui.kit.marks import put_lane
from tui.kit.theme import CHOSEN, MARK, SKYLIGHT, SOFT, STRONG, TEXT
from tui.kit.words import on_screen
from tui.kit.world import map_sentences

if TYPE_CHECKING:
    from tui.kit.world import MapView


@dataclass(frozen=True)
class SkipView:
    """Rulers of ground distance for every band, towards one bearing at one time."""

    time: np.datetime64
    bearing_deg: float
    distance_km: FloatArray  # (X,)
    bands: tuple[str, ...]
    share: FloatArray  # (B, X) share of days [0..1]
    hop: IntArray  # (B, X) number of hops of the leading mode, 0 for ground wave
    skip_km: FloatArray  # (B,) NaN if nothing is returned
    target: str = ""
    target_km: float | None = None
    stand_in: str = ""  # why this part of a region is the target


@dataclass(frozen=True)
class ReachView:
    """Rulers and map of the reach screen."""

    skip: SkipView
    map: MapView


def skip_short(skip_km: float) -> str:
    """Format a skip distance in a few characters."""
    if not np.isfinite(skip_km):
        return "not returned"
    return kilometres(skip_km) if skip_km > 0 else "none"


def _stretches(view: SkipView, band: int) -> list[tuple[float, float]]:
    """Distances that a band reaches on at least half of the days: (from, to) in km."""
    good = np.nan_to_num(view.share[band]) >= LIKELY
    edges = np.flatnonzero(np.diff(np.concatenate(([False], good, [False])).astype(np.int8)))
    return [
        (float(view.distance_km[a]), float(view.distance_km[b - 1]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def ruler_sentence(view: SkipView, band: int) -> str:
    """Describe one ruler."""
    name = band_title(view.bands[band])
    stretches = _stretches(view, band)
    if not stretches:
        best = float(np.nan_to_num(view.share[band]).max(initial=0.0))
        return f"{name}: comes down nowhere on half of the days; at best {days(best)}."
    parts = " and ".join(
        f"out to {kilometres(b)}" if a <= 0.0 else f"from {kilometres(a)} to {kilometres(b)}"
        for a, b in stretches
    )
    skip = float(view.skip_km[band])
    return f"{name}: comes down {parts} on half of the days or more; {skip_words(skip)}."


def _target_sentence(view: SkipView, band: int) -> str:
    if view.target_km is None:
        return ""
    share = float(np.interp(view.target_km, view.distance_km, np.nan_to_num(view.share[band])))
    return (
        f"{view.target} is at {kilometres(view.target_km)}, bearing {on_screen(bearing(view.bearing_deg))}"
        f": {days(share)} on {band_title(view.bands[band])}."
    )


def ruler_sentences(view: SkipView, band: str) -> list[str]:
    """Describe the chosen ruler, for the rows below the rulers."""
    row = view.bands.index(band) if band in view.bands else 0
    return [
        line
        for line in (
            ruler_sentence(view, row),
            _target_sentence(view, row),
            view.stand_in,
            "Full is every day. Nearer than the small mark, the skip distance, no layer returns the band on "
            "half of the days.",
        )
        if line
    ]


def skip_sentences(view: SkipView) -> list[str]:
    """Describe the rulers: the distances that each band reaches, and its skip distance."""
    out = [f"Towards bearing {on_screen(bearing(view.bearing_deg))} at {both_clocks(view.time)}."]
    out += [ruler_sentence(view, band) for band in range(len(view.bands))]
    if view.target_km is not None:
        out.append(f"{view.target} is at {kilometres(view.target_km)}.")
    if view.stand_in:
        out.append(view.stand_in)
    return out


def reach_sentences(view: ReachView) -> list[str]:
    """Describe the whole reach screen."""
    return skip_sentences(view.skip) + map_sentences(view.map)


LABEL = 7
RIGHT = 15


class Rulers(BandRows):
    """Rulers, one per band: filled where the band is returned, blank elsewhere."""

    about = (
        "Each ruler is the ground distance from your site in the bearing of the target. It is filled where"
        " the band comes down, by the share of days: first the ground wave, then the gap nobody hears, then"
        " the hops. The small mark, and the figure at the right, is the skip distance: nearer than that "
        "no layer returns the band on half of the days. The upright line is the target."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: SkipView | None = None

    def show(self, view: SkipView | None, band: str = "") -> None:
        """Set the rulers and the chosen band."""
        self.view, self.band = view, band
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the axis, the rulers and the target line."""
        view = self.view
        if view is None:
            canvas.put(2, 0, words.WORKING, SOFT)
            return
        right = RIGHT if canvas.width >= 60 else 0
        width = canvas.width - LABEL - right - 1
        if width < 12 or canvas.height < 3 or not view.bands:
            canvas.put(0, 0, skip_sentences(view)[0], TEXT)
            return
        reach = float(view.distance_km[-1]) or 1.0
        target = (
            None
            if view.target_km is None or view.target_km > reach
            else int(view.target_km / reach * (width - 1))
        )
        self._axis(canvas, view, width, reach, target)
        if right:
            canvas.put(canvas.width - right + 1, 0, "skip distance", SOFT, room=right - 1)
        each = max(1, min(4, (canvas.height - 1) // len(view.bands)))
        shown = max(1, (canvas.height - 1) // each)
        chosen = view.bands.index(self.band) if self.band in view.bands else 0
        first = min(max(chosen - shown + 1, 0), max(len(view.bands) - shown, 0))
        self.stand(view.bands, 1, each, first, shown)
        at = np.linspace(0.0, reach, width)
        bottom = 1
        for slot, band in enumerate(range(first, min(first + shown, len(view.bands)))):
            y = 1 + slot * each
            bottom = y + each
            here = view.bands[band] == self.band
            if here:
                canvas.paint_ground(0, y, canvas.width, bottom, CHOSEN)
                canvas.point_at(y + each // 2)
            canvas.put_right(
                LABEL - 1, y + each // 2, say.band_title(view.bands[band]), STRONG if here else TEXT
            )
            put_lane(canvas, LABEL, y, each, np.interp(at, view.distance_km, view.share[band]))
            skip = float(view.skip_km[band])
            if np.isfinite(skip) and 0.0 < skip <= reach:
                column = LABEL + int(skip / reach * (width - 1))
                for row in range(y, y + each):
                    canvas.mark(column, row, "│", SKYLIGHT + 4)
            if right:
                canvas.put(
                    canvas.width - right + 1,
                    y + each // 2,
                    skip_short(skip),
                    TEXT if here else SOFT,
                    room=right - 1,
                )
        if target is not None:
            for y in range(1, bottom):
                canvas.mark(LABEL + target, y, "┊", MARK)
        self._told(canvas, view, bottom + 1)

    @staticmethod
    def _axis(canvas: Canvas, view: SkipView, width: int, reach: float, target: int | None) -> None:
        """Draw the distances and the target's name at its place, without overlap."""
        canvas.put(1, 0, "km", SOFT)
        step = next((s for s in (250, 500, 1000, 2000, 5000) if s / reach * width >= 9), 5000)
        taken = (-9, -9)
        if target is not None:
            name = view.target[: max(width - 4, 1)]
            right = LABEL + width  # the name is drawn right of the mark, or left of it if there is no room
            x = LABEL + target
            if x + len(name) + 2 <= right:
                canvas.put(x, 0, f"{TARGET} {name}", MARK)
                taken = (target, target + len(name) + 3)
            else:
                x = max(x - len(name) - 1, LABEL)
                canvas.put(x, 0, f"{name} {TARGET}", MARK)
                taken = (x - LABEL, x - LABEL + len(name) + 3)
        for km in range(0, int(reach) + 1, step):
            x, text = int(km / reach * (width - 1)), f"{km:,}"
            if x + len(text) <= width and not taken[0] - len(text) - 1 < x < taken[1]:
                canvas.put(LABEL + x, 0, text, SOFT)

    def _told(self, canvas: Canvas, view: SkipView, top: int) -> None:
        """Draw the sentences of the chosen band if there is room below the rulers."""
        room = canvas.height - top
        if room < 2:
            return
        lines = text_flow.wrap_all(ruler_sentences(view, self.band), max(canvas.width - 2, 1))
        for row, line in enumerate(lines[:room]):
            canvas.put(1, top + row, line, TEXT if row == 0 else SOFT)
