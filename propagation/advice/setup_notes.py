"""How the antenna is set for each band, and the minutes that a change between two bands takes.

Quick notes are made from the antenna as it is described and solved for the forecast; a plan to be printed
takes the setup cards, which also choose the number of radials.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from propagation.antennas.antenna import Antenna
from propagation.antennas.setup_card import Card, Wish, setup_card
from propagation.antennas.spec import VERTICALS, AntennaSpec
from propagation.base.units import FloatArray
from propagation.signal.forecast import Forecast
from propagation.spectrum.bands import Band, segment_mhz
from propagation.spectrum.modes import Mode
from propagation.station.station import Station
from propagation.station.terminals import Terminal

# Minutes of work between two bands (common practice, no source).
RETUNE_MIN: Final = 0.5  # minutes, the rig: band, frequency, a listen
COIL_MIN: Final = 1.0  # minutes, to move a coil's tap and check the dip
WHIP_MIN: Final = 1.5  # minutes, to set a telescopic whip to another length
RADIAL_MIN: Final = 0.75  # minutes for every radial laid, raised or taken in
RADIAL_LENGTH_MIN: Final = 0.5  # minutes for every radial whose length is changed
WIRE_MIN: Final = 6.0  # minutes, to lower a wire, change its length and hoist it
SAME_COIL: Final = 0.02  # of the inductance; a smaller difference is no move of the tap (ours)
SAME_LENGTH: Final = 0.01  # of a length


@dataclass(frozen=True)
class BandSetup:
    """One band's setting; None where the antenna has no such part. kind: of the antenna."""

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
    notes: tuple[str, ...] = ()


def setup_notes(result: Forecast, near: Terminal) -> dict[str, BandSetup]:
    """The setting of every usable band, from the antenna as described; needs no new solution."""
    found = {}
    for i in np.flatnonzero(result.usable).tolist():
        name, frequency = result.bands[i].name, float(result.frequency_mhz[i])
        if near.antenna is not None:
            found[name] = _from_solution(near.antenna, name, frequency)
    return found


def _from_solution(antenna: Antenna, band: str, frequency_mhz: float) -> BandSetup:
    spec, solution = antenna.spec, antenna.solution(frequency_mhz)
    vertical = spec.kind in VERTICALS
    radial_m = (spec.radial_m or 75.0 / frequency_mhz) if vertical and spec.radials else None
    wire = None
    if not vertical and spec.kind not in ("table", "isotropic", "yagi"):
        wire = spec.length_m
    return BandSetup(
        band=band,
        centre_mhz=round(frequency_mhz, 3),
        kind=spec.kind,
        coil_uh=solution.coil_uh,
        radials=spec.radials if vertical else None,
        radial_m=radial_m,
        raised_m=spec.radial_end_height_m if vertical else None,
        whip_m=solution.whip_m,
        wire_m=wire,
    )


def carded_setups(station: Station, bands: Sequence[Band], mode: Mode) -> dict[str, BandSetup]:
    """The setting of the given bands from their setup cards: the fewest radials that come near the most."""
    wishes = []
    for band in bands:
        span = segment_mhz(band, station.site.region, mode, station.limits.country)
        low, high = span or band.edges(station.site.region)
        wishes.append(Wish(band, low, high))
    spec = station.antenna
    cards = setup_card(spec, station.site.earth, station.feedline, wishes)
    raised = spec.radial_end_height_m > 0.1
    return {card.band: _from_card(card, spec, raised) for card in cards}


def _from_card(card: Card, spec: AntennaSpec, raised: bool) -> BandSetup:
    setting = card.raised if raised or card.on_ground is None else card.on_ground
    setup = BandSetup(
        band=card.band, centre_mhz=card.centre_mhz, kind=spec.kind, whip_m=card.whip_m, wire_m=card.wire_m,
        tuning=card.tuning, notes=card.notes,
    )  # fmt: skip
    if setting is None:
        return setup
    return replace(
        setup, coil_uh=setting.coil_uh, coil_position=setting.coil_position, radials=setting.radials,
        radial_m=setting.radial_m, raised_m=setting.radial_height_m,
    )  # fmt: skip


def minutes_between(one: BandSetup, other: BandSetup) -> float:
    """Minutes of work to go from one band's setting to another's."""
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
    """What a change between two settings asks for: the parts that differ, and the new setting; radials
    before.
    """

    whip: bool
    coil: bool
    wire: bool
    radial_length: bool
    radials_before: int
    to: BandSetup


def work_between(one: BandSetup, other: BandSetup) -> Work:
    """What differs between two settings."""
    before, after = one.radials or 0, other.radials or 0
    return Work(
        whip=_differs(one.whip_m, other.whip_m, SAME_LENGTH),
        coil=_differs(one.coil_uh, other.coil_uh, SAME_COIL),
        wire=_differs(one.wire_m, other.wire_m, SAME_LENGTH),
        radial_length=bool(before and after) and _differs(one.radial_m, other.radial_m, SAME_LENGTH),
        radials_before=before,
        to=other,
    )
