"""The hours of a day on which somebody is awake, or free: spans of local time, as people write them."""

from __future__ import annotations

import re
from typing import Final

from propagation.base.errors import InputError

AWAKE: Final = "07:00-23:00"  # local time, when nothing is said (common practice, no source)
_SPAN = re.compile(r"(\d{1,2}):(\d\d)\s*(?:-|–|to)\s*(\d{1,2}):(\d\d)")


def awake_minutes(text: str, name: str = "awake") -> list[tuple[int, int]]:
    """Spans of local time as minutes of the day: "07:00-23:00" gives [(420, 1380)].

    A span whose end is not later than its start runs over midnight; "always" and "00:00-24:00" are the whole
    day. `name`: of the key, for the
    error. Raises InputError for anything else.
    """
    plain = text.strip().lower()
    if plain in ("always", "any", "all day"):
        return [(0, 1440)]
    spans = []
    for part in plain.split(","):
        found = _SPAN.fullmatch(part.strip())
        numbers = [int(group) for group in found.groups()] if found else []
        if not numbers or numbers[1] > 59 or numbers[3] > 59:
            raise InputError(f'{name} {text!r} is not a span of time; write it as "{AWAKE}".')
        start, end = numbers[0] * 60 + numbers[1], numbers[2] * 60 + numbers[3]
        if start >= 1440 or end > 1440 or start == end:
            raise InputError(f'{name} {text!r} is not a span within a day; write it as "{AWAKE}".')
        spans.append((start, end))
    return spans
