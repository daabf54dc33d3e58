"""Antenna setting for each band, and the minutes that a change between two bands takes.

This module serves the screens, the commands and the printed sheet. All use the antenna as described and as
solved by the forecast. The setup card reports the effect of another number of radials, at home.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from propagation.antennas.antenna import Antenna
from propagation.antennas.setup_card import coil_mark, tuning_sentence, wire_length_m
from propagation.antennas.solution import BandResult
from propagation.antennas.spec import VERTICALS
from propagation.antennas.vertical import radial_length_m
from propagation.base.units import FloatArray
from propagation.signal.chances.forecast import Forecast
from propagation.spectrum.bands import by_name, segment_mhz
from propagation.spectrum.modes import Mode
from propagation.station.station import Station
from propagation.station.terminals import Terminal

# Minutes of work between two bands (common practice, no source).
RETUNE_MIN: Final = 0.5  # minutes, the rig: band, frequency, a short listen
COIL_MIN: Final = 1.0  # minutes, to move a coil's tap and check the dip
WHIP_MIN: Final = 1.5  # minutes, to set a telescopic whip to another length
RADIAL_MIN: Final = 0.75  # minutes for every radial laid, raised or taken in
RADIAL_LENGTH_MIN: Final = 0.5  # minutes for every radial whose length is changed
WIRE_MIN: Final = 6.0  # minutes, to lower a wire, change its length and hoist it
SAME_COIL: Final = 0.02  # of the inductance; a smaller difference is no move of the tap (ours)
SAME_LENGTH: Final = 0.01  # of a length


@dataclass(frozen=True)
class BandSetup:
    """Setting of one band; None where the antenna has no such part. kind: of the antenna."""

    band: str
    centre_mhz: float
    kind: str
    coil_uh: float | None = None
    coil_position: float | None = None
    radials: int | None = None
    radial_m: float | None = None
    raised_m: float | None = None
    whip_m: float | None = None
    wire_m: float | None = None
    tuning: str = ""


def setup_notes(result: Forecast, near: Terminal) -> dict[str, BandSetup]:
    """Setting of every usable band, from the antenna as described; nothing is solved again.

    One set of radials serves the outing: as many as the description has, on every band. The forecast uses the
    same set. The operator has no more with him, and two of four gain nothing anywhere (a test checks it). The
    setup card reports the effect of a single radial on one band, at home. Radials a quarter wave long on each
    band change their length between two bands; those minutes are counted.
    """
    found = {}
    for i in np.flatnonzero(result.usable).tolist():
        name, frequency = result.bands[i].name, float(result.frequency_mhz[i])
        if near.antenna is not None:
            found[name] = _as_it_stands(near.antenna, name, frequency)
    return found


def _as_it_stands(antenna: Antenna, band: str, frequency_mhz: float) -> BandSetup:
    spec, solution = antenna.spec, antenna.solution(frequency_mhz)
    vertical = spec.kind in VERTICALS
    return BandSetup(
        band=band,
        centre_mhz=round(frequency_mhz, 3),
        kind=spec.kind,
        coil_uh=solution.coil_uh,
        coil_position=coil_mark(spec, solution.coil_uh),
        radials=spec.radials if vertical else None,
        radial_m=radial_length_m(spec, frequency_mhz) if vertical and spec.radials else None,
        raised_m=spec.radial_end_height_m if vertical else None,
        whip_m=solution.whip_m,
        wire_m=wire_length_m(spec, frequency_mhz),
    )


def with_tuning(setup: BandSetup, station: Station, mode: Mode, answer: BandResult) -> BandSetup:
    """Setting with the frequency of the SWR dip and the range of one setting. answer: the antenna's there."""
    band = by_name(setup.band)
    span = segment_mhz(band, station.site.region, mode, station.limits.country)
    low, high = span or band.edges(station.site.region)
    width_khz = answer.swr_1p5_khz if setup.kind in VERTICALS else answer.swr_2_khz
    return replace(setup, tuning=tuning_sentence(setup.centre_mhz, low, high, width_khz))


def minutes_between(one: BandSetup, other: BandSetup) -> float:
    """Minutes of work to change from one band's setting to another's."""
    if one.band == other.band:
        return 0.0
    work = work_between(one, other)
    minutes = RETUNE_MIN + COIL_MIN * work.coil + WHIP_MIN * work.whip + WIRE_MIN * work.wire
    before, after = work.radials_before, other.radials or 0
    minutes += RADIAL_MIN * abs(after - before)
    return minutes + RADIAL_LENGTH_MIN * min(before, after) * work.radial_length


def _differs(one: float | None, other: float | None, tolerance: float) -> bool:
    if one is None or other is None:
        return one is not other
    return abs(one - other) > tolerance * max(abs(one), abs(other))


def cost_matrix(setups: Mapping[str, BandSetup], bands: Sequence[str], extra_min: float = 0.0) -> FloatArray:
    """Minutes lost between every two bands (from row to column), `extra_min` more for each change."""
    return np.array(
        [[0.0 if a == b else extra_min + minutes_between(setups[a], setups[b]) for b in bands] for a in bands]
    )


@dataclass(frozen=True)
class Work:
    """Work of a change between two settings: the parts that differ, the new setting, the radials before."""

    whip: bool
    coil: bool
    wire: bool
    radial_length: bool
    radials_before: int
    to: BandSetup


def work_between(one: BandSetup, other: BandSetup) -> Work:
    """Differences between two settings."""
    before, after = one.radials or 0, other.radials or 0
    return Work(
        whip=_differs(one.whip_m, other.whip_m, SAME_LENGTH),
        coil=_differs(one.coil_uh, other.coil_uh, SAME_COIL),
        wire=_differs(one.wire_m, other.wire_m, SAME_LENGTH),
        radial_length=bool(before and after) and _differs(one.radial_m, other.radial_m, SAME_LENGTH),
        radials_before=before,
        to=other,
    )
