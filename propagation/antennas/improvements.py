"""Single changes to an antenna, its line or its site: the gain of each per band, and its value for a day."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np

from propagation.antennas.factory import build
from propagation.antennas.spec import MOUNT_HEIGHT_M, SAID_TO_LIE_M, VERTICALS, AntennaSpec, FeedlineSpec
from propagation.base.units import FloatArray, as_float
from propagation.geo.ground import GROUNDS, Ground, GroundName

WORTH_JUDGING_DB: Final = 0.2  # dB on some band; a change that gains less is not evaluated over the day
MANY_RAISED: Final = 32  # raised radials, from which four more gain less than 0.05 dB below 30 MHz (ours)
MANY_LYING: Final = 120  # likewise on the ground; the most that stations are described with is twice that
ELEVATIONS_DEG: Final = (5.0, 10.0, 15.0, 20.0, 30.0)  # deg, usual take-off angles of sky-wave contacts
SHORTEST_LINE_M: Final = 3.0  # m; a rig is no nearer to a portable antenna than this (ours)
SHORE: Final[GroundName] = "sea"


@dataclass(frozen=True)
class DayWorth:
    """Value of a day with an antenna: hours of contact with a place, contacts with a region.

    Also its best window in words.
    """

    total: float
    best_window: str = ""
    region: bool = False


@dataclass(frozen=True)
class Candidate:
    """Practicable change: what to do, and the antenna and line with it.

    ground: kind of ground of another site, None at this one. computed: whether its effect is part of the
    model; a choke is assumed in every figure.
    """

    change: str
    spec: AntennaSpec
    feedline: FeedlineSpec
    ground: GroundName | None = None
    computed: bool = True


Evaluate: TypeAlias = Callable[[Candidate], DayWorth]


@dataclass(frozen=True)
class Improvement:
    """Candidate with its gain on each frequency [dB], and the day without and with it, where evaluated."""

    candidate: Candidate
    gain_db: FloatArray
    before: DayWorth | None = None
    after: DayWorth | None = None

    @property
    def change(self) -> str:
        """What to do."""
        return self.candidate.change

    @property
    def mean_db(self) -> float:
        """Mean over the frequencies [dB]."""
        return float(self.gain_db.mean())

    @property
    def won(self) -> float | None:
        """What the day gains: hours of contact with a place, contacts with a region; None if unknown."""
        return None if self.before is None or self.after is None else self.after.total - self.before.total


def more_radials(spec: AntennaSpec) -> int | None:
    """Practicable larger number of radials; None where more gain nothing, or there are none to add to."""
    if spec.kind not in VERTICALS or spec.radials >= (MANY_LYING if _lie(spec) else MANY_RAISED):
        return None
    return max(8, 2 * spec.radials) if _lie(spec) else max(4, spec.radials + 4)


def _lie(spec: AntennaSpec) -> bool:
    return spec.radial_end_height_m <= SAID_TO_LIE_M


def candidates(
    spec: AntennaSpec, line: FeedlineSpec, ground: str = "", takeoff_deg: float | None = None
) -> list[Candidate]:
    """The practicable changes for the kind of antenna.

    ground: name of the present one. takeoff_deg: that of the target, for which a whip's length is chosen.
    """
    if spec.kind == "isotropic":
        return []
    found = [Candidate(change, changed, line) for change, changed in _of_antenna(spec, takeoff_deg)]
    found += [Candidate(change, spec, changed) for change, changed in _of_line(spec, line)]
    if spec.kind in VERTICALS and not line.choke:
        choked = replace(line, choke=True)
        found.append(Candidate("a choke on the line, at the antenna", spec, choked, computed=False))
    if spec.kind != "table" and ground != SHORE:
        found.append(Candidate("the antenna over salt water, at the sea shore", spec, line, SHORE))
    return found


Changes: TypeAlias = Iterator[tuple[str, AntennaSpec]]


def _of_antenna(spec: AntennaSpec, takeoff_deg: float | None) -> Changes:
    if spec.kind in VERTICALS:
        yield from _of_radials(spec)
        yield from _of_length(spec, takeoff_deg)
        if spec.kind == "loaded vertical":
            yield from _of_coil(spec)
        if spec.mount != "vehicle":
            roof = replace(spec, mount="vehicle", radials=0, base_height_m=1.5, radial_height_m=1.5)
            yield "the mount on a vehicle's roof", roof
    elif spec.kind != "table":
        higher = spec.height_m + 3.0
        yield f"{higher:g} m high instead of {spec.height_m:g} m", replace(spec, height_m=higher)
        if spec.kind == "sloping end-fed" and spec.counterpoise_m is not None:
            cut = replace(spec, counterpoise_m=None)
            yield f"a counterpoise cut to the band instead of {spec.counterpoise_m:g} m", cut


def _of_radials(spec: AntennaSpec) -> Changes:
    height, lying, more = spec.feed_height_m, _lie(spec), more_radials(spec)
    if more is not None:
        one = spec.radials + 1
        numbers = (more, f"{more} radials"), (one, f"{one} radial{'s' if one > 1 else ''}")
        for number, words in numbers if more > one else numbers[:1]:
            yield f"{words} instead of {spec.radials}", replace(spec, radials=number)
    if spec.radial_m is not None:
        long = f"instead of {spec.radial_m:g} m"
        yield f"radials of {2 * spec.radial_m:g} m {long}", replace(spec, radial_m=2 * spec.radial_m)
        yield f"radials cut to a quarter wave on each band {long}", replace(spec, radial_m=None)
    raised = MOUNT_HEIGHT_M["tripod"] if height < 0.5 else height + 0.75
    up = replace(spec, base_height_m=raised, radial_height_m=raised)
    yield f"base and radials raised to {raised:g} m", up
    if height > 0.1 and lying:
        off = replace(spec, radial_height_m=height, base_height_m=height)
        yield f"radials off the ground, at {height:g} m", off
    elif height > 0.1:
        laid = replace(spec, radial_height_m=0.0, base_height_m=height)
        yield "radials laid on the ground instead of raised", laid


def _of_length(spec: AntennaSpec, takeoff_deg: float | None) -> Changes:
    """Whip longer, pushed out or in."""
    full, shortest = spec.longest_m, spec.pushed_in_m
    if full is None:
        return
    if spec.kind == "loaded vertical":
        longer = round(1.5 * full, 2)
        yield f"a radiator of {longer:g} m instead of {full:g} m", replace(spec, radiator_m=longer)
    if shortest is None:
        yield "a telescopic radiator, pushed in where it is too long", replace(spec, telescopic=True)
    elif shortest < full:
        yield f"the whip pushed out to its full {full:g} m on each band", replace(spec, telescopic=False)
        if takeoff_deg is not None:
            angle = float(round(takeoff_deg))
            aimed = replace(spec, takeoff_deg=min(max(angle, 1.0), 90.0))
            yield f"the whip's length chosen for a take-off of {angle:.0f} degrees", aimed


def _of_coil(spec: AntennaSpec) -> Changes:
    better = replace(spec, coil_q=2 * spec.coil_q)
    yield f"a coil of Q {2 * spec.coil_q:g} instead of {spec.coil_q:g}", better
    if spec.coil_height_m < 0.25 * spec.whip_m:
        half = round(0.5 * spec.whip_m, 2)
        yield "the coil half-way up the radiator", replace(spec, coil_height_m=half)
    if not spec.top_wires:
        yield "four top wires of 0.5 m", replace(spec, top_wires=4, top_wire_m=0.5)


def _of_line(spec: AntennaSpec, line: FeedlineSpec) -> Iterator[tuple[str, FeedlineSpec]]:
    if line.length_m > 2.0 and line.cable != "RG-213" and not line.matched_loss_db_per_100m:
        yield f"RG-213 instead of {line.cable}", replace(line, cable="RG-213")
    shorter = max(round(line.length_m / 2.0, 1), SHORTEST_LINE_M)
    if shorter < line.length_m:
        yield f"{shorter:g} m of line instead of {line.length_m:g} m", replace(line, length_m=shorter)


def _delivered_db(
    one: Candidate, ground: Ground, frequencies: FloatArray, takeoff_deg: FloatArray | None
) -> FloatArray:
    """Gain less the loss between rig and antenna [dB], for each frequency.

    takeoff_deg: angle of each frequency; NaN or None: mean at the usual low ones.
    """
    antenna = build(one.spec, ground if one.ground is None else GROUNDS[one.ground], one.feedline)
    low = antenna.gain_dbi(frequencies[:, None], np.array(ELEVATIONS_DEG))
    gain = 10.0 * np.log10(np.mean(10.0 ** (low / 10.0), axis=1))
    if takeoff_deg is not None:
        known = np.isfinite(takeoff_deg)
        gain = np.where(known, antenna.gain_dbi(frequencies, np.where(known, takeoff_deg, 0.0)), gain)
    return as_float(gain - as_float([antenna.spent_db(f) for f in frequencies.tolist()]))


def improvements(
    spec: AntennaSpec,
    ground: Ground,
    line: FeedlineSpec,
    frequencies_mhz: Sequence[float],
    evaluate: Evaluate | None = None,
    progress: Callable[[int, int], None] | None = None,
    takeoff_deg: FloatArray | None = None,
) -> list[Improvement]:
    """The single changes, best first: by what the day gains where `evaluate` is given, else by mean dB.

    The comparison is between computed antennas. Measurements stored with the antenna are ignored, since they
    apply to it as described. evaluate: gives the value of a day with a change. Changes that gain less than
    `WORTH_JUDGING_DB` everywhere are not evaluated (`after` stays None) and come after those that are; last
    those without figures. progress is called with the changes computed and their total, the antenna as it is
    among them. takeoff_deg: that of the target on each frequency, at which the gain is taken; its median
    chooses a whip's length.
    """
    frequencies = as_float(frequencies_mhz)
    known = np.empty(0) if takeoff_deg is None else takeoff_deg[np.isfinite(takeoff_deg)]
    present = Candidate("", replace(spec, measured=()), line)
    wanted = candidates(present.spec, line, ground.name, float(np.median(known)) if known.size else None)
    now_db = _delivered_db(present, ground, frequencies, takeoff_deg)
    now = None if evaluate is None else evaluate(present)
    found = []
    for number, one in enumerate(wanted, 1):
        if progress is not None:
            progress(number, len(wanted) + 1)
        if not one.computed:
            found.append(Improvement(one, np.full(frequencies.shape, np.nan), now))
            continue
        gain_db = _delivered_db(one, ground, frequencies, takeoff_deg) - now_db
        judged = evaluate is not None and float(gain_db.max()) >= WORTH_JUDGING_DB
        after = evaluate(one) if evaluate is not None and judged else None
        found.append(Improvement(one, gain_db, now, after))

    def worth(one: Improvement) -> tuple[bool, float, float]:
        total = -1.0 if one.after is None else one.after.total
        return (one.candidate.computed, total, one.mean_db if one.candidate.computed else 0.0)

    return sorted(found, key=worth, reverse=True)
