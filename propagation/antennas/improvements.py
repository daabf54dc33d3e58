"""Single changes to an antenna: the gain of each per band, and its value for the day's windows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np

from propagation.antennas.factory import build
from propagation.antennas.spec import MOUNT_HEIGHT_M, SAID_TO_LIE_M, VERTICALS, AntennaSpec, FeedlineSpec
from propagation.base.units import FloatArray, as_float
from propagation.geo.ground import Ground

WORTH_JUDGING_DB: Final = 0.2  # dB on some band; a change that gains less is not evaluated over the day
MANY_RAISED: Final = 32  # raised radials, from which four more gain less than 0.05 dB below 30 MHz (ours)
MANY_LYING: Final = 120  # likewise on the ground; the most that stations are described with is twice that
ELEVATIONS_DEG: Final = (5.0, 10.0, 15.0, 20.0, 30.0)  # deg, usual take-off angles of sky-wave contacts


@dataclass(frozen=True)
class DayWorth:
    """Worth of a day with an antenna: hours of contact with a place, contacts with a region.

    best_window: the day's best window in words.
    """

    total: float
    best_window: str = ""
    region: bool = False


Evaluate: TypeAlias = Callable[[AntennaSpec, FeedlineSpec], DayWorth]


@dataclass(frozen=True)
class Improvement:
    """Change to an antenna: what to do, the changed antenna and line, and its gain on each frequency [dB]."""

    change: str
    spec: AntennaSpec
    feedline: FeedlineSpec
    gain_db: FloatArray
    before: DayWorth | None = None
    after: DayWorth | None = None

    @property
    def mean_db(self) -> float:
        """Mean over the frequencies [dB]."""
        return float(self.gain_db.mean())


def candidates(spec: AntennaSpec, line: FeedlineSpec) -> list[tuple[str, AntennaSpec, FeedlineSpec]]:
    """The practicable changes for the kind of antenna: words, antenna, line."""
    found: list[tuple[str, AntennaSpec, FeedlineSpec]] = []

    def add(change: str, **fields: object) -> None:
        found.append((change, replace(spec, **fields), line))  # type: ignore[arg-type]

    if spec.kind in VERTICALS:
        height = spec.feed_height_m
        lying = spec.radial_end_height_m <= SAID_TO_LIE_M
        if spec.radials < (MANY_LYING if lying else MANY_RAISED):
            more = max(4, spec.radials + 4) if not lying else max(8, 2 * spec.radials)
            add(f"{more} radials instead of {spec.radials}", radials=more)
        if spec.radial_m is not None:
            add(
                f"radials of {2 * spec.radial_m:g} m instead of {spec.radial_m:g} m",
                radial_m=2 * spec.radial_m,
            )
        raised = MOUNT_HEIGHT_M["tripod"] if height < 0.5 else height + 0.75
        add(f"base and radials raised to {raised:g} m", base_height_m=raised, radial_height_m=raised)
        if height > 0.1 and not lying:
            add("radials laid on the ground instead of raised", radial_height_m=0.0, base_height_m=height)
        whip = spec.radiator_m if spec.radiator_m is not None else spec.whip_m
        if spec.kind == "loaded vertical":
            longer = round(1.5 * whip, 2)
            add(f"a radiator of {longer:g} m instead of {whip:g} m", radiator_m=longer)
            add(f"a coil of Q {2 * spec.coil_q:g} instead of {spec.coil_q:g}", coil_q=2 * spec.coil_q)
            if spec.coil_height_m < 0.25 * whip:
                add("the coil half-way up the radiator", coil_height_m=round(0.5 * whip, 2))
            if not spec.top_wires:
                add("four top wires of 0.5 m", top_wires=4, top_wire_m=0.5)
        if spec.mount != "vehicle":
            add(
                "the mount on a vehicle's roof",
                mount="vehicle", radials=0, base_height_m=1.5, radial_height_m=1.5,
            )  # fmt: skip
    elif spec.kind not in ("table", "isotropic"):
        add(f"{spec.height_m + 3:g} m high instead of {spec.height_m:g} m", height_m=spec.height_m + 3.0)
    if line.length_m > 2.0 and line.cable != "RG-213" and not line.matched_loss_db_per_100m:
        found.append((f"RG-213 instead of {line.cable}", spec, replace(line, cable="RG-213")))
    return found


def _delivered_db(
    spec: AntennaSpec, ground: Ground, line: FeedlineSpec, frequencies: FloatArray
) -> FloatArray:
    """Mean gain at low take-off angles minus the loss between rig and antenna [dB], for each frequency."""
    antenna = build(spec, ground, line)
    gain = antenna.gain_dbi(frequencies[:, None], np.array(ELEVATIONS_DEG))
    loss = [antenna.spent_db(f) for f in frequencies.tolist()]
    return as_float(10.0 * np.log10(np.mean(10.0 ** (gain / 10.0), axis=1)) - as_float(loss))


def improvements(
    spec: AntennaSpec,
    ground: Ground,
    line: FeedlineSpec,
    frequencies_mhz: Sequence[float],
    evaluate: Evaluate | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[Improvement]:
    """The single changes, best first: by hours of contact where `evaluate` is given, else by mean dB.

    The comparison is between computed antennas. Measurements stored with the antenna are ignored, since they
    apply to it as described. evaluate: gives the value of a day with an antenna and line. Changes that gain
    less than `WORTH_JUDGING_DB` everywhere are not evaluated (`after` stays None) and come last. progress is
    called with the changes computed and their total, the antenna as it is among them.
    """
    frequencies = as_float(frequencies_mhz)
    plain = replace(spec, measured=())
    now_db = _delivered_db(plain, ground, line, frequencies)
    now = None if evaluate is None else evaluate(plain, line)
    found = []
    wanted = candidates(plain, line)
    for number, (change, changed, changed_line) in enumerate(wanted, 1):
        if progress is not None:
            progress(number, len(wanted) + 1)
        gain_db = _delivered_db(changed, ground, changed_line, frequencies) - now_db
        judged = evaluate is not None and float(gain_db.max()) >= WORTH_JUDGING_DB
        after = evaluate(changed, changed_line) if evaluate is not None and judged else None
        found.append(Improvement(change, changed, changed_line, gain_db, now, after))

    def worth(improvement: Improvement) -> tuple[float, float]:
        hours = -1.0 if improvement.after is None else improvement.after.total
        return (hours, improvement.mean_db)

    return sorted(found, key=worth, reverse=True)
