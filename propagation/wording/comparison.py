"""Sentences on two antennas, two places or two stations: which is better for a day, and hour by hour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.wording.quantities import (
    band_title,
    clock,
    counted,
    in_ten,
    nearest,
    percent,
    sentence,
    tenths,
    zone_word,
)

if TYPE_CHECKING:
    from propagation.advice.antenna_worth import Worth
    from propagation.base.units import FloatArray, TimeArray

MOST_BANDS = 2  # bands named for each antenna
WORTH_A_WORD_H = 0.25  # h of contact by which one leads on a band, to be reported (ours)


def figure(worth: Worth) -> str:
    """Worth of a day in a few words."""
    if worth.contacts is not None:
        return (
            f"some {worth.contacts:.0f} contacts if on the air all day"
            if worth.contacts >= 1.5
            else "at most 1 contact if on the air all day"
        )
    return f"{worth.hours:.1f} hours of contact"


def carry_sentences(
    names: tuple[str, str], bands: Sequence[str], worths: tuple[Worth, Worth], choice: int | None, target: str
) -> list[str]:
    """Sentences on the antenna to carry today for the target, its bands, and where the other is better."""
    first, second = (f"{name}: {figure(worth)}" for name, worth in zip(names, worths, strict=True))
    if choice is None:
        out = [f"Today both are about equal for {target}."]
    else:
        out = [f"Carry this one today, for {target}: {names[choice]}."]
    out.append(f"{sentence(first)} {sentence(second)}")
    return out + leads(names, bands, worths)


def leads(names: tuple[str, str], bands: Sequence[str], worths: tuple[Worth, Worth]) -> list[str]:
    """Bands on which each of two is better."""
    out = []
    for own, other in ((0, 1), (1, 0)):
        gain = worths[own].band_hours - worths[other].band_hours
        leads = [int(row) for row in gain.argsort()[::-1] if gain[row] > WORTH_A_WORD_H][:MOST_BANDS]
        best = [(band_title(bands[row]), percent(float(worths[own].best[row]))) for row in leads]
        if best:
            told = ", ".join(f"{band} ({chance} at best)" for band, chance in best)
            out.append(sentence(f"{names[own]} is better on {told}"))
    return out


LEAST_TOLD: Final = 0.1  # of chance: an hour of a band is listed where either side reaches it (ours)
CELL: Final = 7  # columns


def gain_words(worths: tuple[Worth, Worth], choice: int) -> str:
    """Advantage of the better of two: `some 12 contacts`, `1.4 hours of contact`."""
    best, other = worths[choice], worths[1 - choice]
    if best.contacts is not None and other.contacts is not None:
        return f"some {counted(max(int(nearest(best.contacts - other.contacts)), 1), 'contact')}"
    return f"{best.hours - other.hours:.1f} hours of contact"


def place_sentences(
    names: tuple[str, str], bands: Sequence[str], worths: tuple[Worth, Worth], choice: int | None, target: str
) -> list[str]:
    """Sentences on the better of two for that day, the difference, each result, and where the other leads."""
    if choice is None:
        out = [f"For {target} both are about equal that day."]
    else:
        more = gain_words(worths, choice)
        out = [f"For {target} {names[choice]} is better that day: {more} more than {names[1 - choice]}."]
    out.append(" ".join(sentence(f"{n}: {figure(worth)}") for n, worth in zip(names, worths, strict=True)))
    return out + leads(names, bands, worths)


def hours_table(
    names: tuple[str, str], bands: Sequence[str], times: TimeArray, pair: tuple[FloatArray, FloatArray]
) -> list[str]:
    """Table of hours (T,) down and bands across, both chances (T, B) in tenths, the first side's before the
    stroke.

    Bands that never reach LEAST_TOLD from either side are left out.
    """
    kept = [b for b in range(len(bands)) if max(np.max(pair[0][:, b]), np.max(pair[1][:, b])) >= LEAST_TOLD]
    if not kept:
        return [_never()]
    lines = [f"{zone_word():<5}" + "".join(f"{bands[b]:>{CELL}}" for b in kept)]
    for t, time in enumerate(times):
        cells = [f"{_tenths(pair[0][t, b])}/{_tenths(pair[1][t, b])}" for b in kept]
        lines.append(clock(time) + "".join(f"{cell:>{CELL}}" for cell in cells))
    return [*lines, f"       chances in ten: {names[0]} / {names[1]}"]


def _tenths(chance: float) -> str:
    """Chance in tenths, `7`; a dot where it is too small."""
    told = tenths(float(chance)).partition("/")[0]
    return "·" if told in ("0", "<1") else told


def hour_sentences(
    names: tuple[str, str], bands: Sequence[str], times: TimeArray, pair: tuple[FloatArray, FloatArray]
) -> list[str]:
    """Sentences of the same table, an hour each: the bands on which either side reaches LEAST_TOLD."""
    out = []
    for t, time in enumerate(times):
        told = [
            f"{band_title(band)} {in_ten(float(pair[0][t, b]))} against {in_ten(float(pair[1][t, b]))}"
            for b, band in enumerate(bands)
            if max(pair[0][t, b], pair[1][t, b]) >= LEAST_TOLD
        ]
        if told:
            out.append(f"{clock(time)}: {', '.join(told)}.")
    return [f"Hour by hour, {names[0]} against {names[1]}:", *out] if out else [_never()]


def _never() -> str:
    return f"At no full hour does any band reach {in_ten(LEAST_TOLD)} from either."
