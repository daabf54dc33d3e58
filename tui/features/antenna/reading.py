"""Analyser readings of a band: typed into a form or read from a file, kept with the station, brought back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from propagation.antennas import measurements
from propagation.antennas.analyser import AnalyserReading, Verdict, analyse, possible_ohms
from propagation.antennas.antenna import Antenna
from propagation.antennas.sweep_reading import from_sweep
from propagation.antennas.touchstone import read
from propagation.base.errors import InputError
from propagation.base.files import locked, read_whole
from propagation.spectrum.bands import band_of, by_name
from propagation.station import station as stations
from propagation.station.station import Station
from propagation.station.terminals import Terminal
from propagation.wording import quantities as say
from tui.app import own_marks, paths
from tui.features.antenna.view import ReadingView, share_figure
from tui.kit.form import FormField
from tui.kit.input_parsing import figure

EDGES: Final = ((1.5, "low_1p5", "high_1p5"), (2.0, "low_2", "high_2"))
LARGEST_FILE = 4_000_000  # bytes; a sweep of an analyser is far smaller
PLACES, TRANSFORMERS = ("rig", "antenna"), ("no", "yes")
LABELS: Final = {
    "dip": "Dip at",
    "swr": "SWR there",
    "low_1p5": "SWR 1.5 below the dip at",
    "high_1p5": "SWR 1.5 above the dip at",
    "low_2": "SWR 2 below the dip at",
    "high_2": "SWR 2 above the dip at",
    "second_at": "Another frequency",
    "second_swr": "SWR on it",
    "radial_more": "Dip's SWR, 1 radial more",
    "transformer": "Transformer",
    "where": "Read at",
}


def reading_fields(station: Station, band: str) -> tuple[FormField, ...]:
    """Form fields for the analyser readings of a band."""
    centre = station.centre_mhz(by_name(band))
    values = {"dip": f"{centre:.3f}", "transformer": "no", "where": "rig"}
    units = {"swr": "", "second_swr": "", "radial_more": "", "transformer": "", "where": ""}
    choices = {"transformer": TRANSFORMERS, "where": PLACES}
    hints = {
        "dip": "the frequency of the lowest SWR",
        "swr": "1.0 to 9.9",
        "low_1p5": "leave these two empty where it is never under 1.5",
        "second_at": "on either side of the dip; its SWR tells which of two resistances the dip has",
        "radial_more": "lay one radial more, tune again: this too tells which of the two it is",
        "transformer": "whether a transformer, a tap or a shunt coil is between the cable and the antenna",
        "where": "with the cable between, or at the antenna itself",
    }
    return tuple(
        FormField(
            key, label, values.get(key, ""), units.get(key, "MHz"), choices.get(key, ()), hints.get(key, "")
        )
        for key, label in LABELS.items()
    )


def _number(entries: Mapping[str, str], key: str, unit: str = "MHz") -> float:
    value = figure(entries[key], unit)
    if math.isnan(value):
        raise InputError(f"{LABELS[key]}: {entries[key]!r} is not a number{f' of {unit}' if unit else ''}.")
    return value


def _pair(
    entries: Mapping[str, str], first: str, second: str, unit: str = "MHz"
) -> tuple[float, float] | None:
    """Two entries that belong together; None if both are empty."""
    if not entries[first] and not entries[second]:
        return None
    for key, other in ((first, second), (second, first)):
        if not entries[key]:
            raise InputError(f"{LABELS[key]}: missing, with {LABELS[other]!r} given; give both or neither.")
    return _number(entries, first), _number(entries, second, unit)


def _dip_mhz(entries: Mapping[str, str], band: str) -> float:
    """The frequency of the dip, which must belong to the band."""
    dip_mhz = _number(entries, "dip")
    if not any(measurements.same_band(dip_mhz, edge_mhz) for edge_mhz in by_name(band).widest_mhz):
        found = band_of(dip_mhz)
        where = f"on {say.band_title(found.name)}" if found is not None else "on no amateur band"
        raise InputError(f"Dip at: {dip_mhz:.3f} MHz is {where}; this reading is of {say.band_title(band)}.")
    return dip_mhz


def _reading_of(entries: Mapping[str, str], band: str, line_ohm: float) -> AnalyserReading:
    if not entries["dip"]:
        raise InputError("Dip at: type the frequency of the lowest SWR.")
    dip_mhz = _dip_mhz(entries, band)
    for key, words in (("transformer", TRANSFORMERS), ("where", PLACES)):
        if entries[key].lower() not in words:
            raise InputError(f"{LABELS[key]}: {entries[key]!r} is neither {words[0]} nor {words[1]}.")
    if not entries["swr"]:
        raise InputError("SWR there: type the SWR at the dip, then the frequencies of SWR 1.5 or 2.")
    swr = _number(entries, "swr", "")
    edges = [(level, _pair(entries, low, high)) for level, low, high in EDGES]
    second = _pair(entries, "second_at", "second_swr", "")
    more = _number(entries, "radial_more", "") if entries["radial_more"] else None
    if second is None and not any(pair for _, pair in edges) and 1.0 <= swr < 10.0:
        raise InputError(
            f"{possible_ohms(swr, line_ohm)}. Now the frequencies where the SWR is 1.5 or 2, or another "
            f"frequency and the SWR on it."
        )
    return AnalyserReading(
        dip_mhz,
        swr,
        tuple((level, *pair) for level, pair in edges if pair is not None),
        entries["where"].lower() == "antenna",
        second=second,
        one_radial_more_swr=more,
    )


def _verdict(near: Terminal, band: str, entries: Mapping[str, str]) -> Verdict:
    antenna = _antenna_of(near)
    reading = _reading_of(entries, band, antenna.feedline.impedance_ohm)
    return analyse(reading, antenna, direct=entries["transformer"].lower() == "no")


def _antenna_of(near: Terminal) -> Antenna:
    if near.antenna is None:
        raise InputError("The station file names no antenna to measure.")
    return near.antenna


def typed_reading(near: Terminal, station: Station, band: str, entries: Mapping[str, str]) -> ReadingView:
    """Evaluate the typed readings."""
    return _reading_view(near, station, band, _verdict(near, band, entries))


def file_reading(near: Terminal, station: Station, band: str, file: str) -> ReadingView:
    """Evaluate a Touchstone file."""
    return _reading_view(near, station, band, analyse(_from_file(file, near), _antenna_of(near)))


def _from_file(file: str, near: Terminal) -> AnalyserReading:
    path = paths.expanded(file)
    data = read_whole(path, LARGEST_FILE, "it is no sweep of an antenna")
    return from_sweep(read(data, path.name), _antenna_of(near).feedline)


def _reading_view(near: Terminal, station: Station, band: str, verdict: Verdict) -> ReadingView:
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
    out.extend(
        own_marks.move_sentences(_antenna_of(near), verdict.frequency_mhz, station.centre_mhz(by_name(band)))
    )
    out.extend(verdict.said)
    low, high = min(side.efficiency for side in verdict.sides), max(side.efficiency for side in verdict.sides)
    return ReadingView(band, tuple(out), best.efficiency, low, high)


def keep_reading(
    near: Terminal, station: Station, band: str, entries: Mapping[str, str], path: str, now: np.datetime64
) -> str:
    """Save the reading with the station, replacing the band's earlier reading. Return a sentence."""
    _own_file(path)
    file_name = entries.get("file", "")
    if file_name:
        verdict = analyse(_from_file(file_name, near), _antenna_of(near))
    else:
        verdict = _verdict(near, band, entries)
    made = verdict.best.measured(verdict.frequency_mhz, say.date(now), "analyser")
    with locked(path):
        now_there = stations.load(path)  # another program may have changed the file
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


def forget_reading(station: Station, band: str, path: str) -> str:
    """Delete the readings of a band, in use or set aside. Return a sentence."""
    _own_file(path)
    rest = measurements.forgotten(station.antenna, station.centre_mhz(by_name(band)))
    if rest == station.antenna:
        return f"No reading of {say.band_title(band)} is kept."
    stations.save(replace(station, antenna=rest), path)
    return f"The reading of {say.band_title(band)} is forgotten; the forecast goes by the description."


def bring_reading_back(station: Station, band: str, path: str) -> str:
    """Use a set-aside reading for the antenna as described now. Return a sentence."""
    _own_file(path)
    frequency = station.centre_mhz(by_name(band))
    if not measurements.set_aside(station.antenna, frequency):
        return f"No reading of {say.band_title(band)} is set aside."
    stations.save(replace(station, antenna=measurements.brought_back(station.antenna, frequency)), path)
    return (
        f"The reading of {say.band_title(band)} is back, as one of the antenna as it is described now; every "
        "forecast goes by it."
    )
