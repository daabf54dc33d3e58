"""Setting of a vertical on one band: length of the radiator, coil, or capacitor in series, or fed as it is.

A radiator that is too short is drawn out fully and loaded by its coil. One that is too long is pushed in to
resonance where it is telescopic. Where it cannot be pushed in so far, three quarters of a wave is tried, else
a capacitor in series tunes the shortest length. The full length, over resonance, is compared with that: it
carries its current higher and loses less in the earth, but its line loses more.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from propagation.antennas.feedline import AtRig, at_rig
from propagation.antennas.solution import Solution
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.antennas.vertical import Resonance, resonance, searched_m, solve_at
from propagation.antennas.wire_antenna import wavelength_m
from propagation.base.units import db
from propagation.geo.ground import Ground

USUAL_ELEVATIONS_DEG: Final = (5, 10, 15, 20, 30)  # deg, usual take-off angles of sky-wave contacts
OTHER_WORTH_DB: Final = 0.5  # dB that a setting must gain over the resonant one to be taken (ours)
SHORT_WAVES: Final = 0.35  # wavelengths; a shorter radiator with a capacitive feed is below resonance
LONGEST_WAVES: Final = 0.75  # wavelengths; a longer radiator, whose lobes point up, is not compared
FOUND_OHM: Final = 5.0  # ohm of reactance at most where a search has found resonance (ours)


def solve_vertical(spec: AntennaSpec, ground: Ground, frequency_mhz: float, line: FeedlineSpec) -> Solution:
    """Find the setting of a vertical on one frequency [MHz], and solve it.

    line: decides by its loss between the settings, and whether a tuner at the rig matches any of them.
    """

    def at(length_m: float, capacitor: bool = False) -> Solution:
        return solve_at(spec, ground, frequency_mhz, length_m, line.impedance_ohm, capacitor)

    def by_length(found: Resonance) -> Solution:
        return replace(at(found.length_m), tuning="length", reactance_per_m_ohm=found.per_m_ohm)

    def resonant(quarters: int, least_m: float, most_m: float) -> Solution | None:
        """The radiator at resonance; None where it does not reach it."""
        low, high = searched_m(frequency_mhz, quarters)
        if high < least_m or low > most_m:
            return None
        found = resonance(spec, ground, frequency_mhz, quarters)
        reached = least_m <= found.length_m <= most_m and abs(found.reactance_ohm) < FOUND_OHM
        return by_length(found) if reached else None

    def gain_db(one: Solution, other: Solution) -> float:
        return _gain_db(one, other, line, spec.takeoff_deg)

    full, shortest = spec.longest_m, spec.pushed_in_m
    if full is None:
        return by_length(resonance(spec, ground, frequency_mhz))
    waves = full / wavelength_m(frequency_mhz)
    if shortest is None:
        return at(full, capacitor=True)
    whole = at(full) if waves <= LONGEST_WAVES else None
    if whole is not None and waves < SHORT_WAVES and float(whole.reactance_ohm or 0.0) <= 0.0:
        return whole
    set_to = resonant(1, shortest, full)
    if set_to is None:
        least, third = at(shortest, capacitor=True), resonant(3, shortest, full)
        set_to = least if third is None or gain_db(least, third) >= OTHER_WORTH_DB else third
    if whole is None or set_to.whip_m == full:
        return set_to
    taken = whole if gain_db(whole, set_to) >= OTHER_WORTH_DB else set_to
    return _beside(taken, whole, set_to, line, spec.takeoff_deg)


def _level_db(one: Solution, seen: AtRig, takeoff_deg: float | None) -> float:
    """Gain at the take-off wanted, else the mean at the usual angles, less the line's loss [dB]."""
    angles = list(USUAL_ELEVATIONS_DEG) if takeoff_deg is None else [round(takeoff_deg)]
    return float(db(float(one.pattern.mean[angles].mean())) - seen.loss_db)


def _gain_db(one: Solution, other: Solution, line: FeedlineSpec, takeoff_deg: float | None) -> float:
    """What one setting gains over another [dB]; without a tuner the rig's power held back counts too."""
    seen = [at_rig(line, each.frequency_mhz, each.load_ohm) for each in (one, other)]
    gain_db = _level_db(one, seen[0], takeoff_deg) - _level_db(other, seen[1], takeoff_deg)
    return gain_db if line.tuner else gain_db - float(seen[0].foldback_db - seen[1].foldback_db)


def _beside(
    taken: Solution, whole: Solution, set_to: Solution, line: FeedlineSpec, takeoff_deg: float | None
) -> Solution:
    """The setting taken, with what the full length would gain over the other with a tuner at the rig.

    Where the full length is over resonance it has a capacitor in series, which lowers the line's loss.
    """
    load, series_pf = complex(whole.load_ohm), whole.series_pf
    if taken is not whole and load.imag > 0.0:
        series_pf = 1.0e6 / (2.0 * np.pi * whole.frequency_mhz * load.imag)
        load = complex(load.real)
    seen = at_rig(line, whole.frequency_mhz, load)
    other = at_rig(line, set_to.frequency_mhz, set_to.load_ohm)
    return replace(
        taken,
        longer_m=whole.whip_m,
        longer_db=_level_db(whole, seen, takeoff_deg) - _level_db(set_to, other, takeoff_deg),
        longer_swr=float(seen.swr),
        longer_pf=series_pf,
    )
