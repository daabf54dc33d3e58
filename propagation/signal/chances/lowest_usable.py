"""Lowest usable frequency of a path at an hour: below it the signal is under the mode's required SNR.

Unlike the MUF it depends on the station: power, antennas, mode and noise.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray
from propagation.geo import great_circle
from propagation.geo.geomagnetic import middle_year
from propagation.geo.ground import GROUNDS, Ground
from propagation.geo.locator import Position
from propagation.signal.chances.link_budget import one_way
from propagation.signal.losses.circuit import circuit
from propagation.signal.losses.circuit_inputs import Circumstances, circuit_case
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import Effects
from propagation.spectrum.modes import Mode
from propagation.station.terminals import Terminal

LOWEST_MHZ: Final = 1.6  # MHz, where the search begins
HIGHEST_MHZ: Final = 40.0  # MHz, where it ends
STEPS: Final = 80  # of 4 % each; interpolated


def lowest_usable_mhz(
    tx: Position,
    rx: Position,
    time: np.datetime64,
    conditions: Conditions,
    mode: Mode,
    sender: Terminal,
    receiver: Terminal,
    *,
    ground: Ground = GROUNDS["average"],
    long: bool = False,
    frequency_mhz: FloatArray | None = None,
    effects: Effects | None = None,
) -> float | None:
    """Lowest frequency [MHz] at which the median signal from tx meets the mode's required SNR at rx.

    Computed at rising `frequency_mhz`, by default from 1.6 MHz to 40 MHz in steps of 4 %. For an antenna that
    takes long to compute, pass few frequencies. The result is interpolated linearly in decibels over the
    logarithm of frequency. The first frequency means "or below". Returns None where no frequency suffices.
    `ground`: of the operator's site, for the ground wave.
    """
    frequency = np.geomspace(LOWEST_MHZ, HIGHEST_MHZ, STEPS) if frequency_mhz is None else frequency_mhz
    when = np.asarray([time], dtype="datetime64[s]")
    common = Circumstances(conditions, effects, ground, middle_year(when))
    case = circuit_case(common, sender, receiver, great_circle.route(tx, rx, long), when, frequency)
    path = circuit(case, keep_ray_paths=False)
    signal = one_way(path, sender, receiver, towards_far_end=True)
    margin = signal.median_snr_db[0, 0] - mode.required_snr_2500_db
    enough = np.flatnonzero(margin >= 0.0)
    if not enough.size:
        return None
    first = int(enough[0])
    if first == 0:
        return float(frequency[0])
    low, high = margin[first - 1], margin[first]
    share = -low / (high - low)
    return float(frequency[first - 1] * (frequency[first] / frequency[first - 1]) ** share)
