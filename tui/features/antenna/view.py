"""The antenna on every band, as it is drawn and in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from propagation.wording.quantities import band_title, level, level_figure, megahertz, watts


@dataclass(frozen=True)
class BenchBand:
    """One band on the antenna bench: where the power goes, and how to set up."""

    band: str
    frequency_mhz: float
    shares: tuple[tuple[str, float], ...]  # (one of glyphs.SHARE_SIGN, 0..1)
    coil_uh: float | None
    radials: str
    swr_1p5_khz: float | None
    swr_2_khz: float | None
    centre_on_mhz: float | None
    power_limit_w: float | None
    limit_by: str
    gain_dbi: tuple[tuple[float, float], ...]  # (elevation, gain)
    basis: str  # "model" or "measured"
    note: str = ""
    set_aside: bool = False  # whether a reading is kept that was taken with another antenna


@dataclass(frozen=True)
class BenchView:
    """The antenna bench."""

    antenna: str  # one line of description
    ground: str
    bands: tuple[BenchBand, ...]
    help: tuple[tuple[str, str, float], ...] = ()  # (change, band, dB)
    cautions: tuple[str, ...] = ()
    helped: tuple[str, ...] = ()  # bands of which it is known what would help


@dataclass(frozen=True)
class BesideBand:
    """One band with two antennas: shares of the power that leave, and the day's best chance."""

    band: str
    share: tuple[float, float]  # 0..1 of the power at the rig
    best: tuple[float, float]  # highest chance of the day


@dataclass(frozen=True)
class BesideView:
    """Two antennas for one day and one target."""

    names: tuple[str, str]
    bands: tuple[BesideBand, ...]
    says: tuple[str, ...]  # which to carry, and why


@dataclass(frozen=True)
class ReadingView:
    """What analyser readings say, for one band."""

    band: str
    sentences: tuple[str, ...]
    efficiency: float | None
    low: float | None = None
    high: float | None = None


HELPS_AWAITED: Final = "What would help is being worked out ..."
SHARE_SAYS: Final[dict[str, str]] = {
    "radiated": "sky",
    "coil": "coil",
    "earth": "earth",
    "connections": "joints",
    "coax": "coax",
    "transformer": "transformer",
    "unexplained": "unexplained",
}


def share_figure(share: float) -> str:
    """A share of 100 W as watts."""
    watt = share * 100
    return f"{watt:.0f}" if watt >= 9.5 else f"{watt:.1f}"


def setup_line(band: BenchBand) -> str:
    """How to set up for a band, in a few words."""
    parts = []
    if band.coil_uh is not None:
        parts.append("no coil" if band.coil_uh <= 0 else f"coil {band.coil_uh:.1f} µH")
    if band.radials:
        parts.append(band.radials)
    if band.centre_on_mhz is not None:
        parts.append(f"centre on {band.centre_on_mhz:.3f}")
    return ", ".join(parts)


def bench_sentences(view: BenchView) -> list[str]:
    """The whole bench."""
    out = [f"{view.antenna}. {view.ground}."]
    for band in view.bands:
        spent = ", ".join(
            f"{share_figure(share)} {'unexplained loss' if name == 'unexplained' else SHARE_SAYS[name]}"
            for name, share in band.shares
        )
        width = f"; SWR under 2 over {band.swr_2_khz:.0f} kHz" if band.swr_2_khz is not None else ""
        limit = (
            f"; at most {watts(band.power_limit_w)} ({band.limit_by})"
            if band.power_limit_w is not None
            else ""
        )
        out.append(
            f"{band_title(band.band)}: of 100 W, {spent} ({band.basis}). {setup_line(band)}{width}{limit}."
        )
    out.extend(f"{change}: {level(db)} on {band_title(band)}." for change, band, db in view.help)
    if len(view.helped) < len(view.bands):
        out.append(HELPS_AWAITED)
    out.extend(view.cautions)
    return out


def no_card(band: str) -> str:
    """Where a band is not on the bench."""
    return f"{band_title(band)} is not one the antenna tunes on."


def card_sentences(band: BenchBand) -> list[str]:
    """The setup card of one band, a line each."""
    out = []
    if band.coil_uh is not None:
        out.append(
            "No coil."
            if band.coil_uh <= 0
            else f"Coil: {band.coil_uh:.1f} µH first, then one notch at a time."
        )
    if band.radials:
        out.append(f"Radials: {band.radials}.")
    if band.centre_on_mhz is not None:
        out.append(f"Tune for {megahertz(band.centre_on_mhz)}.")
    if band.swr_1p5_khz is not None and band.swr_2_khz is not None:
        out.append(f"SWR under 1.5 over {band.swr_1p5_khz:.0f} kHz, under 2 over {band.swr_2_khz:.0f} kHz.")
    if band.power_limit_w is not None:
        out.append(f"At most {watts(band.power_limit_w)}{f' ({band.limit_by})' if band.limit_by else ''}.")
    if band.gain_dbi:
        gains = ", ".join(f"{level_figure(gain)} at {angle:.0f}" for angle, gain in band.gain_dbi)
        out.append(f"Gain, dBi at degrees: {gains}.")
    out.append(
        "From your own measurement; key x forgets it."
        if band.basis == "measured"
        else "From the model; key a takes the analyser's word."
    )
    if band.note:
        out.append(band.note)
    if band.set_aside:
        out.append("Key b brings it back for the antenna as it is described now, key x forgets it.")
    return out


def help_sentences(view: BenchView, band: str) -> list[str]:
    """What would help on a band, then the cautions."""
    here = [f"{level(db)}  {change}" for change, where, db in view.help if where == band]
    awaited = any(row.band == band for row in view.bands) and band not in view.helped
    return [*(here or [HELPS_AWAITED if awaited else "No small change would help here."]), *view.cautions]
