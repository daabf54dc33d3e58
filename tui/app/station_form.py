"""The station's form: the keys of the station file that matter in the field, each with its unit and label."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final, NamedTuple

from propagation.antennas import measurements
from propagation.antennas.spec import KINDS, MOUNTS, VERTICALS
from propagation.base import strict_toml
from propagation.base.errors import BandwhenError, InputError
from propagation.base.files import is_file, locked
from propagation.geo import places
from propagation.geo.ground import GROUNDS
from propagation.geo.locator import locator_of
from propagation.spectrum import bands, modes, national
from propagation.spectrum.noise import reading_of
from propagation.station import station
from tui.app import paths
from tui.kit.form import FormField
from tui.kit.input_parsing import figure

LONGEST_NAME = 60  # characters of a file named after a station


def form(path: str) -> list[FormField]:
    """The lines of a station's form; an empty path gives the few of a new one."""
    if path:
        return _fields(LINES, path)
    usual = _usual()
    return [
        _field(_line(key), "" if key == "site.time_zone" else _shown(key, {}, usual, False))
        for key in WELCOME
    ]


def second_form(path: str, kind: str, typed: Mapping[str, str] | None = None) -> list[FormField]:
    """The lines of the second step, for a kind of antenna: all other keys of the station file.

    typed: entries from an earlier visit to the step, which take the place of the values on file.
    """
    left = () if path else tuple(line for line in LINES if line.key not in WELCOME)
    wanted = [line for line in (*left, *MORE) if _fits(line, kind) and (path or line.key not in WELCOME)]
    lines = _fields(wanted, path)
    return [replace(line, value=(typed or {}).get(line.key, line.value)) for line in lines]


def lines_of(found: station.Station, beginning: tuple[str, ...]) -> list[FormField]:
    """The lines of a station whose keys begin with `beginning`, with its own values."""
    lines = [line for line in (*LINES, *MORE) if line.key.startswith(beginning)]
    return [_field(line, _shown(line.key, {}, found, True)) for line in lines]


def hidden(entries: Mapping[str, str]) -> frozenset[str] | None:
    """The keys that the typed kind of antenna does not have; None while the kind is not valid."""
    kind = entries["antenna.kind"].lower()
    if kind not in FORM_KINDS:
        return None
    return frozenset(line.key for line in (*LINES, *MORE) if not _fits(line, kind))


def guesses(entries: Mapping[str, str]) -> dict[str, str]:
    """The values used for empty entries: the time zone of the nearest town."""
    if entries.get("site.time_zone", "given") or not entries.get("site.locator"):
        return {}
    return zone_guess("site.time_zone", entries["site.locator"])


def zone_guess(key: str, place: str) -> dict[str, str]:
    """The time zone of the town nearest to a place, under a key; empty if the place is not known."""
    try:
        return {key: places.time_zone(places.place(place))}
    except BandwhenError:
        return {}


def _fields(lines: Sequence[Line], path: str) -> list[FormField]:
    table = strict_toml.parse(strict_toml.read_text(path), path) if path else {}
    found = station.load(path) if path else _usual()
    return [_field(line, _shown(line.key, table, found, bool(path))) for line in lines]


def _field(line: Line, value: str) -> FormField:
    place = line.key == "site.locator"
    return FormField(line.key, line.label, value, line.unit, CHOICES.get(line.key, ()), line.hint, place)


def _usual() -> station.Station:
    return station.loads('[site]\nlocator = "JJ00"\n')


def _shown(key: str, table: Mapping[str, Any], found: station.Station, given: bool) -> str:
    if key == "site.locator":
        position = found.site.position
        return locator_of(position.lat_deg, position.lon_deg, 8) if given else ""
    section, _, name = key.rpartition(".")
    if key in TABLES:
        pairs = getattr(getattr(found, section), "horizon" if name == "horizon_deg" else name)
        return ", ".join(f"{at:g} = {value:g}" for at, value in pairs)
    if key == "limits.bands":
        return ", ".join(found.limits.bands)
    if key in READINGS:
        reading = getattr(found, section).noise_reading
        return "" if reading is None else reading.words
    written = (table.get(section) or {}).get(name) if section else table.get(name)
    if written is None:
        holder = getattr(found, section) if section else found
        written = getattr(holder, name)
    if isinstance(written, bool):
        return "yes" if written else "no"
    return "" if written is None else f"{written:g}" if isinstance(written, float) else str(written)


def toml_of(entries: Mapping[str, str], path: str) -> str:
    """The station file made from the form; keys that the form does not show are kept from the old file."""
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
            table[name] = _value(key, text)
    lines = [f"{name} = {_toml(value)}" for name, value in old.items() if not isinstance(value, dict)]
    for section, table in old.items():
        if isinstance(table, dict) and table:
            lines += ["", f"[{section}]"]
            lines += [f"{name} = {_toml(value)}" for name, value in table.items()]
    return "\n".join(lines).lstrip("\n") + "\n"


def _toml(value: object) -> str:
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
        raise InputError("Where you are: give a locator such as KG40rs, a town, or latitude,longitude.")
    try:
        position = places.place(text)
    except InputError as error:
        raise InputError(f"Where you are: {error.message}") from None
    return locator_of(position.lat_deg, position.lon_deg, 8)


def _value(key: str, text: str) -> str | float | list[str] | dict[str, float]:
    """The typed text as the value in the station file."""
    if key in YES_NO:
        if text.lower() not in ("yes", "no"):
            raise InputError(f"{_line(key).label}: {text!r} is neither yes nor no.")
        return text.lower() == "yes"
    if key in WORDS:
        return text
    if key == "limits.bands":
        return [bands.by_name(part).name for part in text.replace(",", " ").replace(";", " ").split()]
    if key in TABLES:
        return _pairs(key, text)
    if key in READINGS:
        try:
            return asdict(reading_of(text))
        except InputError as error:
            raise InputError(f"{_line(key).label}: {error.message}") from None
    return _number(key, text)


def _pairs(key: str, text: str) -> dict[str, float]:
    """`5 = 3.1, 40 = 26` as a table of numbers."""
    found: dict[str, float] = {}
    for part in text.split(","):
        at, _, value = part.partition("=")
        if math.isnan(figure(at)) or math.isnan(figure(value)):
            line = _line(key)
            raise InputError(f"{line.label}: {part.strip()!r} is not understood; write {line.hint}.")
        found[f"{figure(at):g}"] = figure(value)
    return found


def _line(key: str) -> Line:
    return next(line for line in (*LINES, *MORE) if line.key == key)


def _number(key: str, text: str) -> float | int:
    line = _line(key)
    if key == "antenna.radial_height_m" and text.lower() in ("ground", "on the ground"):
        return 0.0
    value = figure(text, line.unit)
    if math.isnan(value):
        raise InputError(f"{line.label}: {text!r} is not a number{f' of {line.unit}' if line.unit else ''}.")
    if key in WHOLE:
        if value != int(value):
            raise InputError(f"{line.label}: {text!r} is not a whole number.")
        return int(value)
    return value


def check(entries: Mapping[str, str]) -> str:
    """An error sentence while the form is not valid; else empty."""
    try:
        station.loads(toml_of(entries, ""), "the form")
    except BandwhenError as error:
        return in_labels(error.message.removeprefix("the form: "))
    return ""


def in_labels(sentence: str) -> str:
    """An error about the station file in the form's terms: its labels in place of tables and keys."""
    names = [(*line.key.rpartition("."), line.label) for line in (*LINES, *MORE)]
    for section, _, name, label in names:
        sentence = re.sub(rf"\[{section}\]:? {name}\b", label, sentence) if section else sentence
    for _, _, name, label in names:
        sentence = re.sub(rf"(?<![\w.]){name}(?![\w.])", label, sentence) if "_" in name else sentence
    return re.sub(r"^\[\w+\]:? ", "", sentence)


def suggest(prefix: str, limit: int = 8) -> list[str]:
    """Names of single places with this prefix: towns and islands, not continents or friends."""
    found = []
    for name in places.suggest(prefix, 3 * limit):
        with suppress(BandwhenError):
            places.place(name)
            found.append(name)
    return found[:limit]


def meanings(text: str) -> tuple[str, ...]:
    """The full names of the places with a name, if there are several; otherwise empty."""
    try:
        places.named_place(text, hint=False)
    except places.AmbiguousPlaceError as error:
        return error.choices
    except BandwhenError:
        pass
    return ()


def save(entries: Mapping[str, str], path: str) -> str:
    """Write the station, completely or not at all; return its path."""
    own, entries = own_file(path), {**entries, **guesses(entries)}
    while True:
        file = Path(own) if own else new_file(entries.get("name", ""))
        with locked(file):
            if own or not is_file(file):  # otherwise another program has created it first: try a further name
                made = station.loads(toml_of(entries, own), "the form")
                if own and is_file(file):  # readings belong to the antenna at which they were taken
                    before = measurements.stamped(station.load(own).antenna)
                    antenna = replace(made.antenna, measured=before.measured, marks=before.marks)
                    made = replace(made, antenna=antenna)
                station.save(made, file)
                return str(file)


def own_file(path: str) -> str:
    """The file that a station is written to; empty for the demo, which stays unchanged."""
    return path if path and Path(path) != paths.demo_station_file() else ""


def new_file(name: str) -> Path:
    """The saved station's file if there is none yet, else a new file named after the station."""
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


NOISES: Final = ("quiet rural", "rural", "residential", "city")
FORM_KINDS: Final = tuple(kind for kind in KINDS if kind not in ("table", "isotropic"))
LOADED: Final = ("loaded vertical",)
WIRES: Final = tuple(kind for kind in FORM_KINDS if kind not in VERTICALS)


class Line(NamedTuple):
    """One line; `kinds`: the kinds of antenna it applies to, empty for all."""

    key: str
    label: str
    unit: str = ""
    hint: str = ""
    kinds: tuple[str, ...] = ()


LINES: Final[tuple[Line, ...]] = (
    Line("site.locator", "Where you are"),
    Line("name", "Name of the station", "", "as you like to call it"),
    Line("rig.power_w", "Power at the rig", "W"),
    Line("rig.mode", "Mode"),
    Line("antenna.kind", "Antenna"),
    Line(
        "antenna.radiator_m",
        "Radiator",
        "m",
        "whole length above the feed, drawn out; empty: as long as it must be",
        VERTICALS,
    ),
    Line("antenna.coil_q", "Coil, Q", "", "200 is a good coil, 100 a plain one", LOADED),
    Line("antenna.coil_height_m", "Coil, height on radiator", "m", "0 is the base", LOADED),
    Line("antenna.radials", "Radials", "", "how many", VERTICALS),
    Line("antenna.radial_m", "Radials, length", "m", "empty: a quarter wave on each band", VERTICALS),
    Line(
        "antenna.radial_height_m", "Radials, height", "m", "of their ends; ground: they lie on it", VERTICALS
    ),
    Line("antenna.base_height_m", "Feed, height", "m", "empty: as the radials", VERTICALS),
    Line(
        "antenna.height_m", "Wire, height", "m", "dipoles and slopers: of the middle, or the high end", WIRES
    ),
    Line("antenna.azimuth_deg", "Wire, direction", "deg", "broadside of a dipole; else forward", WIRES),
    Line("feedline.cable", "Coax", "", "RG-58, RG-8X, RG-213 and the like"),
    Line("feedline.length_m", "Coax, length", "m"),
    Line("site.ground", "Ground"),
    Line("site.noise", "Noise around you"),
    Line("limits.national", "Country's limits", "", "from memory, check your licence; empty: your region's"),
    Line("site.time_zone", "Time zone", "", "such as Africa/Johannesburg; empty: the one guessed"),
    Line(
        "site.call_sign", "Your call sign", "", "as ZZ9DEMO or ZZ9DEMO/P; it goes into the log of an outing"
    ),
    Line("site.reference", "Summit or park", "", "its reference, as ZZ/AB-001; several with blanks between"),
    Line("site.awake", "When you are awake", "local time", "as 07:00-23:00; several with commas"),
    Line("site.free", "When you are free", "local time", "as 18:00-22:00; empty: whenever awake"),
    Line("far_end.power_w", "The others: power", "W", "who is usually at the other end"),
    Line("far_end.antenna", "The others: antenna"),
    Line("far_end.height_m", "The others: height", "m"),
    Line("far_end.noise", "The others: noise"),
)
# the first step of a new station: what decides most
WELCOME: Final = (
    "site.locator",
    "name",
    "rig.power_w",
    "rig.mode",
    "antenna.kind",
    "antenna.radiator_m",
    "antenna.telescopic",
    "antenna.radials",
    "antenna.radial_m",
    "antenna.radial_height_m",
    "antenna.base_height_m",
    "antenna.length_m",
    "antenna.height_m",
    "site.time_zone",
)
# the second step: all other keys of the station file
MORE: Final[tuple[Line, ...]] = (
    Line("antenna.mount", "Mount", "", "", VERTICALS),
    Line("antenna.radius_mm", "Radiator, radius", "mm", "half of its thickness", VERTICALS),
    Line("antenna.telescopic", "Radiator, telescopic", "", "yes: pushed in where it is too long", VERTICALS),
    Line("antenna.shortest_m", "Radiator, pushed in", "m", "empty: a quarter of the full length", VERTICALS),
    Line("antenna.takeoff_deg", "Take-off wanted", "deg", "for the whip's length; empty: 5 to 30", VERTICALS),
    Line(
        "antenna.base_match",
        "Match at the base",
        "",
        "a tap or shunt coil; empty: assumed; no: fed directly",
        LOADED,
    ),
    Line("antenna.coil_uh_max", "Coil, most it can give", "uH", "empty: enough for every band", LOADED),
    Line(
        "antenna.coil_positions", "Coil, two settings", "", "mark = microhenries, as 5 = 3.1, 40 = 26", LOADED
    ),
    Line("antenna.coil_self_capacitance_pf", "Coil, own capacitance", "pF", "0: none to speak of", LOADED),
    Line(
        "antenna.connection_ohm",
        "Plugs, slider, joints",
        "ohm",
        "their loss; empty: 5 assumed with a coil, 1 without",
        VERTICALS,
    ),
    Line("antenna.coil_heat_w", "Coil, heat it bears", "W", "mean, for a long time", LOADED),
    Line("antenna.top_wires", "Top wires", "", "how many; 0: none", VERTICALS),
    Line("antenna.top_wire_m", "Top wires, length", "m", "of each", VERTICALS),
    Line("antenna.top_wire_angle_deg", "Top wires, droop", "deg", "below the horizontal", VERTICALS),
    Line("antenna.radial_radius_mm", "Radials, radius", "mm", "half of their thickness", VERTICALS),
    Line("antenna.length_m", "Wire, length", "m", "tip to tip; empty: half a wave on each band", WIRES),
    Line("antenna.wire_radius_mm", "Wire, radius", "mm", "half of its thickness", WIRES),
    Line("antenna.end_height_m", "Wire, low end's height", "m", "of the ends; empty: by the slope", WIRES),
    Line("antenna.apex_angle_deg", "Wire, angle in the middle", "deg", "between the arms", ("inverted v",)),
    Line("antenna.counterpoise_m", "Counterpoise", "m", "empty: a twentieth of a wave", ("sloping end-fed",)),
    Line("antenna.transformer_ratio", "Transformer, ratio", "", "of impedances; empty: 49 end-fed", WIRES),
    Line("antenna.transformer_efficiency", "Transformer passes", "", "0.85 of the power", WIRES),
    Line("antenna.transformer_loss_db", "Transformer, loss", "dB", "in place of what it passes", WIRES),
    Line("antenna.elements", "Beam, elements", "", "how many", ("yagi",)),
    Line("feedline.choke", "Choke on the coax"),
    Line("feedline.tuner", "Tuner at the rig", "", "empty: not said; settings that need none come first"),
    Line("feedline.impedance_ohm", "Coax, impedance", "ohm"),
    Line(
        "feedline.matched_loss_db_per_100m",
        "Coax, loss",
        "dB/100 m",
        "MHz = loss, as 10 = 4.6, 30 = 8.1; empty: by its name",
    ),
    Line("band_change.retune_min", "Change of band: rig", "minutes", "band, frequency, a short listen"),
    Line("band_change.coil_min", "Change: coil's tap", "minutes", "with a look at the dip", LOADED),
    Line("band_change.whip_min", "Change: whip", "minutes", "to another length", VERTICALS),
    Line("band_change.capacitor_min", "Change: capacitor", "minutes", "in series, in or out", VERTICALS),
    Line("band_change.radial_min", "Change: a radial", "minutes", "laid, raised or taken in", VERTICALS),
    Line("band_change.radial_length_min", "Change: its length", "minutes", "of each radial", VERTICALS),
    Line("band_change.wire_min", "Change: wire", "minutes", "lowered, cut to length, hoisted", WIRES),
    Line("rig.noise_figure_db", "Receiver, noise figure", "dB"),
    Line("site.noise_db_at_1_mhz", "Noise measured, at 1 MHz", "dB", "empty: by the kind of place"),
    Line("site.noise_reading", "Noise on the S meter", "", "as S5 on 40 m; empty: by the kind of place"),
    Line("site.permittivity", "Earth, permittivity", "", "with the conductivity, in place of the ground"),
    Line("site.conductivity_s_per_m", "Earth, conductivity", "S/m", "with the permittivity"),
    Line("site.height_m", "Height above country", "m", "for 6 m and 2 m"),
    Line("site.horizon_deg", "Skyline", "deg", "azimuth = elevation, as 0 = 2, 90 = 0, 180 = 1"),
    Line("site.itu_region", "ITU region", "", "1, 2 or 3; 0: found from the place"),
    Line("limits.bands", "Only these bands", "", "as 40m, 20m; empty: all"),
    Line("limits.power_w", "Power the licence allows", "W", "empty: no limit known"),
    Line("people.contacts", "Contacts in an hour", "", "what the chance with a region is of"),
    Line("people.most_per_hour", "Most contacts in an hour", "", "empty: 60 SSB, 40 CW and DIGITAL"),
    Line("people.small", "Small stations, share", "", "low wire, a town's noise, 50 W"),
    Line("people.ordinary", "Ordinary ones, share", "", "as the others above"),
    Line("people.large", "Large ones, share", "", "beam, quiet, 400 W; the three make 1"),
    Line("far_end.noise_db_at_1_mhz", "The others: noise at 1 MHz", "dB", "empty: by the kind of place"),
    Line("far_end.noise_reading", "The others: S meter", "", "as S5 on 40 m; empty: by the kind of place"),
    Line("far_end.ground", "The others: ground"),
    Line("far_end.noise_figure_db", "The others: noise figure", "dB"),
)
YES_NO: Final = ("feedline.choke", "feedline.tuner", "antenna.telescopic", "antenna.base_match")
CHOICES: Final[dict[str, tuple[str, ...]]] = {
    "rig.mode": tuple(modes.MODE_NAMES),
    "antenna.kind": FORM_KINDS,
    "antenna.mount": tuple(MOUNTS),
    "site.ground": tuple(GROUNDS),
    "site.noise": NOISES,
    **dict.fromkeys(YES_NO, ("yes", "no")),
    "limits.national": tuple(country.name for country in national.NATIONAL),
    "far_end.antenna": FORM_KINDS,
    "far_end.noise": NOISES,
    "far_end.ground": tuple(GROUNDS),
}
READINGS: Final = ("site.noise_reading", "far_end.noise_reading")
TABLES: Final = ("antenna.coil_positions", "feedline.matched_loss_db_per_100m", "site.horizon_deg")
WORDS: Final = {
    "name", *CHOICES, "feedline.cable", "site.time_zone", "site.locator", "site.awake", "site.free",
    "site.call_sign", "site.reference",
}  # fmt: skip
WHOLE: Final = {
    "antenna.radials",
    "antenna.top_wires",
    "antenna.elements",
    "site.itu_region",
    "people.contacts",
}


def fitting(kind: str) -> tuple[Line, ...]:
    """The lines of the second step for a kind of antenna."""
    return tuple(line for line in MORE if _fits(line, kind))


def _fits(line: Line, kind: str) -> bool:
    return not line.kinds or kind in line.kinds
