"""The amateur bands from 160 m to 2 m: edges by ITU region, and the segment of each mode.

All edges and segments are from memory: of the Radio Regulations (Article 5) for the edges, of the structure
of the three regional amateur band plans for the segments. National limits are in `national`. The data serve
to choose a frequency for the computation and to exclude what a licence plainly excludes. They do not replace
the licence: check your own before transmitting.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final

from propagation.base.errors import InputError
from propagation.spectrum.modes import Mode
from propagation.spectrum.modes import by_name as mode_by_name
from propagation.spectrum.national import FrequencySpan, ItuRegion, National, Segments

LICENCE_REMINDER: Final = (
    "Band edges and national limits are from memory; your licence decides what you may use."
)


@dataclass(frozen=True)
class Band:
    """Amateur band: `edges_mhz` and `segments_mhz` hold one entry for each of the ITU regions 1, 2, 3.

    on_air: activity on the band relative to the other bands; above 0.
    """

    name: str
    on_air: float
    edges_mhz: tuple[FrequencySpan, FrequencySpan, FrequencySpan]
    segments_mhz: tuple[Segments, Segments, Segments]
    note: str = ""

    def __post_init__(self) -> None:
        if not self.on_air > 0.0:
            raise ValueError(f"{self.name}: give how many are on the air there, against the other bands.")

    def edges(self, region: int) -> FrequencySpan:
        """Lower and upper edge [MHz] in an ITU region."""
        return self.edges_mhz[_index(region)]

    @property
    def widest_mhz(self) -> FrequencySpan:
        """The lowest lower and the highest upper edge [MHz] over the three regions."""
        return min(low for low, _ in self.edges_mhz), max(high for _, high in self.edges_mhz)


def _index(region: int) -> int:
    if region not in (1, 2, 3):
        raise InputError(f"There is no ITU region {region}; give 1, 2 or 3.")
    return region - 1


def _everywhere(name: str, on_air: float, edges: FrequencySpan, segments: Segments, note: str = "") -> Band:
    return Band(name, on_air, (edges, edges, edges), (segments, segments, segments), note)


# Edges from memory of Article 5, segments from memory of the regional band plans, all in MHz. The first
# number of a band is `on_air`: common practice, no source; of all twelve they sum to one.
BANDS: Final[tuple[Band, ...]] = (
    Band(
        "160m",
        0.03,
        ((1.810, 2.000), (1.800, 2.000), (1.800, 2.000)),
        (
            {"CW": (1.810, 1.838), "DIGITAL": (1.838, 1.843), "SSB": (1.843, 2.000)},
            {"DIGITAL": (1.800, 1.810), "CW": (1.810, 1.840), "SSB": (1.840, 2.000)},
            {"CW": (1.800, 1.836), "DIGITAL": (1.836, 1.840), "SSB": (1.840, 2.000)},
        ),
    ),
    Band(
        "80m",
        0.11,
        ((3.500, 3.800), (3.500, 4.000), (3.500, 3.900)),
        (
            {"CW": (3.500, 3.570), "DIGITAL": (3.570, 3.600), "SSB": (3.600, 3.800)},
            {"CW": (3.500, 3.570), "DIGITAL": (3.570, 3.600), "SSB": (3.600, 4.000)},
            {"CW": (3.500, 3.535), "DIGITAL": (3.570, 3.590), "SSB": (3.590, 3.900)},
        ),
    ),
    _everywhere(
        "60m",
        0.02,
        (5.3515, 5.3665),
        {"CW": (5.3515, 5.354), "DIGITAL": (5.3515, 5.354), "SSB": (5.354, 5.366)},
        "secondary, 15 W e.i.r.p. in most of the world",
    ),
    Band(
        "40m",
        0.24,
        ((7.000, 7.200), (7.000, 7.300), (7.000, 7.200)),
        (
            {"CW": (7.000, 7.040), "DIGITAL": (7.040, 7.060), "SSB": (7.060, 7.200)},
            {"CW": (7.000, 7.040), "DIGITAL": (7.040, 7.060), "SSB": (7.060, 7.300)},
            {"CW": (7.000, 7.030), "DIGITAL": (7.030, 7.060), "SSB": (7.060, 7.200)},
        ),
    ),
    _everywhere(
        "30m",
        0.06,
        (10.100, 10.150),
        {"CW": (10.100, 10.130), "DIGITAL": (10.130, 10.150)},
        "secondary; the band plans keep voice out",
    ),
    _everywhere(
        "20m",
        0.28,
        (14.000, 14.350),
        {"CW": (14.000, 14.070), "DIGITAL": (14.070, 14.099), "SSB": (14.112, 14.350)},
    ),
    _everywhere(
        "17m",
        0.08,
        (18.068, 18.168),
        {"CW": (18.068, 18.095), "DIGITAL": (18.095, 18.109), "SSB": (18.111, 18.168)},
    ),
    _everywhere(
        "15m",
        0.08,
        (21.000, 21.450),
        {"CW": (21.000, 21.070), "DIGITAL": (21.070, 21.149), "SSB": (21.151, 21.450)},
    ),
    _everywhere(
        "12m",
        0.02,
        (24.890, 24.990),
        {"CW": (24.890, 24.915), "DIGITAL": (24.915, 24.929), "SSB": (24.931, 24.990)},
    ),
    _everywhere(
        "10m",
        0.05,
        (28.000, 29.700),
        {
            "CW": (28.000, 28.070), "DIGITAL": (28.070, 28.190), "SSB": (28.300, 29.000),
            "FM": (29.510, 29.700),
        },
    ),
    Band(
        "6m",
        0.01,
        ((50.000, 52.000), (50.000, 54.000), (50.000, 54.000)),
        (
            {"CW": (50.000, 50.100), "SSB": (50.100, 50.300), "DIGITAL": (50.300, 50.400),
             "FM": (51.410, 51.590)},
            {"CW": (50.000, 50.100), "SSB": (50.100, 50.300), "DIGITAL": (50.300, 50.400),
             "FM": (52.000, 54.000)},
            {"CW": (50.000, 50.100), "SSB": (50.100, 50.300), "DIGITAL": (50.300, 50.400),
             "FM": (52.000, 54.000)},
        ),
        "in region 1 many countries allow only a part",
    ),
    Band(
        "2m",
        0.02,
        ((144.000, 146.000), (144.000, 148.000), (144.000, 148.000)),
        (
            {"CW": (144.025, 144.110), "DIGITAL": (144.110, 144.150), "SSB": (144.150, 144.400),
             "FM": (145.200, 145.590)},
            {"CW": (144.025, 144.100), "SSB": (144.100, 144.275), "DIGITAL": (144.110, 144.180),
             "FM": (146.400, 146.600)},
            {"CW": (144.025, 144.100), "SSB": (144.100, 144.400), "DIGITAL": (144.110, 144.180),
             "FM": (145.000, 146.000)},
        ),
    ),
)  # fmt: skip

BAND_NAMES: Final[tuple[str, ...]] = tuple(band.name for band in BANDS)

LONGEST_NUMBER: Final = 6  # digits of a band's name
_FIGURE: Final = re.compile(r"^\s*(\d*\.?\d+)\s*(mhz|khz|m|metres?|meters?|)\s*$", re.IGNORECASE)
_DIGITS: Final = re.compile(r"^\s*(\d+)\s*(?:m|metres?|meters?)?\s*$", re.IGNORECASE)


def by_name(name: str) -> Band:
    """The band of that name: `20m`, `20 m` or `20`. Raises InputError naming the nearest if there is none."""
    match = _DIGITS.match(name)
    wanted = f"{int(match[1])}m" if match and len(match[1]) <= LONGEST_NUMBER else name.strip().lower()
    for band in BANDS:
        if band.name == wanted:
            return band
    raise InputError(f"There is no band {name!r}.{_band_meant(name)} The bands are {', '.join(BAND_NAMES)}.")


def _band_meant(name: str) -> str:
    """Sentence on the band probably meant by a wrong name, with a blank before it; empty if unknown.

    A number with MHz or kHz, or with a decimal point, is a frequency; with m, or alone, a wavelength.
    """
    found = _FIGURE.match(name)
    if found is None:
        near = get_close_matches(name.strip().lower(), BAND_NAMES, n=1, cutoff=0.5)
        return f" The nearest is {near[0]}." if near else ""
    value, unit = float(found[1]), found[2].lower()
    if unit == "khz" or (not unit and value >= 1000.0):
        value, unit = value / 1000.0, "mhz"
    if unit == "mhz" or (not unit and "." in found[1]):
        for band in BANDS:
            low, high = band.widest_mhz
            if low <= value <= high:
                return f" {value:g} MHz is in {band.name}: write that."
        distance = [min(abs(math.log(value / edge)) for edge in band.widest_mhz) for band in BANDS]
        return f" The band nearest to {value:g} MHz is {BANDS[distance.index(min(distance))].name}."
    metres = [float(band.name.removesuffix("m")) for band in BANDS]
    below = max((one for one in metres if one < value), default=None)
    above = min((one for one in metres if one > value), default=None)
    around = [f"{one:g}m" for one in (above, below) if one is not None]
    return f" The nearest {'are' if len(around) == 2 else 'is'} {' and '.join(around)}."


def spans_mhz(band: Band, region: int, national: National | None = None) -> tuple[FrequencySpan, ...]:
    """The spans of a band [MHz] that the region, or the country where one is given, allows; may be empty."""
    if national is not None and band.name in national.spans_mhz:
        return national.spans_mhz[band.name]
    return (band.edges(region if national is None else national.region),)


def segment_mhz(
    band: Band, region: int, mode: Mode | str, national: National | None = None
) -> FrequencySpan | None:
    """Segment of a band where a mode is usually used.

    Parameters: a band, the ITU region 1 to 3, a mode or its name, and optionally a country's limits.
    Returns lower and upper edge [MHz] within the allowed spans, or None where the mode has no segment.
    """
    name = mode.name if isinstance(mode, Mode) else mode_by_name(mode).name
    allowed = spans_mhz(band, region, national)
    where = region if national is None else national.region
    segment = band.segments_mhz[_index(where)].get(name)
    if national is not None:
        segment = national.segments_mhz.get(band.name, {}).get(name, segment)
    if segment is None:
        return None
    parts = [(max(low, segment[0]), min(high, segment[1])) for low, high in allowed]
    parts = [(low, high) for low, high in parts if high > low]
    return max(parts, key=lambda part: part[1] - part[0]) if parts else None


def usable(band: Band, region: int, mode: Mode | str, national: National | None = None) -> bool:
    """Return whether the region or licence has a segment for the mode on the band."""
    return segment_mhz(band, region, mode, national) is not None


def centre_mhz(band: Band, region: int, mode: Mode | str, national: National | None = None) -> float:
    """Frequency [MHz] for computing a band: the middle of the mode's segment, to the kilohertz.

    Where the mode has no segment (`usable` is False), it is the middle of the band. Propagation can then
    still be shown.
    """
    segment = segment_mhz(band, region, mode, national)
    if segment is None:
        allowed = spans_mhz(band, region, national)
        segment = max(allowed, key=lambda span: span[1] - span[0]) if allowed else band.edges(region)
    return round((segment[0] + segment[1]) / 2.0, 3)


def band_of(frequency_mhz: float, region: int | None = None) -> Band | None:
    """The band that contains a frequency [MHz], edges included; without a region, in any of the three."""
    for band in BANDS:
        low, high = band.widest_mhz if region is None else band.edges(region)
        if low <= frequency_mhz <= high:
            return band
    return None


def itu_region(lat_deg: float, lon_deg: float) -> ItuRegion:
    """The ITU region of a place, east longitude positive; coarse, and the station file may override it.

    The three dividing lines of the Radio Regulations as straight lines in latitude and longitude, and the
    northern Asian countries of region 1 as a box (from memory).
    """
    lon = (lon_deg + 180.0) % 360.0 - 180.0
    if lat_deg >= 72.0:
        west = -10.0
    elif lat_deg >= 40.0:
        west = -50.0 + (lat_deg - 40.0) * 40.0 / 32.0
    elif lat_deg >= -10.0:
        west = -20.0 - (lat_deg + 10.0) * 30.0 / 50.0
    else:
        west = -20.0
    if lat_deg >= 40.0:
        east = 40.0
    elif lat_deg >= 23.5:
        east = 40.0 + (40.0 - lat_deg) * 20.0 / 16.5
    else:
        east = 60.0
    if lat_deg >= 50.0:
        pacific = -169.0
    elif lat_deg >= 10.0:
        pacific = -170.0
    else:
        pacific = -120.0
    if pacific <= lon < west:
        return 2
    if west <= lon <= east:
        return 1
    northern_asia = lat_deg >= 50.0 or (lat_deg >= 42.0 and lon <= 120.0 and lon > 0.0)
    central_asia = 37.0 <= lat_deg < 42.0 and 52.0 <= lon <= 75.0
    return 1 if northern_asia or central_asia else 3
