"""The reach of every band at one hour, as it is drawn and in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from propagation.advice.band_now import LIKELY
from propagation.base.units import FloatArray, IntArray
from propagation.wording.quantities import band_title, bearing, clock, days, kilometres
from tui.kit.words import on_screen
from tui.kit.world_map import map_sentences

if TYPE_CHECKING:
    from tui.kit.world_map import MapView


@dataclass(frozen=True)
class SkipView:
    """Every band as a ruler of ground distance, towards one bearing at one time."""

    time: np.datetime64
    bearing_deg: float
    distance_km: FloatArray  # (X,)
    bands: tuple[str, ...]
    share: FloatArray  # (B, X) share of days [0..1]
    hop: IntArray  # (B, X) number of hops of the leading mode, 0 for ground wave
    skip_km: FloatArray  # (B,) NaN where nothing is returned
    target: str = ""
    target_km: float | None = None


@dataclass(frozen=True)
class ReachView:
    """The rulers and the map of the reach screen."""

    skip: SkipView
    map: MapView


def skip_short(skip_km: float) -> str:
    """A skip distance in a few signs."""
    if not np.isfinite(skip_km):
        return "not returned"
    return kilometres(skip_km) if skip_km > 0 else "none"


def _stretches(view: SkipView, band: int) -> list[tuple[float, float]]:
    """Where a band comes down on half of the days or more: (from, to) in km."""
    good = np.nan_to_num(view.share[band]) >= LIKELY
    edges = np.flatnonzero(np.diff(np.concatenate(([False], good, [False])).astype(np.int8)))
    return [
        (float(view.distance_km[a]), float(view.distance_km[b - 1]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def ruler_sentence(view: SkipView, band: int) -> str:
    """One ruler in words."""
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
    mark = f"; skip distance {kilometres(skip)}" if np.isfinite(skip) and skip > 0 else ""
    return f"{name}: comes down {parts} on half of the days or more{mark}."


def _target_sentence(view: SkipView, band: int) -> str:
    if view.target_km is None:
        return ""
    share = float(np.interp(view.target_km, view.distance_km, np.nan_to_num(view.share[band])))
    return (
        f"{view.target} is at {kilometres(view.target_km)}, bearing {on_screen(bearing(view.bearing_deg))}"
        f": {days(share)} on {band_title(view.bands[band])}."
    )


def ruler_sentences(view: SkipView, band: str) -> list[str]:
    """The chosen ruler in words, for below the rulers."""
    row = view.bands.index(band) if band in view.bands else 0
    return [
        line
        for line in (
            ruler_sentence(view, row),
            _target_sentence(view, row),
            "Full is every day; nearer than the small mark the layer returns the band only on better days.",
        )
        if line
    ]


def skip_sentences(view: SkipView) -> list[str]:
    """The rulers in words: where each band comes down, and its skip distance."""
    out = [f"Towards bearing {on_screen(bearing(view.bearing_deg))} at {clock(view.time)} UTC."]
    out += [ruler_sentence(view, band) for band in range(len(view.bands))]
    if view.target_km is not None:
        out.append(f"{view.target} stands at {kilometres(view.target_km)}.")
    return out


def reach_sentences(view: ReachView) -> list[str]:
    """The whole reach screen."""
    return skip_sentences(view.skip) + map_sentences(view.map)
