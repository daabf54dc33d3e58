"""Reception reports, and their effect on the index."""

from __future__ import annotations

import numpy as np

from propagation.base.store import Store
from propagation.geo.locator import Position
from propagation.geo.regions import Target
from propagation.ionosphere import conditions_today
from propagation.signal.chances import report_likelihood
from propagation.space_weather.indices.solar_index import LOWEST_INDEX
from propagation.space_weather.state import ear_reports
from propagation.spectrum import bands
from propagation.spectrum.beacons import load as load_beacons
from propagation.station.station import Station
from propagation.wording import quantities as say
from tui.app import paths


def keep_station_report(
    station: Station, target: Target, band: str, was_heard: bool, now: np.datetime64
) -> str:
    """Save a reception report on a target's stations; return a sentence with the change of the index."""
    frequency = station.centre_mhz(bands.by_name(band))
    conditions = conditions_today.best(store(), now, now)
    report = report_likelihood.station_report(station, target, band, frequency, now, conditions, was_heard)
    return _keep(report, now)


def beacons_now(now: np.datetime64, place: Position) -> tuple[tuple[str, str], ...]:
    """The beacons on the air: (key, words), the key being band and name."""
    return tuple(
        (
            f"{turn.band} {turn.beacon.name}",
            f"{turn.frequency_mhz:.3f} MHz, bearing {say.bearing_figure(turn.bearing_deg)}",
        )
        for turn in load_beacons().turns(now, place)
        if turn.beacon.active
    )


def keep_beacon_report(station: Station, key: str, was_heard: bool, now: np.datetime64) -> str:
    """Save a reception report on a beacon of the cycle, by the key from `beacons_now`."""
    band, _, name = key.partition(" ")
    schedule = load_beacons()
    beacon = schedule.beacons[schedule.number_of(name)]
    frequency = next(
        f for f in schedule.frequencies_mhz if (b := bands.band_of(f)) is not None and b.name == band
    )
    conditions = conditions_today.best(store(), now, now)
    return _keep(
        report_likelihood.beacon_report(
            station, schedule, beacon, band, frequency, now, conditions, was_heard
        ),
        now,
    )


def _keep(made: ear_reports.Report, now: np.datetime64) -> str:
    ear_reports.add_report(store(), made)
    moved = ear_reports.believe(made.prior_index, ear_reports.reports_of(store(), now), now).shift
    verb = "heard" if made.heard else "not heard"
    index = max(made.prior_index + moved, LOWEST_INDEX)
    by = f"moves by {moved:+.0f} to {index:.0f}; this is forgotten within hours."
    change = by if round(abs(moved)) else f"stays at {index:.0f}."
    return f"{made.words[:1].upper()}{made.words[1:]}, {verb}: the index {change}"


def store() -> Store:
    """The store of the conditions."""
    return Store(paths.conditions_dir())
