"""Reads the nowcast of planetary K as the geomagnetic service at Potsdam (kp.gfz.de) publishes it.

Plain text: header lines begin with "#", then a row for each three hours: year, month, day, hour of the start
and of the middle, two counts of days, Kp in thousandths, ap, and a mark for definitive; -1 is missing. The
columns are as public programs read them; the service's own description was not to hand. Kp: GFZ, CC BY 4.0.
"""

from __future__ import annotations

import numpy as np

from propagation.base.record import later
from propagation.base.values import as_number, as_time, counted, within
from propagation.space_weather.kp_index import ap_from_kp
from propagation.space_weather.reading import KP_RANGE, WEB_PAGE, Reading, record_of


def read_kp_nowcast(text: str) -> Reading:
    """Planetary K by the start of its three hours; what is missing, cut or out of range is left out."""
    if text.lstrip()[:1] == "<":
        return Reading(problems=(WEB_PAGE,))
    lines, problems = text.splitlines(), []
    if lines and not text.endswith(("\n", "\r")):
        lines.pop()  # a number may be cut
        problems.append("it ends in the middle of a line")
    pairs: list[tuple[np.datetime64, float, None]] = []
    shapeless = outside = apart = 0
    for line in lines:
        words = line.split()
        if not words or words[0].startswith("#"):
            continue
        start, kp = _start(words), as_number(words[7]) if len(words) == 10 else None
        ap = as_number(words[8]) if len(words) == 10 else None
        if start is None or kp is None or ap is None:
            shapeless += 1
        elif kp == -1.0:
            continue
        elif not within(kp, KP_RANGE):
            outside += 1
        elif abs(float(ap_from_kp(kp)) - ap) > 0.5:
            apart += 1
        else:
            pairs.append((start, kp, None))
    for number, noun, words_of in (
        (shapeless, "row", "without the ten columns or a time left out"),
        (outside, "row", f"with Kp outside {KP_RANGE[0]:g} to {KP_RANGE[1]:g} left out"),
        (apart, "row", "whose Kp and ap do not belong together left out"),
    ):
        if number:
            problems.append(f"{counted(number, noun)} {words_of}")
    if not pairs:
        problems.append("no Kp in it")
    kp_record = record_of(pairs)
    issued = kp_record.times[-1] if len(kp_record) else None
    return Reading(issued=issued, kp=kp_record, problems=tuple(problems))


def _start(words: list[str]) -> np.datetime64 | None:
    """Start of the row's three hours, or None where it is none."""
    if len(words) != 10 or not all(word.isascii() and word.isdigit() for word in words[:3]):
        return None
    day = as_time(f"{int(words[0]):04d}-{int(words[1]):02d}-{int(words[2]):02d}")
    hour = as_number(words[3])
    if day is None or hour is None or hour not in range(0, 24, 3):
        return None
    return later(day, np.timedelta64(int(hour), "h"))
