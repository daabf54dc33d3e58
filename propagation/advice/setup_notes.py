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
from propagation.antennas.marks import BandMark, mark_for
from propagation.antennas.setup_card import tuning_sentence, wire_length_m
from propagation.antennas.solution import BandResult
from propagation.antennas.spec import VERTICALS
from propagation.antennas.vertical import radial_length_m
from propagation.base.errors import InputError
from propagation.base.units import FloatArray
from propagation.signal.chances.forecast import Forecast
from propagation.spectrum.bands import by_name, segment_mhz
from propagation.spectrum.modes import Mode
from propagation.station.station import BandChange, Station
from propagation.station.terminals import Terminal

SAME_COIL: Final = 0.02  # of the inductance; a smaller difference is no move of the tap (ours)
SAME_LENGTH: Final = 0.01  # of a length
SAME_CAPACITOR: Final = 0.05  # of the capacitance (ours)
USUAL: Final = BandChange()


@dataclass(frozen=True)
class BandSetup:
    """Setting of one band; None where the antenna has no such part. kind: of the antenna.

    A loaded vertical without its coil has coil_uh 0. Match, dip and the longer radiator: as in `BandResult`.
    """

    band: str
    centre_mhz: float
    kind: str
    coil_uh: float | None = None
    mark: BandMark | None = None
    radials: int | None = None
    radial_m: float | None = None
    raised_m: float | None = None
    whip_m: float | None = None
    series_pf: float | None = None
    wire_m: float | None = None
    swr: float | None = None
    feedline_loss_db: float | None = None
    tuner_saves_db: float | None = None
    dip_khz_per_cm: float | None = None
    longer_m: float | None = None
    longer_db: float | None = None
    longer_swr: float | None = None
    longer_pf: float | None = None
    takeoff_deg: float | None = None
    tuning: str = ""


def setup_notes(result: Forecast, near: Terminal, only: Sequence[str] = ()) -> dict[str, BandSetup]:
    """Setting of every usable band, from the antenna as described; nothing is solved again.

    only: bands to which a plan is limited; InputError if none of them is usable.

    One set of radials serves the outing: as many as the description has, on every band. The forecast uses the
    same set. The operator has no more with him, and two of four gain nothing anywhere (a test checks it). The
    setup card reports the effect of a single radial on one band, at home. Radials a quarter wave long on each
    band change their length between two bands; those minutes are counted.
    """
    found = {}
    for i in np.flatnonzero(result.usable).tolist():
        name, frequency = result.bands[i].name, float(result.frequency_mhz[i])
        if near.antenna is not None and (not only or name in only):
            found[name] = _as_it_stands(near.antenna, name, frequency)
    if only and not found:
        raise InputError(f"None of the plan's bands ({', '.join(only)}) can be used with this antenna here.")
    return found


def _as_it_stands(antenna: Antenna, band: str, frequency_mhz: float) -> BandSetup:
    spec, solution, seen = antenna.spec, antenna.solution(frequency_mhz), antenna.at_rig(frequency_mhz)
    vertical, known = spec.kind in VERTICALS, solution.tuned_resistance_ohm is not None
    no_coil = 0.0 if spec.kind == "loaded vertical" else None
    return BandSetup(
        band=band,
        centre_mhz=round(frequency_mhz, 3),
        kind=spec.kind,
        coil_uh=no_coil if solution.coil_uh is None else solution.coil_uh,
        mark=mark_for(antenna, frequency_mhz),
        radials=spec.radials if vertical else None,
        radial_m=radial_length_m(spec, frequency_mhz) if vertical and spec.radials else None,
        raised_m=spec.radial_end_height_m if vertical else None,
        whip_m=solution.whip_m,
        series_pf=solution.series_pf,
        wire_m=wire_length_m(spec, frequency_mhz),
        swr=float(seen.swr) if known else None,
        feedline_loss_db=float(seen.loss_db),
        tuner_saves_db=float(seen.foldback_db) if known else None,
        longer_m=solution.longer_m,
        longer_db=solution.longer_db,
        longer_swr=solution.longer_swr,
        longer_pf=solution.longer_pf,
        takeoff_deg=spec.takeoff_deg,
    )


def with_tuning(setup: BandSetup, station: Station, mode: Mode, answer: BandResult) -> BandSetup:
    """Setting with the frequency of the SWR dip, the range of one setting, and what moves the dip.

    answer: the antenna's there.
    """
    band = by_name(setup.band)
    span = segment_mhz(band, station.site.region, mode, station.limits.country)
    low, high = span or band.edges(station.site.region)
    width_khz, swr = (answer.swr_1p5_khz, 1.5) if setup.kind in VERTICALS else (answer.swr_2_khz, 2.0)
    tuning = tuning_sentence(setup.centre_mhz, low, high, width_khz, swr)
    return replace(setup, tuning=tuning, dip_khz_per_cm=answer.dip_khz_per_cm)


def minutes_between(one: BandSetup, other: BandSetup, cost: BandChange = USUAL) -> float:
    """Minutes of work to change from one band's setting to another's."""
    if one.band == other.band:
        return 0.0
    work = work_between(one, other)
    minutes = cost.retune_min + cost.coil_min * work.coil + cost.whip_min * work.whip
    minutes += cost.capacitor_min * work.capacitor + cost.wire_min * work.wire
    before, after = work.radials_before, other.radials or 0
    minutes += cost.radial_min * abs(after - before)
    return minutes + cost.radial_length_min * min(before, after) * work.radial_length


def _differs(one: float | None, other: float | None, tolerance: float) -> bool:
    if one is None or other is None:
        return one is not other
    return abs(one - other) > tolerance * max(abs(one), abs(other))


def cost_matrix(
    setups: Mapping[str, BandSetup], bands: Sequence[str], cost: BandChange = USUAL, extra_min: float = 0.0
) -> FloatArray:
    """Minutes lost between every two bands (from row to column), `extra_min` more for each change."""

    def minutes(a: str, b: str) -> float:
        return 0.0 if a == b else extra_min + minutes_between(setups[a], setups[b], cost)

    return np.array([[minutes(a, b) for b in bands] for a in bands])


@dataclass(frozen=True)
class Work:
    """Work of a change between two settings: the parts that differ, the new setting, the radials before."""

    whip: bool
    coil: bool
    capacitor: bool
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
        capacitor=_differs(one.series_pf, other.series_pf, SAME_CAPACITOR),
        wire=_differs(one.wire_m, other.wire_m, SAME_LENGTH),
        radial_length=bool(before and after) and _differs(one.radial_m, other.radial_m, SAME_LENGTH),
        radials_before=before,
        to=other,
    )
