"""The cross-section of a path, as it is drawn and in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from propagation.base.units import BoolArray, FloatArray
from propagation.wording.quantities import band_title, clock, kilometres, megahertz, take_off
from tui.kit.words import on_screen


@dataclass(frozen=True)
class Ray:
    """One mode of the path as a line in the cross-section."""

    name: str  # "2F2", "1E", "1F2+1Es"
    distance_km: FloatArray  # (N,) along the ground
    height_km: FloatArray  # (N,)
    take_off_deg: float
    level_db: float  # relative to the strongest mode
    landing_km: FloatArray  # (K,) where it comes down
    muf_mhz: float | None = None


@dataclass(frozen=True)
class HopView:
    """The path's cross-section for one band and one time."""

    band: str
    frequency_mhz: float
    time: np.datetime64
    site: str
    target: str
    route: str
    total_km: float
    distance_km: FloatArray  # (X,) samples along the path
    sea: BoolArray  # (X,)
    sun_elevation_deg: FloatArray  # (X,) at the ground [deg]
    absorbing: FloatArray  # (X,) strength of the lowest layer, 0..1
    e_height_km: FloatArray  # (X,)
    f2_height_km: FloatArray  # (X,)
    fof2_mhz: FloatArray  # (X,)
    foe_mhz: FloatArray  # (X,)
    rays: tuple[Ray, ...]
    skip_km: float | None  # nearest ground distance the layer serves; None where it returns nothing
    muf_mhz: float | None = None
    note: str = ""


def hop_title(view: HopView) -> str:
    """Band, hour and way, short."""
    route = "" if view.route == "short" else ", long way"
    return f"{band_title(view.band)} at {clock(view.time)}{route}"


def route_title(view: HopView) -> str:
    """The way round, short."""
    return "long way" if view.route != "short" else "short way"


def _part(share: float) -> str:
    """A share of the path in words."""
    tenths = round(share * 10)
    if tenths in (0, 10):
        return "All of the path" if tenths else "None of the path"
    return "Half of the path" if tenths == 5 else f"{tenths} tenth{'s' if tenths > 1 else ''} of the path"


def hop_sentences(view: HopView) -> list[str]:
    """The cross-section in words."""
    out = [
        f"{band_title(view.band)}, {megahertz(view.frequency_mhz)}, {clock(view.time)} UTC: {view.site} "
        f"to {view.target}, {kilometres(view.total_km)}, {view.route} way."
    ]
    sea = float(view.sea.mean()) if view.sea.size else 0.0
    lit = float((view.sun_elevation_deg > 0).mean()) if view.sun_elevation_deg.size else 0.0
    out.append(f"{_part(lit)} in daylight, {_part(sea).lower()} over sea.")
    for ray in view.rays:
        landings = ", ".join(kilometres(km) for km in ray.landing_km)
        out.append(f"{ray.name}, {on_screen(take_off(ray.take_off_deg))}, comes down at {landings}.")
    if not view.rays:
        out.append("No layer turns this frequency back.")
    if view.skip_km is not None and view.skip_km > 0:
        out.append(f"Skip distance on the median day: {kilometres(view.skip_km)}.")
    if view.muf_mhz is not None:
        out.append(f"The path carries up to {view.muf_mhz:.1f} MHz at this hour.")
    if view.note:
        out.append(view.note)
    return out
