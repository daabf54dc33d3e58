"""Checked descriptions of an antenna and its feed line, in quantities that their owner knows in the field.

A description is data; `propagation.antennas.factory` makes an antenna from it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Final, Literal, get_args

from propagation.base.errors import InputError
from propagation.base.text import one_line
from propagation.base.units import undb

AntennaKind = Literal[
    "loaded vertical",  # short vertical with a coil anywhere along it, with or without top wires
    "vertical",  # quarter wave (or a given length) over radials, no coil
    "half-wave vertical",  # vertical half-wave dipole, for far ends
    "dipole",  # flat half-wave dipole
    "inverted v",  # dipole with its middle high and its ends low
    "sloping dipole",  # straight dipole with one end high
    "sloping end-fed",  # half-wave wire fed at its low end
    "yagi",  # small beam on a boom
    "table",  # gain by frequency and elevation, as measured or computed elsewhere
    "isotropic",  # 0 dBi everywhere, without loss, for checks
]
KINDS: Final[tuple[AntennaKind, ...]] = get_args(AntennaKind)

VERTICALS: Final = ("loaded vertical", "vertical")  # kinds that work against radials

Mount = Literal["spike", "tripod", "railing", "table clamp", "vehicle"]
MOUNTS: Final[tuple[Mount, ...]] = get_args(Mount)

# Height of the feed point on each mount [m]; common practice, no source.
MOUNT_HEIGHT_M: Final[dict[str, float]] = {
    "spike": 0.3,
    "tripod": 0.9,
    "railing": 1.1,
    "table clamp": 0.75,
    "vehicle": 1.5,
}
# Counterpoise formed by the mount itself where there are no radials: wires, length of each [m]. A railing is
# a wire to either side; a car's body acts like a star of short wires at roof height. With any other mount the
# outside of the coaxial cable is the counterpoise. Coarse, common practice.
MOUNT_COUNTERPOISE: Final[dict[str, tuple[int, float]]] = {"railing": (2, 2.0), "vehicle": (8, 1.8)}
PUSHED_IN: Final = 0.25  # of the full length: a telescopic whip pushed in (common practice, no source)
LONGEST_MARK: Final = 40  # characters of an operator's mark (ours)
COIL_BELOW: Final = 0.95  # of the radiator: the highest place of a coil (ours)
USUAL_RATIO: Final = 49.0  # impedance ratio of an end-fed half wave's transformer (common practice)
SAID_TO_LIE_M: Final = 0.02  # m; radials with ends up to this height count as on the ground (ours)


# Loss resistance of a vertical's connections [ohm], in series with the feed, where none is given: an
# ASSUMPTION, until an analyser has measured the band. It covers plugs, the coil's slider and its idle
# turns, the joints of a telescopic whip and its steel, clamps. Feed resistances of short coil-loaded whips
# measured in the field are 12 to 20 ohm where radiation, ground and coil give 7 (from memory). 5 is the lower
# end of that difference, so that no antenna gets more loss than most have. The steel alone: 2.5 m of 5 mm
# stainless tube has 0.3 ohm on 14 MHz by its skin depth, up to 4 ohm where drawing has made it magnetic
# (1.3 MS/m, relative permeability 1 and 120: tables of metals, quoted second hand). A full-length vertical
# has no slider and carries less current in its joints: 1 ohm (ours). A soldered wire has none.
CONNECTION_OHM: Final[dict[str, float]] = {"loaded vertical": 5.0, "vertical": 1.0}


@dataclass(frozen=True)
class Measurement:
    """Result of an analyser on one band: total series resistance referred to the antenna's own feed.

    frequency_mhz [MHz]; total_resistance_ohm, the sum of radiation, ground, coil, transformer [ohm];
    error_db, one-sided uncertainty of the resulting efficiency [dB]; date as YYYY-MM-DD; note; setup:
    relevant description of the antenna it was taken with (`readings.setup_text`), empty where unknown.
    """

    frequency_mhz: float
    total_resistance_ohm: float
    error_db: float = 0.0
    date: str = ""
    note: str = ""
    setup: str = ""

    def __post_init__(self) -> None:
        _within("measured.frequency_mhz", self.frequency_mhz, 0.1, 500.0, "MHz")
        _within("measured.total_resistance_ohm", self.total_resistance_ohm, 0.01, 10000.0, "ohm")


@dataclass(frozen=True)
class Mark:
    """The operator's own mark of a tuned band: where a coil's contact or a whip's sections stand.

    frequency_mhz: tuned to [MHz]; text: as the operator writes it, a number or words; coil_uh: the coil's
    inductance there by the description [uH], 0 without a coil; whip_m, radials, radial_m: as they were; date
    as YYYY-MM-DD; setup: relevant description of the antenna (`measurements.setup_text`).
    """

    frequency_mhz: float
    text: str
    coil_uh: float = 0.0
    whip_m: float | None = None
    radials: int = 0
    radial_m: float | None = None
    date: str = ""
    setup: str = ""

    def __post_init__(self) -> None:
        _within("marks.frequency_mhz", self.frequency_mhz, 0.1, 500.0, "MHz")
        _within("marks.coil_uh", self.coil_uh, 0.0, 10000.0, "uH")
        text = one_line(self.text).strip()
        if not 0 < len(text) <= LONGEST_MARK:
            raise InputError(f"marks.text: a mark has 1 to {LONGEST_MARK} characters, such as 34")
        object.__setattr__(self, "text", text)


@dataclass(frozen=True)
class AntennaSpec:
    """Description of an antenna by its owner; only the fields of its kind are used.

    Lengths and heights in metres, angles in degrees; None lets the program choose by the rule in its comment.
    """

    kind: str = "loaded vertical"
    # verticals
    radiator_m: float | None = None  # greatest length above the feed; None: 2.5 loaded, else resonant
    telescopic: bool = True  # whether the radiator can be pushed in, down to shortest_m
    shortest_m: float | None = None  # its length pushed in; None: a quarter of radiator_m
    takeoff_deg: float | None = None  # wanted: decides between two lengths of a whip; None: 5 to 30
    # loaded: whether a tap or shunt coil brings a resistance below the line's up to it; None: an assumption
    base_match: bool | None = None
    radius_mm: float = 2.5  # radius of the radiator
    coil_q: float = 200.0
    coil_height_m: float = 0.0  # along the radiator, 0 is the base
    coil_uh_max: float | None = None  # the most the coil can give; None: enough for every band
    coil_self_capacitance_pf: float = 0.0  # between the coil's ends
    coil_positions: tuple[tuple[float, float], ...] = ()  # two settings of a sliding coil: position, uH
    connection_ohm: float | None = None  # loss of plugs, slider, joints, clamps; None: by kind, an assumption
    coil_heat_w: float = 90.0  # mean heat the coil can dissipate: that of 500 W SSB on 40 m in a portable one
    top_wires: int = 0  # number of wires at the top
    top_wire_m: float = 0.0  # length of each
    top_wire_angle_deg: float = 0.0  # slope of each below the horizontal
    radials: int = 4
    radial_m: float | None = 4.5  # length of each; None: a quarter wave on each band
    radial_radius_mm: float = 1.0
    radial_height_m: float | None = None  # 0 is on the ground; None: as the feed
    base_height_m: float | None = None  # height of the feed; None: as the radials, else by the mount
    mount: str = "tripod"
    # dipoles, end-fed wires, beams
    length_m: float | None = None  # tip to tip along the wire; None: half a wave on each band
    wire_radius_mm: float = 1.0
    height_m: float = 6.0  # of the middle (of the higher end, where it slopes)
    end_height_m: float | None = None  # of an inverted v's ends, of a sloping wire's low end; None: by slope
    apex_angle_deg: float | None = None  # inverted v: between the arms; None: from end_height_m, else 120
    azimuth_deg: float = 0.0  # direction of best radiation (dipole: broadside; sloping wire, yagi: forward)
    counterpoise_m: float | None = None  # end-fed: wire against which it is fed; None: 0.05 wave
    transformer_ratio: float | None = None  # of wires: impedance ratio; None: 49 for an end-fed, else none
    transformer_efficiency: float = 0.85  # share of the power a transformer passes, 0..1
    transformer_loss_db: float | None = None  # its loss, in place of transformer_efficiency
    elements: int = 3  # yagi
    # measured table: rows of frequency [MHz], elevation [deg], gain [dBi]
    table: tuple[tuple[float, float, float], ...] = ()
    # results of the analyser, stored with the antenna
    measured: tuple[Measurement, ...] = ()
    # the operator's own marks; no part of its text, by which solutions and lessons know an antenna
    marks: tuple[Mark, ...] = field(default=(), repr=False)

    def __post_init__(self) -> None:
        kind = self.kind.strip().lower()
        if kind not in KINDS:
            near = get_close_matches(kind, KINDS, n=1, cutoff=0.4)
            hint = f"did you mean {near[0]!r}? " if near else ""
            raise InputError(
                f"antenna.kind: {self.kind!r} is not known; {hint}use one of: {', '.join(KINDS)}"
            )
        object.__setattr__(self, "kind", kind)
        mount = self.mount.strip().lower()
        if mount not in MOUNTS:
            raise InputError(f"antenna.mount: {self.mount!r} is not known; use one of: {', '.join(MOUNTS)}")
        object.__setattr__(self, "mount", mount)
        for name, (low, high, unit) in _RANGES.items():
            value = getattr(self, name)
            if value is not None:
                _within(f"antenna.{name}", value, low, high, unit)
        if kind == "loaded vertical" and self.coil_height_m > COIL_BELOW * self.whip_m:
            raise InputError(
                f"antenna.coil_height_m: a coil at {self.coil_height_m:g} m is at or above the top of a "
                f"radiator of {self.whip_m:g} m; put it below 95 % of the length"
            )
        least, most = self.shortest_m, self.longest_m
        if kind in VERTICALS and least is not None and most is not None and least > most:
            raise InputError(
                f"antenna.shortest_m: {least:g} m pushed in is longer than the radiator of {most:g} m; give "
                f"a length up to radiator_m"
            )
        if len(self.coil_positions) not in (0, 2):
            raise InputError(
                "antenna.coil_positions: give two measured settings of the coil, position and inductance, "
                "such as {5 = 3.1, 40 = 26}"
            )
        if kind == "table" and not self.table:
            raise InputError(
                "antenna.table: a measured antenna needs rows of frequency [MHz], elevation [deg], gain [dBi]"
            )

    @property
    def whip_m(self) -> float:
        """Length of the radiator of a loaded vertical [m]."""
        return 2.5 if self.radiator_m is None else self.radiator_m

    @property
    def longest_m(self) -> float | None:
        """Greatest length of a vertical's radiator [m]; None where it is cut to each band."""
        return self.whip_m if self.kind == "loaded vertical" else self.radiator_m

    @property
    def pushed_in_m(self) -> float | None:
        """Least length of a telescopic vertical's radiator [m]; None where it cannot be pushed in.

        A coil along the radiator stays where it is: the sections above it push in.
        """
        longest = self.longest_m
        if self.kind not in VERTICALS or not self.telescopic or longest is None:
            return None
        shortest = PUSHED_IN * longest if self.shortest_m is None else self.shortest_m
        return min(longest, max(shortest, self.coil_height_m / COIL_BELOW))

    @property
    def ratio(self) -> float:
        """Impedance ratio of the transformer between a wire and its line; 1 where there is none."""
        usual = USUAL_RATIO if self.kind == "sloping end-fed" else 1.0
        return usual if self.transformer_ratio is None else self.transformer_ratio

    @property
    def transformer_passes(self) -> float:
        """Share of the power that the transformer passes (0..1); 1 where there is none."""
        if self.ratio == 1.0:
            return 1.0
        loss_db = self.transformer_loss_db
        return self.transformer_efficiency if loss_db is None else float(undb(-loss_db))

    @property
    def connection_loss_ohm(self) -> float:
        """Loss of a vertical's connections [ohm], in series with its feed: as given, else assumed."""
        if self.kind not in VERTICALS:
            return 0.0
        return CONNECTION_OHM[self.kind] if self.connection_ohm is None else self.connection_ohm

    @property
    def feed_height_m(self) -> float:
        """Height of a vertical's feed point [m]: as given, else that of the radials, else the mount's."""
        if self.base_height_m is not None:
            return self.base_height_m
        return MOUNT_HEIGHT_M[self.mount] if self.radial_height_m is None else self.radial_height_m

    @property
    def radial_end_height_m(self) -> float:
        """Height of the far ends of the radials [m]: as given, else that of the feed."""
        return self.feed_height_m if self.radial_height_m is None else self.radial_height_m


@dataclass(frozen=True)
class FeedlineSpec:
    """Line between rig and antenna: a cable by name, or its matched loss at two or more frequencies.

    matched_loss_db_per_100m: pairs of frequency [MHz] and loss [dB/100 m]; empty: by the cable's name. tuner:
    whether one at the rig matches any load; None: not said, so that no loss of power is counted for its want,
    but a setting that needs none is preferred.
    """

    cable: str = "RG-58"
    length_m: float = 6.0
    choke: bool = True
    tuner: bool | None = None
    impedance_ohm: float = 50.0
    matched_loss_db_per_100m: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        _within("feedline.length_m", self.length_m, 0.0, 1000.0, "m")
        _within("feedline.impedance_ohm", self.impedance_ohm, 10.0, 1000.0, "ohm")
        for frequency_mhz, loss_db in self.matched_loss_db_per_100m:
            _within("feedline.matched_loss_db_per_100m frequency", frequency_mhz, 0.1, 10000.0, "MHz")
            _within("feedline.matched_loss_db_per_100m", loss_db, 0.0, 1000.0, "dB")


# Plausible limits: lowest, highest, unit. They are wide, so that only typing errors are refused.
_RANGES: Final[dict[str, tuple[float, float, str]]] = {
    "radiator_m": (0.1, 60.0, "m"),
    "shortest_m": (0.05, 60.0, "m"),
    "takeoff_deg": (1.0, 90.0, "deg"),
    "radius_mm": (0.05, 150.0, "mm"),
    "coil_q": (5.0, 2000.0, ""),
    "coil_height_m": (0.0, 60.0, "m"),
    "coil_uh_max": (0.0, 10000.0, "uH"),
    "coil_self_capacitance_pf": (0.0, 100.0, "pF"),
    "connection_ohm": (0.0, 100.0, "ohm"),
    "coil_heat_w": (0.1, 10000.0, "W"),
    "top_wires": (0, 24, ""),
    "top_wire_m": (0.0, 60.0, "m"),
    "top_wire_angle_deg": (-30.0, 80.0, "deg"),
    "radials": (0, 240, ""),
    "radial_m": (0.05, 200.0, "m"),
    "radial_radius_mm": (0.05, 50.0, "mm"),
    "radial_height_m": (0.0, 60.0, "m"),
    "base_height_m": (0.0, 100.0, "m"),
    "length_m": (0.1, 600.0, "m"),
    "wire_radius_mm": (0.05, 50.0, "mm"),
    "height_m": (0.1, 200.0, "m"),
    "end_height_m": (0.05, 200.0, "m"),
    "apex_angle_deg": (30.0, 180.0, "deg"),
    "azimuth_deg": (-360.0, 360.0, "deg"),
    "counterpoise_m": (0.1, 60.0, "m"),
    "transformer_ratio": (1.0, 100.0, ""),
    "transformer_efficiency": (0.05, 1.0, ""),
    "transformer_loss_db": (0.0, 13.0, "dB"),
    "elements": (2, 8, ""),
}


def _within(name: str, value: float, low: float, high: float, unit: str) -> None:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise InputError(
            f"{name}: {value!r} is not a number; give one from {low:g} to {high:g} {unit}".rstrip()
        )
    if not low <= value <= high:
        raise InputError(f"{name}: {value:g} {unit} is outside {low:g} to {high:g} {unit}".replace("  ", " "))


def cautions(spec: AntennaSpec, choke: bool) -> tuple[str, ...]:
    """Cautions about few radials and current on the cable."""
    told: list[str] = []
    if spec.radials == 0 and spec.mount not in MOUNT_COUNTERPOISE:
        told.append(
            "No radials: the outside of the cable is the other half of the antenna; the figures are rough."
        )
    if spec.radials < 4 and not choke:
        told.append(
            "Few radials and no choke: current will flow on the outside of the cable; fit a choke at the "
            "antenna end."
        )
    if spec.radials in (1, 2) and spec.radial_end_height_m > SAID_TO_LIE_M:
        told.append("One or two raised radials favour some directions; keep people and animals off them.")
    return tuple(told)
