"""The sun and the field, as they are drawn and in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.units import BoolArray, FloatArray, TimeArray
from propagation.wording.quantities import date

if TYPE_CHECKING:
    from tui.kit.world_map import MapView


@dataclass(frozen=True)
class History:
    """One measured quantity over the last days."""

    name: str
    unit: str
    times: TimeArray
    values: FloatArray
    low: float  # bottom of the drawn scale
    high: float
    latest: str
    logarithmic: bool = False


@dataclass(frozen=True)
class MeasuredView:
    """The world as it was measured. percent (y, x): foF2 over or under the usual, NaN where not observed."""

    map: MapView  # coast and daylight, the site; neither band nor routes
    percent: FloatArray
    lat_deg: FloatArray  # (y,) from south to north
    lon_deg: FloatArray  # (x,)
    aurora: BoolArray | None = None  # (181, 360) latitudes from -90, longitudes from 0: where it stands
    absorbed: BoolArray | None = None  # (90, 90) latitudes from -89, longitudes from -178
    absorbed_mhz: float = 0.0  # what `absorbed` means: this loses 1 dB and more
    ages: str = ""  # of each, in words


@dataclass(frozen=True)
class SkyView:
    """The sun and the field as they are, with source and age, and what they do to the bands."""

    histories: tuple[History, ...]
    source: str
    age: str
    index_line: str  # the index that drives the maps, and where it comes from
    effects: tuple[str, ...]  # sentences
    outlook: tuple[tuple[np.datetime64, float, float], ...] = ()  # (day, flux, K)
    heard: tuple[str, ...] = ()
    beacon: str = ""
    stale: bool = False
    measured: MeasuredView | None = None


def sky_sentences(view: SkyView) -> list[str]:
    """The sky screen."""
    out = [f"Source: {view.source}, {view.age}.", *([view.index_line] if view.index_line else [])]
    out.extend(f"{history.name}: {history.latest}." for history in view.histories)
    out.extend(view.effects)
    out.extend(view.heard)
    if view.beacon:
        out.append(view.beacon)
    return out


def source_line(view: SkyView) -> str:
    """Where the conditions come from and how old they are."""
    stale = "; old, fetch again when you can" if view.stale else ""
    return f"{view.source}, {view.age}{stale}"


def outlook_sentences(view: SkyView) -> list[str]:
    """The coming days, one line."""
    if not view.outlook:
        return []
    days = ", ".join(f"{date(day)[5:]} flux {flux:.0f} K {k:.0f}" for day, flux, k in view.outlook[:5])
    return [f"Outlook: {days}."]
