"""Setup card: first settings for each band, before the analyser is switched on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from propagation.antennas.dipoles import HALF_WAVE
from propagation.antennas.factory import build
from propagation.antennas.marks import BandMark, mark_for
from propagation.antennas.spec import MOUNT_HEIGHT_M, VERTICALS, AntennaSpec, FeedlineSpec
from propagation.antennas.vertical import radial_length_m
from propagation.antennas.wire_antenna import wavelength_m
from propagation.base.units import db
from propagation.geo.ground import Ground
from propagation.spectrum.bands import Band

RAISED_COUNTS: Final = (1, 2, 4)  # radials that can be supported above ground in the field (common practice)
GROUND_COUNTS: Final = (4, 8, 16, 32)  # radials that can be laid out in a few minutes (common practice)
WORTHWHILE_DB: Final = 1.0  # dB; fewer radials are enough when the most gain less than this
CLEAR_FROM_MHZ: Final = 30.0  # MHz; above, the base belongs clear of the ground (common practice)


@dataclass(frozen=True)
class Wish:
    """Band and the part of it to tune for [MHz], as licence and mode allow."""

    band: Band
    low_mhz: float
    high_mhz: float

    @property
    def centre_mhz(self) -> float:
        """Frequency for the dip [MHz]: the middle of the part that may be used."""
        return round((self.low_mhz + self.high_mhz) / 2.0, 3)


@dataclass(frozen=True)
class Setting:
    """Set-up of the vertical on a band: radials, and the initial length, coil or capacitor for them."""

    radials: int
    radial_m: float
    radial_height_m: float
    coil_uh: float | None
    mark: BandMark | None
    whip_m: float | None
    series_pf: float | None
    swr: float | None
    efficiency: float
    swr_1p5_khz: float | None
    swr_2_khz: float | None


@dataclass(frozen=True)
class BandCard:
    """Card of one band.

    whip_m: the radiator's length where length alone tunes; wire_m: a wire's length, tip to tip.
    """

    band: str
    centre_mhz: float
    on_ground: Setting | None
    raised: Setting | None
    whip_m: float | None
    wire_m: float | None
    tuning: str
    notes: tuple[str, ...] = ()


def _setting(
    spec: AntennaSpec, ground: Ground, line: FeedlineSpec, frequency_mhz: float, described: AntennaSpec
) -> Setting:
    antenna = build(spec, ground, line)
    answer = antenna.on(frequency_mhz)
    return Setting(
        radials=spec.radials,
        radial_m=0.0 if spec.radial_m is None else spec.radial_m,
        radial_height_m=spec.radial_end_height_m,
        coil_uh=answer.coil_uh,
        mark=mark_for(antenna, frequency_mhz, described),
        whip_m=answer.whip_m,
        series_pf=answer.series_pf,
        swr=answer.swr,
        efficiency=answer.efficiency,
        swr_1p5_khz=answer.swr_1p5_khz,
        swr_2_khz=answer.swr_2_khz,
    )


def _fewest(
    spec: AntennaSpec, counts: Sequence[int], ground: Ground, line: FeedlineSpec, frequency_mhz: float
) -> AntennaSpec:
    """The antenna with the fewest radials whose efficiency is within `WORTHWHILE_DB` of the most.

    The comparison uses lossless connections: such an antenna gains the most from its radials.
    """
    clean = replace(spec, connection_ohm=0.0)

    def efficiency(count: int) -> float:
        return build(replace(clean, radials=count), ground, line).solution(frequency_mhz).efficiency

    most = efficiency(counts[-1])
    for count in counts[:-1]:
        if float(db(most / efficiency(count))) < WORTHWHILE_DB:
            return replace(spec, radials=count)
    return replace(spec, radials=counts[-1])


def tuning_sentence(
    centre_mhz: float, low_mhz: float, high_mhz: float, width_khz: float | None, swr: float
) -> str:
    """Sentence on the frequency for the dip, and on the share of the wanted part that one setting covers.

    width_khz: width of the dip at the highest acceptable SWR, None where unknown, 0 where it is not reached.
    """
    span_khz = 1000.0 * (high_mhz - low_mhz)
    where = f"Put the dip at {centre_mhz:.3f} MHz"
    if width_khz is None:
        return f"{where}."
    if width_khz <= 0.0:
        return f"Tune for {centre_mhz:.3f} MHz; the SWR does not come down to {swr:g} there."
    if width_khz >= span_khz:
        return f"{where}; one setting serves {low_mhz:.3f} to {high_mhz:.3f} MHz."
    return (
        f"{where}, or where you mean to work: SWR {swr:g} holds over {width_khz:.0f} kHz of the "
        f"{span_khz:.0f} you may use; move one notch at a time."
    )


def _tuning(wish: Wish, width_khz: float | None, swr: float) -> str:
    return tuning_sentence(wish.centre_mhz, wish.low_mhz, wish.high_mhz, width_khz, swr)


def wire_length_m(spec: AntennaSpec, frequency_mhz: float) -> float | None:
    """Length of a wire from tip to tip: as given, else half a wave; None for kinds without a wire to cut."""
    if spec.kind in (*VERTICALS, "table", "isotropic", "yagi"):
        return None
    return HALF_WAVE * wavelength_m(frequency_mhz) if spec.length_m is None else spec.length_m


def setup_card(
    spec: AntennaSpec, ground: Ground, line: FeedlineSpec, wishes: Sequence[Wish]
) -> list[BandCard]:
    """The cards for the wanted bands, in their order; measurements stored with the antenna are ignored.

    A vertical's radials keep their length (a quarter wave where none is given). There are two settings:
    raised, at their own height or the mount's, and on the ground.
    """
    spec = replace(spec, measured=())
    card = _vertical_card if spec.kind in VERTICALS else _wire_card
    return [card(spec, ground, line, wish) for wish in wishes]


def _vertical_card(spec: AntennaSpec, ground: Ground, line: FeedlineSpec, wish: Wish) -> BandCard:
    frequency = wish.centre_mhz
    length = radial_length_m(spec, frequency)
    height = spec.radial_end_height_m if spec.radial_end_height_m > 0.1 else MOUNT_HEIGHT_M[spec.mount]
    up = replace(spec, radial_m=length, radial_height_m=height, base_height_m=height)
    down = replace(spec, radial_m=length, radial_height_m=0.0, base_height_m=0.0)
    notes: list[str] = []
    on_ground = None
    if frequency > CLEAR_FROM_MHZ:
        up = replace(up, radials=spec.radials or RAISED_COUNTS[-1])
        notes.append("Raised radials only: the base of a short whip belongs clear of the ground here.")
    else:
        up = _fewest(up, RAISED_COUNTS, ground, line, frequency)
        down = _fewest(down, GROUND_COUNTS, ground, line, frequency)
        on_ground = _setting(down, ground, line, frequency, spec)
    raised = _setting(up, ground, line, frequency, spec)
    by_length = build(up, ground, line).solution(frequency).tuning == "length"
    if by_length:
        notes.append("Begin a little longer: shortening is easy.")
    if raised.coil_uh is not None and spec.coil_uh_max is not None and raised.coil_uh >= spec.coil_uh_max:
        notes.append("The coil does not reach this band.")
    return BandCard(
        band=wish.band.name,
        centre_mhz=frequency,
        on_ground=on_ground,
        raised=raised,
        whip_m=raised.whip_m if by_length else None,
        wire_m=None,
        tuning=_tuning(wish, raised.swr_1p5_khz, 1.5),
        notes=tuple(notes),
    )


def _wire_card(spec: AntennaSpec, ground: Ground, line: FeedlineSpec, wish: Wish) -> BandCard:
    answer = build(spec, ground, line).on(wish.centre_mhz)
    return BandCard(
        band=wish.band.name,
        centre_mhz=wish.centre_mhz,
        on_ground=None,
        raised=None,
        whip_m=None,
        wire_m=wire_length_m(spec, wish.centre_mhz),
        tuning=_tuning(wish, answer.swr_2_khz, 2.0),
    )
