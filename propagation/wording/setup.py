"""Antenna setting for a band, and the work at the antenna between two bands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.wording.quantities import counted, sentence

if TYPE_CHECKING:
    from propagation.advice.setup_notes import BandSetup, Work

RAISED_FROM_M = 0.1  # m, radials lower than this are on the ground


def coil_words(coil_uh: float) -> str:
    """Coil, `coil 12.3 µH`; `no coil` where none is needed."""
    return "no coil" if coil_uh <= 0.0 else f"coil {coil_uh:.1f} µH"


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
    parts = []
    if setup.whip_m is not None:
        parts.append(f"whip {setup.whip_m:.2f} m")
    if setup.coil_uh is not None:
        marked = setup.coil_uh > 0.0 and setup.coil_position is not None
        parts.append(coil_words(setup.coil_uh) + (f" (mark {setup.coil_position:.0f})" if marked else ""))
    if setup.radials:
        parts.append(radials_words(setup))
    if setup.wire_m is not None:
        parts.append(f"wire {setup.wire_m:.1f} m, tip to tip")
    return ", ".join(parts) or f"{setup.kind} as it is"


def card_words(setup: BandSetup) -> str:
    """Setting with its tuning."""
    return " ".join([sentence(setup_words(setup)), *([setup.tuning] if setup.tuning else [])])


def work_words(work: Work) -> str:
    """Work between two bands."""
    to = work.to
    parts = []
    if work.whip and to.whip_m is not None:
        parts.append(f"whip to {to.whip_m:.2f} m")
    if work.coil:
        out = to.coil_uh is None or to.coil_uh <= 0.0  # no coil is needed where the radiator is long enough
        parts.append("coil out" if out else f"coil to {to.coil_uh:.1f} µH")
    after = to.radials or 0
    if work.radials_before != after:
        parts.append(f"{counted(after, 'radial')} instead of {work.radials_before}")
    if work.radial_length:
        parts.append(f"radials to {to.radial_m:.1f} m")
    if work.wire and to.wire_m is not None:
        parts.append(f"wire to {to.wire_m:.1f} m")
    return ", ".join(parts) or "retune only, the antenna is unchanged"
