"""Likelihood that a signal was heard, for every sunspot number; turns reports into estimates.

One way only, from the target to the operator's receiver, with the day's disturbances. All sunspot numbers are
computed in one call, along the time axis.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from propagation.base.units import FloatArray
from propagation.geo import great_circle
from propagation.geo.geomagnetic import middle_year
from propagation.geo.regions import Target, point
from propagation.signal.chances.link_budget import one_way
from propagation.signal.losses.circuit import circuit
from propagation.signal.losses.circuit_inputs import Circumstances, circuit_case
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.ear_reports import BEACON_ON_AIR, SOMEBODY_ON_AIR, Report, report
from propagation.space_weather.state.event_absorption import Effects
from propagation.spectrum.beacons import Beacon, Schedule
from propagation.spectrum.modes import by_name as mode_by_name
from propagation.station.station import Station
from propagation.station.terminals import Terminal, far_terminal, own_terminal, plain_terminal

BEACON_SNR_DB: Final = (
    -12.0
)  # dB in 2500 Hz, slow Morse that is expected and known (common practice, no source)
WEIGHTIEST_POINTS: Final = 24  # of a region: enough for "somebody there", and fast


def chance_of_hearing(
    station: Station,
    target: Target,
    frequency_mhz: float,
    time: np.datetime64,
    conditions: Conditions,
    sender: Terminal,
    required_db: float,
    effects: Effects | None = None,
) -> Callable[[FloatArray], FloatArray]:
    """Return a function from ionospheric indices (1-D) to the chance that the station hears the target.

    frequency_mhz [MHz]; required_db [dB in 2500 Hz]. The better of the two routes counts. For a region the
    point best heard counts, among its weightiest.
    """
    own = own_terminal(station)
    chosen = np.argsort(-target.weight, kind="stable")[:WEIGHTIEST_POINTS]
    place = (target.lat_deg[chosen], target.lon_deg[chosen])
    home = station.site.position

    def chance(index: FloatArray) -> FloatArray:
        times = np.full((1, len(index)), time)
        common = Circumstances(conditions, effects, station.site.earth, middle_year(times))
        best = np.zeros(len(index))
        for is_long in (False, True):
            route = great_circle.route(home, place, long=is_long)
            case = circuit_case(
                common, own, sender, route, times, np.array([frequency_mhz]), index=index[None, :]
            )
            path = circuit(case, keep_ray_paths=False)
            heard = one_way(path, sender, own, towards_far_end=False).chance(required_db)
            best = np.maximum(best, heard[..., 0].max(axis=0))
        return best

    return chance


def station_report(
    station: Station,
    target: Target,
    band: str,
    frequency_mhz: float,
    time: np.datetime64,
    conditions: Conditions,
    heard: bool,
    mode: str | None = None,
) -> Report:
    """Report on a target's stations on a band: heard, or nothing heard. InputError if not informative."""
    emission = mode_by_name(mode) if mode else station.rig.emission
    chance = chance_of_hearing(
        station,
        target,
        frequency_mhz,
        time,
        conditions,
        far_terminal(station.far_end),
        emission.required_snr_2500_db,
    )
    words = f"{target.name} on {band.removesuffix('m')} m"
    return report(time, words, heard, chance, _prior(conditions, time), SOMEBODY_ON_AIR)


def beacon_report(
    station: Station,
    schedule: Schedule,
    beacon: Beacon,
    band: str,
    frequency_mhz: float,
    time: np.datetime64,
    conditions: Conditions,
    heard: bool,
) -> Report:
    """Report on one beacon of the schedule. InputError if not informative."""
    chance = chance_of_hearing(
        station, point(beacon.name, beacon.position), frequency_mhz, time, conditions,
        plain_terminal(schedule.power_w), BEACON_SNR_DB,
    )  # fmt: skip
    words = f"the beacon {beacon.name} on {band.removesuffix('m')} m"
    return report(time, words, heard, chance, _prior(conditions, time), BEACON_ON_AIR)


def _prior(conditions: Conditions, time: np.datetime64) -> float:
    """Index without any report."""
    return float(conditions.index.linear_at(time))
