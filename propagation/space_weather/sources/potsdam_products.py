"""Readers of the nowcasts of the geomagnetic service at Potsdam (kp.gfz.de): planetary K, and Hp30.

Plain text: header lines begin with "#"; then each interval has a row: year, month, day, hour of the start and
of the middle, days since the first of 1932 to both, the index in thousandths, its ap, and a mark for
definitive; -1 is missing (the files' own headers). So a row holds its time four times: a row that contradicts
itself is left out. Hp30 is made as Kp is, every half hour, and does not end at 9 (GFZ Data Services, Hpo
index, doi:10.5880/Hpo.0003). Both: GFZ, CC BY 4.0.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np

from propagation.base.text import as_number, as_time, counted, within
from propagation.base.time_series import EMPTY, TimeSeries, later
from propagation.space_weather.indices.geomagnetic_activity import ap_from_kp
from propagation.space_weather.sources.product_data import KP_RANGE, WEB_PAGE, ProductData, record_of

FIRST_DAY: Final = np.datetime64("1932-01-01", "s")  # from which the files count days
DAYS_ROUNDED: Final = 1.5e-5  # d; days are printed with five digits
HOURS_ROUNDED: Final = 0.006  # h; the middle is printed with two
HALF_HOUR: Final = np.timedelta64(1800, "s")
HP30_RANGE: Final = (0.0, 20.0)  # open above 9; the greatest of thirty years is under 13 (from memory)


def read_kp_nowcast(text: str) -> ProductData:
    """Planetary K by the start of its three hours; what is missing, cut or out of range is left out."""
    kp, problems = _rows(text, "Kp", KP_RANGE, 3.0)
    return ProductData(issued=kp.times[-1] if len(kp) else None, kp=kp, problems=problems)


def read_hp30_nowcast(text: str) -> ProductData:
    """Hp30 by the start of its half hour; what is missing, cut or out of range is left out."""
    hp30, problems = _rows(text, "Hp30", HP30_RANGE, 0.5)
    return ProductData(
        issued=later(hp30.times[-1], HALF_HOUR) if len(hp30) else None, hp30=hp30, problems=problems
    )


def _rows(
    text: str, name: str, limits: tuple[float, float], step_h: float
) -> tuple[TimeSeries, tuple[str, ...]]:
    """The index of a table by the start of its intervals of `step_h` hours, and what was wrong."""
    if text.lstrip()[:1] == "<":
        return EMPTY, (WEB_PAGE,)
    lines, problems = text.splitlines(), []
    if lines and not text.endswith(("\n", "\r")):
        lines.pop()  # a number may be cut
        problems.append("it ends in the middle of a line")
    pairs: list[tuple[np.datetime64, float, None]] = []
    shapeless = outside = apart = elsewhen = 0
    for line in lines:
        words = line.split()
        if not words or words[0].startswith("#"):
            continue
        start, kp = _start(words, step_h), as_number(words[7]) if len(words) == 10 else None
        ap = as_number(words[8]) if len(words) == 10 else None
        if start is None or kp is None or ap is None:
            shapeless += 1
        elif not _one_time(words, start, step_h):
            elsewhen += 1
        elif kp == -1.0:
            continue
        elif not within(kp, limits):
            outside += 1
        elif kp <= 9.0 and abs(float(ap_from_kp(kp)) - ap) > 0.5:
            apart += 1
        else:
            pairs.append((start, kp, None))
    for number, noun, words_of in (
        (shapeless, "row", "without the ten columns or a time left out"),
        (elsewhen, "row", "whose date, hours and days are inconsistent left out"),
        (outside, "row", f"with {name} outside {limits[0]:g} to {limits[1]:g} left out"),
        (apart, "row", f"whose {name} and ap are inconsistent left out"),
    ):
        if number:
            problems.append(f"{counted(number, noun)} {words_of}")
    if not pairs:
        problems.append(f"no {name} in it")
    return record_of(pairs), tuple(problems)


def _start(words: list[str], step_h: float) -> np.datetime64 | None:
    """Start of the row's interval, or None where it is none."""
    if len(words) != 10 or not all(re.fullmatch("[0-9]{1,4}", word) for word in words[:3]):
        return None
    day = as_time(f"{int(words[0]):04d}-{int(words[1]):02d}-{int(words[2]):02d}")
    hour = as_number(words[3])
    if day is None or hour is None or not 0.0 <= hour < 24.0 or hour % step_h:
        return None
    return later(day, np.timedelta64(int(3600.0 * hour), "s"))


def _one_time(words: list[str], start: np.datetime64, step_h: float) -> bool:
    """True where the hour of the middle and both counts of days agree with the date and its hour."""
    times = [as_number(word) for word in words[3:7]]
    hour, middle_hour, days, middle_days = (np.nan if number is None else number for number in times)
    half_h = 0.5 * step_h
    meant = float((start - FIRST_DAY) / np.timedelta64(1, "D"))
    return (
        abs(middle_hour - hour - half_h) <= HOURS_ROUNDED
        and abs(days - meant) <= DAYS_ROUNDED
        and abs(middle_days - meant - half_h / 24.0) <= DAYS_ROUNDED
    )
