"""Bands that both ends of an appointment may use and tune, and the frequency range common to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from propagation.base.units import FloatArray
from propagation.geo.locator import Position
from propagation.signal.chances.forecast import TUNED_FROM
from propagation.signal.chances.request import Request
from propagation.spectrum.bands import BANDS, Band, itu_region, segment_mhz
from propagation.spectrum.modes import Mode
from propagation.spectrum.national import National
from propagation.station.station import Station
from propagation.station.terminals import Terminal

Refusal = Literal[
    "licence of both",  # neither end may use the emission on the band
    "own licence",
    "their licence",
    "no common part",  # both may, but their parts of the band do not overlap
    "own antenna",  # it does not tune there
    "their antenna",
]


@dataclass(frozen=True)
class Common:
    """Band that both may use: the frequency range common to both segments [MHz], or why there is none."""

    band: Band
    low_mhz: float
    high_mhz: float
    refused: Refusal | None = None

    @property
    def frequency_mhz(self) -> float:
        """The middle of the common range, to the kilohertz."""
        return round((self.low_mhz + self.high_mhz) / 2.0, 3)


def common_bands(
    station: Station, far_station: Station | None, far_position: Position, mode: Mode,
    bands: Sequence[Band] = BANDS,
) -> list[Common]:  # fmt: skip
    """Every band with the range of it that both ends may use for a mode.

    far_station: the other end's, if known; else its ITU region by its place.
    """
    region, country = station.site.region, station.limits.country
    far_region: int = itu_region(far_position.lat_deg, far_position.lon_deg)
    far_country: National | None = None
    if far_station is not None:
        far_region, far_country = far_station.site.region, far_station.limits.country
    found = []
    for band in bands:
        own = segment_mhz(band, region, mode, country) if station.usable(band, mode) else None
        theirs = segment_mhz(band, far_region, mode, far_country)
        if far_station is not None and not far_station.usable(band, mode):
            theirs = None
        refused: Refusal | None = None
        low, high = 0.0, 0.0
        if own is None:
            refused = "licence of both" if theirs is None else "own licence"
        elif theirs is None:
            refused = "their licence"
        else:
            low, high = max(own[0], theirs[0]), min(own[1], theirs[1])
            if high <= low:
                refused = "no common part"
        found.append(Common(band, low, high, refused))
    return found


def usable_bands(
    request: Request, far_station: Station | None
) -> tuple[list[Common], list[tuple[str, Refusal]]]:
    """Bands that both ends may use and tune, and the other bands with the reason."""
    ends = request.terminals
    place = request.target.centre
    usable: list[Common] = []
    refused: list[tuple[str, Refusal]] = []
    for row in common_bands(request.station, far_station, place, request.emission, request.bands):
        f = np.array([row.frequency_mhz])
        if row.refused is not None:
            refused.append((row.band.name, row.refused))
        elif _untuned(ends.near, f):
            refused.append((row.band.name, "own antenna"))
        elif _untuned(ends.far, f):
            refused.append((row.band.name, "their antenna"))
        else:
            usable.append(row)
    return usable, refused


def _untuned(end: Terminal, frequency_mhz: FloatArray) -> bool:
    return bool(end.receive_efficiency(frequency_mhz)[0] < TUNED_FROM)
