"""The analyser's entry: what was typed or read from a file becomes a reading, its verdict sentences."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from propagation.antennas import measurements
from propagation.antennas.analyser import AnalyserReading, Verdict, analyse, from_sweep
from propagation.antennas.antenna import Antenna
from propagation.antennas.touchstone import read
from propagation.base.errors import InputError
from propagation.base.files import locked, read_whole
from propagation.spectrum.bands import by_name
from propagation.station import station as stations
from propagation.station.station import Station
from propagation.station.terminals import Terminal
from propagation.wording import quantities as say
from tui.app import paths
from tui.features.antenna.view import ReadingView, share_figure
from tui.kit.form import FormField

EDGES = ((1.5, "low_1p5", "high_1p5"), (2.0, "low_2", "high_2"))
LARGEST_FILE = 4_000_000  # bytes; a sweep of an analyser is far smaller


def fields(station: Station, band: str) -> tuple[FormField, ...]:
    """What to ask for at the analyser."""
    centre = station.centre_mhz(by_name(band))
    return (
        FormField("dip", "Dip at", f"{centre:.3f}", "MHz", hint="the frequency of the lowest SWR"),
        FormField("swr", "SWR there", "", "", hint="1.0 to 9.9"),
        FormField(
            "low_1p5",
            "SWR 1.5 below the dip at",
            "",
            "MHz",
            hint="leave these two empty where it is never under 1.5",
        ),
        FormField("high_1p5", "SWR 1.5 above the dip at", "", "MHz"),
        FormField("low_2", "SWR 2 below the dip at", "", "MHz"),
        FormField("high_2", "SWR 2 above the dip at", "", "MHz"),
        FormField(
            "where",
            "Read at",
            "rig",
            choices=("rig", "antenna"),
            hint="with the cable between, or at the antenna itself",
        ),
    )


def _number(text: str, what: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise InputError(f"{what}: {text!r} is not a number.") from None


def _reading(entries: Mapping[str, str]) -> AnalyserReading:
    if not entries["dip"] or not entries["swr"]:
        raise InputError(
            "Type the frequency of the dip and the SWR there, then the frequencies of SWR 1.5 or 2."
        )
    edges = []
    for swr, low, high in EDGES:
        if entries[low] and entries[high]:
            edges.append(
                (
                    swr,
                    _number(entries[low], f"SWR {swr:g} below"),
                    _number(entries[high], f"SWR {swr:g} above"),
                )
            )
    if entries["where"] not in ("rig", "antenna"):
        raise InputError("Read at: rig or antenna.")
    return AnalyserReading(
        _number(entries["dip"], "Dip at"),
        _number(entries["swr"], "SWR there"),
        tuple(edges),
        entries["where"] == "antenna",
    )


def _antenna(near: Terminal) -> Antenna:
    if near.antenna is None:
        raise InputError("The station file names no antenna to measure.")
    return near.antenna


def reading(near: Terminal, station: Station, band: str, entries: Mapping[str, str]) -> ReadingView:
    """What the typed readings say."""
    return _view(band, analyse(_reading(entries), _antenna(near)))


def from_file(near: Terminal, station: Station, band: str, file: str) -> ReadingView:
    """What a Touchstone file says."""
    return _view(band, analyse(_from_file(file, near), _antenna(near)))


def _from_file(file: str, near: Terminal) -> AnalyserReading:
    path = paths.expanded(file)
    data = read_whole(path, LARGEST_FILE, "it is no sweep of an antenna")
    return from_sweep(read(data, path.name), _antenna(near).feedline)


def _view(band: str, verdict: Verdict) -> ReadingView:
    best = verdict.best
    out = [
        f"Of 100 W at the feed {share_figure(best.efficiency)} W reach the sky "
        f"({say.level_figure(best.efficiency_db)} dB, give or take {best.error_db:.1f} dB); "
        f"{best.total_resistance_ohm:.1f} ohm in series.",
        f"The description promises {share_figure(verdict.computed_efficiency)} W "
        f"({verdict.computed_resistance_ohm:.1f} ohm).",
    ]
    if len(verdict.sides) == 2:
        other = verdict.sides[1]
        out.append(
            f"Or, on the other side of the match, {share_figure(other.efficiency)} W "
            f"({other.total_resistance_ohm:.1f} ohm)."
        )
    out.extend(verdict.said)
    low, high = min(side.efficiency for side in verdict.sides), max(side.efficiency for side in verdict.sides)
    return ReadingView(band, tuple(out), best.efficiency, low, high)


def keep(
    near: Terminal, station: Station, band: str, entries: Mapping[str, str], path: str, now: np.datetime64
) -> str:
    """Store the reading with the station; the same band's earlier reading gives way."""
    _own_file(path)
    file_name = entries.get("file", "")
    seen = _from_file(file_name, near) if file_name else _reading(entries)
    verdict = analyse(seen, _antenna(near))
    made = verdict.best.measured(seen.frequency_mhz, say.date(now), "analyser")
    with locked(path):
        now_there = stations.load(path)  # another program may have changed it
        stations.save(replace(now_there, antenna=measurements.kept(now_there.antenna, made)), path)
    return (
        f"Kept for {say.band_title(band)}: {made.total_resistance_ohm:.1f} ohm in series; every "
        "forecast now goes by it."
    )


def _own_file(path: str) -> None:
    if not path or Path(path) == paths.demo_station_file():
        raise InputError(
            "The demo's antenna is invented and takes no readings: make your own station first (key 8)."
        )


def forget(station: Station, band: str, path: str) -> str:
    """Forget the readings of a band, in use or set aside; a sentence says so."""
    _own_file(path)
    rest = measurements.forgotten(station.antenna, station.centre_mhz(by_name(band)))
    if rest == station.antenna:
        return f"No reading of {say.band_title(band)} is kept."
    stations.save(replace(station, antenna=rest), path)
    return f"The reading of {say.band_title(band)} is forgotten; the forecast goes by the description."


def bring_back(station: Station, band: str, path: str) -> str:
    """Take a reading that is set aside to be of the antenna as described now; a sentence says so."""
    _own_file(path)
    frequency = station.centre_mhz(by_name(band))
    if not measurements.set_aside(station.antenna, frequency):
        return f"No reading of {say.band_title(band)} is set aside."
    stations.save(replace(station, antenna=measurements.brought_back(station.antenna, frequency)), path)
    return (
        f"The reading of {say.band_title(band)} is back, as one of the antenna as it is described now; every "
        "forecast goes by it."
    )
