"""National limits that differ from those of the region: the 30 countries with most operators, and more.

Every entry is from memory and may be out of date or wrong: check your licence. An entry holds only the
differences from the region's edges and segments in `bands`, for the highest class of licence. The three
regions are in the list too, for operators who travel or whose country is not in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Final, Literal, TypeAlias

from propagation.base.errors import InputError
from propagation.spectrum.modes import ModeName

FrequencySpan: TypeAlias = tuple[float, float]  # lower and upper edge [MHz]
ItuRegion = Literal[1, 2, 3]
Segments: TypeAlias = Mapping[ModeName, FrequencySpan]

CHECK: Final = "from memory, check your licence"


@dataclass(frozen=True)
class National:
    """The limits of one country where they differ from its region's; from memory, check your licence.

    `spans_mhz` replaces the region's edges on a band (several spans where channels are given; an empty tuple
    where the band may not be used); `segments_mhz` replaces single mode segments. `iso`: the code of the
    country, two letters, empty for a region; `others`: names it also goes by.
    """

    name: str
    region: ItuRegion
    spans_mhz: Mapping[str, tuple[FrequencySpan, ...]] = field(default_factory=dict)
    segments_mhz: Mapping[str, Segments] = field(default_factory=dict)
    note: str = ""
    iso: str = ""
    others: tuple[str, ...] = ()

    @property
    def told(self) -> str:
        """Name with its note and its reliability."""
        note = f"{self.note}; " if self.note else ""
        return f"{self.name} ({note}{CHECK})"


_SECONDARY_60M: Final = "60 m with 15 W e.i.r.p."
_CHANNELS_60M: Final = (
    (5.3306, 5.3334), (5.3466, 5.3494), (5.3571, 5.3599), (5.3716, 5.3744), (5.4036, 5.4064),
)  # fmt: skip
_ONLY_144_TO_146: Final = {"2m": ((144.000, 146.000),)}
_NO_60M: Final[Mapping[str, tuple[FrequencySpan, ...]]] = {"60m": ()}

# All entries are from memory; check your licence. Only what differs from the region is listed.
NATIONAL: Final[tuple[National, ...]] = (
    National("Region 1", 1, note="Europe, Africa, the Middle East, northern Asia"),
    National("Region 2", 2, note="the Americas"),
    National("Region 3", 3, note="southern Asia, Australia, Oceania"),
    National("Argentina", 2, iso="AR", note=_SECONDARY_60M),
    National(
        "Australia", 3, iso="AU",
        spans_mhz={
            "160m": ((1.800, 1.875),), "80m": ((3.500, 3.700), (3.776, 3.800)), "60m": (),
            "40m": ((7.000, 7.300),),
        },
        segments_mhz={"40m": {"SSB": (7.060, 7.300)}},
        note="no 60 m",
    ),
    National("Austria", 1, iso="AT", spans_mhz={"160m": ((1.810, 1.950),)}, note=_SECONDARY_60M),
    National("Belgium", 1, iso="BE", note=_SECONDARY_60M),
    National("Brazil", 2, iso="BR", note=_SECONDARY_60M),
    National(
        "Canada", 2, iso="CA",
        spans_mhz={"60m": (*_CHANNELS_60M[:2], (5.3515, 5.3665), *_CHANNELS_60M[3:])},
        note="60 m in channels next to the common part",
    ),
    National("Chile", 2, iso="CL", note=_SECONDARY_60M),
    National("China", 3, iso="CN", note=_SECONDARY_60M),
    National("Czechia", 1, iso="CZ", others=("Czech Republic",), note=_SECONDARY_60M),
    National("Denmark", 1, iso="DK", spans_mhz={"60m": ((5.250, 5.450),)}, note="a wider 60 m"),
    National(
        "Finland", 1, iso="FI",
        spans_mhz={"160m": ((1.810, 1.855), (1.861, 1.906), (1.912, 2.000))},
        note="160 m in three parts",
    ),
    National("France", 1, iso="FR", note=_SECONDARY_60M),
    National("Germany", 1, iso="DE", note="60 m with 15 W e.i.r.p., 6 m with less power"),
    National("Greece", 1, iso="GR", note="6 m with less power"),
    National(
        "India", 3, iso="IN",
        spans_mhz={"160m": ((1.820, 1.860),), "80m": ((3.500, 3.700), (3.890, 3.900)), **_ONLY_144_TO_146},
        note=_SECONDARY_60M,
    ),
    National("Indonesia", 3, iso="ID", note=_SECONDARY_60M),
    National(
        "Italy", 1, iso="IT", spans_mhz={"160m": ((1.830, 1.850),), "6m": ((50.000, 51.000),)},
        note="160 m and 6 m are narrower than elsewhere",
    ),
    National(
        "Japan", 3, iso="JP",
        spans_mhz={
            "160m": ((1.800, 1.875), (1.9075, 1.9125)),
            "80m": (
                (3.500, 3.580), (3.599, 3.612), (3.662, 3.687), (3.702, 3.716), (3.745, 3.770),
                (3.791, 3.805),
            ),
            **_NO_60M, **_ONLY_144_TO_146,
        },
        note="80 m in parts, no 60 m",
    ),
    National("Netherlands", 1, iso="NL", spans_mhz={"60m": ((5.350, 5.450),)}, note="60 m to 5.450"),
    National("Poland", 1, iso="PL", note=_SECONDARY_60M),
    National(
        "Russia", 1, iso="RU", others=("Russian Federation",), spans_mhz={"6m": ((50.080, 50.280),)},
        note="6 m is narrow",
    ),
    National(
        "South Africa", 1, iso="ZA",
        spans_mhz={"6m": ((50.000, 54.000),)},
        segments_mhz={"30m": {"SSB": (10.120, 10.140)}},
        note="voice on 30 m by daylight only, south of the equator",
    ),
    National(
        "South Korea", 3, iso="KR", others=("Korea",),
        spans_mhz={"160m": ((1.800, 1.825),), "80m": ((3.500, 3.550), (3.790, 3.800)), **_ONLY_144_TO_146},
        note="80 m in two narrow parts",
    ),
    National("Spain", 1, iso="ES", note=_SECONDARY_60M),
    National(
        "Sweden", 1, iso="SE", spans_mhz={"160m": ((1.810, 1.850), (1.930, 2.000))}, note="160 m in two parts"
    ),
    National("Switzerland", 1, iso="CH", note=_SECONDARY_60M),
    National("Taiwan", 3, iso="TW", spans_mhz=_ONLY_144_TO_146),
    National("Thailand", 3, iso="TH", spans_mhz={"2m": ((144.000, 147.000),)}),
    National(
        "UK", 1, iso="GB", others=("United Kingdom", "Great Britain"),
        spans_mhz={
            "60m": (
                (5.2585, 5.2640), (5.2760, 5.2840), (5.2885, 5.2920), (5.2980, 5.3070), (5.3130, 5.3230),
                (5.3330, 5.3380), (5.3540, 5.3580), (5.3620, 5.3745), (5.3780, 5.3820), (5.3950, 5.4015),
                (5.4035, 5.4065),
            ),
        },
        segments_mhz={"60m": {"SSB": (5.3620, 5.3745), "CW": (5.3540, 5.3580), "DIGITAL": (5.3540, 5.3580)}},
        note="60 m is for full licences",
    ),
    National("Ukraine", 1, iso="UA", spans_mhz={**_NO_60M, "6m": ((50.080, 50.280),)}, note="no 60 m"),
    National(
        "Uruguay", 2, iso="UY",
        spans_mhz={"160m": ((1.800, 1.850),), "80m": ((3.500, 3.750), (3.790, 3.800))},
        note="intermediate classes have less",
    ),
    National(
        "USA", 2, iso="US", others=("United States", "United States of America"),
        spans_mhz={"60m": _CHANNELS_60M},
        segments_mhz={
            "80m": {"SSB": (3.600, 4.000)},
            "60m": {"SSB": (5.3571, 5.3599), "CW": (5.3571, 5.3599), "DIGITAL": (5.3571, 5.3599)},
            "40m": {"SSB": (7.125, 7.300)},
            "20m": {"SSB": (14.150, 14.350)},
            "17m": {"SSB": (18.110, 18.168)},
            "15m": {"SSB": (21.200, 21.450)},
            "12m": {"SSB": (24.930, 24.990)},
            "10m": {"SSB": (28.300, 29.700)},
        },
        note="voice segments of the highest class; lower classes have less",
    ),
)  # fmt: skip


def national_by_name(name: str) -> National:
    """The national limits of that name, in any case. Raises InputError naming the nearest if unknown."""
    wanted = name.strip().lower()
    for national in NATIONAL:
        if wanted in (national.name.lower(), *(other.lower() for other in national.others)):
            return national
    names = [national.name for national in NATIONAL]
    near = get_close_matches(name, names, n=1, cutoff=0.5)
    hint = f"The nearest is {near[0]!r}." if near else f"Known are {', '.join(names)}."
    raise InputError(f"No national limits are known for {name!r}. {hint}")
