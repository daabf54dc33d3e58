"""Small phrases shared by the advice: clock times, days in ten, decibels, places along a path."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np


def clock(when: np.datetime64) -> str:
    """Time of day, `07:35`."""
    return str(when.astype("datetime64[m]"))[11:16]


def end_clock(when: np.datetime64) -> str:
    """Time of day of an end: midnight is `24:00`."""
    text = clock(when)
    return "24:00" if text == "00:00" else text


def date(when: np.datetime64) -> str:
    """Date, `2026-03-20`."""
    return str(when.astype("datetime64[D]"))


def band_title(name: str) -> str:
    """A band as the trade writes it, `20 m`."""
    return f"{name[:-1]} m" if name.endswith("m") else name


def watts(power_w: float) -> str:
    """A power, `20 W`."""
    return f"{power_w:.0f} W" if power_w >= 10.0 else f"{power_w:.3g} W"


def decibels(db: float) -> str:
    """An amount without its sign, `12 dB`; one decimal under ten."""
    size = abs(db)
    return f"{size:.0f} dB" if size >= 9.95 else f"{size:.1f} dB"


def days(chance: float) -> str:
    """A share of days in words: "7 days in 10", "1 day in 30", "nearly every day", "no day"."""
    if chance >= 0.95:
        return "nearly every day"
    if chance >= 0.095:
        tenths = round(chance * 10.0)
        return f"{tenths} {'day' if tenths == 1 else 'days'} in 10"
    if chance >= 0.01:
        return f"1 day in {round(1.0 / chance)}"
    return "less than 1 day in 100" if chance > 0.0005 else "no day"


def share(part: float) -> str:
    """A share in per cent, `35 %`; "under 1 %" where something is left."""
    return "under 1 %" if 0.0 < part < 0.005 else f"{part * 100.0:.0f} %"


def reached(chance: float, region: bool) -> str:
    """A chance in words: days for a place; for a region the share in reach on an average day."""
    return f"{share(chance)} of it in reach" if region else days(chance)


def kilometres(km: float) -> str:
    """A distance to two figures and in steps no finer than 10 km, `2,300 km`."""
    step = 100.0 if km >= 1000.0 else 10.0
    return f"{round(km / step) * step:,.0f} km"


MODE_WORDS: Final[dict[str, str]] = {
    "SSB": "voice (SSB)",
    "CW": "Morse (CW)",
    "FM": "voice (FM)",
    "DIGITAL": "narrow weak-signal digital",
}


def listed(parts: Sequence[str], last: str = "and") -> str:
    """`a, b and c`."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"


def sentence(text: str) -> str:
    """The text with a capital and a full stop."""
    plain = text.strip()
    return plain if not plain else plain[0].upper() + plain[1:] + ("" if plain[-1] in ".!?" else ".")
