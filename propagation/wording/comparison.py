"""Sentences on two antennas, two places or two stations: which is better for a day, and hour by hour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from propagation.wording.quantities import (
    band_title,
    clock,
    counted,
    days,
    every_so_often,
    in_ten,
    nearest,
    promised,
    rate_figure,
    rate_short,
    sentence,
    tenths,
    zone_word,
)

if TYPE_CHECKING:
    from propagation.advice.antenna_worth import Worth
    from propagation.base.units import FloatArray, TimeArray

MOST_BANDS = 2  # bands named for each antenna
WORTH_A_WORD: Final = (0.25, 1.0)  # h of contact, or contacts, by which one leads on a band (ours)


def figure(worth: Worth) -> str:
    """Worth of a day in a few words."""
    return day_words(worth.total, worth.region)


def day_words(total: float, region: bool) -> str:
    """Hours of contact with a place, contacts with a region: `some 12 contacts if on the air all day`."""
    if not region:
        return f"{total:.1f} hours of contact"
    return (
        f"some {total:,.0f} contacts if on the air all day"
        if total >= 1.5
        else "at most 1 contact if on the air all day"
    )


def won_words(won: float, region: bool) -> str:
    """What a change gains in a day: `+12 contacts`, `+0.8 h` of contact with a place."""
    if not region:
        return f"{won:+.1f} h"
    return f"{won:+,.0f} contacts" if abs(won) >= 9.5 else f"{won:+.1f} contacts"


def lesson_sentence(names: tuple[str, str], taught: tuple[bool, bool]) -> str:
    """Notice that the lesson of the log applies to one side only; empty where it does to both or neither."""
    if taught[0] == taught[1]:
        return ""
    one, other = names if taught[0] else names[::-1]
    return f"What your log has taught is in the numbers of {one} alone; it has taught nothing of {other}."


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
        gain = worths[own].by_band - worths[other].by_band
        least = WORTH_A_WORD[worths[own].region]
        leads = [int(row) for row in gain.argsort()[::-1] if gain[row] > least][:MOST_BANDS]
        best = [(band_title(bands[row]), promised(worths[own].best[row])) for row in leads]
        if best:
            told = " and on ".join(f"{band}, at best {promise}" for band, promise in best)
            out.append(sentence(f"{names[own]} is better on {told}"))
    return out


LEAST_TOLD: Final = (0.1, 0.5)  # chance, or contacts an hour, of an hour that is listed (ours)
MEASURES: Final = ("days in ten", "contacts an hour")
CELL, WIDE_CELL = 7, 8  # columns; the wider ones for contacts an hour, where all bands fit
MOST_WIDE: Final = 11  # bands


def gain_words(worths: tuple[Worth, Worth], choice: int) -> str:
    """Advantage of the better of two: `some 12 contacts`, `1.4 hours of contact`."""
    more = worths[choice].total - worths[1 - choice].total
    if worths[choice].region:
        return f"some {counted(max(int(nearest(more)), 1), 'contact')}"
    return f"{more:.1f} hours of contact"


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


Hours: TypeAlias = "tuple[FloatArray, FloatArray]"  # figures (T, B) of both sides


def hours_table(
    names: tuple[str, str], bands: Sequence[str], times: TimeArray, pair: Hours, region: bool
) -> list[str]:
    """Table of hours (T,) down and bands across: both figures (T, B), the first side's before the stroke.

    The figures are days in ten, or contacts an hour with a region. Bands that never reach LEAST_TOLD from
    either side are left out.
    """
    least = LEAST_TOLD[region]
    kept = [b for b in range(len(bands)) if max(np.max(pair[0][:, b]), np.max(pair[1][:, b])) >= least]
    if not kept:
        return [_never(region)]
    wide = WIDE_CELL if region and len(kept) <= MOST_WIDE else CELL
    lines = [f"{zone_word():<5}" + "".join(f"{bands[b]:>{wide}}" for b in kept)]
    for t, time in enumerate(times):
        cells = [f"{_short(pair[0][t, b], region)}/{_short(pair[1][t, b], region)}" for b in kept]
        lines.append(clock(time) + "".join(f"{cell:>{wide}}" for cell in cells))
    return [*lines, f"       {MEASURES[region]}: {names[0]} / {names[1]}"]


def _short(value: float, region: bool) -> str:
    """Days in ten, `7`, or contacts an hour, `22`; a dot where it is too small."""
    if region:
        return rate_short(float(value)) if value >= LEAST_TOLD[True] else "·"
    told = tenths(float(value)).partition("/")[0]
    return "·" if told in ("0", "<1") else told


def hour_sentences(
    names: tuple[str, str], bands: Sequence[str], times: TimeArray, pair: Hours, region: bool
) -> list[str]:
    """Sentences of the same table, an hour each: the bands on which either side reaches LEAST_TOLD."""
    out = []
    told = rate_figure if region else in_ten
    for t, time in enumerate(times):
        found = [
            f"{band_title(band)} {told(float(pair[0][t, b]))} against {told(float(pair[1][t, b]))}"
            for b, band in enumerate(bands)
            if max(pair[0][t, b], pair[1][t, b]) >= LEAST_TOLD[region]
        ]
        if found:
            out.append(f"{clock(time)}: {', '.join(found)}.")
    head = f"Hour by hour in {'contacts an hour' if region else 'days'}, {names[0]} against {names[1]}:"
    return [head, *out] if out else [_never(region)]


def _never(region: bool) -> str:
    least = every_so_often(LEAST_TOLD[True]) if region else days(LEAST_TOLD[False])
    return f"At no full hour does any band reach {least} from either."
