"""The station's form: the keys of the station file that matter in the field, each with its unit and its
words.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from propagation.antennas import readings
from propagation.antennas.spec import KINDS
from propagation.base import strict_toml
from propagation.base.errors import BandwhenError, InputError
from propagation.base.input_file import is_file
from propagation.base.safe_write import locked
from propagation.geo import places
from propagation.geo.ground import GROUNDS
from propagation.geo.locator import locator_of
from propagation.spectrum import modes, national
from propagation.station import station
from tui import paths
from tui.entries import figure
from tui.views import FormField

LONGEST_NAME = 60  # signs of a file named after a station
NOISES = ("quiet rural", "rural", "residential", "city")
# key in the station file, label, unit, hint
LINES: tuple[tuple[str, str, str, str], ...] = (
    ("site.locator", "Where you are", "", ""),
    ("name", "Name of the station", "", "as you like to call it"),
    ("rig.power_w", "Power at the rig", "W", ""),
    ("rig.mode", "Mode", "", ""),
    ("antenna.kind", "Antenna", "", ""),
    (
        "antenna.radiator_m",
        "Radiator, verticals",
        "m",
        "whole length above the feed; empty: as long as it must be",
    ),
    ("antenna.coil_q", "Coil, Q", "", "200 is a good coil, 100 a plain one"),
    ("antenna.coil_height_m", "Coil, height on radiator", "m", "0 is the base"),
    ("antenna.radials", "Radials", "", "how many"),
    ("antenna.radial_m", "Radials, length", "m", "empty: a quarter wave on each band"),
    ("antenna.radial_height_m", "Radials, height", "m", "0 lies on the ground"),
    ("antenna.base_height_m", "Feed, height", "m", "empty: as the radials"),
    ("antenna.height_m", "Wires, height", "m", "dipoles and slopers: of the middle, or the high end"),
    ("antenna.azimuth_deg", "Wires, direction", "deg", "broadside of a dipole; forward for the others"),
    ("feedline.cable", "Coax", "", "RG-58, RG-8X, RG-213 and the like"),
    ("feedline.length_m", "Coax, length", "m", ""),
    ("site.ground", "Ground", "", ""),
    ("site.noise", "Noise around you", "", ""),
    ("limits.national", "Country's limits", "", "empty: those of the region"),
    ("site.time_zone", "Time zone", "", "such as Africa/Johannesburg"),
    ("far_end.power_w", "The others: power", "W", "who is usually at the other end"),
    ("far_end.antenna", "The others: antenna", "", ""),
    ("far_end.height_m", "The others: height", "m", ""),
    ("far_end.noise", "The others: noise", "", ""),
    ("people.contacts", "Contacts in an hour", "", "what the chance with a region is of"),
)
WELCOME = ("site.locator", "name", "rig.power_w", "rig.mode", "antenna.kind")  # a new station asks no more
_CHOICES: dict[str, tuple[str, ...]] = {
    "rig.mode": tuple(modes.MODE_NAMES),
    "antenna.kind": tuple(kind for kind in KINDS if kind not in ("table", "isotropic")),
    "site.ground": tuple(GROUNDS),
    "site.noise": NOISES,
    "limits.national": tuple(country.name for country in national.NATIONAL),
    "far_end.antenna": tuple(kind for kind in KINDS if kind not in ("table", "isotropic")),
    "far_end.noise": NOISES,
}
_WORDS = {"name", *_CHOICES, "feedline.cable", "site.time_zone", "site.locator"}
_WHOLE = {"antenna.radials", "people.contacts"}


def form(path: str) -> list[FormField]:
    """The lines of a station's form; an empty path gives the few of a new one."""
    table = strict_toml.parse(strict_toml.read_text(path), path) if path else {}
    usual = station.loads('[site]\nlocator = "JJ00"\n')
    found = station.load(path) if path else usual
    fields = []
    for key, label, unit, hint in LINES:
        if not path and key not in WELCOME:
            continue
        fields.append(
            FormField(
                key,
                label,
                _shown(key, table, found, bool(path)),
                unit,
                _CHOICES.get(key, ()),
                hint,
                key == "site.locator",
            )
        )
    return fields


def lines_of(found: station.Station, beginning: tuple[str, ...]) -> list[FormField]:
    """The lines of a station whose keys begin so, with its own values."""
    return [
        FormField(key, label, _shown(key, {}, found, True), unit, _CHOICES.get(key, ()), hint)
        for key, label, unit, hint in LINES
        if key.startswith(beginning)
    ]


def _shown(key: str, table: Mapping[str, Any], found: station.Station, given: bool) -> str:
    if key == "site.locator":
        position = found.site.position
        return locator_of(position.lat_deg, position.lon_deg, 8) if given else ""
    section, _, name = key.rpartition(".")
    written = (table.get(section) or {}).get(name) if section else table.get(name)
    if written is None:
        holder = getattr(found, section) if section else found
        written = getattr(holder, name)
    return "" if written is None else f"{written:g}" if isinstance(written, float) else str(written)


def toml_of(entries: Mapping[str, str], path: str) -> str:
    """The station file the form stands for; keys the form does not show are kept from the old file."""
    old: dict[str, Any] = {}
    if path and Path(path).is_file():
        old = strict_toml.parse(strict_toml.read_text(path), path)
    for key, text in entries.items():
        section, _, name = key.rpartition(".")
        table = old.setdefault(section, {}) if section else old
        if key == "site.locator":
            for other in ("lat", "lon"):
                table.pop(other, None)
            table["locator"] = _locator(text)
        elif not text:
            table.pop(name, None)
        else:
            table[name] = text if key in _WORDS else _number(key, text)
    lines = [f"{name} = {_toml(value)}" for name, value in old.items() if not isinstance(value, dict)]
    for section, table in old.items():
        if isinstance(table, dict) and table:
            lines += ["", f"[{section}]"]
            lines += [f"{name} = {_toml(value)}" for name, value in table.items()]
    return "\n".join(lines).lstrip("\n") + "\n"


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return (
            "{"
            + ", ".join(f"{strict_toml.written(key)} = {_toml(item)}" for key, item in value.items())
            + "}"
        )
    if isinstance(value, list):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    return strict_toml.written(value)


def _locator(text: str) -> str:
    if not text:
        raise InputError("Say where you are: a locator such as KG40rs, a town, or latitude,longitude.")
    position = places.place(text)
    return locator_of(position.lat_deg, position.lon_deg, 8)


def _number(key: str, text: str) -> float | int:
    label = next(label for line, label, _, _ in LINES if line == key)
    unit = next(unit for line, _, unit, _ in LINES if line == key)
    value = figure(text, unit)
    if value != value:
        raise InputError(f"{label}: {text!r} is not a number{f' of {unit}' if unit else ''}.")
    if key in _WHOLE:
        if value != int(value):
            raise InputError(f"{label}: {text!r} is not a whole number.")
        return int(value)
    return value


def check(entries: Mapping[str, str]) -> str:
    """A sentence where the form is not yet right."""
    try:
        station.loads(toml_of(entries, ""), "the form")
    except BandwhenError as error:
        return in_labels(error.message.removeprefix("the form: "))
    return ""


def in_labels(sentence: str) -> str:
    """An error about the station file in the words of the form: its labels in place of tables and keys."""
    names = [(*key.rpartition("."), label) for key, label, _, _ in LINES]
    for section, _, name, label in names:
        sentence = re.sub(rf"\[{section}\]:? {name}\b", label, sentence) if section else sentence
    for _, _, name, label in names:
        sentence = re.sub(rf"(?<![\w.]){name}(?![\w.])", label, sentence) if "_" in name else sentence
    return sentence


def suggest(prefix: str, limit: int = 8) -> list[str]:
    """Names of single places that begin so: towns and islands, not continents, nor friends."""
    found = []
    for name in places.suggest(prefix, 3 * limit):
        with suppress(BandwhenError):
            places.place(name)
            found.append(name)
    return found[:limit]


def save(entries: Mapping[str, str], path: str) -> str:
    """Write the station, whole or not at all; returns where it stands."""
    own = own_file(path)
    while True:
        file = Path(own) if own else new_file(entries.get("name", ""))
        with locked(file):
            if own or not is_file(file):  # else another program was quicker: a further name
                made = station.loads(toml_of(entries, own), "the form")
                if own and is_file(file):  # readings stay with the antenna they were taken with
                    before = readings.stamped(station.load(own).antenna)
                    made = replace(made, antenna=replace(made.antenna, measured=before.measured))
                station.save(made, file)
                return str(file)


def own_file(path: str) -> str:
    """The file that a station is written to; empty for the demo, which stays as it is."""
    return path if path and Path(path) != paths.demo_station_file() else ""


def new_file(name: str) -> Path:
    """The saved station where there is none yet, else a file of its own named after the station."""
    if not is_file(paths.station_file()):
        return paths.station_file()
    plain = (
        "".join(sign if sign.isalnum() else "-" for sign in name.lower())[:LONGEST_NAME].strip("-")
        or "station"
    )
    file = paths.stations_dir() / f"{plain}.toml"
    number = 2
    while is_file(file):
        file = paths.stations_dir() / f"{plain}-{number}.toml"
        number += 1
    return file
