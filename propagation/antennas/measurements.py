"""Readings of an analyser that are stored with an antenna, and whether each still applies to its description.

Every reading contains the part of the description that matters for the resistance at the feed: kind,
radiator, position of the coil, top wires, radials, heights; of wires the length, heights and transformer. The
coil's Q is not included, since the reading contains the coil's loss; neither are the ground and the
direction. Where the description has changed by more than a reading's own error, the reading is set aside. It
stays in the station file and is reported. It is used again when the description returns to its earlier state,
or when the operator applies it to the present antenna.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from propagation.antennas.spec import VERTICALS, AntennaSpec, Mark, Measurement
from propagation.spectrum.bands import band_of

SAME_LENGTH: Final = 0.05  # of a length; 5 % of a short radiator is 0.4 dB, a good reading's own error (ours)
SAME_HEIGHT_M: Final = 0.25  # m, smaller differences of heights and of the coil's place are ignored (ours)
SAME_ANGLE_DEG: Final = 10.0  # deg (ours)
SAME_BAND: Final = 0.03  # relative distance within which a reading outside the bands still counts

AGREEMENT: Final = 1.25  # ratio of measured to computed resistance that needs no explanation
UNEXPLAINED: Final = "unexplained loss: joint, cable, ground"

# Keys of a description that a reading stores, and their words; 0 where the program cuts it to the band.
_WORDS: Final[dict[str, str]] = {
    "kind": "antenna",
    "radiator_m": "radiator",
    "coil_height_m": "coil",
    "top_wires": "top wires",
    "top_wire_m": "top wires of",
    "radials": "radials",
    "radial_m": "radials of",
    "radial_height_m": "ends of the radials at",
    "feed_height_m": "feed at",
    "mount": "mount",
    "length_m": "wire",
    "height_m": "wire at",
    "end_height_m": "ends at",
    "apex_angle_deg": "angle between the arms",
    "counterpoise_m": "counterpoise",
    "transformer_ratio": "transformer of",
    "elements": "elements",
}
_LENGTHS: Final = ("radiator_m", "top_wire_m", "radial_m", "length_m", "counterpoise_m", "transformer_ratio")
_HEIGHTS: Final = ("coil_height_m", "radial_height_m", "feed_height_m", "height_m", "end_height_m")


def what_matters(spec: AntennaSpec) -> dict[str, str]:
    """The part of a description that a reading is based on, by the keys of `_WORDS`; numbers as text."""
    found: dict[str, float] = {}
    if spec.kind in VERTICALS:
        loaded = spec.kind == "loaded vertical"
        found["radiator_m"] = spec.whip_m if loaded else spec.radiator_m or 0.0
        if loaded:
            found["coil_height_m"] = spec.coil_height_m
        if spec.top_wires:
            found |= {"top_wires": spec.top_wires, "top_wire_m": spec.top_wire_m}
        found["radials"] = spec.radials
        if spec.radials:
            found |= {"radial_m": spec.radial_m or 0.0, "radial_height_m": spec.radial_end_height_m}
        found["feed_height_m"] = spec.feed_height_m
    else:
        found |= {"length_m": spec.length_m or 0.0, "height_m": spec.height_m}
        if spec.end_height_m is not None:
            found["end_height_m"] = spec.end_height_m
        if spec.apex_angle_deg is not None:
            found["apex_angle_deg"] = spec.apex_angle_deg
        if spec.kind == "sloping end-fed":
            found |= {
                "counterpoise_m": spec.counterpoise_m or 0.0,
                "transformer_ratio": spec.ratio,
            }
        elif spec.ratio != 1.0:
            found["transformer_ratio"] = spec.ratio
        if spec.kind == "yagi":
            found["elements"] = spec.elements
    told = {"kind": spec.kind, **{key: f"{value:g}" for key, value in found.items()}}
    if spec.kind in VERTICALS and not spec.radials:
        told["mount"] = spec.mount  # its metal, or the cable, is then the counterpoise
    return told


def setup_text(spec: AntennaSpec) -> str:
    """The part of a description that a reading is based on, in one line, as stored in a reading."""
    return ", ".join(f"{key}={value}" for key, value in what_matters(spec).items())


def _read(text: str) -> dict[str, str]:
    pairs = (part.partition("=") for part in text.split(","))
    return {key.strip(): value.strip() for key, _, value in pairs}


def _same(key: str, one: str, other: str) -> bool:
    try:
        first, second = float(one), float(other)
    except ValueError:
        return one == other
    if key in _LENGTHS:
        return abs(first - second) <= SAME_LENGTH * max(abs(first), abs(second))
    if key in _HEIGHTS:
        return abs(first - second) <= SAME_HEIGHT_M
    return abs(first - second) <= (SAME_ANGLE_DEG if key == "apex_angle_deg" else 0.0)


def changes(reading: Measurement | Mark, spec: AntennaSpec) -> tuple[str, ...]:
    """Changes of the description since a reading was taken, in words; none where the reading still applies.

    A reading without a description applies to the antenna as described.
    """
    if not reading.setup:
        return ()
    then, now = _read(reading.setup), what_matters(spec)
    if then.get("kind") != now["kind"]:
        return (f"{then.get('kind') or 'another antenna'}, now {now['kind']}",)
    told = []
    for key, words in _WORDS.items():
        before, after = then.get(key), now.get(key)
        if before is None and after is None:
            continue
        if before is None or after is None or not _same(key, before, after):
            told.append(f"{words} {_with_unit(key, before)}, now {_with_unit(key, after)}")
    return tuple(told)


def _with_unit(key: str, value: str | None) -> str:
    if value is None:
        return "none"
    if value == "0" and key in ("radiator_m", "radial_m", "length_m", "counterpoise_m"):
        return "cut to the band"
    return f"{value} {'m' if key.endswith('_m') else 'degrees'}" if key.endswith(("_m", "_deg")) else value


def speaks_for(reading: Measurement | Mark, frequency_mhz: float) -> bool:
    """Return whether a reading is from the band of a frequency [MHz], or within 3 % of it."""
    return same_band(reading.frequency_mhz, frequency_mhz)


def same_band(one_mhz: float, other_mhz: float) -> bool:
    """Return whether two frequencies [MHz] are of one band, or within 3 % of each other."""
    band = band_of(other_mhz)
    same = band is not None and band_of(one_mhz) == band
    return same or abs(one_mhz / other_mhz - 1.0) < SAME_BAND


def in_use(spec: AntennaSpec, frequency_mhz: float) -> Measurement | None:
    """The reading of this antenna that applies to a frequency [MHz]: the latest, then the nearest."""
    near = [one for one in spec.measured if speaks_for(one, frequency_mhz) and not changes(one, spec)]
    latest = max((one.date for one in near), default="")
    near = [one for one in near if one.date == latest]
    return min(near, key=lambda one: abs(one.frequency_mhz - frequency_mhz), default=None)


def set_aside(spec: AntennaSpec, frequency_mhz: float) -> tuple[Measurement, ...]:
    """The readings on a frequency [MHz] that were taken with another antenna than the one described."""
    return tuple(one for one in spec.measured if speaks_for(one, frequency_mhz) and changes(one, spec))


def set_aside_words(reading: Measurement, spec: AntennaSpec) -> str:
    """Sentence that a reading is set aside, and why."""
    of = f" of {reading.date}" if reading.date else ""
    band = band_of(reading.frequency_mhz)
    where = f"on {band.name}" if band is not None else f"at {reading.frequency_mhz:g} MHz"
    return (
        f"The reading{of} {where} is set aside: it was taken with another antenna "
        f"({'; '.join(changes(reading, spec))})."
    )


def diagnosis(ratio: float) -> tuple[str, ...]:
    """Usual meaning of a ratio of measured to computed resistance (common practice)."""
    if ratio > AGREEMENT:
        return (
            f"The antenna shows {ratio:.1f} times the resistance its description gives: more is lost than "
            f"that explains. Usual causes: a lossy transformer, radials too few or too short for "
            f"this earth, a coil worse than its stated Q, a poor joint, the cable acting as part of the "
            f"antenna.",
            "A broad, easy dip is the sign of a lossy antenna.",
        )
    if ratio < 1.0 / AGREEMENT:
        return (
            f"The antenna shows only {ratio:.2f} times the resistance its description gives: the connections "
            f"are better than assumed, the coil or the earth better than stated, or a frequency was misread.",
        )
    return ("Measurement and description agree.",)


# --- the list of readings stored with an antenna ----------------------------------------------------------


def stamped(spec: AntennaSpec) -> AntennaSpec:
    """The antenna with a description in every reading: the present one where there is none."""
    return replace(
        spec,
        measured=tuple(one if one.setup else replace(one, setup=setup_text(spec)) for one in spec.measured),
    )


def kept(spec: AntennaSpec, made: Measurement) -> AntennaSpec:
    """The antenna with a new reading, which replaces an earlier one of the same band and antenna."""
    rest = [
        one for one in stamped(spec).measured if not speaks_for(one, made.frequency_mhz) or changes(one, spec)
    ]
    return replace(spec, measured=(*rest, replace(made, setup=setup_text(spec))))


def forgotten(spec: AntennaSpec, frequency_mhz: float) -> AntennaSpec:
    """The antenna without its readings on a frequency [MHz], in use or set aside."""
    return replace(spec, measured=tuple(one for one in spec.measured if not speaks_for(one, frequency_mhz)))


def brought_back(spec: AntennaSpec, frequency_mhz: float) -> AntennaSpec:
    """The antenna with the latest reading set aside on a frequency [MHz] applied to its present description.

    Raises ValueError where none is set aside.
    """
    aside = set_aside(spec, frequency_mhz)
    if not aside:
        raise ValueError("no reading is set aside")
    chosen = max(aside, key=lambda one: one.date)
    without = replace(spec, measured=tuple(one for one in spec.measured if one is not chosen))
    return kept(without, chosen)
