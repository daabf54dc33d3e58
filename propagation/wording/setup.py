"""Antenna setting for a band, and the work at the antenna between two bands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.spectrum.bands import band_of
from propagation.wording.quantities import counted, listed, sentence

if TYPE_CHECKING:
    from propagation.advice.setup_notes import BandSetup, Work
    from propagation.antennas.marks import BandMark, Move
    from propagation.antennas.solution import BandResult
    from propagation.antennas.spec import Mark

RAISED_FROM_M = 0.1  # m, radials lower than this are on the ground
SAY_SWR_FROM = 2.0  # SWR at the rig from which it is said with the setting
SAY_DB_FROM = 0.3  # dB by which another length differs at least where it is said


def kind_words(kind: str) -> str:
    """Kind of antenna as it is spelt in a sentence, `inverted V`; a station file has it in small letters."""
    return kind.replace("inverted v", "inverted V")


def coil_words(coil_uh: float) -> str:
    """Coil, `coil 12.3 µH`; `no coil` where none is needed."""
    return "no coil" if coil_uh <= 0.0 else f"coil {coil_uh:.1f} µH"


def mark_words(mark: BandMark | None) -> str:
    """The operator's mark: `mark 34`, or `estimated mark 27, give or take 2`; empty if none is known."""
    if mark is None:
        return ""
    if mark.error is None:
        return f"mark {mark.text}"
    return f"estimated mark {mark.text}, give or take {mark.error:.{1 if mark.error < 1.0 else 0}f}"


def where_words(mark: Mark) -> str:
    """The band that a mark is of, `on 40m`."""
    band = band_of(mark.frequency_mhz)
    return f"on {band.name}" if band is not None else f"at {mark.frequency_mhz:g} MHz"


def noted_words(mark: Mark) -> str:
    """A noted mark with the antenna as it was: `34, with whip 2.50 m, coil 17.0 µH, 4 radials of 4.5 m`."""
    parts = [] if mark.whip_m is None else [f"whip {mark.whip_m:.2f} m"]
    parts += [coil_words(mark.coil_uh)] if mark.coil_uh > 0.0 else []
    long = "" if mark.radial_m is None else f" of {mark.radial_m:g} m"
    parts += [f"{counted(mark.radials, 'radial')}{long}"] if mark.radials else []
    return f"{mark.text}{', with ' if parts else ''}{', '.join(parts)}"


def move_words(move: Move, dip_mhz: float, wanted_mhz: float, mark: BandMark | None) -> str:
    """Sentence on how far and which way to move coil or whip for the dip to come to another frequency."""
    khz = 1000.0 * (dip_mhz - wanted_mhz)
    start = f"The dip is {abs(khz):.0f} kHz {'above' if khz > 0.0 else 'below'} {wanted_mhz:.3f} MHz"
    if move.coil_uh is not None:
        way = f"{abs(move.coil_uh):.2f} µH {'more' if move.coil_uh > 0.0 else 'less'} coil"
        at = number_in(mark)
        if move.marks is None:
            return f"{start}: {way}."
        by = f"{abs(move.marks):.1f} {'up' if move.marks > 0.0 else 'down'} the scale"
        to = f", from mark {at:g} to {at + move.marks:.1f}" if at is not None else ""
        return f"{start}: {way}, {by}{to}."
    change_cm = 100.0 * (move.whip_m or 0.0)
    way = "draw the whip out" if change_cm > 0.0 else "push the whip in"
    told = f", from mark {mark.text}" if mark is not None else ""
    return f"{start}: {way} by {abs(change_cm):.1f} cm{told}."


def number_in(mark: BandMark | None) -> float | None:
    """The number of a mark; None where it is words."""
    try:
        return None if mark is None else float(mark.text.replace(",", "."))
    except ValueError:
        return None


def capacitor_words(series_pf: float) -> str:
    """Capacitor between line and radiator, `34 pF in series`."""
    return f"{series_pf:.0f} pF in series"


def swr_figure(swr: float) -> str:
    """SWR as a figure: one digit after the point under 10, none above."""
    return f"{swr:.1f}" if swr < 9.95 else f"{swr:.0f}"


def match_words(one: BandSetup | BandResult) -> list[str]:
    """Sentences on a setting: what moves the dip, the SWR, and the radiator at its full length."""
    out = []
    if one.dip_khz_per_cm is not None:
        way = "lowers" if one.dip_khz_per_cm < 0.0 else "raises"
        out.append(f"One centimetre more of whip {way} the dip by {abs(one.dip_khz_per_cm):.0f} kHz.")
    if one.swr is not None and one.swr > SAY_SWR_FROM and one.tuner_saves_db is not None:
        out.append(
            f"At SWR {swr_figure(one.swr)} the line loses {one.feedline_loss_db:.1f} dB. A tuner at the rig "
            f"saves {one.tuner_saves_db:.1f} dB, which the rig holds back; the line's loss stays."
        )
    return [*out, *_longer_words(one)]


def _longer_words(one: BandSetup | BandResult) -> list[str]:
    if one.longer_m is None or one.longer_db is None or one.longer_swr is None:
        return []
    at = f"take-off {'5 to 30' if one.takeoff_deg is None else format(one.takeoff_deg, '.0f')} degrees"
    if one.longer_m == one.whip_m:
        more = f"{one.longer_db:.1f} dB more than pushed in to resonance"
        return [f"At its full {one.longer_m:.2f} m the whip gains {more} ({at})."]
    if abs(one.longer_db) < SAY_DB_FROM:
        return []
    needs = [] if one.longer_pf is None else [capacitor_words(one.longer_pf)]
    needs += ["a tuner at the rig"] if one.longer_swr > SAY_SWR_FROM else []
    with_it = f", with {listed(needs)}," if needs else ""
    way = "gain" if one.longer_db > 0.0 else "lose"
    return [
        f"At its full {one.longer_m:.2f} m{with_it} the whip would {way} {abs(one.longer_db):.1f} dB "
        f"({at}; SWR {swr_figure(one.longer_swr)})."
    ]


def whip_and_coil_words(whip_m: float | None, coil_uh: float | None, mark: str) -> list[str]:
    """Length of the whip and the coil, with the operator's mark in words: at the coil, else at the whip."""
    marked = f" ({mark})" if mark else ""
    at_coil = bool(coil_uh)
    parts = [] if whip_m is None else [f"whip {whip_m:.2f} m{'' if at_coil else marked}"]
    if coil_uh is not None:
        parts.append(f"{coil_words(coil_uh)}{marked if at_coil else ''}")
    return parts


def radials_words(setup: BandSetup) -> str:
    """Radials: number, length and height."""
    long = f" of {setup.radial_m:.1f} m" if setup.radial_m else ""
    up = setup.raised_m is not None and setup.raised_m > RAISED_FROM_M
    where = f" raised {setup.raised_m:.2f} m" if up else " on the ground"
    return f"{counted(setup.radials or 0, 'radial')}{long}{where}"


def setup_words(setup: BandSetup | None) -> str:
    """Setting of a band in a few words; empty where there is none."""
    if setup is None:
        return ""
    parts = whip_and_coil_words(setup.whip_m, setup.coil_uh, mark_words(setup.mark))
    if setup.series_pf is not None:
        parts.append(capacitor_words(setup.series_pf))
    if setup.radials:
        parts.append(radials_words(setup))
    if setup.wire_m is not None:
        parts.append(f"wire {setup.wire_m:.1f} m, tip to tip")
    if setup.swr is not None and setup.swr > SAY_SWR_FROM:
        parts.append(f"SWR {swr_figure(setup.swr)} at the rig")
    return ", ".join(parts) or f"{kind_words(setup.kind)} as it is"


def card_words(setup: BandSetup) -> str:
    """Setting with its tuning and its match."""
    tuning = [setup.tuning] if setup.tuning else []
    return " ".join([sentence(setup_words(setup)), *tuning, *match_words(setup)])


def work_words(work: Work) -> str:
    """Work between two bands."""
    to = work.to
    parts = []
    marked = f" ({mark_words(to.mark)})" if to.mark is not None else ""
    if work.whip and to.whip_m is not None:
        parts.append(f"whip to {to.whip_m:.2f} m{'' if to.coil_uh else marked}")
    if work.coil:
        out = to.coil_uh is None or to.coil_uh <= 0.0  # no coil is needed where the radiator is long enough
        parts.append("coil out" if out else f"coil to {to.coil_uh:.1f} µH{marked}")
    if work.capacitor:
        parts.append("capacitor out" if to.series_pf is None else capacitor_words(to.series_pf))
    after = to.radials or 0
    if work.radials_before != after:
        parts.append(f"{counted(after, 'radial')} instead of {work.radials_before}")
    if work.radial_length:
        parts.append(f"radials to {to.radial_m:.1f} m")
    if work.wire and to.wire_m is not None:
        parts.append(f"wire to {to.wire_m:.1f} m")
    return ", ".join(parts) or "retune only, the antenna is unchanged"
