"""The lines of the station's forms: key in the station file, label, unit, hint; the valid words of some."""

from __future__ import annotations

from typing import Final, NamedTuple

from propagation.antennas.spec import KINDS, MOUNTS, VERTICALS
from propagation.geo.ground import GROUNDS
from propagation.spectrum import modes, national

NOISES: Final = ("quiet rural", "rural", "residential", "city")
FORM_KINDS: Final = tuple(kind for kind in KINDS if kind not in ("table", "isotropic"))
LOADED: Final = ("loaded vertical",)
WIRES: Final = tuple(kind for kind in FORM_KINDS if kind not in VERTICALS)


class Line(NamedTuple):
    """One line; `kinds`: the kinds of antenna it is for, empty for all."""

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
        "Radiator, verticals",
        "m",
        "whole length above the feed; empty: as long as it must be",
    ),
    Line("antenna.coil_q", "Coil, Q", "", "200 is a good coil, 100 a plain one"),
    Line("antenna.coil_height_m", "Coil, height on radiator", "m", "0 is the base"),
    Line("antenna.radials", "Radials", "", "how many"),
    Line("antenna.radial_m", "Radials, length", "m", "empty: a quarter wave on each band"),
    Line("antenna.radial_height_m", "Radials, height", "m", "0 lies on the ground"),
    Line("antenna.base_height_m", "Feed, height", "m", "empty: as the radials"),
    Line("antenna.height_m", "Wires, height", "m", "dipoles and slopers: of the middle, or the high end"),
    Line("antenna.azimuth_deg", "Wires, direction", "deg", "broadside of a dipole; forward for the others"),
    Line("feedline.cable", "Coax", "", "RG-58, RG-8X, RG-213 and the like"),
    Line("feedline.length_m", "Coax, length", "m"),
    Line("site.ground", "Ground"),
    Line("site.noise", "Noise around you"),
    Line("limits.national", "Country's limits", "", "from memory, check your licence; empty: your region's"),
    Line("site.time_zone", "Time zone", "", "such as Africa/Johannesburg; empty: the one guessed"),
    Line("site.awake", "When you are awake", "local time", "as 07:00-23:00; several with commas"),
    Line("site.free", "When you are free", "local time", "as 18:00-22:00; empty: whenever awake"),
    Line("far_end.power_w", "The others: power", "W", "who is usually at the other end"),
    Line("far_end.antenna", "The others: antenna"),
    Line("far_end.height_m", "The others: height", "m"),
    Line("far_end.noise", "The others: noise"),
)
WELCOME: Final = ("site.locator", "name", "rig.power_w", "rig.mode", "antenna.kind", "site.time_zone")

# the second step: all else that a station file knows
MORE: Final[tuple[Line, ...]] = (
    Line("antenna.mount", "Mount", "", "", VERTICALS),
    Line("antenna.radius_mm", "Radiator, radius", "mm", "half of its thickness", VERTICALS),
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
    Line("antenna.transformer_ratio", "Transformer, ratio", "", "of impedances: 49", ("sloping end-fed",)),
    Line(
        "antenna.transformer_efficiency", "Transformer passes", "", "0.85 of the power", ("sloping end-fed",)
    ),
    Line("antenna.elements", "Beam, elements", "", "how many", ("yagi",)),
    Line("feedline.choke", "Choke on the coax"),
    Line("feedline.impedance_ohm", "Coax, impedance", "ohm"),
    Line(
        "feedline.matched_loss_db_per_100m",
        "Coax, loss",
        "dB/100 m",
        "MHz = loss, as 10 = 4.6, 30 = 8.1; empty: by its name",
    ),
    Line("rig.noise_figure_db", "Receiver, noise figure", "dB"),
    Line("site.permittivity", "Earth, permittivity", "", "with the conductivity, in place of the ground"),
    Line("site.conductivity_s_per_m", "Earth, conductivity", "S/m", "with the permittivity"),
    Line("site.height_m", "Height above country", "m", "for 6 m and 2 m"),
    Line("site.horizon_deg", "Skyline", "deg", "azimuth = elevation, as 0 = 2, 90 = 0, 180 = 1"),
    Line("site.itu_region", "ITU region", "", "1, 2 or 3; 0: found from the place"),
    Line("limits.bands", "Only these bands", "", "as 40m, 20m; empty: all"),
    Line("limits.power_w", "Power the licence allows", "W", "empty: no limit known"),
    Line("people.contacts", "Contacts in an hour", "", "what the chance with a region is of"),
    Line("people.small", "Small stations, share", "", "low wire, a town's noise, 50 W"),
    Line("people.ordinary", "Ordinary ones, share", "", "as the others above"),
    Line("people.large", "Large ones, share", "", "beam, quiet, 400 W; the three make 1"),
    Line("far_end.ground", "The others: ground"),
    Line("far_end.noise_figure_db", "The others: noise figure", "dB"),
)

CHOICES: Final[dict[str, tuple[str, ...]]] = {
    "rig.mode": tuple(modes.MODE_NAMES),
    "antenna.kind": FORM_KINDS,
    "antenna.mount": tuple(MOUNTS),
    "site.ground": tuple(GROUNDS),
    "site.noise": NOISES,
    "feedline.choke": ("yes", "no"),
    "limits.national": tuple(country.name for country in national.NATIONAL),
    "far_end.antenna": FORM_KINDS,
    "far_end.noise": NOISES,
    "far_end.ground": tuple(GROUNDS),
}
TABLES: Final = ("antenna.coil_positions", "feedline.matched_loss_db_per_100m", "site.horizon_deg")
WORDS: Final = {
    "name", *CHOICES, "feedline.cable", "site.time_zone", "site.locator", "site.awake", "site.free",
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
    return tuple(line for line in MORE if not line.kinds or kind in line.kinds)
